//! The first value of the offset: the lag at which the two sides' stacked lines agree best, in all colours.
//!
//! The real correlation is maximised, not its size: the negative peak of a pure sinusoid is as high as its positive
//! one, and half a repeat wrong.

use crate::conventions::wrap;
use crate::lines::align::{Pieces, Stack, blurred};
use crate::lines::{Lines, relief};

/// Without a repeat, lags up to this share of the seam are tried.
const LAG_SHARE: f64 = 0.35;
/// Lags are tried this far beyond half a repeat, millimetres: what wanders about it must not be cut off.
const BEYOND_MM: f64 = 4.0;
/// Length of a piece of the seam: a repeat, within these bounds, millimetres.
const PIECE_MM: (f64, f64) = (15.0, 30.0);
/// Each piece may move by this much beside its path, millimetres.
const SLACK_MM: f64 = 0.6;
/// Pieces less like than this at the best are told by the whole of the seam.
const LEAST_LIKENESS: f64 = 0.4;
/// Lags at which the agreement of the whole reaches this share of the best are equal; the smallest is taken.
const EQUAL_SHARE: f64 = 0.9;
/// The agreement's peak is looked for this near, millimetres.
const NEAR_MM: f64 = 1.5;

/// The share of the ribs that a place of the stack needs: a card beside the seam leaves but a few of them.
const LEAST_SHARE: f32 = 0.03;

/// A first value of the offset.
#[derive(Clone, Copy, Debug)]
pub struct FirstValue {
    /// The offset, millimetres.
    pub offset_mm: f64,
    /// How well the sides agree there: correlation over all channels, −1 to 1.
    pub agreement: f64,
    /// How like the sides are piece by piece, each at its own lag: 0 unrelated, 1 alike.
    pub likeness: f64,
}

/// Each side's lines, stacked along their slope and carried to the seam, with weight 1 where enough of the ribs are seen.
pub fn stacks(lines: &Lines) -> [Stack; 2] {
    lines.sides.each_ref().map(|side| {
        let (value, weight) = relief::stack(&side.profiles, side.slope, 0.0, lines.step_mm);
        (value, weight.iter().map(|&w| if w >= LEAST_SHARE { 1.0 } else { 0.0 }).collect())
    })
}

/// Finds the lag. `repeat_mm` bounds it to half a repeat either way.
///
/// Which partner is told piece by piece along the seam ([`Pieces::nearest`]): a jump that wanders blurs the agreement over the
/// whole seam. The lag itself is the agreement's nearest peak, where it has one.
pub fn value(stacks: &[Stack; 2], step: f64, repeat_mm: Option<f64>) -> FirstValue {
    let most = (LAG_SHARE * stacks[0].0.len() as f64) as isize;
    let reach = repeat_mm.map_or(most, |repeat| ((0.5 * repeat + BEYOND_MM) / step).ceil() as isize);
    let piece_mm = repeat_mm.unwrap_or(PIECE_MM.1).clamp(PIECE_MM.0, PIECE_MM.1);
    let pieces = Pieces::new(&stacks[0], &stacks[1], -reach..=reach, piece_mm, step);
    let told = pieces.nearest(SLACK_MM).filter(|(_, unlike)| 1.0 - unlike >= LEAST_LIKENESS);
    let told = told.map(|(lag, unlike)| (lag, unlike, stacks));
    let drawn_out = stacks.each_ref().map(|stack| blurred(stack, step));
    let of_all = || Some((of_the_whole(&drawn_out, reach)?, 1.0, &drawn_out));
    let Some((lag, unlike, compared)) = told.or_else(of_all) else {
        return FirstValue { offset_mm: 0.0, agreement: 0.0, likeness: 0.0 };
    };
    let near = (NEAR_MM / step).ceil() as isize;
    let from = lag.round() as isize - near;
    let agreement: Vec<f64> = (0..=2 * near).map(|k| correlation(&compared[0], &compared[1], from + k)).collect();
    let at = |k: usize| agreement[k];
    let peak = (1..agreement.len().saturating_sub(1))
        .filter(|&k| at(k) >= at(k - 1) && at(k) > at(k + 1))
        .max_by(|&a, &b| at(a).total_cmp(&at(b)));
    let (lag, whole) = match peak {
        Some(k) => {
            let bend = at(k - 1) - 2.0 * at(k) + at(k + 1);
            let shift = if bend < 0.0 { (0.5 * (at(k - 1) - at(k + 1)) / bend).clamp(-1.0, 1.0) } else { 0.0 };
            ((from + k as isize) as f64 + shift, from + k as isize)
        }
        None => (lag, from + near),
    };
    let agreement = correlation(&stacks[0], &stacks[1], whole);
    let offset_mm = lag * step;
    let offset_mm = repeat_mm.map_or(offset_mm, |r| wrap(offset_mm, r));
    FirstValue { offset_mm, agreement, likeness: 1.0 - unlike }
}

/// The nearest lag, samples, at which the whole of both sides agrees as well as anywhere: what is left where noise hides
/// the lines of single pieces. The stacks come drawn out, else the noise has peaks of its own beside the lines'. `None`
/// where the agreement has no peak.
fn of_the_whole(stacks: &[Stack; 2], reach: isize) -> Option<f64> {
    let agreement: Vec<f64> = (-reach..=reach).map(|lag| correlation(&stacks[0], &stacks[1], lag)).collect();
    let at = |k: usize| agreement[k];
    let peaks = || (1..agreement.len().saturating_sub(1)).filter(|&k| at(k) >= at(k - 1) && at(k) > at(k + 1));
    let best = peaks().map(at).fold(f64::MIN, f64::max);
    let lags = peaks().filter(|&k| at(k) >= EQUAL_SHARE * best).map(|k| k as isize - reach);
    lags.min_by_key(|lag| lag.abs()).map(|lag| lag as f64)
}

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
