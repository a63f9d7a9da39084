//! Paths across the whole picture that may be a seam: straight or slightly bowed, leaning or upright, scored block by
//! block for the jump and the crease along them.

use super::jump::Jump;
use super::profile::add;
use super::{BLOCKS, rows};

/// Leans tried, dv/du: up to about 10 degrees, and the bows, as the sagitta over the picture's height, millimetres.
const STEEPEST_LEAN: f64 = 0.2;
const LEAN_STEP: f64 = 0.02;
const BOWS_MM: [f64; 5] = [-4.0, -2.0, 0.0, 2.0, 4.0];
/// The jump is as wide as its windows: only every so many leans are tried for it, and no bow.
const JUMP_LEAN_STRIDE: i32 = 3;
/// Highest score of one kind of evidence in one block.
const CLIP: f32 = 6.0;
/// Spreads below these are noise of the method, not of the cloth.
const LEAST_CREASE_SPREAD: f32 = 0.01;
const LEAST_JUMP_SPREAD: f32 = 0.03;
const LEAST_GAP_SPREAD: f32 = 0.06;
/// The crease may stand this far aside of a path in a block: the paths tried are no denser, millimetres.
const CREASE_SLACK_MM: f64 = 0.75;
/// So only every second column is scored.
const CREASE_STRIDE: usize = 2;
/// Creases closer than this are one, millimetres; jumps are as wide as their windows.
const CREASE_APART_MM: f64 = 5.0;
/// The spread is at least this share of the third highest peak: a pattern that returns is no seam.
const RETURNING_SHARE: f32 = 0.35;
/// Candidates kept, and how far apart they stand, millimetres.
const KEPT: usize = 8;
const APART_MM: f64 = 5.0;

/// The course of a path through a raster.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Course {
    /// Column at the middle row.
    pub column: f64,
    /// dv/du.
    pub lean: f64,
    /// How far its middle stands aside of its ends, cells.
    pub bow: f64,
}

impl Course {
    /// The path's column at a row of a raster of `height` rows.
    pub fn at(&self, row: f64, height: usize) -> f64 {
        let half = height as f64 / 2.0;
        let t = (row - half) / half;
        self.column + self.lean * (row - half) - self.bow * t * t
    }
}

/// A path and what speaks for it.
#[derive(Clone, Copy, Debug)]
pub struct Candidate {
    /// Where it runs.
    pub course: Course,
    /// Mean score of the jump over the blocks, 0 to 6.
    pub jump: f32,
    /// Mean score of the crease over the blocks, 0 to 6.
    pub crease: f32,
    /// Mean score of the lines' absence between two sides that have them, over the blocks, 0 to 6.
    pub gap: f32,
    /// How much darker the crease is than the darkest parallel line elsewhere in the picture, logarithm of light.
    pub crease_lead: f32,
    /// How much wider the lines differ than anywhere else in the picture, as a share of their energy.
    pub jump_lead: f32,
}

impl Candidate {
    fn score(&self) -> f32 {
        self.jump.max(self.gap) + self.crease
    }
}

/// What the candidates are read from: the jump on a grid of cells twice as large as the crease's.
pub struct Maps<'a, J> {
    /// The jump for every half-gap, one after the other.
    pub jumps: J,
    /// The crease's darkness, row by row; NaN where it is not seen.
    pub crease: &'a [f32],
    /// Cells of the crease along v.
    pub width: usize,
    /// Cells of the crease along u.
    pub height: usize,
    /// Distance between the crease's cells, millimetres.
    pub step_mm: f64,
}

/// The best paths, apart from each other, best first; in cells of the crease.
pub fn best(Maps { jumps, crease, width, height, step_mm }: Maps<impl Iterator<Item = Jump>>) -> Vec<Candidate> {
    let cells = |mm: f64| (mm / step_mm).round() as usize;
    // The best at each column.
    let mut all: Vec<Option<Candidate>> = vec![None; width.div_ceil(CREASE_STRIDE)];
    let leans = (STEEPEST_LEAN / LEAN_STEP).round() as i32;
    let course =
        |lean: i32, bow_mm: f64| Course { column: 0.0, lean: f64::from(lean) * LEAN_STEP, bow: bow_mm / step_mm };
    // For the jump: the mean score and the lead, at each of a few leans and every column.
    let jump_leans: Vec<i32> = (-leans..=leans).filter(|lean| lean % JUMP_LEAN_STRIDE == 0).collect();
    let mut jump_scores = vec![vec![(0.0f32, 0.0f32, 0.0f32); width / 2]; jump_leans.len()];
    for jump in jumps {
        let shown = |at: usize| jump.energy[at] > 0.0;
        let masked = |value: &[f32], more: f32| -> Vec<f32> {
            value.iter().enumerate().map(|(at, v)| if shown(at) { v + more } else { 0.0 }).collect()
        };
        let seen: Vec<f32> = (0..jump.energy.len()).map(|at| if shown(at) { 1.0 } else { 0.0 }).collect();
        let energy = masked(&jump.energy, jump.floor);
        let (apart, missing) = (masked(&jump.apart, 0.0), masked(&jump.missing, 0.0));
        let distance = cells(2.0 * (super::jump::WINDOW_MM + jump.half_gap_mm) + 2.0) / 2;
        for (&lean, best) in jump_leans.iter().zip(&mut jump_scores) {
            let blocks = sums([width / 2, height / 2], 1, &course(lean, 0.0), [&apart, &energy, &seen]);
            let scored = scores(&blocks, LEAST_JUMP_SPREAD, distance).into_iter().zip(leads(&blocks, distance));
            for (slot, scored) in best.iter_mut().zip(scored) {
                if scored.0 > slot.0 {
                    (slot.0, slot.1) = scored;
                }
            }
            if missing.is_empty() {
                continue;
            }
            let blocks = sums([width / 2, height / 2], 1, &course(lean, 0.0), [&missing, &energy, &seen]);
            for (slot, score) in best.iter_mut().zip(scores(&blocks, LEAST_GAP_SPREAD, distance)) {
                slot.2 = slot.2.max(score);
            }
        }
    }
    // No path leans by more than a part of a cell from one row to the next: two rows are gone through as one.
    let (mut darkness, mut dark_seen) =
        (Vec::with_capacity(width * height / 2), Vec::with_capacity(width * height / 2));
    for pair in crease.chunks_exact(2 * width) {
        let (one, two) = pair.split_at(width);
        for (a, b) in one.iter().zip(two) {
            let seen = |d: &f32| if d.is_finite() { (*d, 1.0) } else { (0.0, 0.0) };
            let (a, b) = (seen(a), seen(b));
            darkness.push(a.0 + b.0);
            dark_seen.push(a.1 + b.1);
        }
    }
    for lean in -leans..=leans {
        let nearest = jump_leans.iter().enumerate().min_by_key(|(_, l)| (*l - lean).abs()).map_or(0, |(k, _)| k);
        for bow_mm in BOWS_MM {
            let course = course(lean, bow_mm);
            let blocks = sums([width, height / 2], 2, &course, [&darkness, &dark_seen]);
            let blocks = widened(blocks, cells(CREASE_SLACK_MM));
            let apart = cells(CREASE_APART_MM) / CREASE_STRIDE;
            let leads = leads(&blocks, apart);
            let crease = scores(&blocks, LEAST_CREASE_SPREAD, apart);
            for (k, best) in all.iter_mut().enumerate() {
                let x = k * CREASE_STRIDE;
                let (jump, jump_lead, gap) = jump_scores[nearest].get(x / 2).copied().unwrap_or_default();
                let course = Course { column: x as f64, ..course };
                let one = Candidate { course, jump, gap, crease: crease[k], crease_lead: leads[k], jump_lead };
                if best.is_none_or(|best: Candidate| one.score() > best.score()) {
                    *best = Some(one);
                }
            }
        }
    }
    let mut all: Vec<Candidate> = all.into_iter().flatten().collect();
    all.sort_by(|a, b| b.score().total_cmp(&a.score()));
    let apart = APART_MM / step_mm;
    let mut kept: Vec<Candidate> = Vec::new();
    for candidate in all {
        if kept.iter().all(|k| (k.course.column - candidate.course.column).abs() >= apart) {
            kept.push(candidate);
            if kept.len() == KEPT {
                break;
            }
        }
    }
    kept
}

/// Means along a path moved to every column, block by block; [`UNSEEN`] where less than a quarter is seen.
type Blocks = [Vec<f32>; BLOCKS];
const UNSEEN: f32 = f32::NEG_INFINITY;

/// Means of a map along a path moved to every column. A row of the map stands for `rows_each` of the path's.
///
/// The layers are the map's values, their weights, and 1 where it is seen (the weights, where there are but two), all of
/// them 0 elsewhere.
fn sums<const N: usize>([width, height]: [usize; 2], rows_each: usize, course: &Course, layers: [&[f32]; N]) -> Blocks {
    let middle = (rows_each as f64 - 1.0) / 2.0;
    std::array::from_fn(|b| {
        let mut sums = [const { Vec::new() }; N];
        for sum in &mut sums {
            sum.resize(width, 0.0f32);
        }
        for j in rows(height, b) {
            let shift = course.at((j * rows_each) as f64 + middle, height * rows_each).round() as isize;
            let from = (-shift).clamp(0, width as isize) as usize;
            let to = (width as isize - shift).clamp(from as isize, width as isize) as usize;
            let first = (j * width + from).saturating_add_signed(shift);
            for (sum, layer) in sums.iter_mut().zip(layers) {
                add(&mut sum[from..to], &layer[first.min(layer.len())..]);
            }
        }
        let needed = (rows_each * rows(height, b).len() / 4 + 1) as f32;
        let mean = |x: usize| if sums[N - 1][x] >= needed { sums[0][x] / sums[1][x] } else { UNSEEN };
        (0..width).map(mean).collect()
    })
}

/// The highest value within `slack` columns of every [`CREASE_STRIDE`]th one.
fn widened(blocks: Blocks, slack: usize) -> Blocks {
    blocks.map(|mut values| {
        let count = values.len();
        // Of the value at hand and `width` after it.
        let mut width = 0;
        while width < 2 * slack {
            let step = (2 * slack - width).min(width + 1);
            for x in 0..count.saturating_sub(step) {
                values[x] = values[x].max(values[x + step]);
            }
            width += step;
        }
        // Before the first column there is nothing.
        let at = |x: usize| values[x.saturating_sub(slack)];
        (0..count).step_by(CREASE_STRIDE).map(at).collect()
    })
}

/// Mean over the blocks of robust scores over all columns: how many spreads above the median, clipped to 0..=6.
///
/// A pattern that returns is no seam: where the third highest of peaks at least `apart` columns apart is high, the
/// spread grows with it.
fn scores(blocks: &Blocks, least_spread: f32, apart: usize) -> Vec<f32> {
    let mut scores = vec![0.0f32; blocks[0].len()];
    let (mut known, mut off) = (Vec::new(), Vec::new());
    for values in blocks {
        known.clear();
        known.extend(values.iter().filter(|v| **v > UNSEEN));
        if known.len() < 10 {
            continue;
        }
        let middle = known.len() / 2;
        let median = *known.select_nth_unstable_by(middle, f32::total_cmp).1;
        off.clear();
        off.extend(known.iter().map(|v| (v - median).abs()));
        let spread = (1.4826 * *off.select_nth_unstable_by(middle, f32::total_cmp).1).max(least_spread);
        let spread = spread.max(RETURNING_SHARE * (third_peak(values, apart) - median));
        for (score, value) in scores.iter_mut().zip(values) {
            *score += ((value - median) / spread).clamp(0.0, CLIP) / BLOCKS as f32;
        }
    }
    scores
}

/// How far the mean over the blocks stands above the highest that is at least `apart` columns away; 0 where it is not
/// seen.
fn leads(blocks: &Blocks, apart: usize) -> Vec<f32> {
    let mut means = vec![(0.0f32, 0.0f32); blocks[0].len()];
    for values in blocks {
        for ((sum, count), value) in means.iter_mut().zip(values) {
            let seen = *value > UNSEEN;
            *sum += if seen { *value } else { 0.0 };
            *count += if seen { 1.0 } else { 0.0 };
        }
    }
    let mean = |(sum, count): (f32, f32)| if 2.0 * count > BLOCKS as f32 { sum / count } else { UNSEEN };
    let means: Vec<f32> = means.into_iter().map(mean).collect();
    let mut before = vec![UNSEEN; means.len()];
    let mut after = before.clone();
    for x in apart.max(1)..means.len() {
        before[x] = before[x - 1].max(means[x - apart]);
        let y = means.len() - 1 - x;
        after[y] = after[y + 1].max(means[y + apart]);
    }
    let lead = |x: usize| means[x] - before[x].max(after[x]).max(0.0);
    (0..means.len()).map(|x| if means[x] > UNSEEN { lead(x) } else { 0.0 }).collect()
}

/// The third highest peak of one block, peaks standing apart; below everything where there are fewer.
fn third_peak(values: &[f32], apart: usize) -> f32 {
    // The runs of columns, first and after the last, that stand apart from the peaks so far.
    let mut free = vec![(0, values.len())];
    let mut third = f32::MIN;
    for _ in 0..3 {
        let (mut peak, mut at) = (UNSEEN, 0);
        for x in free.iter().flat_map(|&(from, to)| from..to) {
            if values[x] > peak {
                (peak, at) = (values[x], x);
            }
        }
        if peak == UNSEEN {
            return f32::MIN;
        }
        third = peak;
        let (before, after) = ((at + 1).saturating_sub(apart), at + apart);
        free = free.into_iter().flat_map(|(from, to)| [(from, to.min(before)), (from.max(after), to)]).collect();
    }
    third
}
