//! What the photographs of one distance tell together.
//!
//! Percentiles are nearest ranks: the smallest value that at least so many of the values do not exceed.

use super::outcome::{Measured, Outcome};
use crate::problem::RefusalCode;
use crate::seam::SeamSource;
use crate::verdict::Judgement;

/// The share of photographs in which the smallest offset told from zero is told.
pub const TOLD_SHARE: f64 = 0.95;
/// The share of photographs that a distance must serve to be close enough.
pub const SERVED_SHARE: f64 = 0.9;

/// Counts and figures over the photographs of one distance.
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    /// Photographs that were taken.
    pub taken: usize,
    /// Photographs that were measured.
    pub measured: usize,
    /// Measured photographs whose seam was only assumed to be where it was measured.
    pub assumed: usize,
    /// Refused photographs by reason, the most frequent first.
    pub refused: Vec<(RefusalCode, usize)>,
    /// The mean offsets; `None` where nothing was measured.
    pub mean: Option<Errors>,
    /// The readings along the seam, between its first and its last line; `None` where there is none.
    pub readings: Option<Errors>,
    /// The smallest mean offset that would be told from zero, millimetres (see [`smallest_told_mm`]).
    pub smallest_told_mm: Option<f64>,
    /// The room below the tolerance, millimetres, that [`SERVED_SHARE`] of all photographs taken need ([`Measured::room_mm`]);
    /// `None` where more than the rest are refused.
    pub room_mm: Option<f64>,
    /// The verdicts, beside what they should have been.
    pub verdicts: Verdicts,
}

/// Errors (measured less true) and the uncertainties told with them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Errors {
    /// How many.
    pub count: usize,
    /// Their mean: the bias, millimetres.
    pub bias_mm: f64,
    /// Their standard deviation about the bias (n − 1 in the denominator), millimetres; `None` of a single one.
    pub spread_mm: Option<f64>,
    /// Their root mean square, millimetres.
    pub rms_mm: f64,
    /// Median of their sizes, millimetres.
    pub median_mm: f64,
    /// Nine in ten are no larger, millimetres.
    pub ninetieth_mm: f64,
    /// The largest, millimetres.
    pub worst_mm: f64,
    /// Share of them no larger than the expanded uncertainty told with them.
    pub covered_share: f64,
    /// Median of the expanded uncertainties (k = 2), millimetres.
    pub median_expanded_mm: f64,
    /// Nine in ten of the expanded uncertainties are no larger, millimetres.
    pub ninetieth_expanded_mm: f64,
}

/// The verdicts of one distance. A seam is within tolerance where its true offset is, from its first to its last line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Verdicts {
    /// Seams within tolerance that were measured.
    pub within: usize,
    /// Of these, called matched.
    pub within_matched: usize,
    /// Of these, called off: wrongly.
    pub within_off: usize,
    /// Seams out of tolerance that were measured.
    pub out: usize,
    /// Of these, called off.
    pub out_off: usize,
    /// Of these, called matched: wrongly.
    pub out_matched: usize,
}

impl Figures {
    /// The figures of these photographs, judged by a tolerance.
    pub fn of(outcomes: &[Outcome], tolerance_mm: f64) -> Self {
        let measured: Vec<&Measured> = outcomes.iter().filter_map(Outcome::measured).collect();
        let means: Vec<(f64, f64)> = measured.iter().map(|m| (m.error_mm, m.expanded_uncertainty_mm)).collect();
        let readings: Vec<(f64, f64)> =
            (measured.iter().flat_map(|m| &m.readings)).map(|r| (r.error_mm, r.expanded_uncertainty_mm)).collect();
        // A refused photograph serves no tolerance.
        let refused = outcomes.len() - measured.len();
        let rooms: Vec<f64> =
            measured.iter().map(|m| m.room_mm()).chain(std::iter::repeat_n(f64::INFINITY, refused)).collect();
        Self {
            taken: outcomes.len(),
            measured: measured.len(),
            assumed: measured.iter().filter(|m| m.source == SeamSource::Assumed).count(),
            refused: refusals(outcomes),
            mean: Errors::of(&means),
            readings: Errors::of(&readings),
            smallest_told_mm: smallest_told_mm(&means),
            room_mm: percentile(rooms, SERVED_SHARE).filter(|room| room.is_finite()),
            verdicts: Verdicts::of(&measured, tolerance_mm),
        }
    }
}

impl Errors {
    /// The figures of (error, expanded uncertainty); `None` where there is none.
    pub fn of(errors: &[(f64, f64)]) -> Option<Self> {
        let count = errors.len();
        let n = count as f64;
        let sizes = || errors.iter().map(|(error, _)| error.abs()).collect::<Vec<_>>();
        let expanded = || errors.iter().map(|(_, expanded)| *expanded).collect::<Vec<_>>();
        let bias_mm = errors.iter().map(|(error, _)| error).sum::<f64>() / n;
        let squares = |about: f64| errors.iter().map(|(error, _)| (error - about).powi(2)).sum::<f64>();
        Some(Self {
            count,
            median_mm: percentile(sizes(), 0.5)?,
            ninetieth_mm: percentile(sizes(), 0.9)?,
            worst_mm: percentile(sizes(), 1.0)?,
            covered_share: errors.iter().filter(|(error, expanded)| error.abs() <= *expanded).count() as f64 / n,
            median_expanded_mm: percentile(expanded(), 0.5)?,
            ninetieth_expanded_mm: percentile(expanded(), 0.9)?,
            bias_mm,
            spread_mm: (count > 1).then(|| (squares(bias_mm) / (n - 1.0)).sqrt()),
            rms_mm: (squares(0.0) / n).sqrt(),
        })
    }
}

impl Verdicts {
    fn of(measured: &[&Measured], tolerance_mm: f64) -> Self {
        let mut all = Self::default();
        for m in measured {
            let within = m.true_worst_mm.abs() <= tolerance_mm;
            let [counted, matched, off] = if within {
                [&mut all.within, &mut all.within_matched, &mut all.within_off]
            } else {
                [&mut all.out, &mut all.out_matched, &mut all.out_off]
            };
            *counted += 1;
            *matched += usize::from(m.verdict == Judgement::Matched);
            *off += usize::from(m.verdict == Judgement::Off);
        }
        all
    }
}

/// The smallest mean offset told from zero: of this size, either way, it would be measured larger than its own expanded
/// uncertainty in [`TOLD_SHARE`] of the measured photographs.
///
/// With the error e and the uncertainty U of a photograph, an offset d > 0 is told where d + e > U and one of −d where
/// d − e > U: the figure is that percentile of U − e and U + e together. No distribution is assumed; errors are taken not
/// to depend on the offset.
///
/// # Source
/// The project's own rule, to the end that the minimum detectable value of ISO 11843-1 serves (from memory): a false
/// alarm is as rare as U makes it, and one offset in twenty is missed.
pub fn smallest_told_mm(means: &[(f64, f64)]) -> Option<f64> {
    let due = means.iter().flat_map(|&(error, expanded)| [expanded - error, expanded + error]).collect();
    percentile(due, TOLD_SHARE)
}

/// The smallest of the values that at least this share of them do not exceed; `None` of none.
fn percentile(mut values: Vec<f64>, share: f64) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    // The small subtraction keeps 0.9 · 10 from being rounded above 9.
    let rank = (share * values.len() as f64 - 1e-9).ceil().max(1.0) as usize;
    values.get(rank - 1).copied()
}

fn refusals(outcomes: &[Outcome]) -> Vec<(RefusalCode, usize)> {
    let mut counts: Vec<(RefusalCode, usize)> = Vec::new();
    for outcome in outcomes {
        let super::outcome::Answer::Refused(code) = outcome.answer else { continue };
        match counts.iter_mut().find(|(known, _)| *known == code) {
            Some((_, count)) => *count += 1,
            None => counts.push((code, 1)),
        }
    }
    counts.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.word().cmp(b.0.word())));
    counts
}

#[cfg(test)]
mod tests {
    use super::super::outcome::{Answer, ReadingError};
    use super::*;

    fn measured(error_mm: f64, expanded_uncertainty_mm: f64, true_worst_mm: f64, verdict: Judgement) -> Outcome {
        let readings = vec![ReadingError { error_mm: 2.0 * error_mm, expanded_uncertainty_mm }];
        let source = SeamSource::Found;
        let answer = Measured {
            error_mm,
            expanded_uncertainty_mm,
            coverage_factor: 2.0,
            readings,
            true_worst_mm,
            source,
            verdict,
        };
        Outcome { number: 0, true_mean_mm: true_worst_mm, answer: Answer::Measured(answer) }
    }

    fn refused(code: RefusalCode) -> Outcome {
        Outcome { number: 0, true_mean_mm: 0.0, answer: Answer::Refused(code) }
    }

    #[test]
    fn percentiles_are_nearest_ranks() {
        let ten: Vec<f64> = (1..=10).rev().map(f64::from).collect();
        for (share, due) in [(0.0, 1.0), (0.5, 5.0), (0.51, 6.0), (0.9, 9.0), (0.95, 10.0), (1.0, 10.0)] {
            assert_eq!(percentile(ten.clone(), share), Some(due), "{share}");
        }
        assert_eq!(percentile(Vec::new(), 0.5), None);
    }

    /// Worked by hand: errors −0.1, 0, 0.1, 0.4.
    #[test]
    fn errors_are_summed_up() {
        let e = Errors::of(&[(-0.1, 0.2), (0.0, 0.1), (0.1, 0.05), (0.4, 0.4)]).unwrap();
        assert!((e.bias_mm - 0.1).abs() < 1e-12);
        // Squares about 0.1: 0.04, 0.01, 0, 0.09; their sum over three, and about 0: 0.18 over four.
        assert!((e.spread_mm.unwrap() - (0.14f64 / 3.0).sqrt()).abs() < 1e-12);
        assert!((e.rms_mm - (0.18f64 / 4.0).sqrt()).abs() < 1e-12);
        assert_eq!((e.median_mm, e.ninetieth_mm, e.worst_mm), (0.1, 0.4, 0.4));
        assert_eq!(e.covered_share, 0.75);
        assert_eq!((e.median_expanded_mm, e.ninetieth_expanded_mm), (0.1, 0.4));
        assert_eq!(Errors::of(&[(0.3, 0.1)]).unwrap().spread_mm, None);
        assert_eq!(Errors::of(&[]), None);
    }

    #[test]
    fn the_smallest_offset_told_is_told_in_nineteen_of_twenty() {
        // Twenty photographs with U = 0.2; the errors' sizes 0.01 to 0.20, so U ± e are 0 to 0.40 in forty values.
        let means: Vec<(f64, f64)> = (1..=20).map(|k| (f64::from(k) / 100.0, 0.2)).collect();
        let told_mm = smallest_told_mm(&means).unwrap();
        let share = |d: f64| {
            let told = means.iter().flat_map(|&(e, u)| [d + e >= u - 1e-12, d - e >= u - 1e-12]);
            told.filter(|t| *t).count() as f64 / 40.0
        };
        assert!(share(told_mm) >= 0.95 && share(told_mm - 0.005) < 0.95, "{told_mm}");
    }

    #[test]
    fn refused_photographs_are_counted_and_serve_no_tolerance() {
        let good = || measured(0.1, 0.2, 0.0, Judgement::Matched);
        let mut outcomes: Vec<Outcome> = (0..9).map(|_| good()).collect();
        outcomes.push(refused(RefusalCode::NoCard));
        let one = Figures::of(&outcomes, 1.5);
        assert_eq!((one.taken, one.measured), (10, 9));
        assert!((one.room_mm.unwrap() - 0.4).abs() < 1e-12);
        outcomes.push(refused(RefusalCode::NoSeam));
        outcomes.push(refused(RefusalCode::NoSeam));
        let three = Figures::of(&outcomes, 1.5);
        assert_eq!(three.room_mm, None);
        assert_eq!(three.refused, [(RefusalCode::NoSeam, 2), (RefusalCode::NoCard, 1)]);
        let none = Figures::of(&[refused(RefusalCode::NoLines)], 1.5);
        assert_eq!((none.mean, none.readings, none.smallest_told_mm), (None, None, None));
    }

    #[test]
    fn verdicts_are_held_against_the_truth() {
        let outcomes = [
            measured(0.0, 0.1, 1.0, Judgement::Matched),
            measured(0.0, 0.1, -1.4, Judgement::Unsure),
            measured(0.0, 0.1, 1.2, Judgement::Off),
            measured(0.0, 0.1, -2.0, Judgement::Off),
            measured(0.0, 0.1, 1.6, Judgement::Matched),
        ];
        let all = Figures::of(&outcomes, 1.5).verdicts;
        let due = Verdicts { within: 3, within_matched: 1, within_off: 1, out: 2, out_off: 1, out_matched: 1 };
        assert_eq!(all, due);
    }
}
