//! A close look at a path: what belongs to its left side, what to its right, what to neither.
//!
//! On a fine raster that follows the path, columns near it are compared with the lines of both sides, taken from
//! windows that stand well off. Where columns like neither side there is a gap; else the boundary is where likeness
//! changes sides and the crease is darkest. The path moves there, as a straight line with a slight bow.

use super::raster::Raster;
use super::relief::Relief;
use super::sides::{self, Beside, Sides};
use super::{BLOCKS, crease, gap, rows};
use crate::photo::Photo;
use crate::scale::Plane;
use crate::seam::Seam;
use crate::seam::path::Path;

/// How far it reaches to both sides, millimetres.
const WIDE_MM: f64 = 19.0;
/// The windows from which a side's lines are taken, millimetres from the path.
const WINDOW_MM: (f64, f64) = (8.0, 18.0);
/// How far from the path the boundary is looked for, millimetres.
const REACH_MM: f64 = 8.0;
/// Windows for what the two sides' lines say of each other: this far from the fold, this wide, millimetres.
const RIDGE_MM: f64 = 1.2;
const BESIDE_MM: f64 = 10.0;
/// A jump that makes the sides wholly unlike weighs this much against a crease, and a crease is as dark as needed from
/// this darkness on.
const JUMP_WEIGHT: f32 = 5.0;
const DARK: f32 = 0.12;
/// Stretches of the path over which the crease must keep its darkness, millimetres: a few threads, less than most lines.
const KEPT_MM: f64 = 1.5;

/// What was seen around a path.
#[derive(Clone, Debug)]
pub struct Look {
    /// The path, moved to where the sides part.
    pub seam: Seam,
    /// How far it was moved, where it was moved furthest, millimetres.
    pub moved_mm: f64,
    /// Distance between the folds where there is a gap, millimetres.
    pub gap_mm: Option<f64>,
    /// Likeness of the two sides' lines at their best lag, −1 to 1.
    pub agreement: f32,
    /// How much less alike they are as they stand, 0 to 1.
    pub jump: f32,
    /// Mean size of the smallest of equally good lags, millimetres.
    pub lag_mm: f32,
    /// Difference of the two sides' slopes.
    pub bend: f32,
    /// Likeness of neighbouring columns to their own side, 0 to 1: how plain the lines are.
    pub plainness: f32,
    /// Darkness of the crease on the path, block by block, lightest first.
    pub crease: [f32; BLOCKS],
    /// Darkness of the next best line parallel to it.
    pub next_crease: f32,
    /// Darkness that the crease keeps over four fifths of its length.
    pub kept_crease: f32,
    /// Largest difference between the mean tones of the two sides, over the channels.
    pub otherness: f32,
    /// Share of the path on which cloth is seen.
    pub seen: f32,
}

impl Look {
    /// Mean darkness of the crease.
    pub fn darkness(&self) -> f32 {
        self.crease.iter().sum::<f32>() / BLOCKS as f32
    }
}

/// Looks closely at a path, in cells of `step_mm`; `None` where a side shows no lines.
pub fn look(photo: &Photo, plane: &Plane, seam: &Seam, step_mm: f64) -> Option<Look> {
    let raster = Raster::along(photo, plane, seam, WIDE_MM, step_mm);
    let relief = Relief::of(&raster);
    let dark = crease::of(&raster);
    let cells = |mm: f64| (mm / step_mm).round() as usize;
    let middle = raster.width / 2;
    let far = Sides::of(&relief, 0.0, cells(WINDOW_MM.0), cells(WINDOW_MM.1) - cells(WINDOW_MM.0))?;
    let columns: Vec<usize> = (middle - cells(REACH_MM)..=middle + cells(REACH_MM)).collect();
    let beside: Vec<[Beside; 2]> =
        columns.iter().map(|&x| far.both().map(|side| Beside::of(&relief, side, x))).collect();
    let likeness: Vec<[[f32; 2]; BLOCKS]> =
        beside.iter().map(|beside| std::array::from_fn(|b| beside.each_ref().map(|one| one.likeness(b, 0)))).collect();
    let whole = |k: usize, side: usize| likeness[k].iter().map(|l| l[side]).sum::<f32>() / BLOCKS as f32;
    let quarter = (columns.len() / 4).max(1);
    let left = (0..quarter).map(|k| whole(k, 0)).sum::<f32>() / quarter as f32;
    let right = (columns.len() - quarter..columns.len()).map(|k| whole(k, 1)).sum::<f32>() / quarter as f32;
    let usual = left.min(right);
    let folds = gap::folds(&beside, step_mm, usual);
    let darkness: Vec<[f32; BLOCKS]> =
        columns.iter().map(|&x| std::array::from_fn(|b| mean_in(&dark, &raster, x, b))).collect();
    let (_, _, far_jump) = far.agreement(0.0, step_mm);
    let (straight, crease) = boundary(&likeness, &darkness, far_jump, step_mm);
    let (kept_crease, seen) = kept(&dark, &raster, &straight);
    let (aside_mm, crease) = match folds {
        Some(folds) => ([0.5 * (folds[0] + folds[1]); BLOCKS], [0.0; BLOCKS]),
        None => (straight, crease),
    };
    let on_path = crease.iter().sum::<f32>() / BLOCKS as f32;
    let next_crease = next(&darkness, &aside_mm, on_path, step_mm);
    let gap_mm = folds.map(|folds| folds[1] - folds[0]);
    let half_gap_mm = gap_mm.map_or(0.0, |gap| gap / 2.0);
    let shift = aside_mm.iter().sum::<f64>() / BLOCKS as f64;
    let beside = Sides::of(&relief, shift / step_mm, cells(half_gap_mm + RIDGE_MM), cells(BESIDE_MM))?;
    let (agreement, lag, jump) = beside.agreement(shift / step_mm, step_mm);
    let mut sorted = crease;
    sorted.sort_by(f32::total_cmp);
    Some(Look {
        seam: moved(seam, &aside_mm)?,
        moved_mm: aside_mm.iter().fold(0.0, |furthest: f64, aside| furthest.max(aside.abs())),
        gap_mm,
        agreement,
        jump,
        lag_mm: lag * step_mm as f32,
        bend: (beside.left.slope - beside.right.slope).abs() as f32,
        plainness: usual.max(0.0),
        crease: sorted,
        next_crease,
        kept_crease: if gap_mm.is_some() { 0.0 } else { kept_crease },
        otherness: otherness(&raster, shift / step_mm, cells(half_gap_mm + RIDGE_MM), cells(BESIDE_MM)),
        seen,
    })
}

/// Mean darkness of one column within a block; 0 where nothing is seen.
fn mean_in(dark: &[f32], raster: &Raster, column: usize, block: usize) -> f32 {
    let (mut sum, mut count) = (0.0, 0.0f32);
    for j in rows(raster.height, block) {
        let d = dark[j * raster.width + column];
        if d.is_finite() {
            sum += d;
            count += 1.0;
        }
    }
    sum / count.max(1.0)
}

/// Distance along v at each block of a straight line with a bow.
fn line(c: f64, l: f64, q: f64) -> [f64; BLOCKS] {
    std::array::from_fn(|b| {
        let t = (2.0 * b as f64 + 1.0) / BLOCKS as f64 - 1.0;
        c + l * t + q * (t * t - 1.0 / 3.0)
    })
}

/// A value per column, `step_mm` apart, and block at a distance from the path, millimetres.
fn read(values: &[[f32; BLOCKS]], step_mm: f64, block: usize, aside_mm: f64) -> f32 {
    let place = (aside_mm / step_mm + (values.len() / 2) as f64).clamp(0.0, (values.len() - 1) as f64);
    let k = (place as usize).min(values.len() - 2);
    let f = (place - k as f64) as f32;
    values[k][block] + f * (values[k + 1][block] - values[k][block])
}

/// Where likeness changes sides and the crease is darkest, as a straight line with a bow through all blocks; and the
/// crease's darkness there.
fn boundary(
    likeness: &[[[f32; 2]; BLOCKS]],
    darkness: &[[f32; BLOCKS]],
    jump: f32,
    step_mm: f64,
) -> ([f64; BLOCKS], [f32; BLOCKS]) {
    let mut score = vec![[0.0; BLOCKS]; likeness.len()];
    for b in 0..BLOCKS {
        let lead: Vec<f32> = likeness.iter().map(|l| l[b][0] - l[b][1]).collect();
        let total: f32 = lead.iter().map(|g| g.abs()).sum::<f32>().max(1e-3);
        let right: f32 = lead.iter().sum();
        let mut before = 0.0;
        for (k, slot) in score.iter_mut().enumerate() {
            before += lead[k];
            // Columns before the boundary should be like the left side, columns after it like the right.
            let change = (2.0 * before - right) / total;
            slot[b] = JUMP_WEIGHT * jump.min(0.5) * change + darkness[k][b].min(DARK) / DARK;
        }
    }
    let mut best = (f32::MIN, [0.0; BLOCKS]);
    for c in -20..=20 {
        for l in -8..=8 {
            for q in -6..=6 {
                let (c, l, q) = (f64::from(c) * 0.25, f64::from(l) * 0.25, f64::from(q) * 0.5);
                let aside = line(c, l, q);
                let total = (0..BLOCKS).map(|b| read(&score, step_mm, b, aside[b])).sum::<f32>()
                    - 0.02 * (q.abs() + l.abs()) as f32;
                if total > best.0 {
                    best = (total, aside);
                }
            }
        }
    }
    (best.1, std::array::from_fn(|b| read(darkness, step_mm, b, best.1[b])))
}

/// The darkest of the lines parallel to the path that stand more than two millimetres from it.
fn next(darkness: &[[f32; BLOCKS]], aside_mm: &[f64; BLOCKS], otherwise: f32, step_mm: f64) -> f32 {
    let steps = (REACH_MM / step_mm) as i32;
    (-steps..=steps)
        .map(|k| f64::from(k) * step_mm)
        .filter(|d| d.abs() > 2.0 && aside_mm.iter().all(|a| (a + d).abs() <= REACH_MM))
        .map(|d| (0..BLOCKS).map(|b| read(darkness, step_mm, b, aside_mm[b] + d)).sum::<f32>() / BLOCKS as f32)
        .reduce(f32::max)
        .unwrap_or(otherwise)
}

/// The crease's darkness that a fifth of the path's stretches fall below, and the share of the path that is seen.
fn kept(dark: &[f32], raster: &Raster, aside_mm: &[f64; BLOCKS]) -> (f32, f32) {
    let stretch = (KEPT_MM / raster.step_mm) as usize;
    let mut means: Vec<f32> = Vec::new();
    let mut rows_seen = 0;
    let mut from = 0;
    while from + stretch <= raster.height {
        let (mut sum, mut count) = (0.0, 0);
        for j in from..from + stretch {
            let block = (j * BLOCKS / raster.height).min(BLOCKS - 1);
            let column = (raster.width / 2) as isize + (aside_mm[block] / raster.step_mm).round() as isize;
            let near = (column - 1..=column + 1).filter(|x| (0..raster.width as isize).contains(x));
            let darkest = near.map(|x| dark[j * raster.width + x as usize]).fold(f32::NAN, f32::max);
            if darkest.is_finite() {
                sum += darkest;
                count += 1;
            }
        }
        rows_seen += count;
        if 2 * count > stretch {
            means.push(sum / count as f32);
        }
        from += stretch;
    }
    let seen = rows_seen as f32 / raster.height.max(1) as f32;
    if means.is_empty() {
        return (0.0, seen);
    }
    let fifth = means.len() / 5;
    (*means.select_nth_unstable_by(fifth, f32::total_cmp).1, seen)
}

/// Largest difference between the mean tones of the two sides, over the channels.
fn otherness(raster: &Raster, aside: f64, from: usize, width: usize) -> f32 {
    let [left, right] = sides::windows(raster.width, aside, from, width).map(|window| {
        let (mut sum, mut count) = ([0.0f64; 3], 0.0f64);
        for at in (0..raster.height).flat_map(|j| window.clone().map(move |i| j * raster.width + i)) {
            if raster.weight[at] > 0.0 {
                for c in 0..3 {
                    sum[c] += f64::from(raster.value[c][at]);
                }
                count += 1.0;
            }
        }
        sum.map(|s| s / count.max(1.0))
    });
    (0..3).map(|c| (left[c] - right[c]).abs()).fold(0.0, f64::max) as f32
}

/// The seam with its path moved aside, block by block, and carried on to both ends.
fn moved(seam: &Seam, aside_mm: &[f64; BLOCKS]) -> Option<Seam> {
    let length_mm = seam.length_mm();
    let (first, last) = (aside_mm[0], aside_mm[BLOCKS - 1]);
    let mut marks = vec![seam.at(0.0, 1.5 * first - 0.5 * aside_mm[1])];
    marks.extend((0..BLOCKS).map(|b| seam.at((b as f64 + 0.5) / BLOCKS as f64 * length_mm, aside_mm[b])));
    marks.push(seam.at(length_mm, 1.5 * last - 0.5 * aside_mm[BLOCKS - 2]));
    Some(Seam { path: Path::through(&marks)?, ..seam.clone() })
}
