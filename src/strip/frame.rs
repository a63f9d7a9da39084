//! How the lines of a side run, near enough to lay them straight: those across the seam become columns of the grid, those
//! along it become rows.

use super::grid::{Grid, Light, UNSEEN, middle, smoothed, tone};
use super::medians::{median, median_light};

/// Steepest slope of the lines that is looked for, du/dv, and the step of the search.
const STEEPEST: f64 = 0.36;
const SLOPE_STEP: f64 = 0.012;
/// The lines along the seam are looked for up to this slope, dv/du.
const STEEPEST_ALONG: f64 = 0.24;
/// They are followed when their rows vary so many times more than rows along the seam, and by so much (tone squared).
const PLAINLY: f32 = 1.25;
const LEAST_GAIN: f32 = 2e-3;
/// Rows to a block, and length of a block, millimetres, whose lines are placed together.
const BLOCK_ROWS: usize = 5;
const BLOCK_MM: f64 = 12.0;
/// What a block sees beyond its ends, millimetres.
const BEYOND_MM: f64 = 5.0;
/// How far a block is moved in each round, millimetres.
const REACH_MM: [f64; 3] = [1.8, 0.9, 0.6];
/// Differences of tone count up to this.
const CLIP: f32 = 0.25;
/// Half the width of the smooth that takes the shade off, millimetres.
const SHADE_MM: f64 = 12.0;

/// A side's grid with its lines laid straight, and the way back.
pub struct Frame {
    /// The grid, lines across as columns, lines along as rows.
    pub grid: Grid,
    /// What each column of the side as it lies is carried by, row by row, cells.
    shift: Vec<f32>,
    /// How many rows each column was raised by.
    raised: Vec<usize>,
    rows: usize,
}

impl Frame {
    /// Lays the lines of a side straight; `rib_mm` is the distance between rows.
    pub fn new(side: &Grid, rib_mm: f64) -> Self {
        let shift = shifts(side, rib_mm);
        let straight = even(&carried(side, &shift));
        let raised = raise(&straight, slope_along(&straight, rib_mm), rib_mm);
        let rows = side.rows + raised.iter().max().copied().unwrap_or(0);
        let mut cells = vec![UNSEEN; rows * side.columns];
        for r in 0..side.rows {
            for k in 0..side.columns {
                cells[(r + raised[k]) * side.columns + k] = straight.cells[r * side.columns + k];
            }
        }
        let grid = Grid { rows, columns: side.columns, cell_mm: side.cell_mm, cells };
        Self { grid, shift, raised, rows: side.rows }
    }

    /// Marks of the straight grid, where they belong on the side as it lies.
    pub fn back(&self, marks: &[bool]) -> Vec<bool> {
        let columns = self.grid.columns;
        let mut out = vec![false; self.rows * columns];
        for r in 0..self.rows {
            for k in 0..columns {
                let from = (k as f32 - self.shift[r * columns + k]).round().clamp(0.0, (columns - 1) as f32) as usize;
                out[r * columns + k] = marks[(r + self.raised[from]) * columns + from];
            }
        }
        out
    }
}

/// Each row read at column + shift, by linear interpolation.
fn carried(side: &Grid, shift: &[f32]) -> Grid {
    let n = side.columns;
    let cell = |i: usize| {
        let (r, k) = (i / n, i % n);
        let place = k as f32 + shift[i];
        let low = place.floor();
        if low < 0.0 || low + 1.0 >= n as f32 {
            return UNSEEN;
        }
        let (f, low) = (place - low, r * n + low as usize);
        let (a, b) = (side.cells[low], side.cells[low + 1]);
        std::array::from_fn(|c| a[c] + f * (b[c] - a[c]))
    };
    side.with((0..side.cells.len()).map(cell).collect())
}

/// The lines' tone without the shade along each row.
fn relief(side: &Grid) -> Grid {
    let half = side.cells_in(SHADE_MM);
    let tones = side.map(tone);
    let rows = (0..side.rows).flat_map(|r| {
        let slow = smoothed(tones.row(r), half);
        tones.row(r).iter().zip(slow).map(|(t, s)| std::array::from_fn(|c| t[c] - s[c])).collect::<Vec<Light>>()
    });
    side.with(rows.collect())
}

/// Where the lines of every row run beside those of the middle row, cells.
fn shifts(side: &Grid, rib_mm: f64) -> Vec<f32> {
    let relief = relief(side);
    let (rows, columns) = (side.rows, side.columns);
    let middle = (rows as f64 - 1.0) / 2.0;
    let slanted = |slope: f64| -> Vec<f32> {
        let at = |r: usize| (slope * (r as f64 - middle) * rib_mm / side.cell_mm) as f32;
        (0..rows * columns).map(|i| at(i / columns)).collect()
    };
    let count = (STEEPEST / SLOPE_STEP) as i32;
    let slopes = (-count..=count).map(|k| f64::from(k) * SLOPE_STEP);
    let best = slopes
        .map(|s| (agreement(&relief, s * rib_mm / side.cell_mm), s))
        .fold((f64::MIN, 0.0), |best, next| if next.0 > best.0 { next } else { best });
    let mut shift = slanted(best.1);
    for reach_mm in REACH_MM {
        let add = block_shifts(&relief, &shift, reach_mm);
        shift.iter_mut().zip(add).for_each(|(s, a)| *s += a);
    }
    shift
}

/// Energy of the mean of every other row, each carried by `per_row` cells a row from the middle.
fn agreement(relief: &Grid, per_row: f64) -> f64 {
    let middle = (relief.rows as f64 - 1.0) / 2.0;
    let n = relief.columns;
    let mut sums = vec![[0.0f32; 4]; n];
    for r in (0..relief.rows).step_by(2) {
        let shift = (per_row * (r as f64 - middle)).round() as isize;
        let row = relief.row(r);
        let (from, to) = ((-shift).max(0) as usize, (n as isize - shift.max(0)).max(0) as usize);
        for k in from..to {
            let x = row[(k as isize + shift) as usize];
            if !x[0].is_nan() {
                (0..3).for_each(|c| sums[k][c] += x[c]);
                sums[k][3] += 1.0;
            }
        }
    }
    let ends = relief.cells_in(8.0).min(n / 4);
    let energy = |s: &[f32; 4]| (0..3).map(|c| f64::from(s[c] / s[3].max(1.0)).powi(2)).sum::<f64>();
    sums[ends..n - ends].iter().map(energy).sum()
}

/// What each block of cells must still be carried by to lie on the median row, spread smoothly over the cells.
fn block_shifts(relief: &Grid, shift: &[f32], reach_mm: f64) -> Vec<f32> {
    let straight = carried(relief, shift);
    let template = straight.column_medians();
    let (rows, n) = (relief.rows, relief.columns);
    let across = (rows / BLOCK_ROWS).max(1);
    let along = ((n as f64 * relief.cell_mm / BLOCK_MM).round() as usize).max(1);
    let beyond = relief.cells_in(BEYOND_MM);
    let reach = relief.cells_in(reach_mm) as isize;
    let mut moves = vec![(0.0f32, 0.0f32); across * along];
    for b in 0..across {
        let band = b * rows / across..(b + 1) * rows / across;
        let profile = straight.column_medians_in(band);
        for a in 0..along {
            let (from, to) = (a * n / along, (a + 1) * n / along);
            let least = (to - from) / 2;
            let (from, to) = (from.saturating_sub(beyond), (to + beyond).min(n));
            moves[b * along + a] = best_move(&profile, &template, from..to, -reach..=reach, least).unwrap_or_default();
        }
    }
    // Blocks that say little, or that something lies on, follow their neighbours.
    let node = |b: usize, a: usize| {
        let (mut sum, mut total) = (0.0, 0.05);
        for j in b.saturating_sub(2)..(b + 3).min(across) {
            for i in a.saturating_sub(1)..(a + 2).min(along) {
                let near = (3 - j.abs_diff(b)) as f32 / 3.0 * (2 - i.abs_diff(a)) as f32 / 2.0;
                sum += near * moves[j * along + i].1 * moves[j * along + i].0;
                total += near * moves[j * along + i].1;
            }
        }
        sum / total
    };
    let table: Vec<f32> = (0..across * along).map(|i| node(i / along, i % along)).collect();
    let place = |x: usize, count: usize, length: usize| {
        let at = ((x as f32 + 0.5) * count as f32 / length as f32 - 0.5).clamp(0.0, (count - 1) as f32);
        let low = (at as usize).min(count.saturating_sub(2));
        (low, (low + 1).min(count - 1), at - low as f32)
    };
    let mut out = Vec::with_capacity(rows * n);
    for r in 0..rows {
        let (j, jj, f) = place(r, across, rows);
        for k in 0..n {
            let (i, ii, g) = place(k, along, n);
            let line = |j: usize| table[j * along + i] + g * (table[j * along + ii] - table[j * along + i]);
            out.push(line(j) + f * (line(jj) - line(j)));
        }
    }
    out
}

/// The move by which `profile` agrees best with `template` over `span`, and how plainly; `None` where fewer than
/// `least` places are seen on both.
pub fn best_move(
    profile: &[Light],
    template: &[Light],
    span: std::ops::Range<usize>,
    moves: std::ops::RangeInclusive<isize>,
    least: usize,
) -> Option<(f32, f32)> {
    let n = profile.len() as isize;
    let costs: Vec<(f32, f32)> = moves
        .filter_map(|by| {
            let places = span.clone().filter(|&k| (0..n).contains(&(k as isize + by)));
            let apart = |k: usize| -> Light {
                let p = profile[(k as isize + by) as usize];
                std::array::from_fn(|c| p[c] - template[k][c])
            };
            let apart: Vec<Light> = places.map(apart).filter(|d| !d[0].is_nan()).collect();
            if apart.len() < least.max(1) {
                return None;
            }
            let level = median_light(apart.iter().copied());
            let cost = |d: &Light| (0..3).map(|c| (d[c] - level[c]).abs().min(CLIP)).sum::<f32>();
            Some((apart.iter().map(cost).sum::<f32>() / apart.len() as f32, by as f32))
        })
        .collect();
    let best = costs.iter().copied().min_by(|a, b| a.0.total_cmp(&b.0))?;
    let typical = median(costs.iter().map(|c| c.0));
    Some((best.1, (typical - best.0).max(0.0) / (best.0 + 0.03)))
}

/// The light without its slow change along u (a parabola in the logarithm), which the lines along the seam share.
fn even(grid: &Grid) -> Grid {
    let level: Vec<f32> = (0..grid.columns).map(|k| median(grid.column(k).map(|x| middle(tone(x))))).collect();
    let x = |k: usize| 2.0 * k as f64 / grid.columns.max(2) as f64 - 1.0;
    let (mut normal, mut right) = (nalgebra::Matrix3::zeros(), nalgebra::Vector3::zeros());
    for (k, &y) in level.iter().enumerate().filter(|(_, y)| !y.is_nan()) {
        let basis = nalgebra::Vector3::new(1.0, x(k), x(k) * x(k));
        normal += basis * basis.transpose();
        right += basis * f64::from(y);
    }
    let Some(c) = (normal + nalgebra::Matrix3::identity() * 1e-6).try_inverse().map(|inverse| inverse * right) else {
        return grid.clone();
    };
    let gain: Vec<f32> = (0..grid.columns).map(|k| (-(c[1] * x(k) + c[2] * x(k) * x(k))).exp() as f32).collect();
    grid.with(grid.cells.iter().enumerate().map(|(i, l)| l.map(|l| l * gain[i % grid.columns])).collect())
}

/// Slope dv/du, rows outward, of the lines along the seam: 0 unless another one shows them plainly better.
fn slope_along(grid: &Grid, rib_mm: f64) -> f64 {
    const POOL: usize = 4;
    let columns = grid.column_medians();
    let pooled = grid.columns / POOL;
    let mut means = vec![[0.0f32; 4]; grid.rows * pooled];
    for r in 0..grid.rows {
        for k in 0..pooled * POOL {
            let (light, level) = (tone(grid.cells[r * grid.columns + k]), tone(columns[k]));
            if !light[0].is_nan() && grid.seen(r * grid.columns + k) {
                let cell = &mut means[r * pooled + k / POOL];
                (0..3).for_each(|c| cell[c] += (light[c] - level[c]).clamp(-CLIP, CLIP));
                cell[3] += 1.0;
            }
        }
    }
    let energy = |slope: f64| {
        let raised = raise_by(pooled, slope * grid.cell_mm * POOL as f64 / rib_mm);
        let height = grid.rows + raised.iter().max().copied().unwrap_or(0);
        let mut rows = vec![[0.0f32; 4]; height];
        for (i, cell) in means.iter().enumerate().filter(|(_, cell)| cell[3] > 0.0) {
            let row = &mut rows[i / pooled + raised[i % pooled]];
            (0..3).for_each(|c| row[c] += cell[c] / cell[3]);
            row[3] += 1.0;
        }
        rows.retain(|row| row[3] > 0.3 * pooled as f32);
        let count = rows.len().max(1) as f32;
        (0..3)
            .map(|c| {
                let mean = rows.iter().map(|row| row[c] / row[3]).sum::<f32>() / count;
                rows.iter().map(|row| (row[c] / row[3] - mean).powi(2)).sum::<f32>() / count
            })
            .sum::<f32>()
    };
    let level = energy(0.0);
    let step = STEEPEST_ALONG / 12.0;
    let (best, slope) = (-12..=12)
        .map(|k| f64::from(k) * step)
        .map(|s| (energy(s), s))
        .fold((f32::MIN, 0.0), |best, next| if next.0 > best.0 { next } else { best });
    if best > PLAINLY * level + LEAST_GAIN { slope } else { 0.0 }
}

/// How many rows each column is raised by so that lines of this slope along the seam become rows.
fn raise(grid: &Grid, slope: f64, rib_mm: f64) -> Vec<usize> {
    raise_by(grid.columns, slope * grid.cell_mm / rib_mm)
}

fn raise_by(columns: usize, per_column: f64) -> Vec<usize> {
    let whole: Vec<i64> = (0..columns).map(|k| (per_column * k as f64).round() as i64).collect();
    let least = whole.iter().min().copied().unwrap_or(0);
    whole.iter().map(|w| (w - least) as usize).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Dark lines every 6 mm, carried by `shift` (cells at row, column), in 40 rows of 0.6 mm and 400 cells of 0.3 mm.
    fn side(shift: impl Fn(f64, f64) -> f64) -> Grid {
        let (rows, columns) = (40, 400);
        let cell = |i: usize| {
            let (r, k) = ((i / columns) as f64, (i % columns) as f64);
            let phase = ((k - shift(r, k)) / 20.0).rem_euclid(1.0);
            [if phase < 0.3 { 0.1 } else { 0.5 }; 3]
        };
        Grid { rows, columns, cell_mm: 0.3, cells: (0..rows * columns).map(cell).collect() }
    }

    #[test]
    fn slanted_and_bowed_lines_are_laid_straight_and_marks_go_back() {
        let side = side(|r, k| 0.24 * (r - 19.5) + 1.5 * (k / 120.0).sin() * ((r - 19.5) / 20.0).powi(2));
        let frame = Frame::new(&side, 0.6);
        let medians = frame.grid.column_medians();
        let apart = frame.grid.cells.iter().enumerate().filter(|(_, x)| !x[0].is_nan());
        let (far, all) = apart
            .fold((0, 0), |(far, all), (i, x)| (far + usize::from((x[0] - medians[i % 400][0]).abs() > 0.2), all + 1));
        assert!(far * 25 < all, "{far} of {all} cells are off their line");
        let marked = frame.grid.map(|x| x);
        let marks: Vec<bool> = marked.cells.iter().map(|x| x[0] < 0.2).collect();
        let back = frame.back(&marks);
        let wrong = back.iter().zip(&side.cells).filter(|(m, x)| **m != (x[0] < 0.3)).count();
        assert!(wrong * 15 < back.len(), "{wrong} of {} marks went astray", back.len());
    }

    #[test]
    fn lines_along_that_are_turned_with_the_cloth_are_laid_level() {
        let mut side = side(|_, _| 0.0);
        for (i, cell) in side.cells.iter_mut().enumerate() {
            let (r, k) = ((i / 400) as f64, (i % 400) as f64);
            if ((r - 0.04 * k).rem_euclid(12.0)) < 3.0 {
                *cell = cell.map(|x| x * 0.4);
            }
        }
        assert!((slope_along(&side, 0.6) + 0.08).abs() < 0.011, "{}", slope_along(&side, 0.6));
    }
}
