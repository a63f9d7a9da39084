//! The first value of the offset: the lag at which the two sides' stacked lines agree best, in all colours.
//!
//! The real correlation is maximised, not its size: the negative peak of a pure sinusoid is as high as its positive
//! one, and half a repeat wrong.

use crate::conventions::wrap;
use crate::lines::{Lines, relief};

/// Without a repeat, lags up to this share of the seam are tried.
const LAG_SHARE: f64 = 0.35;
/// Lags whose agreement reaches this share of the best are equal; the smallest is taken.
const EQUAL_SHARE: f64 = 0.9;

/// A first value of the offset.
#[derive(Clone, Copy, Debug)]
pub struct FirstValue {
    /// The offset, millimetres.
    pub offset_mm: f64,
    /// How well the sides agree there: correlation over all channels, −1 to 1.
    pub agreement: f64,
}

/// Each side's lines, stacked along their slope and carried to the seam, with weight 1 where enough of the ribs are seen.
pub fn stacks(lines: &Lines) -> [Stack; 2] {
    lines.sides.each_ref().map(|side| {
        let (value, weight) = relief::stack(&side.profiles, side.slope, 0.0, lines.step_mm);
        (value, weight.iter().map(|&w| if w >= 0.2 { 1.0 } else { 0.0 }).collect())
    })
}

/// Finds the lag. `repeat_mm` bounds it to half a repeat either way.
pub fn value(stacks: &[Stack; 2], step: f64, repeat_mm: Option<f64>) -> FirstValue {
    let reach = match repeat_mm {
        Some(repeat) => (0.5 * repeat / step).ceil() as isize,
        None => (LAG_SHARE * stacks[0].0.len() as f64) as isize,
    };
    let agreement: Vec<f64> = (-reach..=reach).map(|lag| correlation(&stacks[0], &stacks[1], lag)).collect();
    let at = |k: usize| agreement[k];
    let peaks: Vec<usize> =
        (1..agreement.len().saturating_sub(1)).filter(|&k| at(k) >= at(k - 1) && at(k) > at(k + 1)).collect();
    let best = peaks.iter().map(|&k| at(k)).fold(f64::MIN, f64::max);
    let lag_of = |k: usize| k as isize - reach;
    let Some(&k) = peaks.iter().filter(|&&k| at(k) >= EQUAL_SHARE * best).min_by_key(|&&k| lag_of(k).abs()) else {
        return FirstValue { offset_mm: 0.0, agreement: 0.0 };
    };
    let bend = at(k - 1) - 2.0 * at(k) + at(k + 1);
    let shift = if bend < 0.0 { (0.5 * (at(k - 1) - at(k + 1)) / bend).clamp(-1.0, 1.0) } else { 0.0 };
    let offset_mm = (lag_of(k) as f64 + shift) * step;
    FirstValue { offset_mm: repeat_mm.map_or(offset_mm, |r| wrap(offset_mm, r)), agreement: at(k) }
}

/// A side's lines in one: relief and weight at each sample.
pub type Stack = (Vec<[f32; 3]>, Vec<f32>);

/// Correlation, all channels together, of the first side with the second moved back by `lag` samples.
pub fn correlation(first: &Stack, second: &Stack, lag: isize) -> f64 {
    let n = first.0.len() as isize;
    let (mut cross, mut a2, mut b2) = (0.0f64, 0.0f64, 0.0f64);
    for k in (-lag).max(0)..(n - lag.max(0)) {
        let (i, j) = (k as usize, (k + lag) as usize);
        if first.1[i] > 0.0 && second.1[j] > 0.0 {
            for c in 0..3 {
                let (a, b) = (f64::from(first.0[i][c]), f64::from(second.0[j][c]));
                cross += a * b;
                a2 += a * a;
                b2 += b * b;
            }
        }
    }
    if a2 > 0.0 && b2 > 0.0 { cross / (a2 * b2).sqrt() } else { 0.0 }
}
