//! The raster's relief along u, with sums along v for every slope that lines may have.

use super::profile::{Profile, Profiles, SUMMED, overlap, whole_and_part};
use super::raster::Raster;
use std::ops::Range;

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

    /// Sums along v from the left edge, each column carried along `slope` (du/dv around the middle column).
    pub fn sums(&self, slope: f64) -> Sums {
        let (width, height) = (self.width, self.height);
        let mut sums = Sums { slope, width, height, planes: vec![0.0; (width + 1) * SUMMED * height] };
        sums.fill(self);
        sums
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

/// Sums along v of a relief carried along one slope.
pub struct Sums {
    slope: f64,
    width: usize,
    height: usize,
    /// Column by column, each plane by plane: entry i sums the columns before i.
    planes: Vec<f32>,
}

/// Means of some columns at successive rows.
#[derive(Default)]
pub struct Means {
    /// R, G and B; 0 where less than half is cloth.
    pub colour: [Vec<f32>; 3],
    /// One over the cells that a mean is of; 0 where less than half is cloth.
    pub share: Vec<f32>,
}

impl Sums {
    /// The same of another slope, in the same room.
    pub fn along(&mut self, relief: &Relief, slope: f64) {
        self.slope = slope;
        self.fill(relief);
    }

    fn fill(&mut self, relief: &Relief) {
        let size = SUMMED * self.height;
        for i in 0..self.width {
            let (before, now) = self.planes[i * size..][..2 * size].split_at_mut(size);
            now.copy_from_slice(before);
            relief.column(i).add_moved(self.slope * (i as f64 - self.width as f64 / 2.0), now);
        }
    }

    /// The means of some columns, carried to column `at`, at these rows.
    pub fn means(&self, columns: Range<usize>, at: usize, rows: Range<usize>, means: &mut Means) {
        for plane in means.colour.iter_mut().chain([&mut means.share]) {
            plane.clear();
            plane.resize(rows.len(), 0.0);
        }
        let (whole, f) = whole_and_part(-self.slope * (at as f64 - self.width as f64 / 2.0));
        let (from, to) = overlap(whole, self.height, self.height);
        let (from, to) = (from.max(rows.start), to.min(rows.end));
        if from >= to {
            return;
        }
        let size = SUMMED * self.height;
        let plane = |column: usize, plane: usize| {
            &self.planes[column * size + plane * self.height + from.saturating_add_signed(whole)..][..=to - from]
        };
        let slots = from - rows.start..to - rows.start;
        let share = &mut means.share[slots.clone()];
        shares(share, plane(columns.start, 3), plane(columns.end, 3), 0.5 * columns.len() as f32, f);
        for (c, colour) in means.colour.iter_mut().enumerate() {
            averages(&mut colour[slots.clone()], plane(columns.start, c), plane(columns.end, c), share, f);
        }
    }
}

/// One over how many cells there are, the part `f` of the way from a row to the next; 0 where either has fewer than `least`.
fn shares(share: &mut [f32], before: &[f32], after: &[f32], least: f32, f: f32) {
    for (((share, pair), b), next) in share.iter_mut().zip(before.windows(2)).zip(after).zip(&after[1..]) {
        let (low, high) = (b - pair[0], next - pair[1]);
        let one_over = 1.0 / (low + f * (high - low));
        *share = if low.min(high) < least { 0.0 } else { one_over };
    }
}

fn averages(mean: &mut [f32], before: &[f32], after: &[f32], share: &[f32], f: f32) {
    let before = before.iter().zip(&before[1..]);
    let after = after.iter().zip(&after[1..]);
    for (((mean, share), (a, next_a)), (b, next_b)) in mean.iter_mut().zip(share).zip(before).zip(after) {
        let (low, high) = (b - a, next_b - next_a);
        *mean = share * (low + f * (high - low));
    }
}
