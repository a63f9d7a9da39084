//! sRGB ↔ linear light: the one place where colours are decoded and encoded.
//!
//! # Source
//! IEC 61966-2-1:1999: V ≤ 0.04045 → V/12.92, else ((V + 0.055)/1.055)^2.4.

use std::sync::LazyLock;

static LINEAR: LazyLock<[f32; 256]> = LazyLock::new(|| std::array::from_fn(|code| decode(code as f64 / 255.0) as f32));

/// sRGB value (0 to 1) → linear light (0 to 1).
pub fn decode(value: f64) -> f64 {
    if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
}

/// Linear light (0 to 1) → sRGB value (0 to 1).
pub fn encode(light: f64) -> f64 {
    if light <= 0.003_130_8 { light * 12.92 } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 }
}

/// 8-bit sRGB code → linear light (0 to 1).
pub fn linear(code: u8) -> f32 {
    LINEAR[usize::from(code)]
}

/// The linear light of every code, for who asks for many of them.
pub fn of_codes() -> &'static [f32; 256] {
    &LINEAR
}

/// Linear light → the nearest 8-bit sRGB colour; clipped to 0..=1.
pub fn to_srgb8(light: [f64; 3]) -> [u8; 3] {
    light.map(|c| (encode(c.clamp(0.0, 1.0)) * 255.0).round() as u8)
}

/// Light that is added before the logarithm, so that a dark line's noise does not shout: about sRGB code 12.
const DARK_FLOOR: f32 = 0.004;

/// The tone of linear light: its natural logarithm, rounded off in the dark. Light and shade, which multiply, add in it.
pub fn tone(light: f32) -> f32 {
    (light.max(0.0) + DARK_FLOOR).ln()
}

/// Relative luminance of linear sRGB light (ITU-R BT.709 primaries, as IEC 61966-2-1 uses them).
pub fn luminance(light: [f32; 3]) -> f32 {
    0.2126 * light[0] + 0.7152 * light[1] + 0.0722 * light[2]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_code_goes_there_and_back() {
        for code in 0..=255u8 {
            assert_eq!(to_srgb8([f64::from(linear(code)); 3]), [code; 3]);
        }
    }
}
