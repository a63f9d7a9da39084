//! Where the lines jump: at every cell of the raster, how far the lines on its left, carried to it along their own
//! slope, differ from those on its right.

use super::relief::{self, Means, Relief, Sums};
use super::{BLOCKS, rows};

/// Width of the windows on both sides, millimetres.
pub const WINDOW_MM: f64 = 11.0;
/// Half-gaps that the windows keep from the column: a sewn seam's ridge, and a zip's tape.
pub const HALF_GAPS_MM: [f64; 4] = [1.0, 3.0, 4.5, 6.0];
/// A window needs this share of the typical relief to count as showing lines.
const LEAST_SHARE: f32 = 0.25;
/// What is added to the lines' energy, as a share of the typical: blocks without lines tell nothing.
const FLOOR_SHARE: f32 = 0.3;
/// What is looked at between the windows keeps this far from them, millimetres: a fold is not sharp.
const FOLD_MM: f64 = 1.5;

/// Differences and energies of both sides' lines for one half-gap, cell by cell, row by row; 0 where either side is not seen.
pub struct Jump {
    /// The half-gap, millimetres.
    pub half_gap_mm: f64,
    /// |left − right|², summed over the channels.
    pub apart: Vec<f32>,
    /// Mean of |left|² and |right|², and a floor.
    pub energy: Vec<f32>,
    /// How much of both sides' lines is missing between the windows: |left|² − centre · left and the same for the
    /// right, halved; as large as the energy on a zip's tape, 0 on cloth. Empty for a half-gap too narrow to tell.
    pub missing: Vec<f32>,
    /// 1 where both sides are seen.
    pub seen: Vec<f32>,
}

/// One window's lines in one block: the slope that gives their mean the most energy, and that energy.
#[derive(Clone, Copy)]
struct Window {
    best: usize,
    energy: f32,
}

/// Both sides' lines at every column for one half-gap, column by column.
struct Pair {
    half_gap_mm: f64,
    /// Not a number where neither side's lines are seen, their colour where one side's are, and where both are: how far they
    /// are apart, their energy, and infinity.
    planes: [Vec<f32>; 3],
    /// Of each side |lines|² − centre · lines, halved and summed; NaN where the centre is not seen. Empty for a half-gap too
    /// narrow to tell.
    missing: Vec<f32>,
}

/// The differences for every half-gap, one after the other, for they take room; none where the raster is too narrow or shows
/// no lines.
pub fn of(relief: &Relief, step_mm: f64) -> impl Iterator<Item = Jump> {
    let reach = (WINDOW_MM / step_mm).round() as usize;
    let mut sums = relief.sums(0.0);
    let windows = windows(relief, reach, &mut sums);
    let mut energies: Vec<f32> = windows.iter().flatten().flatten().map(|w| w.energy).collect();
    let middle = energies.len() / 2;
    let typical =
        if energies.is_empty() { None } else { Some(*energies.select_nth_unstable_by(middle, f32::total_cmp).1) };
    let size = [relief.width, relief.height];
    let all = typical.into_iter().flat_map(|typical| HALF_GAPS_MM.map(|half_gap_mm| (typical, half_gap_mm)));
    all.map(move |(typical, half_gap_mm)| {
        let pair = Pair::of(relief, step_mm, half_gap_mm, &windows, LEAST_SHARE * typical, &mut sums);
        pair.jump(size, FLOOR_SHARE * typical)
    })
}

impl Pair {
    /// Both sides' lines, slope by slope, for the sums take much room; windows of less than the least energy show no lines.
    fn of(
        relief: &Relief,
        step_mm: f64,
        half_gap_mm: f64,
        windows: &[[Option<Window>; BLOCKS]],
        least: f32,
        sums: &mut Sums,
    ) -> Self {
        let cells = |mm: f64| (mm / step_mm).round().max(0.0) as usize;
        let (reach, gap, centre) = (cells(WINDOW_MM), cells(half_gap_mm), cells(half_gap_mm - FOLD_MM));
        let (width, height) = (relief.width, relief.height);
        let unseen = || vec![f32::NAN; width * height];
        let mut pair = Self {
            half_gap_mm,
            planes: [unseen(), unseen(), unseen()],
            missing: if centre > 0 { vec![0.0; width * height] } else { Vec::new() },
        };
        let [mut lines, mut between] = [Means::default(), Means::default()];
        for (best, slope) in relief::slopes().enumerate() {
            let shown = |w: &Option<Window>| w.is_some_and(|w| w.best == best && w.energy >= least);
            // Of the slopes, lines have few.
            if !windows.iter().flatten().any(shown) {
                continue;
            }
            sums.along(relief, slope);
            for (from, b) in (0..windows.len()).flat_map(|from| (0..BLOCKS).map(move |b| (from, b))) {
                if !shown(&windows[from][b]) {
                    continue;
                }
                let rows = rows(height, b);
                for x in [Some(from + reach + gap), from.checked_sub(gap + 1)].into_iter().flatten() {
                    if x < reach + gap || x + reach + gap + 1 >= width {
                        continue;
                    }
                    sums.means(from..from + reach, x, rows.clone(), &mut lines);
                    if centre > 0 {
                        sums.means(x - centre..x + centre + 1, x, rows.clone(), &mut between);
                    }
                    pair.show(x * height + rows.start, &lines, (centre > 0).then_some(&between));
                }
            }
        }
        pair
    }

    /// What one side shows in some rows from a cell on.
    fn show(&mut self, first: usize, lines: &Means, between: Option<&Means>) {
        let [red, green, blue] = &mut self.planes;
        for j in (0..lines.share.len()).filter(|&j| lines.share[j] > 0.0) {
            let (at, colour) = (first + j, [0, 1, 2].map(|c| lines.colour[c][j]));
            let here = [&mut red[at], &mut green[at], &mut blue[at]];
            if here[0].is_nan() {
                here.into_iter().zip(colour).for_each(|(here, colour)| *here = colour);
            } else {
                let (mut apart, mut energy) = (0.0, 0.0);
                for (other, colour) in here.iter().zip(colour) {
                    apart += (colour - **other) * (colour - **other);
                    energy += 0.5 * (colour * colour + **other * **other);
                }
                here.into_iter().zip([apart, energy, f32::INFINITY]).for_each(|(here, told)| *here = told);
            }
            if let Some(between) = between {
                let missing = |c: usize| (colour[c] - between.colour[c][j]) * colour[c];
                let seen = between.share[j] > 0.0;
                self.missing[at] += if seen { 0.5 * (missing(0) + missing(1) + missing(2)) } else { f32::NAN };
            }
        }
    }

    /// The two sides compared, row by row.
    fn jump(self, [width, height]: [usize; 2], floor: f32) -> Jump {
        let [apart, energy, both] = &self.planes;
        let nothing = || vec![0.0; width * height];
        let mut jump = Jump {
            half_gap_mm: self.half_gap_mm,
            apart: nothing(),
            energy: nothing(),
            missing: vec![0.0; self.missing.len()],
            seen: nothing(),
        };
        for x in 0..width {
            for j in 0..height {
                let (at, from) = (j * width + x, x * height + j);
                if both[from] == f32::INFINITY && energy[from] > 0.0 {
                    (jump.apart[at], jump.energy[at], jump.seen[at]) = (apart[from], energy[from] + floor, 1.0);
                    if let Some(missing) = jump.missing.get_mut(at).filter(|_| self.missing[from].is_finite()) {
                        *missing = self.missing[from];
                    }
                }
            }
        }
        jump
    }
}

/// The window of `reach` columns from each column on, block by block; slope by slope, for the sums take much room.
fn windows(relief: &Relief, reach: usize, sums: &mut Sums) -> Vec<[Option<Window>; BLOCKS]> {
    let mut windows = vec![[None; BLOCKS]; relief.width.saturating_sub(reach)];
    let mut means = Means::default();
    for (best, slope) in relief::slopes().enumerate() {
        sums.along(relief, slope);
        for (from, blocks) in windows.iter_mut().enumerate() {
            let columns = from..from + reach;
            sums.means(columns, from + reach / 2, 0..relief.height, &mut means);
            for (b, slot) in blocks.iter_mut().enumerate() {
                let Some(energy) = energy(&means, rows(relief.height, b)) else { continue };
                if slot.is_none_or(|before: Window| energy > before.energy) {
                    *slot = Some(Window { best, energy });
                }
            }
        }
    }
    windows
}

/// The energy of the means at every other one of some rows; `None` where too little is seen.
fn energy(means: &Means, rows: std::ops::Range<usize>) -> Option<f32> {
    let needed = (rows.len() / 4).max(1);
    let [red, green, blue] = means.colour.each_ref().map(|channel| &channel[rows.clone()]);
    let (mut energy, mut count) = (0.0f32, 0);
    for (j, share) in means.share[rows.clone()].iter().enumerate().step_by(2) {
        energy += red[j] * red[j] + green[j] * green[j] + blue[j] * blue[j];
        count += usize::from(*share > 0.0);
    }
    (count >= needed).then(|| energy / count as f32)
}
