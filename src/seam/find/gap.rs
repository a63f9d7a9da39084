//! The gap between two folds: where the lines of neither side are, as on a zip's tape.

use super::relief::Relief;
use super::sides::{Beside, Sides};
use super::{BLOCKS, FINE_MM};

/// The fold stands where likeness to its side falls to this share of what is usual there.
const FOLD_SHARE: f32 = 0.6;
/// A fold is not sharp, millimetres.
const FOLD_MM: f64 = 1.0;
/// What belongs to no side is a gap when it is at least this wide, millimetres.
const LEAST_GAP_MM: f64 = 3.5;
/// Lines are missing where nothing within that is like them by this share of what is usual: on rendered zips it was 0.41
/// to 0.61 (two teeth rows like the lines 0.9 and 1.0), beside seams without one 0.89 and more.
const MISSING_SHARE: f32 = 0.75;
/// The lines beside a fold may be bent by this much, millimetres, and are still lines.
const BENT_MM: f64 = 4.0;

/// The two folds' distances from the path, millimetres, where there is a gap between them; looked for within `reach`
/// columns of it. `usual` is how like its side a column usually is.
pub fn folds(relief: &Relief, sides: &Sides, reach: usize, usual: f32) -> Option<[f64; 2]> {
    let middle = relief.width / 2;
    // From the outermost column of each side inwards.
    let folds = [(&sides.left, 1), (&sides.right, -1)].map(|(side, inwards)| {
        let strength: Vec<f32> = (0..=2 * reach)
            .map(|k| middle.saturating_add_signed(inwards * (k as isize - reach as isize)))
            .map(|column| Beside::of(relief, side, column).strength().clamp(0.0, 1.0))
            .collect();
        inwards as f64 * (last(&strength) - reach as f64) * FINE_MM
    });
    (folds[1] - folds[0] >= LEAST_GAP_MM && missing(relief, sides, folds, usual)).then_some(folds)
}

/// The place, in fractional columns, up to which the side's lines are shown: the best cut between strong and weak
/// columns. A column on one of the cloth's lines along the seam shows them weakly and does not end them.
fn last(strength: &[f32]) -> f64 {
    let quarter = (strength.len() / 4).max(1);
    let level = FOLD_SHARE * strength[..quarter].iter().sum::<f32>() / quarter as f32;
    let (mut sum, mut best) = (0.0f32, (f32::MIN, 0));
    for (k, s) in strength.iter().enumerate() {
        sum += s - level;
        if sum > best.0 {
            best = (sum, k);
        }
    }
    let k = best.1;
    let Some(&after) = strength.get(k + 1) else { return k as f64 };
    k as f64 + f64::from(((strength[k] - level) / (strength[k] - after).max(1e-6)).clamp(0.0, 1.0))
}

/// Whether the lines are missing between the folds, and not only displaced there.
fn missing(relief: &Relief, sides: &Sides, folds: [f64; 2], usual: f32) -> bool {
    let column = |aside_mm: f64| (aside_mm / FINE_MM).round() as isize + (relief.width / 2) as isize;
    let inside: Vec<usize> =
        (column(folds[0] + FOLD_MM)..=column(folds[1] - FOLD_MM)).step_by(2).map(|x| x as usize).collect();
    let lags = (BENT_MM / FINE_MM) as isize;
    let mut total = 0.0;
    for &x in &inside {
        let beside = sides.both().map(|side| Beside::of(relief, side, x));
        for b in 0..BLOCKS {
            let best = beside.each_ref().map(|one| (-lags..=lags).map(|lag| one.likeness(b, lag)).fold(0.0, f32::max));
            total += best[0].max(best[1]);
        }
    }
    total < MISSING_SHARE * usual * (inside.len() * BLOCKS) as f32
}
