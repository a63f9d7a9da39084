//! Interpolation between pixels, in linear light.

use crate::light::linear;
use image::RgbImage;

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
fn weights(f: f32) -> [f32; 4] {
    let (f2, f3) = (f * f, f * f * f);
    [0.5 * (-f3 + 2.0 * f2 - f), 0.5 * (3.0 * f3 - 5.0 * f2 + 2.0), 0.5 * (-3.0 * f3 + 4.0 * f2 + f), 0.5 * (f3 - f2)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::to_srgb8;

    #[test]
    fn a_straight_ramp_in_linear_light_is_reproduced_between_pixels() {
        let ramp = RgbImage::from_fn(16, 16, |x, _| image::Rgb(to_srgb8([0.02 + 0.06 * f64::from(x); 3])));
        let at = |x: f64| f64::from(catmull_rom(&ramp, x, 7.3).unwrap()[1]);
        assert!((at(7.5) - (0.02 + 0.06 * 7.5)).abs() < 0.004);
        assert!(catmull_rom(&ramp, 15.01, 3.0).is_none() && catmull_rom(&ramp, f64::NAN, 3.0).is_none());
    }
}
