//! The gap between two folds: where the lines of neither side are, as on a zip's tape.

use super::relief::Relief;
use super::sides::{Sides, likeness_in};
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

/// The two folds' distances from the path, millimetres, where there is a gap between them.
///
/// `whole` tells how like a side (0 left, 1 right) a column is over the whole length; there are `2 · reach + 1` columns
/// with the path in the middle. `usual` is what is usual on the sides.
pub fn folds(
    relief: &Relief,
    sides: &Sides,
    reach: usize,
    whole: impl Fn(usize, usize) -> f32,
    usual: [f32; 2],
) -> Option<[f64; 2]> {
    let folds = crossings(2 * reach + 1, whole, usual).map(|fold| (fold - reach as f64) * FINE_MM);
    (folds[1] - folds[0] >= LEAST_GAP_MM && missing(relief, sides, folds, usual[0].min(usual[1]))).then_some(folds)
}

/// Where columns cease to be like the left side, and where they begin to be like the right, in fractional columns.
fn crossings(count: usize, whole: impl Fn(usize, usize) -> f32, usual: [f32; 2]) -> [f64; 2] {
    let crossing = |side: usize, order: &dyn Fn(usize) -> usize| {
        let level = FOLD_SHARE * usual[side];
        let Some(k) = (1..count).find(|&k| whole(order(k), side) < level) else { return order(count - 1) as f64 };
        let (before, after) = (whole(order(k - 1), side), whole(order(k), side));
        let part = f64::from(((before - level) / (before - after).max(1e-6)).clamp(0.0, 1.0));
        order(k - 1) as f64 + part * (order(k) as f64 - order(k - 1) as f64)
    };
    [crossing(0, &|k| k), crossing(1, &|k| count - 1 - k)]
}

/// Whether the lines are missing between the folds, and not only displaced there.
fn missing(relief: &Relief, sides: &Sides, folds: [f64; 2], usual: f32) -> bool {
    let column = |aside_mm: f64| (aside_mm / FINE_MM).round() as isize + (relief.width / 2) as isize;
    let inside: Vec<usize> =
        (column(folds[0] + FOLD_MM)..=column(folds[1] - FOLD_MM)).step_by(2).map(|x| x as usize).collect();
    let lags = (BENT_MM / FINE_MM) as isize;
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
