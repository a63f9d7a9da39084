//! A close look at a path: what belongs to its left side, what to its right, what to neither.
//!
//! On a fine raster that follows the path, columns near it are compared with the lines of both sides, taken from
//! windows that stand well off. Where columns like neither side there is a gap; else the boundary is where likeness
//! changes sides and the crease is darkest. The path moves there, as a straight line with a slight bow.

use super::raster::Raster;
use super::relief::{self, Relief};
use super::{BLOCKS, crease, rows};
use crate::photo::Photo;
use crate::scale::Plane;
use crate::seam::Seam;
use crate::seam::path::Path;

/// Cells of the raster, millimetres.
const STEP_MM: f64 = 0.25;
/// How far it reaches to both sides, millimetres.
const WIDE_MM: f64 = 19.0;
/// The windows from which a side's lines are taken, millimetres from the path.
const WINDOW_MM: (f64, f64) = (8.0, 18.0);
/// How far from the path the boundary is looked for, millimetres.
const REACH_MM: f64 = 8.0;
/// The fold stands where likeness to its side falls to this share of what is usual there.
const FOLD_SHARE: f32 = 0.6;
/// A fold is not sharp, millimetres.
const FOLD_MM: f64 = 1.0;
/// What belongs to no side is a gap when it is at least this wide, millimetres.
const LEAST_GAP_MM: f64 = 3.5;
/// Windows for what the two sides' lines say of each other: this far from the fold, this wide, millimetres.
const RIDGE_MM: f64 = 1.2;
const BESIDE_MM: f64 = 10.0;
/// The lags at which both sides' lines are compared, millimetres; of equally good ones the smallest counts.
const PARTS: usize = 3;
const LONGEST_LAG_MM: f64 = 25.0;
const EQUALLY_GOOD: f32 = 0.03;
/// A jump that makes the sides wholly unlike weighs this much against a crease, and a crease is as dark as needed from
/// this darkness on.
const JUMP_WEIGHT: f32 = 5.0;
const DARK: f32 = 0.12;
/// Lines are missing where nothing within that is like them by this share of what is usual: on rendered zips it was 0.41
/// to 0.61 (two teeth rows like the lines 0.9 and 1.0), beside seams without one 0.89 and more.
const MISSING_SHARE: f32 = 0.75;
/// The lines beside a fold may be bent by this much, millimetres, and are still lines.
const BENT_MM: f64 = 4.0;
/// Stretches of the path over which the crease must keep its darkness, millimetres: a few threads, less than most lines.
const KEPT_MM: f64 = 1.5;

/// What was seen around a path.
#[derive(Clone, Debug)]
pub struct Look {
    /// The path, moved to where the sides part.
    pub seam: Seam,
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

/// Lines of one side: their mean profile at the path, and the slope along which it is carried.
struct Model {
    profile: Vec<Option<[f32; 3]>>,
    slope: f64,
}

impl Model {
    /// The mean of the columns `from..to` along the slope that gives it the most energy, carried to the middle column.
    fn of(relief: &Relief, from: usize, to: usize) -> Option<Self> {
        let (width, height) = (relief.width, relief.height);
        let middle = width as f64 / 2.0;
        let centre = 0.5 * (from + to) as f64;
        let mean = |slope: f64, to_column: f64, stride: usize| -> Vec<Option<[f32; 3]>> {
            let mut sum = vec![[0.0f32; 4]; height];
            for i in (from..to).step_by(stride) {
                let shift = slope * (i as f64 - to_column);
                let whole = shift.floor();
                let f = (shift - whole) as f32;
                for (j, slot) in sum.iter_mut().enumerate() {
                    let k = j as isize + whole as isize;
                    if k < 0 || k as usize + 1 >= height {
                        continue;
                    }
                    let (a, b) = (k as usize * width + i, (k as usize + 1) * width + i);
                    if relief.weight[a] > 0.0 && relief.weight[b] > 0.0 {
                        for c in 0..3 {
                            slot[c] += relief.value[a][c] + f * (relief.value[b][c] - relief.value[a][c]);
                        }
                        slot[3] += 1.0;
                    }
                }
            }
            let needed = ((to - from) / stride) as f32 / 2.0;
            sum.iter().map(|s| (s[3] >= needed).then(|| [s[0] / s[3], s[1] / s[3], s[2] / s[3]])).collect()
        };
        let energy = |slope: f64| {
            let (mut sum, mut count) = (0.0f32, 0.0f32);
            for v in mean(slope, centre, 2).iter().flatten() {
                sum += v.iter().map(|x| x * x).sum::<f32>();
                count += 1.0;
            }
            (count > height as f32 / 4.0).then(|| sum / count)
        };
        let (slope, _) =
            relief::slopes().filter_map(|slope| Some((slope, energy(slope)?))).max_by(|a, b| a.1.total_cmp(&b.1))?;
        Some(Self { profile: mean(slope, middle, 1), slope })
    }

    /// The lines at `aside` columns from the middle one.
    fn at(&self, aside: f64, row: usize) -> Option<[f32; 3]> {
        let place = row as f64 - self.slope * aside;
        let k = place.floor();
        if k < 0.0 {
            return None;
        }
        let f = (place - k) as f32;
        let (a, b) = ((*self.profile.get(k as usize)?)?, (*self.profile.get(k as usize + 1)?)?);
        Some(std::array::from_fn(|c| a[c] + f * (b[c] - a[c])))
    }
}

/// A correlation being gathered.
#[derive(Clone, Copy, Default)]
struct Likeness {
    cross: f32,
    own: f32,
    other: f32,
}

impl Likeness {
    fn add(&mut self, a: [f32; 3], b: [f32; 3]) {
        for c in 0..3 {
            self.cross += a[c] * b[c];
            self.own += a[c] * a[c];
            self.other += b[c] * b[c];
        }
    }

    fn value(&self) -> f32 {
        if self.own > 0.0 && self.other > 0.0 { self.cross / (self.own * self.other).sqrt() } else { 0.0 }
    }
}

/// Looks closely at a path; `None` where a side shows no lines.
pub fn look(photo: &Photo, plane: &Plane, seam: &Seam) -> Option<Look> {
    let raster = Raster::along(photo, plane, seam, WIDE_MM, STEP_MM);
    let relief = Relief::of(&raster);
    let dark = crease::of(&raster);
    let cells = |mm: f64| (mm / STEP_MM).round() as usize;
    let middle = raster.width / 2;
    let far = Sides::of(&relief, cells(WINDOW_MM.0), cells(WINDOW_MM.1) - cells(WINDOW_MM.0))?;
    let columns: Vec<usize> = (middle - cells(REACH_MM)..=middle + cells(REACH_MM)).collect();
    let likeness: Vec<[[f32; 2]; BLOCKS]> = columns
        .iter()
        .map(|&x| std::array::from_fn(|b| far.both().map(|side| likeness_in(&relief, side, x, b, 0))))
        .collect();
    let whole = |k: usize, side: usize| likeness[k].iter().map(|l| l[side]).sum::<f32>() / BLOCKS as f32;
    let quarter = (columns.len() / 4).max(1);
    let usual = [
        (0..quarter).map(|k| whole(k, 0)).sum::<f32>() / quarter as f32,
        (columns.len() - quarter..columns.len()).map(|k| whole(k, 1)).sum::<f32>() / quarter as f32,
    ];
    let folds = folds(columns.len(), whole, usual).map(|fold| (fold - cells(REACH_MM) as f64) * STEP_MM);
    let darkness: Vec<[f32; BLOCKS]> =
        columns.iter().map(|&x| std::array::from_fn(|b| mean_in(&dark, &raster, x, b))).collect();
    let (_, _, far_jump) = far.agreement(0.0);
    let (straight, crease) = boundary(&likeness, &darkness, far_jump);
    let (kept_crease, seen) = kept(&dark, &raster, &straight);
    let gap_mm = Some(folds[1] - folds[0])
        .filter(|&gap| gap >= LEAST_GAP_MM && missing(&relief, &far, folds, usual[0].min(usual[1])));
    let (aside_mm, crease) = match gap_mm {
        Some(_) => ([0.5 * (folds[0] + folds[1]); BLOCKS], [0.0; BLOCKS]),
        None => (straight, crease),
    };
    let on_path = crease.iter().sum::<f32>() / BLOCKS as f32;
    let next_crease = next(&darkness, &aside_mm, on_path);
    let half_gap_mm = gap_mm.map_or(0.0, |gap| gap / 2.0);
    let shift = aside_mm.iter().sum::<f64>() / BLOCKS as f64;
    let beside = Sides::around(&relief, shift / STEP_MM, cells(half_gap_mm + RIDGE_MM), cells(BESIDE_MM))?;
    let (agreement, lag, jump) = beside.agreement(shift / STEP_MM);
    let mut sorted = crease;
    sorted.sort_by(f32::total_cmp);
    Some(Look {
        seam: moved(seam, &aside_mm)?,
        gap_mm,
        agreement,
        jump,
        lag_mm: lag * STEP_MM as f32,
        bend: (beside.left.slope - beside.right.slope).abs() as f32,
        plainness: usual[0].min(usual[1]).max(0.0),
        crease: sorted,
        next_crease,
        kept_crease: if gap_mm.is_some() { 0.0 } else { kept_crease },
        otherness: otherness(&raster, shift / STEP_MM, cells(half_gap_mm + RIDGE_MM), cells(BESIDE_MM)),
        seen,
    })
}

/// The lines of both sides.
struct Sides {
    left: Model,
    right: Model,
}

impl Sides {
    fn of(relief: &Relief, from: usize, width: usize) -> Option<Self> {
        Self::around(relief, 0.0, from, width)
    }

    /// From windows of `width` columns that begin `from` columns beside the middle, moved `aside` columns.
    fn around(relief: &Relief, aside: f64, from: usize, width: usize) -> Option<Self> {
        let middle = (relief.width / 2) as isize + aside.round() as isize;
        let clip = |x: isize| x.clamp(0, relief.width as isize) as usize;
        let (from, far) = (from as isize, (from + width) as isize);
        let left = (clip(middle - far), clip(middle - from));
        let right = (clip(middle + from + 1), clip(middle + far + 1));
        (left.1 > left.0 + 4 && right.1 > right.0 + 4).then_some(())?;
        Some(Self { left: Model::of(relief, left.0, left.1)?, right: Model::of(relief, right.0, right.1)? })
    }

    fn both(&self) -> [&Model; 2] {
        [&self.left, &self.right]
    }

    /// Correlation of the two sides' lines at `aside` columns from the middle, as means over three parts of the length:
    /// at each part's best lag; the smallest of equally good lags, in cells; and how much less it is as they stand.
    fn agreement(&self, aside: f64) -> (f32, f32, f32) {
        let height = self.left.profile.len();
        let a: Vec<Option<[f32; 3]>> = (0..height).map(|j| self.left.at(aside, j)).collect();
        let b: Vec<Option<[f32; 3]>> = (0..height).map(|j| self.right.at(aside, j)).collect();
        let (mut agreement, mut size, mut jump) = (0.0, 0.0, 0.0);
        for part in 0..PARTS {
            let rows = part * height / PARTS..(part + 1) * height / PARTS;
            let at = |lag: isize| {
                let mut likeness = Likeness::default();
                for j in rows.clone() {
                    let k = j as isize + lag;
                    if k >= 0
                        && (k as usize) < height
                        && let (Some(a), Some(b)) = (a[j], b[k as usize])
                    {
                        likeness.add(a, b);
                    }
                }
                likeness.value()
            };
            let reach = (height as isize / 3).min((LONGEST_LAG_MM / STEP_MM) as isize);
            let all: Vec<(isize, f32)> = (-reach..=reach).map(|lag| (lag, at(lag))).collect();
            let best = all.iter().map(|a| a.1).fold(-1.0, f32::max);
            let lag = (all.iter().filter(|a| a.1 >= best - EQUALLY_GOOD)).map(|a| a.0.unsigned_abs()).min();
            agreement += best / PARTS as f32;
            size += lag.unwrap_or(0) as f32 / PARTS as f32;
            jump += (best - at(0)).clamp(0.0, 1.0) / PARTS as f32;
        }
        (agreement, size, jump)
    }
}

/// Likeness of one column's relief to a side's lines within a block, the column's taken `lag` rows further down.
fn likeness_in(relief: &Relief, model: &Model, column: usize, block: usize, lag: isize) -> f32 {
    let mut likeness = Likeness::default();
    let aside = column as f64 - (relief.width / 2) as f64;
    for j in rows(relief.height, block) {
        let Some(row) = j.checked_add_signed(lag).filter(|&row| row < relief.height) else { continue };
        let at = row * relief.width + column;
        if relief.weight[at] > 0.0
            && let Some(m) = model.at(aside, j)
        {
            likeness.add(relief.value[at], m);
        }
    }
    likeness.value()
}

/// Whether the lines are missing between the folds, and not only displaced there.
fn missing(relief: &Relief, sides: &Sides, folds: [f64; 2], usual: f32) -> bool {
    let column = |aside_mm: f64| (aside_mm / STEP_MM).round() as isize + (relief.width / 2) as isize;
    let inside: Vec<usize> =
        (column(folds[0] + FOLD_MM)..=column(folds[1] - FOLD_MM)).step_by(2).map(|x| x as usize).collect();
    let lags = (BENT_MM / STEP_MM) as isize;
    let mut total = 0.0;
    for &x in &inside {
        for b in 0..BLOCKS {
            let best = sides
                .both()
                .map(|side| (-lags..=lags).map(|lag| likeness_in(relief, side, x, b, lag)).fold(0.0, f32::max));
            total += best[0].max(best[1]);
        }
    }
    total < MISSING_SHARE * usual * (inside.len() * BLOCKS) as f32
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

/// Where columns cease to be like the left side, and where they begin to be like the right, in fractional columns.
fn folds(count: usize, whole: impl Fn(usize, usize) -> f32, usual: [f32; 2]) -> [f64; 2] {
    let crossing = |side: usize, order: &dyn Fn(usize) -> usize| {
        let level = FOLD_SHARE * usual[side];
        let Some(k) = (1..count).find(|&k| whole(order(k), side) < level) else { return order(count - 1) as f64 };
        let (before, after) = (whole(order(k - 1), side), whole(order(k), side));
        let part = f64::from(((before - level) / (before - after).max(1e-6)).clamp(0.0, 1.0));
        order(k - 1) as f64 + part * (order(k) as f64 - order(k - 1) as f64)
    };
    [crossing(0, &|k| k), crossing(1, &|k| count - 1 - k)]
}

/// Distance along v at each block of a straight line with a bow.
fn line(c: f64, l: f64, q: f64) -> [f64; BLOCKS] {
    std::array::from_fn(|b| {
        let t = (2.0 * b as f64 + 1.0) / BLOCKS as f64 - 1.0;
        c + l * t + q * (t * t - 1.0 / 3.0)
    })
}

/// A value per column and block at a distance from the path, millimetres.
fn read(values: &[[f32; BLOCKS]], block: usize, aside_mm: f64) -> f32 {
    let place = (aside_mm / STEP_MM + (values.len() / 2) as f64).clamp(0.0, (values.len() - 1) as f64);
    let k = (place as usize).min(values.len() - 2);
    let f = (place - k as f64) as f32;
    values[k][block] + f * (values[k + 1][block] - values[k][block])
}

/// Where likeness changes sides and the crease is darkest, as a straight line with a bow through all blocks; and the
/// crease's darkness there.
fn boundary(likeness: &[[[f32; 2]; BLOCKS]], darkness: &[[f32; BLOCKS]], jump: f32) -> ([f64; BLOCKS], [f32; BLOCKS]) {
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
                let total =
                    (0..BLOCKS).map(|b| read(&score, b, aside[b])).sum::<f32>() - 0.02 * (q.abs() + l.abs()) as f32;
                if total > best.0 {
                    best = (total, aside);
                }
            }
        }
    }
    (best.1, std::array::from_fn(|b| read(darkness, b, best.1[b])))
}

/// The darkest of the lines parallel to the path that stand more than two millimetres from it.
fn next(darkness: &[[f32; BLOCKS]], aside_mm: &[f64; BLOCKS], otherwise: f32) -> f32 {
    let steps = (REACH_MM / STEP_MM) as i32;
    (-steps..=steps)
        .map(|k| f64::from(k) * STEP_MM)
        .filter(|d| d.abs() > 2.0 && aside_mm.iter().all(|a| (a + d).abs() <= REACH_MM))
        .map(|d| (0..BLOCKS).map(|b| read(darkness, b, aside_mm[b] + d)).sum::<f32>() / BLOCKS as f32)
        .reduce(f32::max)
        .unwrap_or(otherwise)
}

/// The crease's darkness that a fifth of the path's stretches fall below, and the share of the path that is seen.
fn kept(dark: &[f32], raster: &Raster, aside_mm: &[f64; BLOCKS]) -> (f32, f32) {
    let stretch = (KEPT_MM / STEP_MM) as usize;
    let mut means: Vec<f32> = Vec::new();
    let mut rows_seen = 0;
    let mut from = 0;
    while from + stretch <= raster.height {
        let (mut sum, mut count) = (0.0, 0);
        for j in from..from + stretch {
            let block = (j * BLOCKS / raster.height).min(BLOCKS - 1);
            let column = raster.width / 2 + (aside_mm[block] / STEP_MM).round() as isize as usize;
            let near = (column.wrapping_sub(1)..=column.wrapping_add(1)).filter(|&x| x < raster.width);
            let darkest = near.map(|x| dark[j * raster.width + x]).fold(f32::NAN, f32::max);
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
    let middle = (raster.width / 2) as isize + aside.round() as isize;
    let mean = |a: isize, b: isize| {
        let (mut sum, mut count) = ([0.0f64; 3], 0.0f64);
        for j in 0..raster.height {
            for i in a.max(0)..b.min(raster.width as isize) {
                let at = j * raster.width + i as usize;
                if raster.weight[at] > 0.0 {
                    for c in 0..3 {
                        sum[c] += f64::from(raster.value[at][c]);
                    }
                    count += 1.0;
                }
            }
        }
        sum.map(|s| s / count.max(1.0))
    };
    let (from, far) = (from as isize, (from + width) as isize);
    let (left, right) = (mean(middle - far, middle - from), mean(middle + from + 1, middle + far + 1));
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
