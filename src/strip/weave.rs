//! The cloth of one side as its threads make it: what crosses the seam and what runs along it add in linear light, and
//! shade multiplies both.
//!
//! light(r, k) ≈ (gain(r) · lines(k) + add(r)) · shade(r, k). A plaid's bands along the seam stand in `add`, the roll of
//! the cloth beside the seam in `gain`; both are fitted with weights that strangers lose.

use super::grid::{Grid, Light, middle, smoothed, tone};
use super::medians::median;
use crate::threads;

/// Half the length over which a row is averaged before it is fitted, millimetres: a twill's threads differ.
const ROW_MEAN_MM: f64 = 0.9;
/// Rows to either side that are averaged before the lines are read from the columns.
pub const COLUMN_MEAN_ROWS: usize = 2;
/// Rows whose gain lies outside do not show the lines.
const GAIN_RANGE: std::ops::Range<f32> = 0.4..2.5;
/// A row without contrast to tell keeps a gain of 1: share of the lines' mean light that counts as contrast.
const PRIOR_CONTRAST: f64 = 0.03;
/// The shade's windows: half their length, millimetres, and half their width, rows.
const SHADE_MM: f64 = 20.0;
const SHADE_ROWS: usize = 9;
/// The least light that is modelled.
const LEAST_LIGHT: f32 = 0.002;

/// One side's cloth.
#[derive(Clone)]
pub struct Weave {
    /// Light of the lines across, column by column.
    pub lines: Vec<Light>,
    /// How much of the lines a row shows, channel by channel.
    pub gain: Vec<Light>,
    /// What a row adds.
    add: Vec<Light>,
    /// Shade of every cell.
    shade: Vec<f32>,
}

impl Weave {
    /// The cloth of a grid whose lines are columns.
    pub fn fit(grid: &Grid) -> Self {
        let lines = grid.boxed(0, COLUMN_MEAN_ROWS).column_medians();
        let mut weave = Self::flat(grid, lines);
        for _ in 0..3 {
            weave.fit_rows(grid);
            let plain = |i: usize| -> Light {
                let r = i / grid.columns;
                std::array::from_fn(|c| {
                    let shown = GAIN_RANGE.contains(&weave.gain[r][c]);
                    if shown {
                        (grid.cells[i][c] / weave.shade[i] - weave.add[r][c]) / weave.gain[r][c]
                    } else {
                        f32::NAN
                    }
                })
            };
            let plain = grid.with((0..grid.cells.len()).map(plain).collect());
            weave.lines = plain.boxed(0, COLUMN_MEAN_ROWS).column_medians();
            weave.fit_shade(grid);
        }
        weave
    }

    /// The cloth with these lines.
    pub fn with_lines(grid: &Grid, lines: Vec<Light>) -> Self {
        let mut weave = Self::flat(grid, lines);
        for _ in 0..2 {
            weave.fit_rows(grid);
            weave.fit_shade(grid);
        }
        weave
    }

    /// The same rows and shade with other lines.
    pub fn showing(&self, lines: Vec<Light>) -> Self {
        Self { lines, ..self.clone() }
    }

    fn flat(grid: &Grid, lines: Vec<Light>) -> Self {
        let (gain, add) = (vec![[1.0; 3]; grid.rows], vec![[0.0; 3]; grid.rows]);
        Self { lines, gain, add, shade: vec![1.0; grid.cells.len()] }
    }

    /// The light of every cell as the cloth would show it; unseen where the grid is.
    pub fn light(&self, grid: &Grid) -> Grid {
        let cell = |i: usize| -> Light {
            let (r, k) = (i / grid.columns, i % grid.columns);
            std::array::from_fn(|c| {
                if grid.seen(i) {
                    ((self.gain[r][c] * self.lines[k][c] + self.add[r][c]) * self.shade[i]).max(LEAST_LIGHT)
                } else {
                    f32::NAN
                }
            })
        };
        grid.with((0..grid.cells.len()).map(cell).collect())
    }

    fn fit_rows(&mut self, grid: &Grid) {
        let half = grid.cells_in(ROW_MEAN_MM);
        let lines = smoothed(&self.lines, half);
        let even = grid.with(grid.cells.iter().zip(&self.shade).map(|(l, s)| l.map(|x| x / s)).collect());
        let even = even.boxed(half, 0);
        // Neighbours in a mean say the same twice.
        let apart = half.max(1);
        let of_row = |r: usize| -> [(f64, f64); 3] {
            std::array::from_fn(|c| {
                let pairs: Vec<(f64, f64)> = (lines.iter().zip(even.row(r)).step_by(apart))
                    .map(|(t, y)| (f64::from(t[c]), f64::from(y[c])))
                    .filter(|(t, y)| !t.is_nan() && !y.is_nan())
                    .collect();
                straight_line(&pairs)
            })
        };
        let rows: Vec<usize> = (0..grid.rows).collect();
        let fits = threads::halves(&rows, |rows| rows.iter().map(|&r| of_row(r)).collect());
        for (r, fits) in fits.into_iter().enumerate() {
            self.gain[r] = fits.map(|(gain, _)| gain as f32);
            self.add[r] = fits.map(|(_, add)| add as f32);
        }
    }

    fn fit_shade(&mut self, grid: &Grid) {
        self.shade.fill(1.0);
        let (seen, model) = (grid.boxed(0, COLUMN_MEAN_ROWS), self.light(grid).boxed(0, COLUMN_MEAN_ROWS));
        let apart: Vec<f32> = (seen.cells.iter().zip(&model.cells))
            .map(|(a, b)| {
                let (a, b) = (tone(*a), tone(*b));
                middle(std::array::from_fn(|c| a[c] - b[c]))
            })
            .collect();
        self.shade = grid.slow(&apart, SHADE_MM, SHADE_ROWS).into_iter().map(f32::exp).collect();
    }
}

/// Gain and addend of y ≈ gain · x + add, by least squares with weights that strangers lose.
fn straight_line(pairs: &[(f64, f64)]) -> (f64, f64) {
    if pairs.is_empty() {
        return (1.0, 0.0);
    }
    let mut weight = vec![1.0; pairs.len()];
    let (mut gain, mut add) = (1.0, 0.0);
    let level = pairs.iter().map(|p| p.0).sum::<f64>() / pairs.len() as f64;
    let prior = (PRIOR_CONTRAST * level).powi(2);
    for _ in 0..4 {
        // One pass, of sums that do not wait for each other.
        let (mut total, mut sum, mut squares) = (0.0, [0.0; 2], [0.0; 2]);
        for (p, w) in pairs.iter().zip(&weight) {
            total += w;
            sum = [sum[0] + w * p.0, sum[1] + w * p.1];
            squares = [squares[0] + w * p.0 * p.0, squares[1] + w * p.0 * p.1];
        }
        let total = f64::max(total, 1e-9);
        let ([x, y], [square, cross]) = (sum.map(|s| s / total), squares.map(|s| s / total));
        let (square, cross) = ((square - x * x).max(0.0), cross - x * y);
        gain = (cross + prior) / (square + prior).max(1e-12);
        add = y - gain * x;
        let off = |p: &(f64, f64)| p.1 - gain * p.0 - add;
        let scale = 1.4826 * f64::from(median(pairs.iter().map(|p| off(p).abs() as f32))) + 1e-3;
        weight.iter_mut().zip(pairs).for_each(|(w, p)| *w = (1.0 + (off(p) / (2.0 * scale)).powi(2)).powi(-2));
    }
    (gain, add)
}

/// The light of one cloth's lines brought to another's: each channel by its own gain and addend, from the places where
/// both are known.
pub fn brought_to(lines: &[Light], other: &[Light], lag: isize) -> Vec<Light> {
    let maps: [(f64, f64); 3] = std::array::from_fn(|c| {
        let pairs: Vec<(f64, f64)> = (0..lines.len())
            .filter_map(|k| {
                let from = usize::try_from(k as isize + lag).ok().filter(|&i| i < other.len())?;
                let (x, y) = (other[from][c], lines[k][c]);
                (!x.is_nan() && !y.is_nan()).then_some((f64::from(x), f64::from(y)))
            })
            .collect();
        let (gain, add) = straight_line(&pairs);
        let held = gain.clamp(0.5, 2.0);
        let level = f64::from(median(pairs.iter().map(|p| p.0 as f32)));
        (held, if level.is_nan() { 0.0 } else { add + (gain - held) * level })
    });
    other.iter().map(|l| std::array::from_fn(|c| (maps[c].0 * f64::from(l[c]) + maps[c].1).max(1e-3) as f32)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plaid_under_slow_shade_is_told_in_full_and_a_thing_on_it_is_not() {
        let (rows, columns) = (56, 500);
        let cell = |i: usize| -> Light {
            let (r, k) = (i / columns, i % columns);
            let across = if k % 60 < 20 { [0.05, 0.1, 0.2] } else { [0.3, 0.25, 0.2] };
            let along = if r % 25 < 8 { [0.02, 0.02, 0.1] } else { [0.2, 0.3, 0.1] };
            let shade = 1.0 - 0.3 * r as f32 / rows as f32;
            let lying = (20..35).contains(&r) && (200..240).contains(&k);
            std::array::from_fn(|c| if lying { 0.8 } else { shade * (across[c] + along[c]) })
        };
        let grid = Grid { rows, columns, cell_mm: 0.3, cells: (0..rows * columns).map(cell).collect() };
        let told = Weave::fit(&grid).light(&grid);
        let off = |i: usize| (0..3).map(|c| (told.cells[i][c] / grid.cells[i][c]).ln().abs()).fold(0.0, f32::max);
        let lying = |i: usize| (18..37).contains(&(i / columns)) && (195..245).contains(&(i % columns));
        let cloth = (0..rows * columns).filter(|&i| !lying(i));
        let bad = cloth.clone().filter(|&i| off(i) > 0.25).count();
        assert!(bad * 50 < rows * columns, "{bad} cells of cloth are told wrongly");
        assert!(off(27 * columns + 220) > 0.5);
    }
}
