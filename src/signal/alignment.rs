//! The alignment of two signals: which place of the one belongs to which of the other, with the odds of every other answer.
//!
//! The lag is a hidden Markov chain along the signals ([`super::chain`]), the noise is what they differ by along its path.

use super::Signal;
use super::chain::{Steps, probabilities, viterbi};
use super::noise::{Noise, UNLIKE, energy};
use super::score::{Scores, pair};
use crate::conventions::wrap;
use crate::smooth::{boxed, half_of, median};
use nalgebra::Vector3;
use std::ops::RangeInclusive;

/// The first idea of the noise is read where this length, millimetres, agrees best.
const WINDOW_MM: f64 = 10.0;
/// Shade is slower than this, millimetres (standard deviation of the smooth that took it off each side).
const SHADE_MM: f64 = 25.0;
/// Around the middle of signals that return, lags are tried up to half a repeat and so much more, millimetres and repeats: what wanders
/// about it must not be cut off, nor be taken for what lies a whole repeat further.
const BEYOND_MM: f64 = 4.0;
const MOST_BEYOND: f64 = 0.1;
/// Another alignment is one that stands so far from the best all along, millimetres, give or take half of it.
const APART_MM: f64 = 1.5;

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
        let mut lags = -reach..=reach;
        let mut noise = first_noise(first, second, lags.clone(), step_mm)?;
        let steps = Steps::new(step_mm);
        let mut evened = second.clone();
        // The noise, the shade and the path, each from the others.
        for _ in 0..2 {
            let scores = Scores::new(first, &evened, lags.clone(), &noise, step_mm);
            let path = viterbi(&scores, &steps);
            let differences = scores.differences(first, &evened, &path, &noise);
            even(&mut evened, &differences, (&scores, &path), &noise, step_mm);
            noise = Noise::of(&scores.differences(first, &evened, &path, &noise), step_mm, &noise)?;
            if let Some(repeat) = repeat {
                let middle = scores.first_lag as f64 + median(path.iter().map(|&l| l as f64).collect())?;
                let middle = wrap(middle, repeat).round() as isize;
                lags = middle - reach..=middle + reach;
            }
        }
        let second = &evened;
        let scores = Scores::new(first, second, lags, &noise, step_mm);
        let path = viterbi(&scores, &steps);
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
            correlation: correlation_of(first, second, along),
            others: others(&probabilities(&scores, &steps), &path, &scores, step_mm),
            noise,
        })
    }

    /// How many places are seen.
    pub fn places_seen(&self) -> usize {
        self.seen.iter().filter(|seen| **seen).count()
    }
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

/// Correlation, all channels together, of pairs of samples.
fn correlation_of(first: &Signal, second: &Signal, pairs: impl Iterator<Item = [usize; 2]>) -> f64 {
    let (mut cross, mut one, mut two) = (0.0f64, 0.0f64, 0.0f64);
    for [i, j] in pairs {
        if first.1[i] > 0.0 && second.1[j] > 0.0 {
            for c in 0..3 {
                let (a, b) = (f64::from(first.0[i][c]), f64::from(second.0[j][c]));
                cross += a * b;
                one += a * a;
                two += b * b;
            }
        }
    }
    if one > 0.0 && two > 0.0 { cross / (one * two).sqrt() } else { 0.0 }
}

/// Correlation, all channels together, −1 to 1, of the first signal with the second moved back by `lag` samples.
///
/// The real correlation, not its size: the negative peak of a pure sinusoid is as high as its positive one, and half a repeat
/// wrong.
pub fn correlation(first: &Signal, second: &Signal, lag: isize) -> f64 {
    let n = first.0.len();
    correlation_of(first, second, (0..n).filter_map(|k| pair(k, lag, n)))
}

/// A first idea of the noise: the signals' own covariance, by how far the two differ where a window of them agrees best.
fn first_noise(first: &Signal, second: &Signal, lags: RangeInclusive<isize>, step_mm: f64) -> Option<Noise> {
    let energy = energy(&[first, second]);
    if energy.trace() <= 0.0 {
        return None;
    }
    let all = Noise::new(energy, 1.0);
    let (a, b) = (all.whitened(&first.0), all.whitened(&second.0));
    let half = ((0.5 * WINDOW_MM / step_mm) as usize).max(1);
    let n = first.0.len();
    let best = |middle: usize| {
        let window = middle.saturating_sub(half)..(middle + half + 1).min(n);
        let mean = |lag: isize| {
            let (mut sum, mut count) = (0.0f32, 0usize);
            for [i, j] in window.clone().filter_map(|k| pair(k, lag, n)) {
                if first.1[i] > 0.0 && second.1[j] > 0.0 {
                    sum += (0..3).map(|c| (a[i][c] - b[j][c]).powi(2)).sum::<f32>();
                    count += 3;
                }
            }
            (2 * count > 3 * window.len()).then(|| f64::from(sum) / count as f64)
        };
        lags.clone().filter_map(mean).min_by(f64::total_cmp)
    };
    let typical = median((0..n).step_by(half).filter_map(best).collect())?;
    Some(Noise::new(energy * (typical + UNLIKE), 1.0))
}

/// Takes the slow part of the differences along a path off the second signal: each side's shade was taken off by itself, and what
/// is left of it tells nothing of lines.
fn even(
    second: &mut Signal,
    differences: &[Option<Vector3<f64>>],
    (scores, path): (&Scores, &[usize]),
    noise: &Noise,
    step_mm: f64,
) {
    let n = second.0.len();
    let mut sums = vec![[0.0f64; 4]; n];
    for (place, difference) in differences.iter().enumerate() {
        let (Some(d), Some([_, j])) = (difference, pair(place, scores.first_lag + path[place] as isize, n)) else {
            continue;
        };
        let weight = noise.weight(d);
        (0..3).for_each(|c| sums[j][c] += weight * d[c]);
        sums[j][3] += weight;
    }
    let half = half_of(SHADE_MM / step_mm);
    let sums = (0..3).fold(sums, |sums, _| boxed(&sums, half));
    for (value, [r, g, b, weight]) in second.0.iter_mut().zip(sums) {
        if weight > 0.0 {
            let slow = [r, g, b].map(|sum| (sum / weight) as f32);
            (0..3).for_each(|c| value[c] += slow[c]);
        }
    }
}

/// The lag near the path's median at which all places together score best, drawn to the peak of the correlation beside it.
fn whole([first, second]: [&Signal; 2], scores: &Scores, path: &[usize], step_mm: f64) -> Option<f64> {
    let middle = median(path.iter().map(|&l| l as f64).collect())? as usize;
    let reach = (APART_MM / step_mm).ceil() as usize;
    let total = |l: usize| (0..scores.places).map(|c| f64::from(scores.at(c, l))).sum::<f64>();
    let near = middle.saturating_sub(reach)..(middle + reach + 1).min(scores.lags);
    let best = scores.first_lag + near.max_by(|&a, &b| total(a).total_cmp(&total(b)))? as isize;
    let at = |lag: isize| correlation(first, second, lag);
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
