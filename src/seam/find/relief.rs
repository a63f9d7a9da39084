//! The raster's relief along u, with sums along v for every slope that lines may have.

use super::raster::Raster;
use crate::smooth::boxed;

/// Standard deviation of the smooth along u that is taken off, millimetres: shade and lines along the seam go with it.
const BROAD_MM: f64 = 14.0;

/// Slopes tried, du/dv.
const SLOPE_STEP: f64 = 0.03;
const STEEPEST: f64 = 0.27;

/// Every slope that lines may have.
pub fn slopes() -> impl Iterator<Item = f64> {
    let count = (STEEPEST / SLOPE_STEP).round() as i32;
    (-count..=count).map(|k| f64::from(k) * SLOPE_STEP)
}

/// Relief on the raster's cells, around zero along every column.
pub struct Relief {
    /// Cells along v.
    pub width: usize,
    /// Cells along u.
    pub height: usize,
    /// Column by column: R, G, B and 1 where they count; all 0 where they do not.
    pub cell: Vec<[f32; 4]>,
}

impl Relief {
    /// The relief of a raster.
    pub fn of(raster: &Raster) -> Self {
        let (width, height) = (raster.width, raster.height);
        let half = ((BROAD_MM / raster.step_mm) as usize).max(1);
        let mut cell = vec![[0.0f32; 4]; width * height];
        let mut column = vec![[0.0f64; 4]; height];
        for i in 0..width {
            for (j, slot) in column.iter_mut().enumerate() {
                let [r, g, b] = raster.value[j * width + i];
                let w = raster.weight[j * width + i];
                *slot = [r * w, g * w, b * w, w].map(f64::from);
            }
            // Two box passes: the mean of the column around each cell, weights counted.
            let broad = boxed(&boxed(&column, half), half);
            for (j, (slot, [r, g, b, w])) in cell[i * height..][..height].iter_mut().zip(broad).enumerate() {
                if raster.weight[j * width + i] > 0.0 && w > 0.0 {
                    let value = raster.value[j * width + i];
                    *slot = [value[0] - (r / w) as f32, value[1] - (g / w) as f32, value[2] - (b / w) as f32, 1.0];
                }
            }
        }
        Self { width, height, cell }
    }

    /// One column, from the first row to the last.
    pub fn column(&self, i: usize) -> &[[f32; 4]] {
        &self.cell[i * self.height..][..self.height]
    }

    /// Sums along v from the left edge, each column carried along `slope` (du/dv around the middle column).
    pub fn sums(&self, slope: f64) -> Sums {
        let (width, height) = (self.width, self.height);
        let mut sums = Sums { slope, width, height, cell: vec![[0.0; 4]; (width + 1) * height] };
        sums.fill(self);
        sums
    }
}

/// Adds a column to `sum`, moved up by `shift` cells (linear interpolation), where both its neighbours count.
pub fn add_moved(column: &[[f32; 4]], shift: f64, sum: &mut [[f32; 4]]) {
    let whole = shift.floor();
    let f = (shift - whole) as f32;
    let (from, to) = overlap(whole as isize, column.len(), sum.len());
    let moved = column[from.saturating_add_signed(whole as isize).min(column.len())..].windows(2);
    for (slot, pair) in sum[from..to].iter_mut().zip(moved) {
        let (a, b) = (pair[0], pair[1]);
        let counts = a[3] * b[3];
        for c in 0..4 {
            slot[c] += counts * (a[c] + f * (b[c] - a[c]));
        }
    }
}

/// The rows j of `rows` for which row j + `whole` of `length` and the next are there.
pub fn overlap(whole: isize, length: usize, rows: usize) -> (usize, usize) {
    let from = (-whole).max(0) as usize;
    let to = (length as isize - 1 - whole).clamp(0, rows as isize) as usize;
    if from < to { (from, to) } else { (0, 0) }
}

/// Sums along v of a relief carried along one slope.
pub struct Sums {
    slope: f64,
    width: usize,
    height: usize,
    /// Column by column: entry (i, j) sums the columns before i.
    cell: Vec<[f32; 4]>,
}

impl Sums {
    /// The same of another slope, in the same room.
    pub fn along(&mut self, relief: &Relief, slope: f64) {
        self.slope = slope;
        self.fill(relief);
    }

    fn fill(&mut self, relief: &Relief) {
        let (width, height) = (self.width, self.height);
        for i in 0..width {
            let (before, now) = self.cell[i * height..][..2 * height].split_at_mut(height);
            now.copy_from_slice(before);
            add_moved(relief.column(i), self.slope * (i as f64 - width as f64 / 2.0), now);
        }
    }

    /// The mean of the columns `from..to`, carried to column `at`, at row j; `None` where less than half is cloth.
    #[inline]
    pub fn mean(&self, from: usize, to: usize, at: usize, j: usize) -> Option<[f32; 3]> {
        let place = j as f64 - self.slope * (at as f64 - self.width as f64 / 2.0);
        if place < 0.0 {
            return None;
        }
        let k = place as usize;
        if k + 1 >= self.height {
            return None;
        }
        let f = (place - k as f64) as f32;
        let (a, b) = (&self.cell[from * self.height + k..][..2], &self.cell[to * self.height + k..][..2]);
        let least = 0.5 * (to - from) as f32;
        let (low, high) = (b[0][3] - a[0][3], b[1][3] - a[1][3]);
        if low < least || high < least {
            return None;
        }
        let mut mean = [0.0; 3];
        for c in 0..3 {
            let (low, high) = ((b[0][c] - a[0][c]) / low, (b[1][c] - a[1][c]) / high);
            mean[c] = low + f * (high - low);
        }
        Some(mean)
    }
}
