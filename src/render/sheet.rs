//! The picture in linear light while it is made: the cloth sampled finer than the pixels, things laid over it.

use super::camera::{Camera, Projection};
use super::chance;
use super::colour::Linear;
use super::relief::Drape;
use super::seam::Course;
use super::surface::Surface;
use crate::units::{MmPoint, PxPoint};

/// A picture in linear light, rows of red, green, blue.
pub(super) struct Sheet {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) light: Vec<f32>,
}

/// What a thing does to the light at a place: it shades the cloth there, and covers part of it.
pub(super) struct Touch {
    /// Gain of the light from the cloth.
    pub(super) gain: f32,
    /// Share of the pixel covered.
    pub(super) cover: f32,
    /// The light from the thing itself.
    pub(super) light: Linear,
}

/// A thing that lies on the cloth.
pub(super) trait Thing {
    /// Points whose bounding box in the picture holds the thing and its shadow.
    fn outline(&self) -> Vec<MmPoint>;
    /// What it does at a point of the plane seen by a pixel `px_mm` wide.
    fn touch(&self, p: MmPoint, px_mm: f32) -> Touch;
}

/// Standard deviation of the lens's own blur, pixels.
const LENS_BLUR_PX: f32 = 0.5;

impl Sheet {
    /// The surface as the lens draws it.
    ///
    /// Each pixel is sampled on a grid fine enough for the threads, and the lens's blur is applied on that grid, before
    /// the sensor's pixels sample it: threads finer than a pixel turn to an even tone, as they do in a real picture.
    /// The samples are scattered evenly within their cells: on a strict grid, an edge along a row of pixels would
    /// snap to the grid.
    pub(super) fn expose(
        surface: &Surface,
        course: &Course,
        drape: &Drape,
        camera: &Camera,
        thread_mm: f64,
        salt: u32,
    ) -> Self {
        let projection = camera.projection();
        let (width, height) = (camera.width_px as usize, camera.height_px as usize);
        // What a messenger made small has the mean of all that lies under a pixel.
        let most = if camera.messenger.is_some() { 12 } else { 4 };
        let n = ((2.0 * camera.mm_per_px / thread_mm).ceil() as usize).clamp(2, most);
        let reach = (3.0 * LENS_BLUR_PX * n as f32).ceil() as usize;
        let mut sheet = Self { width, height, light: vec![0.0; width * height * 3] };
        let lattice_row = |k: usize| -> Vec<[f32; 4]> {
            let y = k as f64 - 1.5;
            let nodes = (0..width + 3).map(|i| PxPoint::new(i as f64 - 1.5, y));
            nodes.map(|p| Self::node(projection, course, drape, p, salt)).collect()
        };
        let (mut above, mut below) = (lattice_row(0), lattice_row(1));
        let mut fine = vec![[0.0_f32; 3]; (width + 2) * n];
        let mut row = vec![0.0_f32; width * 3];
        let kernel = Kernel::new(n, reach);
        let part = 1.0 / n as f32;
        for k in 0..(height + 2) * n {
            // One pixel of margin all round feeds the blur.
            if k % n == 0 && k > 0 {
                above = std::mem::replace(&mut below, lattice_row(k / n + 1));
            }
            for (i, cell) in fine.chunks_exact_mut(n).enumerate() {
                let (top, bottom) = ([above[i], above[i + 1]], [below[i], below[i + 1]]);
                for (j, sample) in cell.iter_mut().enumerate() {
                    let (fx, fy) = scatter(i * n + j, k);
                    let (fx, fy) = ((j as f32 + fx) * part, ((k % n) as f32 + fy) * part);
                    let [u, v, displaced, shade] = [0, 1, 2, 3].map(|c| {
                        let a = top[0][c] + fx * (top[1][c] - top[0][c]);
                        let b = bottom[0][c] + fx * (bottom[1][c] - bottom[0][c]);
                        a + fy * (b - a)
                    });
                    *sample = surface.light(u, v, displaced, shade);
                }
            }
            kernel.narrow(&fine, &mut row);
            for (out, weight) in kernel.rows_of(k, height) {
                let target = &mut sheet.light[out * width * 3..(out + 1) * width * 3];
                target.iter_mut().zip(&row).for_each(|(a, b)| *a += weight * b);
            }
        }
        sheet
    }

    /// Seam coordinates, drape's displacement and shade at a point of the picture.
    fn node(projection: Projection, course: &Course, drape: &Drape, p: PxPoint, salt: u32) -> [f32; 4] {
        let far = MmPoint::new(1e5, 1e5);
        let (u, v) = course.coordinates(projection.to_mm(p).unwrap_or(far));
        let (u, v) = (u as f32, v as f32);
        let (displaced, shade) = drape.at(u, v);
        let pressing = 1.0 + 0.02 * chance::over(u / 14.0, v / 14.0, salt);
        [u, v, displaced, shade * pressing]
    }

    /// Lays a thing over the picture.
    pub(super) fn lay(&mut self, thing: &dyn Thing, projection: Projection) {
        let corners: Vec<PxPoint> = thing.outline().into_iter().map(|p| projection.to_px(p)).collect();
        let bound = |pick: fn(&PxPoint) -> f64, limit: usize| {
            let low = corners.iter().map(pick).fold(f64::INFINITY, f64::min).floor();
            let high = corners.iter().map(pick).fold(f64::NEG_INFINITY, f64::max).ceil() + 1.0;
            (low.clamp(0.0, limit as f64) as usize)..(high.clamp(0.0, limit as f64) as usize)
        };
        let (columns, rows) = (bound(|p| p.x, self.width), bound(|p| p.y, self.height));
        for y in rows {
            for x in columns.clone() {
                let p = PxPoint::new(x as f64, y as f64);
                let (Some(place), Some(px_mm)) = (projection.to_mm(p), projection.mm_per_px(p)) else { continue };
                let touch = thing.touch(place, px_mm as f32);
                let pixel = &mut self.light[(y * self.width + x) * 3..][..3];
                for (light, own) in pixel.iter_mut().zip(touch.light) {
                    *light *= touch.gain;
                    *light += touch.cover * (own - *light);
                }
            }
        }
    }
}

/// Place of a sample within its cell, 0 to 1 right and down: neighbours along a row or a column are spread evenly over
/// the cell (multiples of the golden ratio's fraction).
fn scatter(column: usize, row: usize) -> (f32, f32) {
    const GOLDEN: u32 = 0x9E37_79B9;
    const GOLDEN_CUBED: u32 = 0x3C6E_F372;
    let place = |a: usize, b: usize| {
        let x = (a as u32).wrapping_mul(GOLDEN).wrapping_add((b as u32).wrapping_mul(GOLDEN_CUBED));
        (x >> 8) as f32 * (1.0 / 16_777_216.0)
    };
    (place(row, column), place(column, row))
}

/// The lens's blur from the fine grid to the pixels, the same across and down.
struct Kernel {
    n: usize,
    reach: usize,
    weights: Vec<f32>,
}

impl Kernel {
    /// Weights of the fine samples around a pixel's middle: n samples to a pixel, `reach` to either side.
    fn new(n: usize, reach: usize) -> Self {
        // With n samples to a pixel the pixel's middle lies (n − 1)/2 samples after its first one.
        let middle = (n as f32 - 1.0) / 2.0 + reach as f32;
        let sigma = LENS_BLUR_PX * n as f32;
        let weights: Vec<f32> =
            (0..n + 2 * reach).map(|k| (-0.5 * ((k as f32 - middle) / sigma).powi(2)).exp()).collect();
        let sum: f32 = weights.iter().sum();
        Self { n, reach, weights: weights.into_iter().map(|w| w / sum).collect() }
    }

    /// A fine row, with one pixel of margin at either end, to a row of pixels.
    fn narrow(&self, fine: &[Linear], row: &mut [f32]) {
        let last = fine.len() - 1;
        for (x, pixel) in row.chunks_exact_mut(3).enumerate() {
            let first = ((x + 1) * self.n) as isize - self.reach as isize;
            let mut sum = [0.0_f32; 3];
            for (k, weight) in self.weights.iter().enumerate() {
                let sample = fine[(first + k as isize).clamp(0, last as isize) as usize];
                (0..3).for_each(|c| sum[c] += weight * sample[c]);
            }
            pixel.copy_from_slice(&sum);
        }
    }

    /// The rows of the picture that a fine row (counted from the margin) adds to, with its weight in each.
    fn rows_of(&self, fine_row: usize, height: usize) -> impl Iterator<Item = (usize, f32)> {
        let last = (height + 2) * self.n - 1;
        let spread = self.reach / self.n + 2;
        let middle = fine_row / self.n;
        (middle.saturating_sub(spread)..=middle + spread).filter(move |y| (1..=height).contains(y)).filter_map(
            move |y| {
                let first = (y * self.n) as isize - self.reach as isize;
                let index = |k: usize| (first + k as isize).clamp(0, last as isize) as usize;
                let weight: f32 =
                    self.weights.iter().enumerate().filter(|(k, _)| index(*k) == fine_row).map(|(_, w)| w).sum();
                (weight > 0.0).then_some((y - 1, weight))
            },
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_blur_keeps_the_light_and_the_place() {
        for n in [2, 3, 4, 12] {
            let kernel = Kernel::new(n, (1.5 * n as f32).ceil() as usize);
            // A ramp stays the same ramp: the middle of pixel x is at x on the pixels' axis.
            let fine: Vec<Linear> = (0..12 * n).map(|k| [((k as f32 + 0.5) / n as f32) - 1.5; 3]).collect();
            let mut row = vec![0.0; 10 * 3];
            kernel.narrow(&fine, &mut row);
            for x in 2..8 {
                assert!((row[3 * x] - x as f32).abs() < 1e-4, "n {n}: {} at {x}", row[3 * x]);
            }
            let mut given = [0.0_f32; 10];
            let mut place = [0.0_f32; 10];
            for k in 0..12 * n {
                for (y, weight) in kernel.rows_of(k, 10) {
                    given[y] += weight;
                    place[y] += weight * ((k as f32 + 0.5) / n as f32 - 1.5);
                }
            }
            assert!(given.iter().all(|g| (g - 1.0).abs() < 1e-5), "{given:?}");
            assert!((2..8).all(|y| (place[y] - y as f32).abs() < 1e-4), "{place:?}");
        }
    }
}
