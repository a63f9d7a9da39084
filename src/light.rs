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

/// The tone of many lights, put in their place: [`tone`] to 2·10⁻⁶.
pub fn tones(light: &mut [f32]) {
    light.iter_mut().for_each(|light| *light = quick_ln(light.max(0.0) + DARK_FLOOR));
}

/// The natural logarithm of a positive number that is not tiny, to 2·10⁻⁶.
///
/// A processor works out several at once, which it cannot with the library's. The number is taken apart into a power of
/// two and a rest s/(2 + s) of it near to one, whose logarithm is the series 2 (z + z³/3 + z⁵/5 …).
#[inline]
pub fn quick_ln(x: f32) -> f32 {
    // The bits of √½: rests reach from there to √2.
    const LOW: u32 = 0x3f35_04f3;
    const FRACTION: u32 = 0x007f_ffff;
    let bits = x.to_bits().wrapping_sub(LOW);
    let power = (bits as i32 >> 23) as f32;
    let s = f32::from_bits((bits & FRACTION).wrapping_add(LOW)) - 1.0;
    let z = s / (2.0 + s);
    let z2 = z * z;
    let series = 2.0 + z2 * (2.0 / 3.0 + z2 * (2.0 / 5.0 + z2 * (2.0 / 7.0 + z2 * (2.0 / 9.0))));
    power * std::f32::consts::LN_2 + z * series
}

/// Relative luminance of linear sRGB light (ITU-R BT.709 primaries, as IEC 61966-2-1 uses them).
pub fn luminance(light: [f32; 3]) -> f32 {
    0.2126 * light[0] + 0.7152 * light[1] + 0.0722 * light[2]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_tones_are_what_each_of_them_is() {
        let light: Vec<f32> = (-5..=20_000).map(|k| k as f32 / 16_000.0).chain([0.0, 1e-9, 65504.0, 3e9]).collect();
        let mut many = light.clone();
        tones(&mut many);
        for (one, many) in light.iter().map(|&light| tone(light)).zip(many) {
            assert!((one - many).abs() <= 2e-6 * one.abs().max(1.0), "{one} {many}");
        }
    }

    #[test]
    fn every_code_goes_there_and_back() {
        for code in 0..=255u8 {
            assert_eq!(to_srgb8([f64::from(linear(code)); 3]), [code; 3]);
        }
    }
}
