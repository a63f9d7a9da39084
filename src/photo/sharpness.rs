//! How soft the sharpest edges of a photograph are.
//!
//! An edge blurred by a Gaussian of standard deviation σ rises from one pixel before its middle to one behind it by
//! 2Φ(1/σ) − 1 of its height; so each strong edge tells its own σ. Cloth may be soft, a card's edge or a thread is not: the sharpest
//! tenth of the strong edges tells the photograph's blur.

use super::{Light, Photo};
use crate::light;
use crate::problem::{Refusal, RefusalCode};
use crate::threads;
use statrs::distribution::{ContinuousCDF, Normal};

/// Reach over which an edge's height is taken, pixels of the reduced picture.
const REACH: usize = 12;
/// Edges with a slope at least this share of the strongest are strong.
const STRONG_SHARE: f32 = 0.3;
/// The share of strong edges that counts as the sharpest.
const SHARPEST_SHARE: f64 = 0.1;
/// A photograph is blurred when its sharpest edges are softer than this share of its long side (σ).
/// Rendered photographs measured sharp, defocused or shaken stand at 0 to 0.0022; hopeless ones at 0.0045 and more.
const BLURRED_SHARE: f64 = 0.0035;
/// No picture is blurred below this, pixels (σ): a lens, a sensor's colour filter, JPEG and drawing it larger soften the
/// sharpest edge by as much, which is a large share of a small picture or of a piece cut from a large one.
const SHARP_PX: f64 = 2.0;

/// Standard deviation of the blur of the sharpest edges, pixels; `None` where there is no edge at all.
pub fn blur_px(photo: &Photo) -> Option<f64> {
    // Pixels are averaged so that the long side is about a thousand: noise falls, and the limit is a share of it.
    let light = photo.light(f64::from(photo.width_px().max(photo.height_px())) / 1000.0);
    let ([w, h], grey) = (light.size(), luminance(light));
    if w <= 2 * REACH || h <= 2 * REACH {
        return None;
    }
    // Of each edge its slope, and how many times as high it is; those that are met along rows, then along columns.
    let met = |stride: usize| -> Vec<(f32, f32)> {
        let mut edges = Vec::new();
        for y in (REACH..h - REACH).step_by(2) {
            for x in (REACH..w - REACH).step_by(2) {
                let at = y * w + x;
                // Mean of three neighbouring lines, slope over two pixels.
                let side = if stride == 1 { w } else { 1 };
                let line = |k: isize| {
                    let c = (at as isize + k * stride as isize) as usize;
                    (grey[c - side] + grey[c] + grey[c + side]) / 3.0
                };
                let slope = (line(1) - line(-1)).abs() / 2.0;
                if slope < 0.002 {
                    continue;
                }
                let values = (-(REACH as isize)..=REACH as isize).map(line);
                let (low, high) = values.fold((f32::MAX, f32::MIN), |(l, g), v| (l.min(v), g.max(v)));
                edges.push((slope, (high - low) / slope));
            }
        }
        edges
    };
    let edges = threads::halves(&[1, w], |strides| strides.iter().flat_map(|&stride| met(stride)).collect());
    let strongest = edges.iter().map(|e| e.0).fold(0.0, f32::max);
    let mut widths: Vec<f32> = edges.iter().filter(|e| e.0 >= STRONG_SHARE * strongest).map(|e| e.1).collect();
    if widths.is_empty() {
        return None;
    }
    let k = ((widths.len() - 1) as f64 * SHARPEST_SHARE) as usize;
    let rise = 1.0 / f64::from(*widths.select_nth_unstable_by(k, f32::total_cmp).1);
    let block = light.block() as f64;
    let sigma = block / Normal::standard().inverse_cdf(0.5 + rise.clamp(0.0, 0.5));
    // What averaging the pixels of a block added.
    Some((sigma.powi(2) - (block.powi(2) - 1.0) / 12.0).max(0.0).sqrt())
}

/// Luminance of the photograph, row by row.
fn luminance(light: Light<'_>) -> Vec<f32> {
    match light {
        Light::Whole(pixels) => pixels.pixels().map(|p| light::luminance(p.0.map(light::linear))).collect(),
        Light::Halved(halved) => halved.of_luminance(|luminance| f32::from(luminance) / f32::from(u16::MAX)),
    }
}

/// Refuses a photograph in which nothing is sharp enough to be placed.
///
/// # Errors
/// `blurred`, with the blur that was met.
pub fn check(photo: &Photo) -> Result<(), Refusal> {
    let limit = (BLURRED_SHARE * f64::from(photo.width_px().max(photo.height_px()))).max(SHARP_PX);
    match blur_px(photo) {
        Some(blur) if blur > limit => Err(Refusal::new(
            RefusalCode::Blurred,
            format!(
                "the photograph is out of focus or shaken: its sharpest edges are soft over {blur:.1} pixels \
                 ({limit:.1} is the limit)"
            ),
            "photograph again: tap on the cloth to focus, hold the phone still, in more light",
        )),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{Rgb, RgbImage};

    /// A light square on a dark ground, its edges blurred by a Gaussian of this standard deviation.
    fn square(sigma: f64) -> Photo {
        let edge = |v: f64| 1.0 / (1.0 + (-1.702 * v / sigma).exp());
        let pixels = RgbImage::from_fn(600, 480, |x, y| {
            let (x, y) = (f64::from(x), f64::from(y));
            let inside = edge(x - 200.0) * edge(400.0 - x) * edge(y - 150.0) * edge(330.0 - y);
            Rgb(light::to_srgb8([0.05 + 0.6 * inside; 3]))
        });
        Photo::new("", pixels)
    }

    #[test]
    fn the_blur_of_an_edge_is_read_off_it() {
        for sigma in [1.5, 2.5, 4.0] {
            let blur = blur_px(&square(sigma)).unwrap();
            assert!((blur / sigma - 1.0).abs() < 0.15, "{sigma} {blur}");
        }
    }

    #[test]
    fn only_a_hopeless_photograph_is_refused() {
        assert!(check(&square(1.0)).is_ok());
        assert_eq!(check(&square(5.0)).unwrap_err().code, RefusalCode::Blurred);
        let plain = Photo::new("", RgbImage::from_pixel(400, 400, Rgb([90, 80, 70])));
        assert!(check(&plain).is_ok());
    }
}
