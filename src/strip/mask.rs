//! What lies on the cloth, left out of the strips: pins, thread, fingers, paper, a tape measure.
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
use crate::threads;

/// What is smaller than this is left in, square millimetres.
const LEAST_AREA_MM2: f64 = 1.5;
/// Gaps in a thing are closed up to twice this, millimetres: paper between its print.
const CLOSED_MM: f64 = 2.4;
/// A thing's shadow and blur around it, millimetres.
const AROUND_MM: f64 = 0.6;
/// A side of which more than this is strange was not understood, and nothing is left out.
const MOST_STRANGE: f64 = 0.7;
/// So was a pair of sides that are both strange by more than this: whatever lies there, lies on one, or across both in a
/// narrow band.
const MOST_STRANGE_ON_BOTH: f64 = 0.3;
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
    let shares: [f64; 2] = std::array::from_fn(|s| {
        let cells = (0..masks[s].len()).filter(|&i| grids[s].seen(i));
        let (strange, seen) =
            cells.fold((0.0, 0.0), |(strange, seen), i| (strange + f64::from(u8::from(masks[s][i])), seen + 1.0));
        strange / f64::max(seen, 1.0)
    });
    if shares.iter().any(|&share| share > MOST_STRANGE) || shares.iter().all(|&share| share > MOST_STRANGE_ON_BOTH) {
        return;
    }
    for ((ribs, grid), mask) in sides.into_iter().zip(&grids).zip(&masks) {
        for (r, rib) in ribs.iter_mut().enumerate() {
            for (k, share) in rib.share.iter_mut().enumerate() {
                if mask[r * grid.columns + (k / pooled).min(grid.columns - 1)] {
                    *share = 0.0;
                }
            }
        }
    }
}

/// The same for both sides, at the same time where nothing else is at work.
fn both<T: Sync, R: Send>(sides: &[T; 2], work: impl Fn(&T) -> R + Sync) -> [R; 2] {
    threads::both(|| work(&sides[0]), || work(&sides[1])).into()
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

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::ChaCha8Rng;
    use rand_chacha::rand_core::{Rng, SeedableRng};

    const STEP_MM: f64 = 0.25;

    /// A side in 50 ribs of 600 samples: lines every 15 mm, and whatever `over` lays on (u mm, distance mm).
    fn side(sign: f64, seed: u64, over: impl Fn(f64, f64) -> Option<[f32; 3]>) -> Vec<Rib> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut noise = || 0.97 + 0.06 * (rng.next_u32() as f32 / u32::MAX as f32);
        (0..50)
            .map(|r| {
                let distance_mm = 1.8 + f64::from(r) * RIB_MM;
                let sample = |k: usize| {
                    let u = k as f64 * STEP_MM;
                    let ground = if (u + 0.03 * sign * distance_mm).rem_euclid(15.0) < 4.0 {
                        [0.08, 0.1, 0.2]
                    } else {
                        [0.4, 0.36, 0.3]
                    };
                    over(u, distance_mm).unwrap_or(ground)
                };
                let light = (0..600).map(|k| sample(k).map(|x| x * noise())).collect();
                Rib { v_mm: sign * distance_mm, light, share: vec![1.0; 600], pictured: 600.0 }
            })
            .collect()
    }

    fn left_out(ribs: &[Rib], there: impl Fn(f64, f64) -> bool) -> f64 {
        let (mut out, mut all) = (0.0, 0.0);
        for rib in ribs {
            for (k, share) in rib.share.iter().enumerate() {
                if there(k as f64 * STEP_MM, rib.v_mm.abs()) {
                    out += f64::from(1.0 - share);
                    all += 1.0;
                }
            }
        }
        out / all
    }

    #[test]
    fn clean_cloth_stays_with_a_line_that_it_shows_once() {
        let once = |u: f64, _: f64| (52.0..54.0).contains(&u).then_some([0.3, 0.05, 0.05]);
        let (mut one, mut two) = (side(-1.0, 1, once), side(1.0, 2, |_, _| None));
        leave_out([&mut one, &mut two], STEP_MM);
        assert!(left_out(&one, |_, _| true) < 0.01 && left_out(&two, |_, _| true) < 0.01);
    }

    #[test]
    fn yellow_paper_beside_the_seam_and_a_pin_are_left_out() {
        let paper = |u: f64, d: f64| (60.0..85.0).contains(&u) && d > 17.0;
        let pin = |u: f64, d: f64| (30.0..30.7).contains(&(u - 0.1 * d)) && d < 16.0;
        let laid = |u: f64, d: f64| (paper(u, d).then_some([0.75, 0.6, 0.15])).or(pin(u, d).then_some([0.75; 3]));
        let (mut one, mut two) = (side(-1.0, 3, laid), side(1.0, 4, |_, _| None));
        leave_out([&mut one, &mut two], STEP_MM);
        assert!(left_out(&one, paper) > 0.75, "{}", left_out(&one, paper));
        assert!(left_out(&one, pin) > 0.8, "{}", left_out(&one, pin));
        let far = |u: f64, d: f64| !((27.0..36.0).contains(&u) || (57.0..88.0).contains(&u) && d > 15.0);
        let (one, two) = (left_out(&one, far), left_out(&two, |_, _| true));
        // Measured: 2.7 % of the side's cloth goes with the paper, where windows see its edge; none of the other side's.
        assert!(one < 0.03 && two < 0.005, "{one} {two}");
    }

    #[test]
    fn what_hangs_together_with_the_sure_is_marked_and_specks_are_not() {
        let grid = Grid { rows: 30, columns: 100, cell_mm: 0.3, cells: vec![[0.5; 3]; 3000] };
        let at = |cells: &[(usize, usize)]| {
            let mut marks = vec![false; 3000];
            cells.iter().for_each(|&(r, k)| marks[r * 100 + k] = true);
            marks
        };
        let thing: Vec<(usize, usize)> = (10..16).flat_map(|r| (20..26).map(move |k| (r, k))).collect();
        let likely = at(&[&thing[..], &[(3, 80), (25, 50)]].concat());
        let marks = things(&grid, &Doubt { sure: at(&[(12, 22), (25, 50)]), likely });
        assert!(thing.iter().all(|&(r, k)| marks[r * 100 + k]));
        assert!(!marks[3 * 100 + 80] && !marks[25 * 100 + 50]);
    }
}
