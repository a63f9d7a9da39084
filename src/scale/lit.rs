//! The luminance of a piece of the picture, worked out once for a fit that looks at it many times.

use super::homography;
use crate::light;
use crate::photo::{Light, Photo};
use crate::threads;
use nalgebra::Matrix3;

/// How much is seen around a symbol, as a share of its own extent in the picture: a fit may move so far.
const AROUND: f64 = 0.3;
/// So many pixels to a module are enough to measure its place, and so many to read it or to draw a place in.
pub(super) const TO_MEASURE_PX: f64 = 16.0;
pub(super) const TO_READ_PX: f64 = 5.0;

/// Luminance in linear light (0 to 1) of a rectangle of the picture.
pub(super) struct Lit {
    /// Pixels of the photograph along one side of a pixel of this.
    block: f64,
    /// Its first pixel.
    left: usize,
    top: usize,
    width: usize,
    /// Row by row.
    luminance: Vec<f32>,
}

impl Lit {
    /// Around a symbol of so many modules along a side; where a module has twice `ample_px` pixels or more, of means of them.
    pub(super) fn around(photo: &Photo, modules_to_px: &Matrix3<f64>, modules: usize, ample_px: f64) -> Self {
        let n = modules as f64;
        let corners = [[0.0, 0.0], [n, 0.0], [n, n], [0.0, n]].map(|p| homography::apply(modules_to_px, p));
        let low = [0, 1].map(|c| corners.iter().map(|p| p[c]).fold(f64::MAX, f64::min));
        let high = [0, 1].map(|c| corners.iter().map(|p| p[c]).fold(f64::MIN, f64::max));
        let extent = [0, 1].map(|c| high[c] - low[c]);
        let light = photo.light(extent[0].max(extent[1]) / (ample_px * n));
        let block = light.block() as f64;
        let size = light.size();
        let [across, down] = [0, 1].map(|c| {
            // What is not a number becomes 0, and nothing is seen.
            let px = |place: f64| ((place / block).max(0.0) as usize).min(size[c]);
            let from = px(low[c] - AROUND * extent[c]);
            from..px(high[c] + AROUND * extent[c] + 2.0 * block).max(from)
        });
        let rows: Vec<usize> = down.clone().collect();
        let luminance = threads::halves(&rows, |rows| {
            let mut luminance = Vec::with_capacity(across.len() * rows.len());
            for pixels in rows.iter().map(|y| y * size[0] + across.start..y * size[0] + across.end) {
                match light {
                    Light::Whole(photo) => {
                        let row = &photo.as_raw()[3 * pixels.start..3 * pixels.end];
                        let of = |p: &[u8]| light::luminance([p[0], p[1], p[2]].map(light::linear));
                        luminance.extend(row.chunks_exact(3).map(of));
                    }
                    Light::Halved(halved) => luminance.extend(pixels.map(|k| light::luminance(halved.light(k)))),
                }
            }
            luminance
        });
        Self { block, left: across.start, top: down.start, width: across.len(), luminance }
    }

    /// At a place of the photograph, bilinear: cheap, and a fit averages thousands of samples. `None` outside.
    #[inline]
    pub(super) fn at(&self, x_px: f64, y_px: f64) -> Option<f64> {
        let on = |px: f64, first: usize| (px + 0.5) / self.block - 0.5 - first as f64;
        let (x, y) = (on(x_px, self.left), on(y_px, self.top));
        if !(x >= 0.0 && y >= 0.0 && x + 1.0 < self.width as f64) {
            return None;
        }
        let (i, j) = (x as usize, y as usize);
        let (fx, fy) = (x - i as f64, y - j as f64);
        let first = j * self.width + i;
        let [c, d] = *self.luminance.get(first + self.width..first + self.width + 2)? else { return None };
        let [a, b] = [self.luminance[first], self.luminance[first + 1]];
        let [a, b, c, d] = [a, b, c, d].map(f64::from);
        Some((1.0 - fy) * (a + fx * (b - a)) + fy * (c + fx * (d - c)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{Rgb, RgbImage};

    #[test]
    fn the_luminance_is_that_of_the_pixels_and_nothing_is_seen_outside() {
        let photo = Photo::new("grey", RgbImage::from_fn(90, 70, |x, y| Rgb([(x + y) as u8; 3])));
        let lit = Lit::around(&photo, &Matrix3::new(1.0, 0.0, 20.0, 0.0, 1.0, 30.0, 0.0, 0.0, 1.0), 25, TO_MEASURE_PX);
        let code = |code: u8| f64::from(light::luminance([light::linear(code); 3]));
        assert!((lit.at(40.0, 35.0).unwrap() - code(75)).abs() < 1e-6);
        assert!((lit.at(40.5, 35.0).unwrap() - (code(75) + code(76)) / 2.0).abs() < 1e-6);
        assert!(lit.at(5.0, 35.0).is_none() && lit.at(f64::NAN, 35.0).is_none() && lit.at(40.0, 69.0).is_none());
        // Modules of 40 pixels on a large picture are looked at in means of two by two.
        let photo = Photo::new("ramp", RgbImage::from_fn(1300, 1200, |x, _| Rgb([(x / 6) as u8; 3])));
        let lit =
            Lit::around(&photo, &Matrix3::new(40.0, 0.0, 100.0, 0.0, 40.0, 100.0, 0.0, 0.0, 1.0), 25, TO_MEASURE_PX);
        assert!(lit.block == 2.0 && (lit.at(602.5, 500.0).unwrap() - code(100)).abs() < 2e-5);
        let nowhere = Lit::around(&photo, &Matrix3::from_element(f64::NAN), 25, TO_MEASURE_PX);
        assert!(nowhere.at(0.0, 0.0).is_none());
    }
}
