//! Which cells of a side are not its cloth: their light is not what the cloth would show there, by more than the cloth
//! itself varies; or they hide its lines.

use super::grid::{Grid, Light, UNSEEN, middle, smoothed, tone};
use super::medians::{self, median, spread};
use super::recur::Expected;
use super::weave::{COLUMN_MEAN_ROWS, Weave};
use crate::threads;
use std::cell::LazyCell;

/// A column whose tone differs from what its repeats say by more than this is in doubt; bounds of what follows from how
/// far columns differ usually.
const DOUBT: std::ops::Range<f32> = 0.12..0.35;
/// The repeats place a line no better than this, millimetres.
const LINE_MM: f64 = 0.6;
/// Repeats that differ among themselves by more than this say nothing.
const DIVIDED: f32 = 0.15;
/// At least so many repeats must say something.
const LEAST_ASKED: usize = 2;
/// A column in doubt is what its repeats say when this share of its rows agrees with them, and not so many with itself.
const SUPPORT: f32 = 0.25;
const OWN_SUPPORT: f32 = 0.8;
const AGAINST_OWN: f32 = 0.6;
/// A stretch in doubt is strange throughout when it is this long, millimetres: a tape across the seam. Shorter, it is a
/// line that the cloth shows once.
const STRANGE_MM: f64 = 8.0;
/// It differs at least so much from what its repeats say, and so many of them say it.
const LEAST_STRANGE: f32 = 0.3;
const LEAST_ASKED_OF_A_STRETCH: usize = 3;
/// When more of the columns are in doubt, it is the repeat that is doubtful.
const MOST_DOUBTED: f32 = 0.4;
/// Cells further than this from the cloth as told do not tell shade and rows again.
const NEAR: f32 = 0.3;
/// Edges are not placed better than this, millimetres.
const EDGE_MM: f64 = 0.3;
/// Shapes over which cells are averaged: half lengths along, millimetres, and across, rows. A pin lies across the seam, a
/// thread along it.
const SHAPES: [(f64, usize); 3] = [(0.0, 2), (1.5, 0), (0.6, 1)];
/// The smallest difference of colour, and of lightness, that can be strange (natural logarithm).
const LEAST_COLOUR: f32 = 0.10;
const LEAST_LIGHTNESS: f32 = 0.16;
/// What varies less than this is not believed to vary less.
const LEAST_SPREAD: f32 = 0.02;
/// A row of which less is seen, as a share of its length, cannot tell its own cloth from what lies on it.
const LEAST_ROW: f64 = 0.3;
/// Shade that falls on a piece of cloth changes lightness over at least this reach, millimetres and rows.
const SHADE_MM: f64 = 5.0;
const SHADE_ROWS: usize = 5;
/// What returns with the repeat is cloth, up to this factor; how many repeats are asked to either side.
const RETURNS: f32 = 1.2;
const REPEATS_ASKED: isize = 3;
/// Times the cloth's own spread: certainly strange, and strange beside what is.
const STRANGE: f32 = 8.0;
const DOUBTFUL: f32 = 4.0;
/// Lines this strong (root mean square of the tone) must show; less than this share of them does not.
const LEAST_LINES: f32 = 0.1;
const HIDDEN: f32 = 0.3;
/// They may have slipped this far, millimetres; and how many places are tried to either side.
const HIDDEN_REACH_MM: f64 = 2.4;
const HIDDEN_MOVES: isize = 2;
/// Half the window in which lines must show: as a share of the repeat, and its bounds, millimetres.
const WINDOW_REPEATS: f64 = 0.5;
const WINDOW_MM: std::ops::RangeInclusive<f64> = 5.0..=14.0;
const WINDOW_WITHOUT_MM: f64 = 8.0;

/// Cells that are surely strange, and those that are when they touch such.
pub struct Doubt {
    /// Surely strange.
    pub sure: Vec<bool>,
    /// Strange beside what is; holds all that is sure.
    pub likely: Vec<bool>,
}

/// Looks over a side.
pub fn look(grid: &Grid, weave: Weave, expected: &Expected, repeat: Option<usize>) -> Doubt {
    let (weave, corrected) = corrected(grid, weave, expected);
    let model = weave.light(grid);
    let strange = || {
        let mut score = vec![0.0f32; grid.cells.len()];
        for (along_mm, across) in SHAPES {
            let along = if along_mm > 0.0 { grid.cells_in(along_mm).max(1) } else { 0 };
            let apart = differences(&grid.boxed(along, across), &model.boxed(along, across));
            let apart = without_returning(grid, apart, repeat);
            raise(grid, &apart, &weave, &corrected, &mut score);
        }
        score
    };
    let (score, hidden) = threads::both(strange, || hidden(grid, &weave, repeat));
    let marks = |least: f32| (0..score.len()).map(|i| grid.seen(i) && (hidden[i] || score[i] > least)).collect();
    Doubt { sure: marks(STRANGE), likely: marks(DOUBTFUL) }
}

/// The cloth with its lines put right where something lies on most of a column; and which columns those are.
fn corrected(grid: &Grid, weave: Weave, expected: &Expected) -> (Weave, Vec<bool>) {
    let n = grid.columns;
    let own: Vec<Light> = weave.lines.iter().map(|&l| tone(l)).collect();
    let reach = grid.cells_in(LINE_MM);
    let off: Vec<f32> = (0..n)
        .map(|k| {
            let around = &expected.tone[k.saturating_sub(reach)..(k + reach + 1).min(n)];
            (0..3)
                .map(|c| {
                    // f32::min and max pass over NaN.
                    let low = around.iter().map(|t| t[c]).fold(f32::NAN, f32::min);
                    let high = around.iter().map(|t| t[c]).fold(f32::NAN, f32::max);
                    (own[k][c] - high).max(low - own[k][c]).max(0.0)
                })
                .fold(0.0, f32::max)
        })
        .collect();
    let usual = (4.0 * spread(off.iter().copied())).clamp(DOUBT.start, DOUBT.end);
    let told = |k: usize| expected.asked[k] >= LEAST_ASKED && expected.apart[k] < DIVIDED;
    let mut in_doubt: Vec<bool> = (0..n).map(|k| told(k) && off[k] > usual + 2.0 * expected.apart[k]).collect();
    // Doubt that runs out of the strip has no edge there: light that falls off looks the same.
    let half = grid.cells_in(STRANGE_MM / 2.0);
    let share: Vec<Light> = in_doubt.iter().map(|&d| [f32::from(u8::from(d)); 3]).collect();
    let doubtful: Vec<bool> = smoothed(&share, half).iter().map(|s| s[0] > 0.3).collect();
    let (from, to) = (doubtful.iter().position(|d| !d).unwrap_or(n), doubtful.iter().rposition(|d| !d).unwrap_or(0));
    in_doubt.iter_mut().enumerate().filter(|(k, _)| *k < from || *k > to).for_each(|(_, d)| *d = false);
    let count = in_doubt.iter().filter(|&&d| d).count();
    if count == 0 || count as f32 > MOST_DOUBTED * n as f32 {
        return (weave, vec![false; n]);
    }
    let as_seen = grid.boxed(0, COLUMN_MEAN_ROWS);
    let as_told = weave.showing((0..n).map(|k| if told(k) { expected.light(k) } else { weave.lines[k] }).collect());
    let near = |model: &Grid, k: usize| {
        let rows = (0..grid.rows).map(|r| r * n + k).filter(|&i| grid.seen(i));
        let (near, all) = rows.fold((0, 0), |(near, all), i| {
            let close = largest(&tone(as_seen.cells[i]), &tone(model.cells[i])) < usual + 2.0 * expected.apart[k];
            (near + usize::from(close), all + 1)
        });
        near as f32 / all.max(1) as f32
    };
    let (as_told, as_is) = (as_told.light(grid), weave.light(grid));
    let strange = |k: usize| {
        in_doubt[k] && expected.asked[k] >= LEAST_ASKED_OF_A_STRETCH && off[k] > LEAST_STRANGE + 2.0 * expected.apart[k]
    };
    let share: Vec<Light> = (0..n).map(|k| [f32::from(u8::from(strange(k))); 3]).collect();
    let wide: Vec<bool> = smoothed(&share, half).iter().map(|s| s[0] > 0.6).collect();
    let within =
        |k: usize, reach: usize, marks: &[bool]| marks[k.saturating_sub(reach)..(k + reach + 1).min(n)].contains(&true);
    let replaced: Vec<bool> = (0..n)
        .map(|k| {
            let long = told(k) && within(k, half + 1, &wide);
            let (as_told, as_is) = if in_doubt[k] { (near(&as_told, k), near(&as_is, k)) } else { (0.0, 1.0) };
            long || (as_told >= SUPPORT.max(AGAINST_OWN * as_is) && as_is < OWN_SUPPORT)
        })
        .collect();
    let replaced: Vec<bool> = (0..n).map(|k| told(k) && within(k, 2, &replaced)).collect();
    if !replaced.contains(&true) {
        return (weave, replaced);
    }
    let lines: Vec<Light> = (0..n).map(|k| if replaced[k] { expected.light(k) } else { weave.lines[k] }).collect();
    let model = weave.showing(lines.clone()).light(grid).boxed(0, COLUMN_MEAN_ROWS);
    let off: Vec<f32> = as_seen.cells.iter().zip(&model.cells).map(|(a, b)| largest(&tone(*a), &tone(*b))).collect();
    let limit = (3.0 * median(off.iter().copied())).max(NEAR);
    let cloth = |(cell, off): (&Light, &f32)| if *off < limit { *cell } else { UNSEEN };
    let trusted = grid.with(grid.cells.iter().zip(&off).map(cloth).collect());
    (Weave::with_lines(&trusted, lines), replaced)
}

fn largest(a: &Light, b: &Light) -> f32 {
    (0..3).map(|c| (a[c] - b[c]).abs()).fold(0.0, f32::max)
}

/// How far each cell's tone lies outside what the model shows within an edge's reach of it.
fn differences(seen: &Grid, model: &Grid) -> Vec<Light> {
    let reach = (EDGE_MM / seen.cell_mm).ceil() as usize;
    let tones = model.map(tone);
    // f32::min and max pass over NaN.
    let low = across(&along(&tones, reach, f32::min), f32::min).cells;
    let high = across(&along(&tones, reach, f32::max), f32::max).cells;
    let outside = |i: usize| -> Light {
        let t = tone(seen.cells[i]);
        std::array::from_fn(|c| {
            if seen.seen(i) { (t[c] - high[i][c]).max(0.0) + (t[c] - low[i][c]).min(0.0) } else { f32::NAN }
        })
    };
    (0..seen.cells.len()).map(outside).collect()
}

/// Every cell with what `of` makes of it and of `reach` cells along to either side.
fn along(grid: &Grid, reach: usize, of: impl Fn(f32, f32) -> f32) -> Grid {
    let mut out = grid.clone();
    for (to, from) in out.cells.chunks_mut(grid.columns.max(1)).zip(grid.cells.chunks(grid.columns.max(1))) {
        for by in 1..=reach.min(from.len()) {
            let all = from.len() - by;
            take(&mut to[..all], &from[by..], &of);
            take(&mut to[by..], &from[..all], &of);
        }
    }
    out
}

/// The same of the rows beside it.
fn across(grid: &Grid, of: impl Fn(f32, f32) -> f32) -> Grid {
    let mut out = grid.clone();
    let (n, all) = (grid.columns, grid.cells.len());
    take(&mut out.cells[..all.saturating_sub(n)], &grid.cells[n.min(all)..], &of);
    take(&mut out.cells[n.min(all)..], &grid.cells[..all.saturating_sub(n)], &of);
    out
}

fn take(to: &mut [Light], from: &[Light], of: impl Fn(f32, f32) -> f32) {
    for (to, from) in to.as_flattened_mut().iter_mut().zip(from.as_flattened()) {
        *to = of(*to, *from);
    }
}

/// The differences without what returns with the repeat: a crossing of lines that the model tells badly is told badly
/// everywhere.
fn without_returning(grid: &Grid, apart: Vec<Light>, repeat: Option<usize>) -> Vec<Light> {
    let Some(repeat) = repeat else { return apart };
    let n = grid.columns as isize;
    let lags: Vec<isize> = (-REPEATS_ASKED..=REPEATS_ASKED).filter(|&k| k != 0).map(|k| k * repeat as isize).collect();
    let cell = |i: usize| -> Light {
        let k = i as isize % n;
        // Most cells are not strange at all, and nothing need be asked.
        if apart[i][0].is_nan() || apart[i] == [0.0; 3] {
            return apart[i];
        }
        let there = lags
            .iter()
            .filter(|&&lag| (0..n).contains(&(k + lag)))
            .map(|lag| apart[(i as isize + lag) as usize])
            .filter(|d| !d[0].is_nan());
        if there.clone().count() < LEAST_ASKED {
            return apart[i];
        }
        let returning = |c: usize| medians::of_few::<{ 2 * REPEATS_ASKED as usize }>(there.clone().map(|d| d[c]));
        std::array::from_fn(|c| {
            let (x, m) = (apart[i][c], if apart[i][c] == 0.0 { 0.0 } else { returning(c) });
            if x * m > 0.0 { x.signum() * (x.abs() - RETURNS * m.abs()).max(0.0) } else { x }
        })
    };
    (0..apart.len()).map(cell).collect()
}

/// Raises the score of each cell to how many times the cloth's own spread it is strange by.
fn raise(grid: &Grid, apart: &[Light], weave: &Weave, corrected: &[bool], score: &mut [f32]) {
    let n = grid.columns;
    let lightness: Vec<f32> = apart.iter().map(|&d| middle(d)).collect();
    let shade = grid.slow(&lightness, SHADE_MM, SHADE_ROWS);
    let colour = |i: usize| (0..3).map(|c| (apart[i][c] - lightness[i]).abs()).fold(0.0, f32::max);
    let sizes: [(Vec<f32>, f32); 2] = [
        ((0..apart.len()).map(|i| if grid.seen(i) { colour(i) } else { f32::NAN }).collect(), LEAST_COLOUR),
        (lightness.iter().zip(&shade).map(|(l, s)| (l - s).abs()).collect(), LEAST_LIGHTNESS),
    ];
    // Most rows and columns hold nothing strange, and how far they vary need not be known.
    for (size, least) in sizes {
        let all = LazyCell::new(|| spread(size.iter().copied()));
        let of_row = |r: usize| {
            let shows = weave.gain[r].iter().copied().fold(0.0, f32::max) > 0.4;
            let seen = (r * n..(r + 1) * n).filter(|&i| grid.seen(i)).count();
            match (seen as f64 >= LEAST_ROW * n as f64, shows) {
                (false, _) => f32::INFINITY,
                (true, true) => spread(size[r * n..(r + 1) * n].iter().copied()),
                (true, false) => *all,
            }
        };
        let of_column = |k: usize| if corrected[k] { *all } else { spread((0..grid.rows).map(|r| size[r * n + k])) };
        let (mut rows, mut columns) = (vec![None; grid.rows], vec![None; n]);
        for (i, &x) in size.iter().enumerate().filter(|(_, x)| **x > least) {
            let row: f32 = *rows[i / n].get_or_insert_with(|| of_row(i / n));
            let column: f32 = *columns[i % n].get_or_insert_with(|| of_column(i % n));
            score[i] = score[i].max(x / row.max(column).max(0.0).hypot(LEAST_SPREAD));
        }
    }
}

/// Cells around which the lines should show and do not.
fn hidden(grid: &Grid, weave: &Weave, repeat: Option<usize>) -> Vec<bool> {
    let window_mm = repeat.map_or(WINDOW_WITHOUT_MM, |repeat| {
        (WINDOW_REPEATS * repeat as f64 * grid.cell_mm).clamp(*WINDOW_MM.start(), *WINDOW_MM.end())
    });
    let half = grid.cells_in(window_mm);
    let n = grid.columns;
    let seen = grid.boxed(0, 1).map(tone);
    let mean_seen = seen.boxed(half, 0);
    let lines: Vec<Light> = weave.lines.iter().map(|&l| tone(l)).collect();
    let reach = grid.cells_in(HIDDEN_REACH_MM) as isize;
    let mut moves: Vec<isize> = (-HIDDEN_MOVES..=HIDDEN_MOVES).collect();
    moves.sort_by_key(|k| k.abs());
    let mut hidden = vec![true; grid.cells.len()];
    for by in moves.into_iter().map(|k| k * reach / HIDDEN_MOVES) {
        // Mostly all lines show where they were told to.
        if !hidden.contains(&true) {
            break;
        }
        let line = |k: usize| lines[(k as isize + by).clamp(0, n as isize - 1) as usize];
        let told = (0..grid.cells.len()).map(|i| if grid.seen(i) { line(i % n) } else { UNSEEN });
        let told = grid.with(told.collect());
        let mean_told = told.boxed(half, 0);
        let cell = |i: usize| -> Light {
            let (mut cross, mut square) = (0.0, 0.0);
            for c in 0..3 {
                let t = told.cells[i][c] - mean_told.cells[i][c];
                cross += t * (seen.cells[i][c] - mean_seen.cells[i][c]);
                square += t * t;
            }
            [cross, square, 0.0]
        };
        let sums = grid.with((0..grid.cells.len()).map(cell).collect()).boxed(half, COLUMN_MEAN_ROWS);
        for (hidden, [cross, square, _]) in hidden.iter_mut().zip(&sums.cells) {
            *hidden &= (square / 3.0).sqrt() > LEAST_LINES && *cross < HIDDEN * square;
        }
    }
    hidden
}

#[cfg(test)]
mod tests {
    use super::*;

    fn striped(rows: usize, columns: usize) -> Grid {
        let cell = |i: usize| if (i % columns) % 50 < 15 { [0.1, 0.1, 0.2] } else { [0.4, 0.4, 0.3] };
        Grid { rows, columns, cell_mm: 0.3, cells: (0..rows * columns).map(cell).collect() }
    }

    #[test]
    fn what_returns_with_the_repeat_is_taken_for_cloth() {
        let grid = striped(4, 300);
        let mut apart = vec![[0.0; 3]; 1200];
        for k in [20, 70, 120, 170, 220, 270] {
            apart[k] = [0.4; 3];
        }
        apart[400] = [0.4; 3];
        let left = without_returning(&grid, apart, Some(50));
        assert!(left[120] == [0.0; 3] && left[400] == [0.4; 3]);
    }

    #[test]
    fn an_edge_a_little_out_of_place_is_no_difference() {
        let grid = striped(6, 200);
        let moved = grid.with((0..1200).map(|i| grid.cells[if i % 200 == 0 { i } else { i - 1 }]).collect());
        assert!(differences(&grid, &moved).iter().flatten().all(|d| *d == 0.0));
        let bright = grid.map(|l| l.map(|x| 2.0 * x));
        let away_from_edges = |i: &usize| (2..13).contains(&(i % 50)) || (17..48).contains(&(i % 50));
        let strange = differences(&bright, &grid);
        assert!((0..1200).filter(away_from_edges).all(|i| strange[i].iter().all(|d| *d > 0.4)));
    }

    #[test]
    fn a_tape_along_the_seam_hides_the_lines_even_where_it_was_told_as_a_row() {
        let mut grid = striped(40, 400);
        grid.cells[25 * 400..35 * 400].fill([0.8, 0.7, 0.2]);
        let hidden = hidden(&grid, &Weave::fit(&grid), Some(50));
        let share = |rows: std::ops::Range<usize>| {
            let cells = &hidden[rows.start * 400..rows.end * 400];
            cells.iter().filter(|h| **h).count() as f64 / cells.len() as f64
        };
        assert!(share(27..33) > 0.95 && share(0..20) == 0.0, "{} {}", share(27..33), share(0..20));
    }
}
