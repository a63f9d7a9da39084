//! What lies on the cloth, left out of the strips: pins, thread, fingers, paper, a tape measure, glare.
//!
//! A side is laid straight ([`Frame`]), told as cloth ([`Weave`]), held against its own repeats and the other side
//! ([`super::recur`]), and what is strange in it ([`super::foreign`]) is marked with its shadow, unless it is so small that
//! it may be a knot in the yarn, or so much that it is the cloth that was not understood.

use super::foreign::{self, Doubt};
use super::frame::Frame;
use super::grid::{Grid, samples_to_a_cell};
use super::recur;
use super::weave::Weave;
use super::{RIB_MM, Rib};

/// What is smaller than this is left in, square millimetres.
const LEAST_AREA_MM2: f64 = 1.5;
/// Gaps in a thing are closed up to twice this, millimetres: paper between its print.
const CLOSED_MM: f64 = 2.4;
/// A thing's shadow and blur around it, millimetres.
const AROUND_MM: f64 = 0.6;
/// A side of which more than this is strange was not understood, and nothing is left out of it.
const MOST_STRANGE: f64 = 0.5;
/// The fewest ribs and cells along u from which cloth can be told.
const LEAST_ROWS: usize = 8;
const LEAST_COLUMNS: usize = 60;

/// Takes what is not cloth off the ribs of both sides: the share of cloth falls to 0 there.
pub fn leave_out(sides: [&mut [Rib]; 2], step_mm: f64) {
    let pooled = samples_to_a_cell(step_mm);
    let grids = sides.each_ref().map(|ribs| Grid::of(ribs, pooled, step_mm));
    if grids.iter().any(|grid| grid.rows < LEAST_ROWS || grid.columns < LEAST_COLUMNS) {
        return;
    }
    let frames = both(&grids, |grid| Frame::new(grid, RIB_MM));
    let weaves = both(&frames, |frame| Weave::fit(&frame.grid));
    let cell_mm = grids[0].cell_mm;
    let repeat = recur::repeat([&weaves[0].lines, &weaves[1].lines], cell_mm);
    let work: Vec<(&Frame, &Weave, &Weave)> = (0..2).map(|s| (&frames[s], &weaves[s], &weaves[1 - s])).collect();
    let work: [_; 2] = [work[0], work[1]];
    let masks = both(&work, |(frame, own, other)| {
        let expected = recur::expected(&own.lines, &other.lines, repeat, cell_mm);
        let doubt = foreign::look(&frame.grid, (*own).clone(), &expected, repeat);
        frame.back(&things(&frame.grid, &doubt))
    });
    for ((ribs, grid), mask) in sides.into_iter().zip(&grids).zip(&masks) {
        let cells = (0..mask.len()).filter(|&i| grid.seen(i));
        let (strange, seen) = cells.fold((0, 0), |(strange, seen), i| (strange + usize::from(mask[i]), seen + 1));
        if strange as f64 > MOST_STRANGE * f64::from(seen) {
            continue;
        }
        for (r, rib) in ribs.iter_mut().enumerate() {
            for (k, share) in rib.share.iter_mut().enumerate() {
                if mask[r * grid.columns + (k / pooled).min(grid.columns - 1)] {
                    *share = 0.0;
                }
            }
        }
    }
}

/// The same for both sides, at the same time.
fn both<T: Sync, R: Send>(sides: &[T; 2], work: impl Fn(&T) -> R + Sync) -> [R; 2] {
    std::thread::scope(|scope| {
        let second = scope.spawn(|| work(&sides[1]));
        let first = work(&sides[0]);
        match second.join() {
            Ok(second) => [first, second],
            Err(panic) => std::panic::resume_unwind(panic),
        }
    })
}

/// Whole things out of doubtful cells.
fn things(grid: &Grid, doubt: &Doubt) -> Vec<bool> {
    let mut marks = grown(grid, doubt);
    drop_small(grid, &mut marks);
    let (along, across) = (grid.cells_in(CLOSED_MM).max(1), (CLOSED_MM / RIB_MM) as usize);
    let wide = widened(grid, &marks, along, across);
    let open: Vec<bool> = wide.iter().map(|&m| !m).collect();
    let open = widened(grid, &open, along, across);
    let closed: Vec<bool> = marks.iter().zip(&open).map(|(&m, &o)| m || !o).collect();
    widened(grid, &closed, (AROUND_MM / grid.cell_mm).ceil() as usize, (AROUND_MM / RIB_MM).round() as usize)
}

/// What is likely and connected with what is sure.
fn grown(grid: &Grid, doubt: &Doubt) -> Vec<bool> {
    let mut marks = vec![false; doubt.sure.len()];
    let mut open: Vec<usize> = (0..marks.len()).filter(|&i| doubt.sure[i]).collect();
    open.iter().for_each(|&i| marks[i] = true);
    while let Some(i) = open.pop() {
        for j in neighbours(grid, i) {
            if doubt.likely[j] && !marks[j] {
                marks[j] = true;
                open.push(j);
            }
        }
    }
    marks
}

/// The cells around a cell.
fn neighbours(grid: &Grid, i: usize) -> impl Iterator<Item = usize> {
    let (r, k, n) = (i / grid.columns, i % grid.columns, grid.columns);
    let rows = r.saturating_sub(1)..(r + 2).min(grid.rows);
    rows.flat_map(move |r| (k.saturating_sub(1)..(k + 2).min(n)).map(move |k| r * n + k)).filter(move |&j| j != i)
}

/// Takes marks away that hang together over too small an area.
fn drop_small(grid: &Grid, marks: &mut [bool]) {
    let least = (LEAST_AREA_MM2 / (grid.cell_mm * RIB_MM)).ceil() as usize;
    let mut met = vec![false; marks.len()];
    for start in 0..marks.len() {
        if !marks[start] || met[start] {
            continue;
        }
        met[start] = true;
        let mut thing = vec![start];
        let mut next = 0;
        while let Some(&i) = thing.get(next) {
            next += 1;
            for j in neighbours(grid, i) {
                if marks[j] && !met[j] {
                    met[j] = true;
                    thing.push(j);
                }
            }
        }
        if thing.len() < least {
            thing.into_iter().for_each(|i| marks[i] = false);
        }
    }
}

/// Marks with so many cells along and rows across around them.
fn widened(grid: &Grid, marks: &[bool], along: usize, across: usize) -> Vec<bool> {
    let n = grid.columns;
    let mut long = vec![false; marks.len()];
    for i in (0..marks.len()).filter(|&i| marks[i]) {
        let (r, k) = (i / n, i % n);
        long[r * n + k.saturating_sub(along)..r * n + (k + along + 1).min(n)].fill(true);
    }
    let mut out = long.clone();
    for r in 0..grid.rows {
        for other in r.saturating_sub(across)..(r + across + 1).min(grid.rows) {
            for k in 0..n {
                out[r * n + k] |= long[other * n + k];
            }
        }
    }
    out
}
