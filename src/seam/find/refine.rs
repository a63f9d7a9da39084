//! From a coarse candidate to the seam's path: what belongs to the left side, what to the right, what to neither.
//!
//! On a finer raster, columns near the candidate are compared with the lines of both sides, taken from windows that
//! stand well off. Where columns like neither side there is a gap; else the boundary is where likeness changes sides
//! and the crease is darkest. The path is a straight line with a slight bow through all blocks at once.

use super::evidence::{self, BLOCKS};
use super::raster::Raster;
use super::relief::{Relief, Sums};

/// The windows from which a side's lines are taken, millimetres from the candidate.
const WINDOW_MM: (f64, f64) = (8.0, 18.0);
/// How far from the candidate the boundary is looked for, millimetres.
const REACH_MM: f64 = 8.0;
/// A column belongs to a side when it is like its lines at least this much of what is usual there.
const LEAST_LIKENESS_SHARE: f32 = 0.5;
/// A run of columns that belong to no side is a gap when it is at least this wide, millimetres.
const LEAST_GAP_MM: f64 = 3.5;

/// What was found around a candidate.
#[derive(Clone, Debug)]
pub struct Refined {
    /// Distance of the boundary from the candidate in each block, millimetres: a straight line with a bow.
    pub aside_mm: [f64; BLOCKS],
    /// Likeness of the two sides' lines at their best lag, −1 to 1.
    pub agreement: f32,
    /// How much less alike they are as they stand: the jump's evidence, 0 to 1.
    pub jump: f32,
    /// Likeness of neighbouring columns to their own side, 0 to 1: how plain the lines are.
    pub plainness: f32,
}

/// The fine raster around one candidate.
pub struct Fine {
    /// The raster.
    pub raster: Raster,
    /// Its relief, leaned.
    relief: Relief,
    /// Sums for every slope.
    sums: Vec<Sums>,
    /// Darkness of a crease at each column and block.
    crease: Vec<[f32; BLOCKS]>,
}

impl Fine {
    /// Prepares a raster for a lean.
    pub fn new(raster: Raster, lean: f64) -> Self {
        let relief = Relief::of(&raster).leaned(lean);
        Self { sums: evidence::sums_for(&relief), crease: evidence::creases(&raster, lean), relief, raster }
    }

    /// How far a raster must reach on both sides of a candidate of this lean, millimetres.
    pub fn reach_mm(height_mm: f64, lean: f64) -> f64 {
        WINDOW_MM.1 + 0.5 * height_mm * lean.abs() + 2.0
    }
}

/// Lines of one side: the mean of a window along its best slope, carried to any column.
struct Model<'a> {
    sums: &'a Sums,
    from: usize,
    to: usize,
}

impl Model<'_> {
    fn at(&self, column: usize, row: usize) -> Option<[f32; 3]> {
        self.sums.mean(self.from, self.to, column, row)
    }
}

/// Looks closely at a candidate column of a leaned fine relief; `None` where a side shows no lines.
pub fn refine(fine: &Fine, column: usize) -> Option<Refined> {
    let step = fine.raster.step_mm;
    let cells = |mm: f64| (mm / step).round() as usize;
    let (near, far, reach) = (cells(WINDOW_MM.0), cells(WINDOW_MM.1), cells(REACH_MM));
    let width = fine.relief.width;
    // Near the picture's edge a narrower window must do.
    let left_from = column.checked_sub(near + 8)?.min(column.saturating_sub(far));
    let right_to = (column + far).min(width - 1);
    if column + near + 8 > right_to {
        return None;
    }
    let left = model(fine, left_from, column - near, column)?;
    let right = model(fine, column + near, right_to, column)?;
    let (agreement, as_is) = agreement(fine, &left, &right, column);
    let columns: Vec<usize> = (column.saturating_sub(reach)..=(column + reach).min(width - 1)).collect();
    let likeness: Vec<[[f32; 2]; BLOCKS]> = columns
        .iter()
        .map(|&x| std::array::from_fn(|b| [likeness_in(fine, &left, x, b), likeness_in(fine, &right, x, b)]))
        .collect();
    let whole = |k: usize, side: usize| likeness[k].iter().map(|l| l[side]).sum::<f32>() / BLOCKS as f32;
    let quarter = (columns.len() / 4).max(1);
    let usual_left = (0..quarter).map(|k| whole(k, 0)).sum::<f32>() / quarter as f32;
    let usual_right = (columns.len() - quarter..columns.len()).map(|k| whole(k, 1)).sum::<f32>() / quarter as f32;
    let usual = usual_left.min(usual_right).max(0.0);
    let jump = (agreement - as_is).clamp(0.0, 1.0);
    let aside_mm = match gap(&columns, whole, usual, step) {
        Some(middle) => [(middle - column as f64) * step; BLOCKS],
        None => boundary(fine, &columns, &likeness, column, jump),
    };
    Some(Refined { aside_mm, agreement, jump, plainness: usual })
}

fn rows(height: usize, block: usize) -> std::ops::Range<usize> {
    block * height / BLOCKS..(block + 1) * height / BLOCKS
}

/// The window's lines along the slope that gives their mean the most energy.
fn model<'a>(fine: &'a Fine, from: usize, to: usize, at: usize) -> Option<Model<'a>> {
    let energy = |sums: &Sums| {
        (0..fine.relief.height)
            .step_by(3)
            .filter_map(|j| sums.mean(from, to, at, j))
            .map(|v| v.iter().map(|x| x * x).sum::<f32>())
            .sum::<f32>()
    };
    let sums = fine.sums.iter().max_by(|a, b| energy(a).total_cmp(&energy(b)))?;
    (energy(sums) > 0.0).then_some(Model { sums, from, to })
}

/// Correlation of the two sides' lines at the candidate: at their best lag and as they stand.
fn agreement(fine: &Fine, left: &Model, right: &Model, column: usize) -> (f32, f32) {
    let height = fine.relief.height;
    let a: Vec<Option<[f32; 3]>> = (0..height).map(|j| left.at(column, j)).collect();
    let b: Vec<Option<[f32; 3]>> = (0..height).map(|j| right.at(column, j)).collect();
    let at = |lag: isize| {
        let (mut cross, mut a2, mut b2) = (0.0f32, 0.0f32, 0.0f32);
        for (j, a) in a.iter().enumerate() {
            let k = j as isize + lag;
            if let (Some(a), true) = (a, k >= 0 && (k as usize) < height)
                && let Some(b) = b[k as usize]
            {
                for c in 0..3 {
                    cross += a[c] * b[c];
                    a2 += a[c] * a[c];
                    b2 += b[c] * b[c];
                }
            }
        }
        if a2 > 0.0 && b2 > 0.0 { cross / (a2 * b2).sqrt() } else { 0.0 }
    };
    let reach = (height / 3) as isize;
    let best = (-reach..=reach).map(at).fold(-1.0, f32::max);
    (best, at(0))
}

/// Likeness of one column's relief to a side's lines within a block.
fn likeness_in(fine: &Fine, model: &Model, column: usize, block: usize) -> f32 {
    let (mut cross, mut a2, mut b2) = (0.0f32, 0.0f32, 0.0f32);
    for j in rows(fine.relief.height, block) {
        let at = j * fine.relief.width + column;
        if fine.relief.weight[at] > 0.0
            && let Some(m) = model.at(column, j)
        {
            let v = fine.relief.value[at];
            for c in 0..3 {
                cross += v[c] * m[c];
                a2 += v[c] * v[c];
                b2 += m[c] * m[c];
            }
        }
    }
    if a2 > 0.0 && b2 > 0.0 { cross / (a2 * b2).sqrt() } else { 0.0 }
}

/// The middle of a run of columns that are like neither side, if it is wide enough to be a gap.
fn gap(columns: &[usize], whole: impl Fn(usize, usize) -> f32, usual: f32, step_mm: f64) -> Option<f64> {
    let strange = |k: usize| whole(k, 0).max(whole(k, 1)) < LEAST_LIKENESS_SHARE * usual;
    let mut best: Option<(usize, usize)> = None;
    let mut k = 0;
    while k < columns.len() {
        if strange(k) {
            let begin = k;
            while k < columns.len() && strange(k) {
                k += 1;
            }
            if best.is_none_or(|(a, b)| k - begin > b - a) {
                best = Some((begin, k));
            }
        }
        k += 1;
    }
    let (begin, end) = best?;
    ((end - begin) as f64 * step_mm >= LEAST_GAP_MM).then(|| 0.5 * (columns[begin] + columns[end - 1]) as f64)
}

/// Where likeness changes sides and the crease is darkest, as a straight line with a bow through all blocks.
fn boundary(
    fine: &Fine,
    columns: &[usize],
    likeness: &[[[f32; 2]; BLOCKS]],
    column: usize,
    jump: f32,
) -> [f64; BLOCKS] {
    let step = fine.raster.step_mm;
    let score: Vec<[f32; BLOCKS]> = {
        let mut score = vec![[0.0; BLOCKS]; columns.len()];
        for b in 0..BLOCKS {
            let lead: Vec<f32> = likeness.iter().map(|l| l[b][0] - l[b][1]).collect();
            let total: f32 = lead.iter().map(|g| g.abs()).sum::<f32>().max(1e-3);
            let right: f32 = lead.iter().sum();
            let mut before = 0.0;
            let darkest = columns.iter().map(|&x| fine.crease[x][b]).fold(1e-3, f32::max);
            for (k, slot) in score.iter_mut().enumerate() {
                before += lead[k];
                // Columns before the boundary should be like the left side, columns after it like the right.
                let change = (2.0 * before - right) / total;
                slot[b] = 3.0 * jump.min(0.5) * change + fine.crease[columns[k]][b] / darkest.max(0.03);
            }
        }
        score
    };
    let at = |b: usize, aside_mm: f64| -> f32 {
        let place = (column as f64 + aside_mm / step - columns[0] as f64).clamp(0.0, (columns.len() - 1) as f64);
        let k = (place as usize).min(columns.len() - 2);
        let f = (place - k as f64) as f32;
        score[k][b] + f * (score[k + 1][b] - score[k][b])
    };
    let tau = |b: usize| (2.0 * b as f64 + 1.0) / BLOCKS as f64 - 1.0;
    let mut best = (f32::MIN, [0.0; BLOCKS]);
    for c in -16..=16 {
        for l in -12..=12 {
            for q in -8..=8 {
                let (c, l, q) = (f64::from(c) * 0.25, f64::from(l) * 0.25, f64::from(q) * 0.5);
                let aside: [f64; BLOCKS] = std::array::from_fn(|b| c + l * tau(b) + q * (tau(b).powi(2) - 1.0 / 3.0));
                let total = (0..BLOCKS).map(|b| at(b, aside[b])).sum::<f32>() - 0.02 * (q.abs() + l.abs()) as f32;
                if total > best.0 {
                    best = (total, aside);
                }
            }
        }
    }
    best.1
}
