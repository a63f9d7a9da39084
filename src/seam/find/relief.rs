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

/// Relief on the raster's cells: R, G, B, around zero along every column.
pub struct Relief {
    /// Cells along v.
    pub width: usize,
    /// Cells along u.
    pub height: usize,
    /// Row by row.
    pub value: Vec<[f32; 3]>,
    /// 1 where it counts.
    pub weight: Vec<f32>,
}

impl Relief {
    /// The relief of a raster.
    pub fn of(raster: &Raster) -> Self {
        let (width, height) = (raster.width, raster.height);
        let half = ((BROAD_MM / raster.step_mm) as usize).max(1);
        let mut value = vec![[0.0f32; 3]; width * height];
        for i in 0..width {
            // Two box passes: the mean of the column around each cell, weights counted.
            let mut column: Vec<[f64; 4]> = (0..height)
                .map(|j| {
                    let at = j * width + i;
                    let w = f64::from(raster.weight[at]);
                    let v = raster.value[at].map(f64::from);
                    [v[0] * w, v[1] * w, v[2] * w, w]
                })
                .collect();
            for _ in 0..2 {
                column = boxed(&column, half);
            }
            for j in 0..height {
                let at = j * width + i;
                if raster.weight[at] > 0.0 && column[j][3] > 0.0 {
                    value[at] = std::array::from_fn(|c| raster.value[at][c] - (column[j][c] / column[j][3]) as f32);
                }
            }
        }
        Self { width, height, value, weight: raster.weight.clone() }
    }

    /// Sums along v from the left edge, each column carried along `slope` (du/dv around the middle column).
    pub fn sums(&self, slope: f64) -> Sums {
        let (width, height) = (self.width, self.height);
        let mut cell = vec![[0.0f32; 4]; (width + 1) * height];
        for i in 0..width {
            let shift = slope * (i as f64 - width as f64 / 2.0);
            let whole = shift.floor();
            let f = (shift - whole) as f32;
            for j in 0..height {
                let before = cell[i * height + j];
                let from = j as isize + whole as isize;
                let mut now = before;
                if from >= 0 && (from as usize) + 1 < height {
                    let (a, b) = (from as usize * width + i, (from as usize + 1) * width + i);
                    if self.weight[a] > 0.0 && self.weight[b] > 0.0 {
                        for c in 0..3 {
                            now[c] += self.value[a][c] + f * (self.value[b][c] - self.value[a][c]);
                        }
                        now[3] += 1.0;
                    }
                }
                cell[(i + 1) * height + j] = now;
            }
        }
        Sums { slope, width, height, cell }
    }
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
    /// The mean of the columns `from..to`, carried to column `at`, at row j; `None` where less than half is cloth.
    pub fn mean(&self, from: usize, to: usize, at: usize, j: usize) -> Option<[f32; 3]> {
        let place = j as f64 - self.slope * (at as f64 - self.width as f64 / 2.0);
        let k = place.floor();
        if k < 0.0 || k as usize + 1 >= self.height {
            return None;
        }
        let f = (place - k) as f32;
        let one = |k: usize| -> Option<[f32; 3]> {
            let (a, b) = (self.cell[from * self.height + k], self.cell[to * self.height + k]);
            let w = b[3] - a[3];
            (w * 2.0 >= (to - from) as f32).then(|| std::array::from_fn(|c| (b[c] - a[c]) / w))
        };
        let (low, high) = (one(k as usize)?, one(k as usize + 1)?);
        Some(std::array::from_fn(|c| low[c] + f * (high[c] - low[c])))
    }
}
