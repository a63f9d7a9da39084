//! The raster's relief along u.

use super::profile::{Profile, Profiles};
use super::raster::Raster;

/// Standard deviation of the smooth along u that is taken off, millimetres: shade and lines along the seam go with it.
const BROAD_MM: f64 = 14.0;

/// Slopes tried, du/dv.
const SLOPE_STEP: f64 = 0.03;
const STEEPEST: f64 = 0.27;

/// Columns smoothed at the same time.
const LANES: usize = 16;

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
    columns: Profiles,
}

impl Relief {
    /// The relief of a raster.
    pub fn of(raster: &Raster) -> Self {
        let (width, height) = (raster.width, raster.height);
        let half = ((BROAD_MM / raster.step_mm) as usize).max(1);
        let mut columns = Profiles::new(width, height);
        let [mut weights, mut tones, mut once] = [const { Vec::<[f32; LANES]>::new() }; 3];
        let mut broad = [const { Vec::<[f32; LANES]>::new() }; 4];
        for from in (0..width).step_by(LANES) {
            let lanes = LANES.min(width - from);
            let lift = |plane: &[f32], lifted: &mut Vec<[f32; LANES]>| {
                lifted.clear();
                lifted.resize(height, [0.0; LANES]);
                for (lifted, row) in lifted.iter_mut().zip(plane.chunks_exact(width)) {
                    lifted[..lanes].copy_from_slice(&row[from..from + lanes]);
                }
            };
            // Two box passes: the mean of the column around each cell, weights counted.
            lift(&raster.weight, &mut weights);
            boxes(&weights, half, &mut once);
            boxes(&once, half, &mut broad[3]);
            for (value, broad) in raster.value.iter().zip(&mut broad) {
                lift(value, &mut tones);
                for (tones, weights) in tones.iter_mut().zip(&weights) {
                    for k in 0..LANES {
                        tones[k] *= weights[k];
                    }
                }
                boxes(&tones, half, &mut once);
                boxes(&once, half, broad);
            }
            for (j, weights) in weights.iter().enumerate() {
                let seen = weights.map(|weight| weight > 0.0);
                let mut colours = [[0.0; LANES]; 3];
                for (c, colour) in colours.iter_mut().enumerate() {
                    let value = &raster.value[c][j * width + from..][..lanes];
                    colour[..lanes].copy_from_slice(value);
                    for k in 0..LANES {
                        colour[k] -= broad[c][j][k] / broad[3][j][k];
                    }
                }
                for k in (0..lanes).filter(|&k| seen[k]) {
                    columns.set(from + k, j, [colours[0][k], colours[1][k], colours[2][k]]);
                }
            }
        }
        columns.complete();
        Self { width, height, columns }
    }

    /// One column, from the first row to the last.
    pub fn column(&self, i: usize) -> Profile<'_> {
        self.columns.get(i)
    }
}

/// Running sums over `half` rows to either side, at the ends over what there is. Single precision holds: weights are counted
/// exactly, and of tones the rounding stays a hundred thousandth of one.
fn boxes(rows: &[[f32; LANES]], half: usize, boxes: &mut Vec<[f32; LANES]>) {
    boxes.clear();
    let mut sum = [0.0; LANES];
    let add = |sum: &mut [f32; LANES], row: &[f32; LANES], sign: f32| {
        for k in 0..LANES {
            sum[k] += sign * row[k];
        }
    };
    for row in rows.iter().take(half) {
        add(&mut sum, row, 1.0);
    }
    for j in 0..rows.len() {
        if let Some(row) = rows.get(j + half) {
            add(&mut sum, row, 1.0);
        }
        if j > half {
            add(&mut sum, &rows[j - half - 1], -1.0);
        }
        boxes.push(sum);
    }
}
