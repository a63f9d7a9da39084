//! The alignment of two signals: which place of the one belongs to which of the other, with the odds of every other answer.
//!
//! The lag is a hidden Markov chain along the signals ([`super::chain`]), the noise is what they differ by along its path.

use super::Signal;
use super::chain::{Steps, probabilities};
use super::correlation;
use super::noise::Noise;
use super::score::{Scores, pair};
use super::settled::{Settled, candidates};
use crate::conventions::wrap;
use crate::smooth::median;

/// Around the middle of signals that return, lags are tried up to half a repeat and so much more, millimetres and repeats: what wanders
/// about it must not be cut off, nor be taken for what lies a whole repeat further.
const BEYOND_MM: f64 = 4.0;
const MOST_BEYOND: f64 = 0.1;
/// Another alignment is one that stands so far from the best all along, millimetres, give or take half of it.
const APART_MM: f64 = 1.5;

/// Odds that two sides of which a seam is asked about show the same lines: common practice, no source.
const RELATED: f64 = 99.0;
/// Another alignment that is less probable than this is no doubt.
pub const LEAST_PROBABLE: f64 = 0.01;

/// Another alignment than the best.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Other {
    /// How much further on the second signal would stand than the best alignment says, millimetres.
    pub apart_mm: f64,
    /// How probable it is, 0 to 1.
    pub probability: f64,
}

/// How two signals lie on one another.
#[derive(Clone, Debug, Default)]
pub struct Alignment {
    /// Distance between the places of the path, millimetres; the first stands at the beginning of the signals.
    pub step_mm: f64,
    /// How much further on the second signal stands at each place, which lies midway between what is laid together, millimetres.
    pub lag_mm: Vec<f64>,
    /// Whether both are seen at each place.
    pub seen: Vec<bool>,
    /// The one lag at which all of the signals agree best near the path, millimetres.
    pub whole_mm: f64,
    /// Correlation of the two along the path, all channels together, −1 to 1.
    pub correlation: f64,
    /// Other alignments, the most probable first.
    pub others: Vec<Other>,
    /// The probability that the two have nothing to do with one another, 0 to 1.
    pub unrelated: f64,
    /// The noise of their difference along the path.
    pub noise: Noise,
}

impl Alignment {
    /// Lays `second` on `first` at lags up to `reach` (samples `step_mm` apart) to either side; `None` where too little of both is
    /// seen.
    pub fn within(first: &Signal, second: &Signal, reach: isize, step_mm: f64) -> Option<Self> {
        Self::of([first, second], reach, None, step_mm)
    }

    /// The same of signals that return after `repeat` samples, so that a lag is known modulo it: around the one that is nearest to
    /// none at all.
    pub fn returning(first: &Signal, second: &Signal, repeat: f64, step_mm: f64) -> Option<Self> {
        let beyond = (BEYOND_MM / step_mm).min(MOST_BEYOND * repeat);
        Self::of([first, second], (0.5 * repeat + beyond).ceil() as isize, Some(repeat), step_mm)
    }

    fn of([first, second]: [&Signal; 2], reach: isize, repeat: Option<f64>, step_mm: f64) -> Option<Self> {
        let settled = candidates([first, second], reach, repeat, step_mm);
        let rivals = rivals(&settled, repeat, step_mm);
        let Settled { noise, second, scores, mut path, evidence, .. } = settled.into_iter().next()?;
        let second = &second;
        // The path keeps to the lags among which it settled; the odds are of all within reach.
        let scores = if scores.lags as isize > 2 * reach {
            scores
        } else {
            let middle = repeat.map_or(0, |_| scores.first_lag + (scores.lags / 2) as isize);
            let wider = Scores::new(first, second, middle - reach..=middle + reach, &noise, step_mm);
            path.iter_mut().for_each(|l| *l += (scores.first_lag - wider.first_lag) as usize);
            wider
        };
        let along = path.iter().enumerate().filter_map(|(k, &l)| pair(k, scores.first_lag + l as isize, first.0.len()));
        let lag_mm = path.iter().map(|&l| (scores.first_lag + l as isize) as f64 * step_mm).collect();
        Some(Self {
            step_mm,
            lag_mm: match repeat {
                Some(repeat) => modulo(lag_mm, repeat * step_mm),
                None => lag_mm,
            },
            seen: (0..scores.places).map(|c| scores.seen(c)).collect(),
            whole_mm: whole([first, second], &scores, &path, step_mm)? * step_mm,
            correlation: correlation::of_pairs(first, second, along).0,
            others: with_rivals(others(&probabilities(&scores, &Steps::new(step_mm)), &path, &scores, step_mm), rivals),
            unrelated: 1.0 / (1.0 + RELATED * evidence.exp()),
            noise,
        })
    }

    /// How many places are seen.
    pub fn places_seen(&self) -> usize {
        self.seen.iter().filter(|seen| **seen).count()
    }
}

/// The alignments that settled aside from the best, the first, by how much less their evidence is.
fn rivals(settled: &[Settled], repeat: Option<f64>, step_mm: f64) -> Vec<Other> {
    let Some((best, rest)) = settled.split_first() else { return Vec::new() };
    let rival = |other: &Settled| {
        let apart = other.middle - best.middle;
        let apart_mm = repeat.map_or(apart, |repeat| wrap(apart, repeat)) * step_mm;
        let odds = (other.evidence - best.evidence).exp();
        (apart_mm.abs() >= APART_MM).then_some(Other { apart_mm, probability: odds / (1.0 + odds) })
    };
    rest.iter().filter_map(rival).collect()
}

/// Other alignments of the best's own chain and those that settled beside it: of two that are one, the more probable.
fn with_rivals(mut others: Vec<Other>, rivals: Vec<Other>) -> Vec<Other> {
    others.extend(rivals);
    others.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    let mut kept: Vec<Other> = Vec::new();
    for other in others {
        if kept.iter().all(|k| (k.apart_mm - other.apart_mm).abs() >= APART_MM) {
            kept.push(other);
        }
    }
    kept
}

/// A path of lags that are known modulo `repeat_mm`: a jump of whole repeats cannot be seen and is taken out.
fn modulo(path_mm: Vec<f64>, repeat_mm: f64) -> Vec<f64> {
    let mut whole_mm = 0.0;
    let mut before_mm = path_mm.first().copied().unwrap_or(0.0);
    let within = |lag_mm: f64| {
        let jump_mm = lag_mm - before_mm;
        before_mm = lag_mm;
        whole_mm += wrap(jump_mm, repeat_mm) - jump_mm;
        lag_mm + whole_mm
    };
    path_mm.into_iter().map(within).collect()
}

/// The lag near the path's median at which all places together score best, drawn to the peak of the correlation beside it.
fn whole([first, second]: [&Signal; 2], scores: &Scores, path: &[usize], step_mm: f64) -> Option<f64> {
    let middle = median(path.iter().map(|&l| l as f64).collect())? as usize;
    let reach = (APART_MM / step_mm).ceil() as usize;
    let total = |l: usize| (0..scores.places).map(|c| f64::from(scores.at(c, l))).sum::<f64>();
    let near = middle.saturating_sub(reach)..(middle + reach + 1).min(scores.lags);
    let best = scores.first_lag + near.max_by(|&a, &b| total(a).total_cmp(&total(b)))? as isize;
    let at = |lag: isize| correlation::at(first, second, lag).0;
    let peak = (best - 1..=best + 1).max_by(|&a, &b| at(a).total_cmp(&at(b)))?;
    let (a, b, c) = (at(peak - 1), at(peak), at(peak + 1));
    let bend = a - 2.0 * b + c;
    let shift = if bend < 0.0 { (0.5 * (a - c) / bend).clamp(-1.0, 1.0) } else { 0.0 };
    Some(peak as f64 + shift)
}

/// Alignments that stand aside from the path all along, by the median over the places of their probability there.
fn others(probability: &[f64], path: &[usize], scores: &Scores, step_mm: f64) -> Vec<Other> {
    let lags = scores.lags as isize;
    let half = ((0.5 * APART_MM / step_mm).round() as isize).max(1);
    let sums: Vec<f64> = {
        let mut sums = Vec::with_capacity(probability.len() + scores.places);
        for row in probability.chunks(scores.lags) {
            let mut sum = 0.0;
            sums.push(0.0);
            sums.extend(row.iter().map(|p| {
                sum += p;
                sum
            }));
        }
        sums
    };
    let seen: Vec<usize> = (0..scores.places).filter(|&c| scores.seen(c)).collect();
    let near = |apart: isize| -> f64 {
        let at = |&c: &usize| {
            let middle = path[c] as isize + apart;
            let row = &sums[c * (scores.lags + 1)..(c + 1) * (scores.lags + 1)];
            let (from, to) = ((middle - half).clamp(0, lags) as usize, (middle + half + 1).clamp(0, lags) as usize);
            row[to] - row[from]
        };
        median(seen.iter().map(at).collect()).unwrap_or(0.0)
    };
    let reach = lags - 1;
    let all: Vec<f64> = (-reach..=reach).map(near).collect();
    let apart = (APART_MM / step_mm).ceil() as isize;
    let mut others: Vec<Other> = (1..all.len() - 1)
        .filter(|&k| {
            (k as isize - reach).abs() >= apart && all[k] > 1e-6 && all[k] >= all[k - 1] && all[k] > all[k + 1]
        })
        .map(|k| Other { apart_mm: (k as isize - reach) as f64 * step_mm, probability: all[k] })
        .collect();
    others.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    others
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::ChaCha8Rng;
    use rand_chacha::rand_core::{Rng, SeedableRng};

    const STEP_MM: f64 = 0.25;

    /// Bands of a sett whose threads are a little uneven, displaced by a function of the place.
    fn lines(sett: &[(f64, [f32; 3])], seed: u64, displaced_mm: impl Fn(f64) -> f64) -> Signal {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let repeat: f64 = sett.iter().map(|band| band.0).sum();
        let mut value = |k: usize| {
            let u = k as f64 * STEP_MM;
            let mut place = (u - displaced_mm(u)).rem_euclid(repeat);
            let band = sett.iter().find(|band| {
                place -= band.0;
                place < 0.0
            });
            band.map_or([0.0; 3], |band| band.1).map(|x| x + 0.06 * (rng.next_u32() as f32 / u32::MAX as f32 - 0.5))
        };
        ((0..520).map(&mut value).collect(), vec![1.0; 520])
    }

    /// Dark bands, twin white lines, one white line: the sett of a tartan, none of it seen twice.
    const TARTAN: [(f64, [f32; 3]); 10] = [
        (14.0, [-0.6, -0.4, -0.4]),
        (1.0, [0.9; 3]),
        (1.4, [-0.6, -0.4, -0.4]),
        (1.0, [0.9; 3]),
        (20.0, [0.3, -0.3, -0.3]),
        (2.0, [-0.3, 0.1, 0.4]),
        (33.0, [0.3, -0.2, -0.2]),
        (1.0, [0.9; 3]),
        (17.0, [0.3, -0.3, -0.3]),
        (60.0, [0.0, -0.5, -0.4]),
    ];

    #[test]
    fn twin_lines_are_not_taken_for_one_another() {
        for moved_mm in [0.0, 1.3, -2.4] {
            let (one, two) = (lines(&TARTAN, 1, |_| 0.0), lines(&TARTAN, 2, |_| moved_mm));
            let found = Alignment::within(&one, &two, 180, STEP_MM).unwrap();
            assert!((found.whole_mm - moved_mm).abs() < STEP_MM, "{moved_mm}: {}", found.whole_mm);
            assert!(found.others.iter().all(|other| other.probability < 1e-3), "{:?}", found.others);
            assert!(found.correlation > 0.9);
        }
    }

    #[test]
    fn cloths_that_have_nothing_to_do_with_one_another_are_told_from_two_pieces_of_one() {
        let sett = |seed: u64| -> Vec<(f64, [f32; 3])> {
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
            let mut share = || rng.next_u32() as f32 / u32::MAX as f32;
            (0..24).map(|_| (f64::from(1.0 + 9.0 * share()), [0; 3].map(|_| 1.2 * share() - 0.6))).collect()
        };
        let unrelated = |two: &Signal| {
            let one = lines(&sett(1), 1, |_| 0.0);
            Alignment::within(&one, two, 180, STEP_MM).unwrap().unrelated
        };
        let of_one_cloth = unrelated(&lines(&sett(1), 2, |u| 1.5 * (u / 30.0).sin()));
        assert!(of_one_cloth < 1e-6, "{of_one_cloth}");
        for seed in 2..8 {
            let of_two = unrelated(&lines(&sett(seed), seed, |_| 0.0));
            assert!(of_two > LEAST_PROBABLE, "{seed}: {of_two}");
        }
    }

    #[test]
    fn a_lag_at_which_little_is_compared_does_not_win() {
        // Stripes that stand closer and closer, so that no repeat lays them on one another, and a strange edge before them.
        let stripes = |strange: f32, seed: u64| {
            let mut signal = lines(&[(3.0, [0.9; 3]), (6.0, [-0.5; 3])], seed, |u| 0.0015 * u * u);
            signal.0.iter_mut().take(60).for_each(|value| *value = [strange, -strange, strange]);
            signal
        };
        let found = Alignment::within(&stripes(1.5, 1), &stripes(-1.2, 2), 180, STEP_MM).unwrap();
        assert!(found.whole_mm.abs() < STEP_MM, "{}", found.whole_mm);
    }

    #[test]
    fn a_wandering_jump_and_a_step_are_followed() {
        let sett = [(4.0, [0.5, -0.3, -0.4]), (8.0, [0.0; 3]), (4.0, [-0.1, 0.2, 0.5]), (8.0, [0.0; 3])];
        let wander = |u: f64| 2.2 * (u / 19.0).sin() + if u > 80.0 { 3.0 } else { 0.0 };
        let (one, two) = (lines(&sett, 1, |u| -wander(u) / 2.0), lines(&sett, 2, |u| wander(u) / 2.0));
        let found = Alignment::within(&one, &two, 64, STEP_MM).unwrap();
        for (k, lag_mm) in found.lag_mm.iter().enumerate().filter(|(k, _)| (40..480).contains(k)) {
            let u = k as f64 * STEP_MM;
            // Between two lines nothing tells where it changes; the next partner is 12 mm away.
            assert!((u - 80.0).abs() < 6.0 || (lag_mm - wander(u)).abs() < 2.0, "{u}: {lag_mm} for {}", wander(u));
        }
    }

    #[test]
    fn the_likeliest_other_alignment_of_even_stripes_is_a_repeat_apart() {
        let stripes = [(4.0, [0.4; 3]), (8.0, [-0.2; 3])];
        let found = Alignment::within(&lines(&stripes, 1, |_| 0.0), &lines(&stripes, 2, |_| 5.0), 60, STEP_MM);
        let other = found.unwrap().others[0];
        assert!((other.apart_mm.abs() - 12.0).abs() < 0.6, "{other:?}");
    }

    #[test]
    fn what_is_not_seen_has_no_alignment() {
        let blind: Signal = (vec![[0.0; 3]; 520], vec![0.0; 520]);
        assert!(Alignment::within(&blind, &lines(&TARTAN, 1, |_| 0.0), 20, STEP_MM).is_none());
    }
}
