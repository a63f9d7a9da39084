//! sRGB ↔ linear light, and interpolation in linear light.
//!
//! # Source
//! IEC 61966-2-1:1999: V ≤ 0.04045 → V/12.92, else ((V + 0.055)/1.055)^2.4.

use image::RgbImage;
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

/// Linear light → the nearest 8-bit sRGB colour; clipped to 0..=1.
pub fn to_srgb8(light: [f64; 3]) -> [u8; 3] {
    light.map(|c| (encode(c.clamp(0.0, 1.0)) * 255.0).round() as u8)
}

/// Relative luminance of linear sRGB light (ITU-R BT.709 primaries, as IEC 61966-2-1 uses them).
pub fn luminance(light: [f32; 3]) -> f32 {
    0.2126 * light[0] + 0.7152 * light[1] + 0.0722 * light[2]
}

/// Linear light at (x, y) by Catmull-Rom over the 4 × 4 neighbours; `None` outside the outermost pixel centres.
pub fn catmull_rom(pixels: &RgbImage, x: f64, y: f64) -> Option<[f32; 3]> {
    let (width, height) = (pixels.width() as i64, pixels.height() as i64);
    if !(x >= 0.0 && y >= 0.0 && x <= (width - 1) as f64 && y <= (height - 1) as f64) {
        return None;
    }
    let (x0, y0) = (x.floor() as i64, y.floor() as i64);
    let (wx, wy) = (weights((x - x0 as f64) as f32), weights((y - y0 as f64) as f32));
    let raw = pixels.as_raw();
    let inside = x0 >= 1 && y0 >= 1 && x0 + 2 < width && y0 + 2 < height;
    let mut sum = [0.0f32; 3];
    for (j, &wj) in wy.iter().enumerate() {
        let yj = if inside { y0 - 1 + j as i64 } else { (y0 - 1 + j as i64).clamp(0, height - 1) };
        for (i, &wi) in wx.iter().enumerate() {
            let xi = if inside { x0 - 1 + i as i64 } else { (x0 - 1 + i as i64).clamp(0, width - 1) };
            let at = ((yj * width + xi) * 3) as usize;
            let w = wi * wj;
            for c in 0..3 {
                sum[c] += w * linear(raw[at + c]);
            }
        }
    }
    Some(sum)
}

/// The four Catmull-Rom weights for a place `f` (0 to 1) between the middle two samples.
pub fn weights(f: f32) -> [f32; 4] {
    let (f2, f3) = (f * f, f * f * f);
    [
        0.5 * (-f3 + 2.0 * f2 - f),
        0.5 * (3.0 * f3 - 5.0 * f2 + 2.0),
        0.5 * (-3.0 * f3 + 4.0 * f2 + f),
        0.5 * (f3 - f2),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coding_goes_there_and_back() {
        for code in 0..=255u8 {
            assert_eq!(to_srgb8([f64::from(linear(code)); 3]), [code; 3]);
        }
    }

    #[test]
    fn a_straight_ramp_in_linear_light_is_reproduced_between_pixels() {
        let ramp = RgbImage::from_fn(16, 16, |x, _| image::Rgb(to_srgb8([0.02 + 0.06 * f64::from(x); 3])));
        let at = |x: f64| f64::from(catmull_rom(&ramp, x, 7.3).unwrap()[1]);
        assert!((at(7.5) - (0.02 + 0.06 * 7.5)).abs() < 0.004);
        assert!(catmull_rom(&ramp, 15.01, 3.0).is_none() && catmull_rom(&ramp, f64::NAN, 3.0).is_none());
    }
}
