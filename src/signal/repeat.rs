//! The repeat of signals with themselves: the first lag at which they are the same again, to within their noise.
//!
//! The power spectrum (rustfft) gives the autocorrelation, whose peaks are where a repeat may be, whatever the share of the
//! fundamental. Twin lines, or broad bands of one width, make peaks too: a lag is the repeat when everything a lag on is as like as
//! the best of all comparisons is, piece by piece along a path that may wander a little.

use super::Signal;
use super::chain::{Steps, viterbi};
use super::noise::{Noise, UNLIKE, energy};
use super::score::Scores;
use nalgebra::{Matrix3, Vector3};
use rustfft::{FftPlanner, num_complex::Complex};
use statrs::distribution::{ContinuousCDF, FisherSnedecor};

/// Shortest repeat looked for, millimetres.
pub const LEAST_MM: f64 = 2.0;
/// A repeat must be seen at least this many times.
const LEAST_SEEN: f64 = 4.0 / 3.0;
/// A lag with less autocorrelation is no candidate.
const LEAST_LIKENESS: f64 = 0.25;
/// So many times a repeat, where they are seen, the signals must be the same again.
const MULTIPLES: usize = 4;
/// And their autocorrelation must stand out there by this share of what it does at the repeat.
const LEAST_PROMINENCE: f64 = 0.33;
/// Chance with which a repeat may be taken for none because it is less like than another comparison.
const MISTAKEN: f64 = 1e-3;
/// A repeat that is seen less than twice and a third has no multiple to show it: then it needs this autocorrelation. From the
/// photographs of `fixtures` and of real garments: true ones 0.92 and more, others up to 0.65.
const LEAST_ALONE: f64 = 0.7;
/// Repeats of one cloth differ by this share of their own square: of the repeats in `fixtures` half leave less, half more.
const REPEATS_UNLIKE: f64 = 0.005;
/// How far the path may stand off the repeat, as a share of it and at most, millimetres: a jump that wanders moves lines too.
const SLACK: f64 = 0.12;
const MOST_SLACK_MM: f64 = 2.5;

/// The autocorrelation of a signal, summed over channels, for lags 0..n, each normalised by the energy of the overlapping
/// parts. Gaps (weight 0) do not count.
pub fn autocorrelation((value, weight): &Signal) -> Vec<f64> {
    let n = value.len();
    let size = (2 * n).next_power_of_two();
    let mut planner = FftPlanner::new();
    let (forward, inverse) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
    let transform = |f: &dyn Fn(usize) -> f64| {
        let mut buffer = vec![Complex::new(0.0, 0.0); size];
        for (k, slot) in buffer.iter_mut().enumerate().take(n) {
            slot.re = f(k);
        }
        forward.process(&mut buffer);
        buffer
    };
    let mut cross = vec![Complex::new(0.0, 0.0); size];
    let mut energy = vec![Complex::new(0.0, 0.0); size];
    let mask = transform(&|k| if weight[k] > 0.0 { 1.0 } else { 0.0 });
    for c in 0..3 {
        let x = transform(&|k| if weight[k] > 0.0 { f64::from(value[k][c]) } else { 0.0 });
        let square = transform(&|k| if weight[k] > 0.0 { f64::from(value[k][c]).powi(2) } else { 0.0 });
        for k in 0..size {
            cross[k] += x[k] * x[k].conj();
            energy[k] += square[k].conj() * mask[k];
        }
    }
    inverse.process(&mut cross);
    inverse.process(&mut energy);
    (0..n)
        .map(|lag| {
            let ahead = energy[lag].re;
            let behind = energy[(size - lag) % size].re;
            let norm = (ahead.max(0.0) * behind.max(0.0)).sqrt();
            if norm > 1e-9 * energy[0].re { cross[lag].re / norm } else { 0.0 }
        })
        .collect()
}

/// The difference of a sample and one further on; `None` where one is not seen.
type Difference = Option<Vector3<f64>>;

/// Differences of signals that are laid on themselves `lag` samples on, along the path within `slack` of it on which they are least,
/// by the sample from which the lag is counted, signal after signal.
fn differences(signals: &[&Signal], lag: usize, slack: isize, start: &Noise, step_mm: f64) -> Vec<Difference> {
    let apart = |signal: &&Signal| {
        let lags = (lag as isize - slack).max(1)..=(lag as isize + slack).min(signal.0.len() as isize - 1);
        let scores = Scores::agreement(signal, signal, lags, start, step_mm);
        let path = viterbi(&scores, &Steps::new(step_mm));
        let mut by_place = scores.differences(signal, signal, &path, start);
        // A place lies midway between the two samples.
        by_place.rotate_left(lag / 2);
        by_place
    };
    signals.iter().flat_map(apart).collect()
}

/// What a comparison of signals with themselves leaves.
#[derive(Clone, Copy, Debug)]
struct Left {
    /// Logarithm of the mean variance over the channels: a third of that of the covariance's determinant.
    log: f64,
    /// Degrees of freedom.
    freedom: f64,
}

impl Left {
    fn new(noise: &Noise, energy: &Matrix3<f64>, seen: usize, step_mm: f64) -> Self {
        let freedom = (3.0 * seen as f64 * step_mm / noise.independent_mm).max(1.0);
        Self { log: (noise.covariance + energy * REPEATS_UNLIKE).determinant().ln() / 3.0, freedom }
    }

    /// Of differences of which each is seen or not.
    fn of(differences: &[Difference], (start, energy): (&Noise, &Matrix3<f64>), step_mm: f64) -> Option<Self> {
        let noise = Noise::of(differences, step_mm, start)?;
        Some(Self::new(&noise, energy, differences.iter().flatten().count(), step_mm))
    }

    /// Whether it is no more than another comparison leaves, of so many, but by chance: an F test of the two variances, with
    /// Bonferroni's share of the chance.
    fn is_as_little_as(&self, other: &Self, comparisons: usize) -> bool {
        FisherSnedecor::new(self.freedom, other.freedom)
            .is_ok_and(|ratio| comparisons as f64 * ratio.sf((self.log - other.log).exp()) > MISTAKEN)
    }
}

/// A repeat as found.
#[derive(Clone, Copy, Debug)]
pub struct Found {
    /// Its length, samples.
    pub samples: f64,
    /// What is left of signals that are laid on themselves a repeat on, where no multiple bears the repeat out.
    alone: Option<Left>,
    /// Covariance of what the signals show.
    energy: Matrix3<f64>,
}

impl Found {
    /// Whether the repeat stands beside the noise of signals that show the same lines, `seen` samples of them: seen less than
    /// twice, the signals must be as like themselves a repeat on as they are each other.
    pub fn stands_beside(&self, noise: &Noise, seen: usize, step_mm: f64) -> bool {
        self.alone.is_none_or(|own| own.is_as_little_as(&Left::new(noise, &self.energy, seen, step_mm), 1))
    }
}

/// A signal without what changes from one sample to the next, so that those a fraction of a sample on are known from them: a repeat
/// is no whole number of samples.
fn smoothed((value, weight): &Signal) -> Signal {
    let at = |k: usize| -> [f32; 3] {
        let before = if k > 0 && weight[k - 1] > 0.0 { k - 1 } else { k };
        let after = if k + 1 < value.len() && weight[k + 1] > 0.0 { k + 1 } else { k };
        std::array::from_fn(|c| 0.25 * value[before][c] + 0.5 * value[k][c] + 0.25 * value[after][c])
    };
    ((0..value.len()).map(at).collect(), weight.clone())
}

/// The repeat that signals share; `None` where none is seen once and a third.
pub fn shared(signals: &[&Signal], step_mm: f64) -> Option<Found> {
    let mut likeness: Vec<f64> = Vec::new();
    for signal in signals {
        let own = autocorrelation(signal);
        likeness.resize(own.len(), 0.0);
        likeness.iter_mut().zip(&own).for_each(|(sum, l)| *sum += l / signals.len() as f64);
    }
    let from = ((LEAST_MM / step_mm).ceil() as usize).max(4);
    let to = ((likeness.len() as f64 / LEAST_SEEN) as usize).min(likeness.len().saturating_sub(1));
    let is_peak = |k: &usize| likeness[*k] >= likeness[k - 1] && likeness[*k] > likeness[k + 1];
    let peaks: Vec<usize> = (from..to).filter(is_peak).collect();
    let smooth: Vec<Signal> = signals.iter().map(|signal| smoothed(signal)).collect();
    let smooth: Vec<&Signal> = smooth.iter().collect();
    let energy = energy(&smooth);
    // A longer lag has no more freedom: what it leaves is held against what the repeat leaves.
    let slack = |lag: usize| ((SLACK * lag as f64).min(MOST_SLACK_MM / step_mm)).round() as isize;
    let start = |lag: usize| Noise::new(energy * (2.0 * (1.0 - likeness[lag]).max(0.0) + UNLIKE), 1.0);
    let checked = |&lag: &usize| -> Option<(usize, Option<Left>)> {
        let reach = ((SLACK * lag as f64).round() as usize).max(2);
        let near = |place: usize| {
            let near = peaks.iter().filter(|k| k.abs_diff(place) <= reach);
            near.copied().max_by(|&a, &b| likeness[a].total_cmp(&likeness[b]))
        };
        // How far a peak stands above the higher of the valleys beside it: a broad band is like itself at every small lag.
        let prominence = |peak: usize| {
            let least = |of: std::ops::Range<usize>| likeness[of].iter().copied().fold(f64::MAX, f64::min);
            let valley = (3 * lag / 4).max(1);
            likeness[peak] - least(peak - valley..peak).max(least(peak..(peak + valley).min(likeness.len())))
        };
        let stands_out = |peak: &usize| prominence(*peak) >= LEAST_PROMINENCE * prominence(lag);
        let mut multiples = Vec::new();
        for k in 2..=MULTIPLES {
            // From the one before, which knows the repeat better.
            let place = multiples.last().unwrap_or(&lag) * k / (k - 1);
            if place + reach >= to {
                break;
            }
            multiples.push(near(place).filter(stands_out)?);
        }
        if multiples.is_empty() && likeness[lag] < LEAST_ALONE {
            return None;
        }
        let own = differences(&smooth, lag, slack(lag), &start(lag), step_mm);
        // Both are judged by the samples that both compare: elsewhere something else may lie on the cloth.
        let bears_out = |&other: &usize| {
            let further = differences(&smooth, other, slack(lag), &start(other), step_mm);
            let both = |of: &[Difference], with: &[Difference]| -> Vec<Difference> {
                of.iter().zip(with).map(|(d, seen)| seen.as_ref().and(*d)).collect()
            };
            let left = |of: &[Difference], lag: usize| Left::of(of, (&start(lag), &energy), step_mm);
            let [own, further] = [left(&both(&own, &further), lag), left(&both(&further, &own), other)];
            own.zip(further).is_some_and(|(own, further)| own.is_as_little_as(&further, multiples.len() + 1))
        };
        // No other comparison may leave less either: stripes of three colours are alike, though not the same, every stripe.
        let best = peaks.iter().max_by(|&&a, &&b| likeness[a].total_cmp(&likeness[b]));
        if !multiples.iter().chain(best.filter(|&&best| best != lag)).all(bears_out) {
            return None;
        }
        if !multiples.is_empty() {
            return Some((lag, None));
        }
        Some((lag, Some(Left::of(&own, (&start(lag), &energy), step_mm)?)))
    };
    let (k, alone) = peaks.iter().filter(|&&k| likeness[k] >= LEAST_LIKENESS).find_map(checked)?;
    let (a, b, c) = (likeness[k - 1], likeness[k], likeness[k + 1]);
    let shift = 0.5 * (a - c) / (a - 2.0 * b + c);
    Some(Found { samples: k as f64 + if shift.abs() <= 1.0 { shift } else { 0.0 }, alone, energy })
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::ChaCha8Rng;
    use rand_chacha::rand_core::{Rng, SeedableRng};

    const STEP_MM: f64 = 0.3;

    /// Bands (millimetres, lightness) over and over, a little uneven.
    fn bands(sett: &[(f64, f32)], seed: u64) -> Signal {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let repeat: f64 = sett.iter().map(|band| band.0).sum();
        let mut value = |k: usize| {
            let mut place = (k as f64 * STEP_MM).rem_euclid(repeat);
            let band = sett.iter().find(|band| {
                place -= band.0;
                place < 0.0
            });
            [0; 3].map(|_| band.map_or(0.0, |band| band.1) + 0.06 * (rng.next_u32() as f32 / u32::MAX as f32 - 0.5))
        };
        ((0..440).map(&mut value).collect(), vec![1.0; 440])
    }

    fn repeat_mm(sett: &[(f64, f32)]) -> Option<f64> {
        let (one, two) = (bands(sett, 1), bands(sett, 2));
        shared(&[&one, &two], STEP_MM).map(|found| found.samples * STEP_MM)
    }

    #[test]
    fn stripes_return_after_the_first_that_is_of_their_own_colour() {
        for (sett, due_mm) in [
            (&[(4.0, 0.5), (8.0, -0.2)][..], 12.0),
            (&[(4.0, 0.5), (8.0, -0.2), (4.0, 0.3), (8.0, -0.2)][..], 24.0),
            (&[(20.0, 0.5), (75.0, -0.2)][..], 95.0),
        ] {
            let found_mm = repeat_mm(sett).unwrap();
            assert!((found_mm - due_mm).abs() < 0.2, "{found_mm} for {due_mm}");
        }
    }

    #[test]
    fn twin_lines_are_no_repeat() {
        let sett = [
            (30.0, -0.3),
            (1.0, 0.9),
            (1.4, -0.3),
            (1.0, 0.9),
            (40.0, 0.2),
            (1.0, 0.9),
            (1.4, 0.2),
            (1.0, 0.9),
            (70.0, -0.1),
        ];
        assert!(repeat_mm(&sett).is_none(), "{:?}", repeat_mm(&sett));
    }
}
