//! One alignment of two signals among some lags: the noise, the shade between them and the path, each settled by the others.
//!
//! From all lags within reach the chain may run to one where little is compared, and the noise that it finds there keeps it. So
//! every lag at which the signals are alike has a chance of its own, and the evidence decides.

use super::Signal;
use super::chain::{Steps, evidence, viterbi};
use super::correlation;
use super::noise::{LEAST_INDEPENDENT_MM, Noise, UNLIKE, energy};
use super::score::{Scores, pair};
use crate::conventions::wrap;
use crate::smooth::{boxed, half_of, median};
use nalgebra::Vector3;
use std::ops::RangeInclusive;

/// At most so many lags at which the signals correlate are looked at, those that are not less likely than the likeliest by this
/// logarithm, and so far around, millimetres: a lag that wanders correlates little with any one lag.
const CANDIDATES: usize = 8;
const LESS_LIKELY: f64 = 12.0;
const AROUND_MM: f64 = 5.0;
/// The first idea of the noise is read where this length, millimetres, agrees best.
const WINDOW_MM: f64 = 10.0;
/// Shade is slower than this, millimetres (standard deviation of the smooth that took it off each side).
const SHADE_MM: f64 = 25.0;

/// How the signals may lie on one another, the likeliest first: among all lags within reach, and around each of those at which they
/// are likeliest to show the same, a high correlation of many independent samples.
pub fn candidates([first, second]: [&Signal; 2], reach: isize, repeat: Option<f64>, step_mm: f64) -> Vec<Settled> {
    let settle = |lags| Settled::new([first, second], lags, repeat, step_mm);
    let Some(whole) = settle(-reach..=reach) else { return Vec::new() };
    let independent = step_mm / LEAST_INDEPENDENT_MM;
    let likelihood = |lag: isize| {
        let (r, pairs) = correlation::at(first, second, lag);
        -0.5 * independent * pairs as f64 * (1.0 - r.clamp(0.0, 0.999).powi(2)).ln()
    };
    let at: Vec<f64> = (-reach - 1..=reach + 1).map(likelihood).collect();
    let mut peaks: Vec<usize> = (1..at.len() - 1).filter(|&k| at[k] >= at[k - 1] && at[k] > at[k + 1]).collect();
    peaks.sort_by(|&a, &b| at[b].total_cmp(&at[a]));
    let least = peaks.first().map_or(0.0, |&best| at[best] - LESS_LIKELY);
    peaks.retain(|&k| at[k] > least.max(0.0));
    let half = (AROUND_MM / step_mm).ceil() as isize;
    let around = peaks.into_iter().take(CANDIDATES).map(|k| k as isize - reach - 1);
    let elsewhere = around.filter(|&middle| (middle as f64 - whole.middle).abs() > 0.5 * half as f64);
    let mut settled: Vec<Settled> =
        elsewhere.filter_map(|middle| settle((middle - half).max(-reach)..=(middle + half).min(reach))).collect();
    settled.push(whole);
    settled.sort_by(|a, b| b.evidence.total_cmp(&a.evidence));
    settled
}

/// An alignment within some lags, once its noise, the shade and the path have settled.
pub struct Settled {
    /// The noise of the difference along its path.
    pub noise: Noise,
    /// The second signal, the shade between the two taken off.
    pub second: Signal,
    /// How well they agree so at the lags among which it settled.
    pub scores: Scores,
    /// The path, indices of those lags.
    pub path: Vec<usize>,
    /// Its median lag, samples.
    pub middle: f64,
    /// How much likelier the signals are so than if they had nothing to do with one another, a logarithm; of a lag that seldom
    /// wanders, or a path that compares little would be the likelier for it.
    pub evidence: f64,
}

impl Settled {
    /// Lets the second settle on the first, around the lag nearest to none where they return after `repeat` samples; `None` where too
    /// little of both is seen.
    fn new(
        [first, second]: [&Signal; 2],
        mut lags: RangeInclusive<isize>,
        repeat: Option<f64>,
        step_mm: f64,
    ) -> Option<Self> {
        let mut noise = first_noise(first, second, lags.clone(), step_mm)?;
        let mut second = second.clone();
        let (steps, half) = (Steps::new(step_mm), (lags.end() - lags.start()) / 2);
        // The noise, the shade and the path, each from the others.
        for _ in 0..2 {
            let scores = Scores::new(first, &second, lags.clone(), &noise, step_mm);
            let path = viterbi(&scores, &steps);
            let differences = scores.differences(first, &second, &path, &noise);
            even(&mut second, &differences, (&scores, &path), &noise, step_mm);
            noise = Noise::of(&scores.differences(first, &second, &path, &noise), step_mm, &noise)?;
            if let Some(repeat) = repeat {
                let middle = wrap(scores.lag_of(&path)?, repeat).round() as isize;
                lags = middle - half..=middle + half;
            }
        }
        let scores = Scores::new(first, &second, lags, &noise, step_mm);
        let path = viterbi(&scores, &steps);
        let evidence = evidence(&scores, &Steps::seldom(step_mm));
        Some(Self { noise, second, evidence, middle: scores.lag_of(&path)?, scores, path })
    }
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
