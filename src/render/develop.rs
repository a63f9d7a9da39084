//! From the light on the cloth to the file: light, focus, motion, sensor, sharpening, JPEG, and a messenger's second one.

use super::camera::{Camera, Light};
use super::colour::Encoder;
use super::sheet::Sheet;
use crate::problem::Problem;
use image::codecs::jpeg::JpegEncoder;
use image::{ImageFormat, RgbImage};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::Rng;

/// The finished photograph: the JPEG file and its pixels as any reader decodes them.
///
/// # Errors
/// [`Problem::Io`] where the JPEG encoder refuses the picture.
pub(super) fn develop(mut sheet: Sheet, camera: &Camera, rng: &mut ChaCha8Rng) -> Result<(RgbImage, Vec<u8>), Problem> {
    shine(&mut sheet, &camera.light);
    if camera.defocus_px > 0.0 {
        blur(&mut sheet, camera.defocus_px as f32);
    }
    if camera.motion_px > 0.0 {
        shake(&mut sheet, camera.motion_px as f32, camera.motion_rad as f32);
    }
    add_noise(&mut sheet, camera, rng);
    if camera.sharpening > 0.0 {
        sharpen(&mut sheet, camera.sharpening as f32);
    }
    let encoder = Encoder::new();
    let bytes: Vec<u8> = sheet.light.iter().map(|&x| encoder.encode(x)).collect();
    let failed = |e: image::ImageError| {
        Problem::io(format!("the rendered picture could not be written as JPEG: {e}"), "render a smaller picture")
    };
    let (width, height) = (sheet.width as u32, sheet.height as u32);
    let mut jpeg = Vec::new();
    JpegEncoder::new_with_quality(&mut jpeg, camera.jpeg_quality)
        .encode(&bytes, width, height, image::ExtendedColorType::Rgb8)
        .map_err(failed)?;
    let photo = image::load_from_memory_with_format(&jpeg, ImageFormat::Jpeg).map_err(failed)?.into_rgb8();
    let Some(messenger) = camera.messenger else { return Ok((photo, jpeg)) };
    let photo = messenger.enlarge(&photo, camera);
    let mut jpeg = Vec::new();
    JpegEncoder::new_with_quality(&mut jpeg, messenger.jpeg_quality).encode_image(&photo).map_err(failed)?;
    let photo = image::load_from_memory_with_format(&jpeg, ImageFormat::Jpeg).map_err(failed)?.into_rgb8();
    Ok((photo, jpeg))
}

/// Multiplies the light that falls on the cloth.
fn shine(sheet: &mut Sheet, light: &Light) {
    let (width, height) = (sheet.width as f32, sheet.height as f32);
    let half_diagonal = width.hypot(height) / 2.0;
    let tint = light.tint.map(|t| (t * light.exposure) as f32);
    let (dark_y, dark_x) = (light.darker_towards_rad as f32).sin_cos();
    let shadow = light.shadow.map(|edge| {
        let (y, x) = (edge.towards_rad as f32).sin_cos();
        (x, y, edge.distance as f32 * half_diagonal, edge.depth as f32, edge.softness_px as f32)
    });
    for (k, row) in sheet.light.chunks_exact_mut(sheet.width * 3).enumerate() {
        let y = k as f32 - (height - 1.0) / 2.0;
        for (i, pixel) in row.chunks_exact_mut(3).enumerate() {
            let x = i as f32 - (width - 1.0) / 2.0;
            let away = (x * dark_x + y * dark_y) / half_diagonal;
            let mut gain = 1.0 - light.unevenness as f32 * away * (1.0 + 0.3 * away);
            if let Some((sx, sy, distance, depth, softness)) = shadow {
                let beyond = (x * sx + y * sy - distance) / softness;
                gain *= 1.0 - depth / (1.0 + (-4.0 * beyond).exp());
            }
            let gain = gain.max(0.0);
            pixel.iter_mut().zip(tint).for_each(|(light, t)| *light *= gain * t);
        }
    }
}

/// Gaussian blur with the edges repeated, standard deviation in pixels.
fn blur(sheet: &mut Sheet, sigma: f32) {
    let reach = (3.2 * sigma).ceil() as usize;
    let weights: Vec<f32> = (0..=reach).map(|k| (-0.5 * (k as f32 / sigma).powi(2)).exp()).collect();
    let whole: f32 = weights[0] + 2.0 * weights[1..].iter().sum::<f32>();
    let weights: Vec<f32> = weights.into_iter().map(|w| w / whole).collect();
    let (width, height) = (sheet.width, sheet.height);
    let mut padded = vec![0.0_f32; (width + 2 * reach) * 3];
    for row in sheet.light.chunks_exact_mut(width * 3) {
        for (i, pixel) in padded.chunks_exact_mut(3).enumerate() {
            let x = (i.max(reach) - reach).min(width - 1);
            pixel.copy_from_slice(&row[x * 3..x * 3 + 3]);
        }
        for (i, out) in row.iter_mut().enumerate() {
            let at = i + 3 * reach;
            let pairs = weights[1..].iter().enumerate();
            let beside: f32 = pairs.map(|(k, w)| w * (padded[at - 3 * (k + 1)] + padded[at + 3 * (k + 1)])).sum();
            *out = weights[0] * padded[at] + beside;
        }
    }
    let source = std::mem::replace(&mut sheet.light, vec![0.0; width * height * 3]);
    let row_at = |y: isize| &source[y.clamp(0, height as isize - 1) as usize * width * 3..][..width * 3];
    for (y, row) in sheet.light.chunks_exact_mut(width * 3).enumerate() {
        for k in -(reach as isize)..=reach as isize {
            let weight = weights[k.unsigned_abs()];
            row.iter_mut().zip(row_at(y as isize + k)).for_each(|(a, b)| *a += weight * b);
        }
    }
}

/// Motion blur: the mean along a straight way of `length` pixels about each pixel.
fn shake(sheet: &mut Sheet, length: f32, direction: f32) {
    let steps = (2.0 * length).ceil() as usize + 1;
    let (width, height) = (sheet.width, sheet.height);
    let source = std::mem::replace(&mut sheet.light, vec![0.0; width * height * 3]);
    for step in 0..steps {
        let way = length * ((step as f32 + 0.5) / steps as f32 - 0.5);
        let (dx, dy) = (way * direction.cos(), way * direction.sin());
        let (ix, iy) = (dx.floor(), dy.floor());
        let (fx, fy) = (dx - ix, dy - iy);
        for (oy, ox, weight) in
            [(0, 0, (1.0 - fx) * (1.0 - fy)), (0, 1, fx * (1.0 - fy)), (1, 0, (1.0 - fx) * fy), (1, 1, fx * fy)]
        {
            for y in 0..height {
                let from_y = (y as isize + iy as isize + oy).clamp(0, height as isize - 1) as usize;
                for x in 0..width {
                    let from_x = (x as isize + ix as isize + ox).clamp(0, width as isize - 1) as usize;
                    for c in 0..3 {
                        sheet.light[(y * width + x) * 3 + c] +=
                            weight / steps as f32 * source[(from_y * width + from_x) * 3 + c];
                    }
                }
            }
        }
    }
}

/// Shot and reading noise of the sensor, in linear light.
fn add_noise(sheet: &mut Sheet, camera: &Camera, rng: &mut ChaCha8Rng) {
    let (shot, read) = ((camera.shot_noise as f32).powi(2), (camera.read_noise as f32).powi(2));
    if shot + read == 0.0 {
        return;
    }
    for light in &mut sheet.light {
        // The sum of four uniform numbers is normal enough for a sensor; its variance is 4/12.
        let bits = rng.next_u64();
        let sum: u32 = (0..4).map(|k| (bits >> (16 * k)) as u32 & 0xFFFF).sum();
        let normal = (sum as f32 / 65_535.0 - 2.0) * 3.0_f32.sqrt();
        *light += normal * (shot * light.max(0.0) + read).sqrt();
    }
}

/// What a phone does: the difference to a blurred copy is added.
fn sharpen(sheet: &mut Sheet, amount: f32) {
    let mut soft = Sheet { width: sheet.width, height: sheet.height, light: sheet.light.clone() };
    blur(&mut soft, 1.2);
    sheet.light.iter_mut().zip(&soft.light).for_each(|(a, b)| *a += amount * (*a - b));
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::rand_core::SeedableRng;

    fn grey(width: usize, height: usize, light: f32) -> Sheet {
        Sheet { width, height, light: vec![light; width * height * 3] }
    }

    fn spot() -> Sheet {
        let mut sheet = grey(31, 31, 0.0);
        (0..3).for_each(|c| sheet.light[(15 * 31 + 15) * 3 + c] = 1.0);
        sheet
    }

    /// Mean place and variance of the light along x and y.
    fn moments(sheet: &Sheet) -> ((f32, f32), (f32, f32)) {
        let mut sums = [0.0_f32; 5];
        for y in 0..sheet.height {
            for x in 0..sheet.width {
                let (w, x, y) = (sheet.light[(y * sheet.width + x) * 3], x as f32 - 15.0, y as f32 - 15.0);
                [w, w * x, w * y, w * x * x, w * y * y].into_iter().enumerate().for_each(|(k, v)| sums[k] += v);
            }
        }
        ((sums[1] / sums[0], sums[2] / sums[0]), (sums[3] / sums[0], sums[4] / sums[0]))
    }

    #[test]
    fn defocus_spreads_evenly_by_its_sigma() {
        let mut sheet = spot();
        blur(&mut sheet, 2.0);
        let (mean, variance) = moments(&sheet);
        assert!(mean.0.abs() < 1e-4 && mean.1.abs() < 1e-4);
        assert!((variance.0 - 4.0).abs() < 0.2 && (variance.1 - 4.0).abs() < 0.2, "{variance:?}");
    }

    #[test]
    fn motion_spreads_along_its_direction_only() {
        let mut sheet = spot();
        shake(&mut sheet, 9.0, 0.0);
        let (mean, variance) = moments(&sheet);
        // Uniform over 9 px: variance 81/12 = 6.75, and the interpolation adds up to 0.25.
        assert!(mean.0.abs() < 0.02 && variance.1 < 1e-6);
        assert!((6.5..7.1).contains(&variance.0), "{variance:?}");
    }

    #[test]
    fn noise_has_the_stated_size() {
        let camera = Camera { shot_noise: 0.02, read_noise: 0.01, ..Camera::new(200, 200, 0.3) };
        let mut sheet = grey(200, 200, 0.25);
        add_noise(&mut sheet, &camera, &mut ChaCha8Rng::seed_from_u64(8));
        let n = sheet.light.len() as f32;
        let mean = sheet.light.iter().sum::<f32>() / n;
        let variance = sheet.light.iter().map(|x| (x - mean).powi(2)).sum::<f32>() / n;
        assert!((mean - 0.25).abs() < 2e-4);
        assert!((variance / (0.02_f32.powi(2) * 0.25 + 0.01_f32.powi(2)) - 1.0).abs() < 0.03, "{variance}");
    }

    #[test]
    fn a_shadow_edge_takes_its_share() {
        let edge = super::super::ShadowEdge { distance: 0.0, towards_rad: 0.0, depth: 0.5, softness_px: 2.0 };
        let mut sheet = grey(61, 11, 0.8);
        shine(&mut sheet, &Light { exposure: 1.0, shadow: Some(edge), ..Light::even() });
        let at = |x: usize| sheet.light[(5 * 61 + x) * 3];
        assert!((at(5) - 0.8).abs() < 1e-3 && (at(55) - 0.4).abs() < 1e-3 && (at(30) - 0.6).abs() < 1e-3);
    }
}
