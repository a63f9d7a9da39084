//! The lines of both sides of a path, and how like each other, and how like any column, they are.

use super::profile::{self, Likeness, Profile, Profiles, SUMMED};
use super::relief::{self, Relief};
use super::rows;
use std::ops::Range;

/// The lags at which both sides' lines are compared, millimetres; of equally good ones the smallest counts.
const PARTS: usize = 3;
const LONGEST_LAG_MM: f64 = 25.0;
const EQUALLY_GOOD: f32 = 0.03;

/// Lines of one side: their mean profile at the path, and the slope along which it is carried.
pub struct Model {
    profile: Profiles,
    /// Their slope, du/dv.
    pub slope: f64,
}

impl Model {
    /// The mean of a window's columns along the slope that gives it the most energy, carried to the middle column.
    fn of(relief: &Relief, window: Range<usize>) -> Option<Self> {
        let middle = relief.width as f64 / 2.0;
        let centre = 0.5 * (window.start + window.end) as f64;
        let mut sums = vec![0.0; SUMMED * relief.height];
        let sum = |slope: f64, to_column: f64, stride: usize, sums: &mut [f32]| {
            sums.fill(0.0);
            for i in window.clone().step_by(stride) {
                relief.column(i).add_moved(slope * (i as f64 - to_column), sums);
            }
        };
        let needed = |stride: usize| (window.len() / stride) as f32 / 2.0;
        let energy = |slope: f64| {
            sum(slope, centre, 2, &mut sums);
            profile::energy(&sums, needed(2), relief.height as f32 / 4.0)
        };
        let energies: Vec<_> = relief::slopes().map(energy).collect();
        let (slope, _) = (relief::slopes().zip(energies).filter_map(|(slope, energy)| Some((slope, energy?))))
            .max_by(|a, b| a.1.total_cmp(&b.1))?;
        sum(slope, middle, 1, &mut sums);
        Some(Self { profile: Profiles::mean(&sums, needed(1)), slope })
    }

    /// The lines at `aside` columns from the middle one, row by row.
    fn at(&self, aside: f64) -> Profiles {
        self.profile.get(0).moved(-self.slope * aside)
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
    pub fn agreement(&self, aside: f64, step_mm: f64) -> (f32, f32, f32) {
        let height = self.left.profile.rows();
        let sides = self.both().map(|side| side.at(aside));
        let [a, b] = sides.each_ref().map(|side| side.get(0));
        let (mut agreement, mut size, mut jump) = (0.0, 0.0, 0.0);
        for part in 0..PARTS {
            let rows = part * height / PARTS..(part + 1) * height / PARTS;
            let at = |lag: isize| {
                let [still, moved] = both_there(height, &rows, lag);
                Likeness::of(a, b, [still.start, moved.start], still.len()).value()
            };
            let reach = (height as isize / 3).min((LONGEST_LAG_MM / step_mm) as isize);
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

/// The rows of `rows` that are among `height` rows when moved down by `lag` too; and where they are then.
fn both_there(height: usize, rows: &Range<usize>, lag: isize) -> [Range<usize>; 2] {
    let height = height as isize;
    let from = (rows.start as isize).max(-lag);
    let to = (rows.end as isize).min(height - lag);
    if from >= to {
        return [0..0, 0..0];
    }
    [from as usize..to as usize, (from + lag) as usize..(to + lag) as usize]
}

/// One column's relief beside a side's lines carried to it.
pub struct Beside<'a> {
    column: Profile<'a>,
    lines: Profiles,
}

impl<'a> Beside<'a> {
    /// The column's relief, and the lines that the side would show there.
    pub fn of(relief: &'a Relief, model: &Model, column: usize) -> Self {
        let aside = column as f64 - (relief.width / 2) as f64;
        Self { column: relief.column(column), lines: model.at(aside) }
    }

    /// Their likeness within a block, the column's relief taken `lag` rows further down.
    pub fn likeness(&self, block: usize, lag: isize) -> f32 {
        let height = self.column.rows();
        let [still, moved] = both_there(height, &rows(height, block), lag);
        Likeness::of(self.column, self.lines.get(0), [moved.start, still.start], still.len()).value()
    }

    /// How strongly the column shows the lines over its whole length: 1 as strongly as the side itself, 0 not at all.
    pub fn strength(&self) -> f32 {
        let likeness = Likeness::of(self.column, self.lines.get(0), [0, 0], self.column.rows());
        if likeness.other > 0.0 { likeness.cross / likeness.other } else { 0.0 }
    }
}
