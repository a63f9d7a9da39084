//! The lines of both sides of a path, and how like each other, and how like any column, they are.

use super::relief::{self, Relief};
use super::{FINE_MM, rows};
use std::ops::Range;

/// The lags at which both sides' lines are compared, millimetres; of equally good ones the smallest counts.
const PARTS: usize = 3;
const LONGEST_LAG_MM: f64 = 25.0;
const EQUALLY_GOOD: f32 = 0.03;

/// Lines of one side: their mean profile at the path, and the slope along which it is carried.
pub struct Model {
    profile: Vec<Option<[f32; 3]>>,
    /// Their slope, du/dv.
    pub slope: f64,
}

impl Model {
    /// The mean of a window's columns along the slope that gives it the most energy, carried to the middle column.
    fn of(relief: &Relief, window: Range<usize>) -> Option<Self> {
        let (width, height) = (relief.width, relief.height);
        let middle = width as f64 / 2.0;
        let centre = 0.5 * (window.start + window.end) as f64;
        let mean = |slope: f64, to_column: f64, stride: usize| -> Vec<Option<[f32; 3]>> {
            let mut sum = vec![[0.0f32; 4]; height];
            for i in window.clone().step_by(stride) {
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
            let needed = (window.len() / stride) as f32 / 2.0;
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

/// The lines of both sides.
pub struct Sides {
    /// Left of the path.
    pub left: Model,
    /// Right of it.
    pub right: Model,
}

impl Sides {
    /// From the windows of [`windows`]; `None` where one is narrow or shows no lines.
    pub fn of(relief: &Relief, aside: f64, from: usize, width: usize) -> Option<Self> {
        let windows = windows(relief.width, aside, from, width);
        windows.iter().all(|window| window.len() > 4).then_some(())?;
        let [left, right] = windows.map(|window| Model::of(relief, window));
        Some(Self { left: left?, right: right? })
    }

    /// Left and right.
    pub fn both(&self) -> [&Model; 2] {
        [&self.left, &self.right]
    }

    /// Correlation of the two sides' lines at `aside` columns from the middle, as means over three parts of the length:
    /// at each part's best lag; the smallest of equally good lags, in cells; and how much less it is as they stand.
    pub fn agreement(&self, aside: f64) -> (f32, f32, f32) {
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
            let reach = (height as isize / 3).min((LONGEST_LAG_MM / FINE_MM) as isize);
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

/// The columns of the windows on both sides: `width` columns that begin `from` columns beside the middle, moved `aside`
/// columns, as far as there are `columns`.
pub fn windows(columns: usize, aside: f64, from: usize, width: usize) -> [Range<usize>; 2] {
    let middle = (columns / 2) as isize + aside.round() as isize;
    let clip = |x: isize| x.clamp(0, columns as isize) as usize;
    let (from, far) = (from as isize, (from + width) as isize);
    [clip(middle - far)..clip(middle - from), clip(middle + from + 1)..clip(middle + far + 1)]
}

/// Likeness of one column's relief to a side's lines within a block, the column's taken `lag` rows further down.
pub fn likeness_in(relief: &Relief, model: &Model, column: usize, block: usize, lag: isize) -> f32 {
    gathered(relief, model, column, rows(relief.height, block), lag).value()
}

/// How strongly a column shows a side's lines over its whole length: 1 as strongly as the side itself, 0 not at all.
pub fn strength_in(relief: &Relief, model: &Model, column: usize) -> f32 {
    let likeness = gathered(relief, model, column, 0..relief.height, 0);
    if likeness.other > 0.0 { likeness.cross / likeness.other } else { 0.0 }
}

/// One column's relief beside a side's lines, the column's taken `lag` rows further down.
fn gathered(relief: &Relief, model: &Model, column: usize, rows: Range<usize>, lag: isize) -> Likeness {
    let mut likeness = Likeness::default();
    let aside = column as f64 - (relief.width / 2) as f64;
    for j in rows {
        let Some(row) = j.checked_add_signed(lag).filter(|&row| row < relief.height) else { continue };
        let at = row * relief.width + column;
        if relief.weight[at] > 0.0
            && let Some(m) = model.at(aside, j)
        {
            likeness.add(relief.value[at], m);
        }
    }
    likeness
}
