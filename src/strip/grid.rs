//! A strip as a grid of cells: one row a rib, about 0.3 mm to a cell along u. What is not seen is NaN.

use super::Rib;
use super::medians::{self, median};
use crate::light::quick_ln;
use crate::threads;
use std::ops::Range;

/// Length of a cell along u, millimetres.
const CELL_MM: f64 = 0.3;
/// A cell is seen when at least this share of its samples is.
const LEAST_SEEN: f32 = 0.5;
/// Light that is added before the logarithm: faint light is mostly noise here.
const DARK_FLOOR: f32 = 0.01;

/// Three channels of one cell.
pub type Light = [f32; 3];

/// A cell that is not seen.
pub const UNSEEN: Light = [f32::NAN; 3];

/// Cells in rows of growing u.
#[derive(Clone, Debug)]
pub struct Grid {
    /// Number of rows.
    pub rows: usize,
    /// Number of columns.
    pub columns: usize,
    /// Length of a cell along u, millimetres.
    pub cell_mm: f64,
    /// Row by row.
    pub cells: Vec<Light>,
}

/// Samples of a rib to a cell, at `step_mm` between samples.
pub fn samples_to_a_cell(step_mm: f64) -> usize {
    ((CELL_MM / step_mm).round() as usize).max(1)
}

/// Logarithm of the light, rounded off in the dark; what is unseen stays unseen.
pub fn tone(light: Light) -> Light {
    // f32::max passes over NaN.
    light.map(|x| if x.is_nan() { x } else { quick_ln(x.max(0.0) + DARK_FLOOR) })
}

/// The light of a tone.
pub fn light_of(tone: Light) -> Light {
    tone.map(|t| t.exp() - DARK_FLOOR)
}

/// The median of three channels; NaN where one is.
pub fn middle([a, b, c]: Light) -> f32 {
    if a.is_nan() || b.is_nan() || c.is_nan() { f32::NAN } else { a.min(b).max(a.max(b).min(c)) }
}

/// Sums over a window that moves on: three channels, and how many values are in it.
#[derive(Clone, Copy, Default)]
struct Window {
    sum: [f64; 4],
}

impl Window {
    fn add(&mut self, value: &Light, times: f64) {
        // One channel that is not known must not make the others' sums NaN for the rest of the way.
        if !(value[0] + value[1] + value[2]).is_nan() {
            for c in 0..3 {
                self.sum[c] += times * f64::from(value[c]);
            }
            self.sum[3] += times;
        }
    }

    fn mean(&self) -> Light {
        let [a, b, c, count] = self.sum;
        if count > 0.0 { [a, b, c].map(|x| (x / count) as f32) } else { UNSEEN }
    }
}

/// Means over `half` places to either side of what is no NaN.
pub fn smoothed(values: &[Light], half: usize) -> Vec<Light> {
    let mut window = Window::default();
    values.iter().take(half).for_each(|value| window.add(value, 1.0));
    let mean = |k: usize| {
        if let Some(next) = values.get(k + half) {
            window.add(next, 1.0);
        }
        if let Some(gone) = k.checked_sub(half + 1) {
            window.add(&values[gone], -1.0);
        }
        window.mean()
    };
    (0..values.len()).map(mean).collect()
}

impl Grid {
    /// The cells of a side's ribs, `pooled` samples to a cell.
    pub fn of(ribs: &[Rib], pooled: usize, step_mm: f64) -> Self {
        let columns = ribs.first().map_or(0, |rib| rib.light.len() / pooled);
        let mut cells = Vec::with_capacity(ribs.len() * columns);
        for rib in ribs {
            let weight = rib.weight();
            for k in 0..columns {
                let (mut sum, mut count) = ([0.0f32; 3], 0.0f32);
                for i in k * pooled..(k + 1) * pooled {
                    (0..3).for_each(|c| sum[c] += weight[i] * rib.light[i][c]);
                    count += weight[i];
                }
                let seen = count >= LEAST_SEEN * pooled as f32;
                cells.push(if seen { sum.map(|s| s / count) } else { UNSEEN });
            }
        }
        Self { rows: ribs.len(), columns, cell_mm: step_mm * pooled as f64, cells }
    }

    /// Millimetres along u as a number of cells.
    pub fn cells_in(&self, mm: f64) -> usize {
        (mm / self.cell_mm).round() as usize
    }

    /// One row.
    pub fn row(&self, r: usize) -> &[Light] {
        &self.cells[r * self.columns..(r + 1) * self.columns]
    }

    /// One column, from the first row on.
    pub fn column(&self, k: usize) -> impl Iterator<Item = Light> + Clone + '_ {
        (0..self.rows).map(move |r| self.cells[r * self.columns + k])
    }

    /// The same grid with other cells.
    pub fn with(&self, cells: Vec<Light>) -> Self {
        Self { cells, ..*self }
    }

    /// Every seen cell changed.
    pub fn map(&self, change: impl Fn(Light) -> Light) -> Self {
        self.with(self.cells.iter().map(|&x| change(x)).collect())
    }

    /// Whether a cell is seen.
    pub fn seen(&self, i: usize) -> bool {
        !self.cells[i][0].is_nan()
    }

    /// Means over `along` cells and `across` rows to either side; unseen cells stay unseen.
    pub fn boxed(&self, along: usize, across: usize) -> Self {
        let mut out = self.clone();
        if along > 0 {
            for r in 0..self.rows {
                let means = smoothed(self.row(r), along);
                out.cells[r * self.columns..(r + 1) * self.columns].copy_from_slice(&means);
            }
        }
        if across > 0 {
            let rows = std::mem::take(&mut out.cells);
            let row = |r: usize| &rows[r * self.columns..(r + 1) * self.columns];
            let mut windows = vec![Window::default(); self.columns];
            let add = |windows: &mut [Window], r: usize, times: f64| {
                windows.iter_mut().zip(row(r)).for_each(|(window, value)| window.add(value, times));
            };
            (0..across.min(self.rows)).for_each(|r| add(&mut windows, r, 1.0));
            out.cells.reserve_exact(rows.len());
            for r in 0..self.rows {
                if r + across < self.rows {
                    add(&mut windows, r + across, 1.0);
                }
                if let Some(gone) = r.checked_sub(across + 1) {
                    add(&mut windows, gone, -1.0);
                }
                out.cells.extend(windows.iter().map(Window::mean));
            }
        }
        for (i, cell) in out.cells.iter_mut().enumerate() {
            if !self.seen(i) {
                *cell = UNSEEN;
            }
        }
        out
    }

    /// The median of every column.
    pub fn column_medians(&self) -> Vec<Light> {
        self.column_medians_in(0..self.rows)
    }

    /// The median of every column in some of the rows.
    pub fn column_medians_in(&self, rows: Range<usize>) -> Vec<Light> {
        let cells = &self.cells[rows.start * self.columns..rows.end * self.columns];
        medians::down(cells.as_flattened(), 3 * self.columns).as_chunks().0.to_vec()
    }

    /// A slow surface through values of the cells: medians over windows of `half_mm` along and `half_rows` across to
    /// either side, interpolated between them; 0 where nothing is seen.
    pub fn slow(&self, values: &[f32], half_mm: f64, half_rows: usize) -> Vec<f32> {
        let half = self.cells_in(half_mm).max(1);
        let (along, across) = ((half / 3).max(1), (half_rows / 2).max(1));
        let nodes_u: Vec<usize> = (0..self.columns).step_by(along).collect();
        let nodes_v: Vec<usize> = (0..self.rows).step_by(across).collect();
        let node = |j: usize, i: usize| {
            let rows = (j.saturating_sub(half_rows)..(j + half_rows + 1).min(self.rows)).step_by(2);
            let (from, to) = (i.saturating_sub(half), (i + half + 1).min(self.columns));
            let m = median(rows.flat_map(|r| (from..to).step_by(2).map(move |k| values[r * self.columns + k])));
            if m.is_nan() { 0.0 } else { m }
        };
        let table: Vec<Vec<f32>> = threads::halves(&nodes_v, |rows| {
            rows.iter().map(|&j| nodes_u.iter().map(|&i| node(j, i)).collect()).collect()
        });
        let place = |x: usize, step: usize, count: usize| {
            let at = (x as f32 / step as f32).min((count - 1) as f32);
            let low = (at as usize).min(count.saturating_sub(2));
            (low, (low + 1).min(count - 1), at - low as f32)
        };
        let mut out = Vec::with_capacity(values.len());
        for r in 0..self.rows {
            let (a, b, f) = place(r, across, nodes_v.len());
            for k in 0..self.columns {
                let (i, j, g) = place(k, along, nodes_u.len());
                let line = |row: &[f32]| row[i] + g * (row[j] - row[i]);
                let (low, high) = (line(&table[a]), line(&table[b]));
                out.push(low + f * (high - low));
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn means_and_medians_do_not_see_what_is_unseen() {
        let values = [[1.0; 3], UNSEEN, [3.0; 3], [f32::NAN, 1.0, 1.0]];
        assert_eq!(smoothed(&values, 1)[1], [2.0; 3]);
        assert!(smoothed(&[UNSEEN, UNSEEN, [3.0; 3]], 1)[0][0].is_nan());
        assert!(middle([1.0, 3.0, 2.0]) == 2.0 && middle([5.0, 1.0, 1.0]) == 1.0 && middle(UNSEEN).is_nan());
        assert_eq!(median([4.0, f32::NAN, 1.0, 2.0].into_iter()), 2.0);
        assert!(median(std::iter::empty()).is_nan() && tone(UNSEEN)[0].is_nan());
    }

    #[test]
    fn a_slow_surface_passes_over_a_small_thing() {
        let (rows, columns) = (40, 200);
        let grid = Grid { rows, columns, cell_mm: 0.3, cells: vec![[1.0; 3]; rows * columns] };
        let mut values: Vec<f32> = (0..rows * columns).map(|i| 0.01 * (i % columns) as f32).collect();
        for r in 10..14 {
            values[r * columns + 90..r * columns + 100].fill(9.0);
        }
        let slow = grid.slow(&values, 5.0, 5);
        assert!((slow[12 * columns + 95] - 0.95).abs() < 0.1, "{}", slow[12 * columns + 95]);
    }
}
