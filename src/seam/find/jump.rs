//! Where the lines jump: at every cell of the raster, how far the lines on its left, carried to it along their own
//! slope, differ from those on its right.

use super::relief::{self, Relief, Sums};
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

/// Differences and energies of both sides' lines for one half-gap, cell by cell.
pub struct Jump {
    /// The half-gap, millimetres.
    pub half_gap_mm: f64,
    /// |left − right|², summed over the channels.
    pub apart: Vec<f32>,
    /// Mean of |left|² and |right|²; 0 where either is not seen.
    pub energy: Vec<f32>,
    /// How much of both sides' lines is missing between the windows: |left|² − centre · left and the same for the
    /// right, halved; as large as the energy on a zip's tape, 0 on cloth. Empty for a half-gap too narrow to tell.
    pub missing: Vec<f32>,
    /// What is added to the energy of a cell.
    pub floor: f32,
}

/// One window's lines in one block: the slope that gives their mean the most energy, and that energy.
#[derive(Clone, Copy)]
struct Window {
    best: usize,
    energy: f32,
}

/// The differences for every half-gap; none where the raster is too narrow or shows no lines.
pub fn of(relief: &Relief, step_mm: f64) -> Vec<Jump> {
    let reach = (WINDOW_MM / step_mm).round() as usize;
    let windows = windows(relief, reach);
    let mut energies: Vec<f32> = windows.iter().flatten().flatten().map(|w| w.energy).collect();
    if energies.is_empty() {
        return Vec::new();
    }
    let middle = energies.len() / 2;
    let typical = *energies.select_nth_unstable_by(middle, f32::total_cmp).1;
    let shows = |w: &Window| w.energy >= LEAST_SHARE * typical;
    // Of the slopes, lines have few.
    let sums: Vec<Option<Sums>> = relief::slopes()
        .enumerate()
        .map(|(k, slope)| {
            let taken = windows.iter().flatten().flatten().any(|w| w.best == k && shows(w));
            taken.then(|| relief.sums(slope))
        })
        .collect();
    let shown = |w: Option<Window>| w.filter(shows).and_then(|w| sums[w.best].as_ref());
    let one = |half_gap_mm: f64| {
        let gap = (half_gap_mm / step_mm).round() as usize;
        let centre = ((half_gap_mm - FOLD_MM) / step_mm).round().max(0.0) as usize;
        let cells = relief.cell.len();
        let mut jump = Jump {
            half_gap_mm,
            apart: vec![0.0; cells],
            energy: vec![0.0; cells],
            missing: vec![0.0; if centre > 0 { cells } else { 0 }],
            floor: FLOOR_SHARE * typical,
        };
        for x in (reach + gap)..relief.width.saturating_sub(reach + gap + 1) {
            let (left, right) = (x - gap - reach, x + gap + 1);
            for b in 0..BLOCKS {
                let (Some(ls), Some(rs)) = (shown(windows[left][b]), windows.get(right).and_then(|w| shown(w[b])))
                else {
                    continue;
                };
                for j in rows(relief.height, b) {
                    let (Some(l), Some(r)) = (ls.mean(left, left + reach, x, j), rs.mean(right, right + reach, x, j))
                    else {
                        continue;
                    };
                    let at = j * relief.width + x;
                    for c in 0..3 {
                        jump.apart[at] += (l[c] - r[c]).powi(2);
                        jump.energy[at] += 0.5 * (l[c] * l[c] + r[c] * r[c]);
                    }
                    if centre == 0 {
                        continue;
                    }
                    let between = |sums: &Sums| sums.mean(x - centre, x + centre + 1, x, j);
                    let (Some(as_left), Some(as_right)) = (between(ls), between(rs)) else { continue };
                    for c in 0..3 {
                        jump.missing[at] += 0.5 * ((l[c] - as_left[c]) * l[c] + (r[c] - as_right[c]) * r[c]);
                    }
                }
            }
        }
        jump
    };
    HALF_GAPS_MM.map(one).into()
}

/// The window of `reach` columns from each column on, block by block; slope by slope, for the sums take much room.
fn windows(relief: &Relief, reach: usize) -> Vec<[Option<Window>; BLOCKS]> {
    let mut windows = vec![[None; BLOCKS]; relief.width.saturating_sub(reach)];
    let mut sums = relief.sums(0.0);
    for (best, slope) in relief::slopes().enumerate() {
        sums.along(relief, slope);
        for (from, blocks) in windows.iter_mut().enumerate() {
            for (b, slot) in blocks.iter_mut().enumerate() {
                let Some(energy) = energy(&sums, relief.height, from, from + reach, b) else { continue };
                if slot.is_none_or(|before: Window| energy > before.energy) {
                    *slot = Some(Window { best, energy });
                }
            }
        }
    }
    windows
}

/// The energy of the mean of some columns in one block; `None` where too little is seen.
fn energy(sums: &Sums, height: usize, from: usize, to: usize, block: usize) -> Option<f32> {
    let at = (from + to) / 2;
    let rows = rows(height, block);
    let needed = (rows.len() / 4).max(1);
    let (mut energy, mut count) = (0.0f32, 0);
    for j in rows.step_by(2) {
        if let Some(v) = sums.mean(from, to, at, j) {
            energy += v.iter().map(|x| x * x).sum::<f32>();
            count += 1;
        }
    }
    (count >= needed).then(|| energy / count as f32)
}
