//! The gap between two folds: where the lines of neither side are, as on a zip's tape.

use super::BLOCKS;
use super::sides::Beside;

/// The fold stands where likeness to its side falls to this share of what is usual there.
const FOLD_SHARE: f32 = 0.6;
/// A fold is not sharp, millimetres.
const FOLD_MM: f64 = 1.0;
/// What belongs to no side is a gap when it is at least this wide, millimetres.
pub const LEAST_GAP_MM: f64 = 3.5;
/// Lines are missing where nothing within that is like them by this share of what is usual: on rendered zips it was 0.41
/// to 0.61 (two teeth rows like the lines 0.9 and 1.0), beside seams without one 0.89 and more.
const MISSING_SHARE: f32 = 0.75;
/// The lines beside a fold may be bent by this much, millimetres, and are still lines.
const BENT_MM: f64 = 4.0;

/// The two folds' distances from the path, millimetres, where there is a gap between them. It is looked for among columns beside
/// the lines of both sides, `step_mm` apart, the path the middle one of them. `usual` is how like its side a column usually is.
pub fn folds(columns: &[[Beside; 2]], step_mm: f64, usual: f32) -> Option<[f64; 2]> {
    let reach = (columns.len() / 2) as f64;
    let strength = |beside: &Beside| beside.strength().clamp(0.0, 1.0);
    // From the outermost column of each side inwards.
    let left: Vec<f32> = columns.iter().map(|beside| strength(&beside[0])).collect();
    let right: Vec<f32> = columns.iter().rev().map(|beside| strength(&beside[1])).collect();
    let folds = [(last(&left) - reach) * step_mm, (reach - last(&right)) * step_mm];
    (folds[1] - folds[0] >= LEAST_GAP_MM && missing(columns, step_mm, folds, usual)).then_some(folds)
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
fn missing(columns: &[[Beside; 2]], step_mm: f64, folds: [f64; 2], usual: f32) -> bool {
    let column = |aside_mm: f64| ((aside_mm / step_mm).round() + (columns.len() / 2) as f64) as usize;
    let inside = &columns[column(folds[0] + FOLD_MM)..=column(folds[1] - FOLD_MM)];
    let lags = (BENT_MM / step_mm) as isize;
    let (mut total, mut count) = (0.0, 0);
    for beside in inside.iter().step_by(2) {
        for b in 0..BLOCKS {
            let best = beside.each_ref().map(|one| (-lags..=lags).map(|lag| one.likeness(b, lag)).fold(0.0, f32::max));
            total += best[0].max(best[1]);
        }
        count += BLOCKS;
    }
    total < MISSING_SHARE * usual * count as f32
}
