//! How much better two signals agree at a place and a lag than lines that have nothing to do with one another.
//!
//! The logarithm of a likelihood ratio, place by place: that both show one line there, the difference being noise, against that
//! the one shows anything that is found along the other. Two pieces of plain ground agree anywhere and tell little; a line that
//! finds its like tells much; what is seen on one side only tells nothing.

use super::Signal;
use super::noise::{Noise, likelihood, loss};
use crate::smooth::median;
use nalgebra::Vector3;
use std::ops::RangeInclusive;

/// The score of each place at each lag; a place lies midway between the two samples that are compared.
#[derive(Clone, Debug)]
pub struct Scores {
    /// The first lag, samples: the second signal stands so much further on.
    pub first_lag: isize,
    /// Number of lags.
    pub lags: usize,
    /// Number of places along the signals, one a sample.
    pub places: usize,
    /// Score of place k at lag l at k · lags + l; NaN where one of the two is not seen.
    score: Vec<f32>,
}

/// The two samples that are compared at a place and a lag; `None` beyond the ends of the signals.
pub fn pair(place: usize, lag: isize, samples: usize) -> Option<[usize; 2]> {
    let first = place as isize - lag.div_euclid(2);
    let second = first + lag;
    let inside = |k: isize| (0..samples as isize).contains(&k);
    (inside(first) && inside(second)).then_some([first as usize, second as usize])
}

/// Samples of the other signal that a sample is held against.
const HELD_AGAINST: usize = 128;

/// A signal in units of the noise.
struct Whitened {
    value: Vec<[f32; 3]>,
    seen: Vec<bool>,
    stretch: Vec<Stretch>,
}

impl Whitened {
    fn new((value, weight): &Signal, noise: &Noise) -> Self {
        let value = noise.whitened(value);
        Self { seen: weight.iter().map(|&w| w > 0.0).collect(), stretch: Stretch::all(&value), value }
    }

    /// The least difference of sample i and the other's stretch j, or of stretch i and the other's sample j; and its square.
    #[inline]
    fn apart(&self, i: usize, other: &Self, j: usize) -> ([f32; 3], f32) {
        let square = |d: [f32; 3]| (d, d.iter().map(|x| x * x).sum::<f32>());
        let one = square(other.stretch[j].to(&self.value[i]));
        let two = square(self.stretch[i].to(&other.value[j]).map(|x| -x));
        if one.1 <= two.1 { one } else { two }
    }

    /// For each sample, minus the logarithm of the mean likelihood of what it shows where it is held against samples from all
    /// along the other.
    fn against(&self, other: &Self) -> Vec<f32> {
        let seen: Vec<usize> = (0..other.value.len()).filter(|&j| other.seen[j]).collect();
        let every = seen.len().div_ceil(HELD_AGAINST).max(1);
        let some: Vec<usize> = seen.into_iter().step_by(every).collect();
        let alone = |i: usize| {
            let likely: f32 = some.iter().map(|&j| likelihood(self.apart(i, other, j).1)).sum();
            -(likely / some.len().max(1) as f32).max(1e-30).ln()
        };
        (0..self.value.len()).map(alone).collect()
    }
}

/// How a signal runs around a sample, from halfway to the one before it to halfway to the one after.
///
/// Two samples of one line taken at other places of it differ, on its edge by much; the one and the nearest point of the
/// other's stretch do not.
///
/// # Source
/// A dissimilarity that is insensitive to sampling: Birchfield, Tomasi, IEEE Transactions on Pattern Analysis and Machine
/// Intelligence 20, 1998 (from memory).
struct Stretch {
    from: [f32; 3],
    way: [f32; 3],
    /// One over the way's square.
    scale: f32,
}

impl Stretch {
    fn all(value: &[[f32; 3]]) -> Vec<Self> {
        let n = value.len();
        let between = |a: usize, b: usize| -> [f32; 3] { std::array::from_fn(|c| 0.5 * (value[a][c] + value[b][c])) };
        let of = |k: usize| {
            let (from, to) = (between(k.saturating_sub(1), k), between(k, (k + 1).min(n - 1)));
            let way: [f32; 3] = std::array::from_fn(|c| to[c] - from[c]);
            let square: f32 = way.iter().map(|x| x * x).sum();
            Self { from, way, scale: if square > 0.0 { 1.0 / square } else { 0.0 } }
        };
        (0..n).map(of).collect()
    }

    /// What leads from the nearest point of the stretch to a value.
    #[inline]
    fn to(&self, value: &[f32; 3]) -> [f32; 3] {
        let apart: [f32; 3] = std::array::from_fn(|c| value[c] - self.from[c]);
        let along = (0..3).map(|c| apart[c] * self.way[c]).sum::<f32>() * self.scale;
        let along = along.clamp(0.0, 1.0);
        std::array::from_fn(|c| apart[c] - along * self.way[c])
    }
}

impl Scores {
    /// How much better `first` and `second`, moved back by each lag (samples), agree than lines that have nothing to do with one
    /// another.
    pub fn new(first: &Signal, second: &Signal, lags: RangeInclusive<isize>, noise: &Noise, step_mm: f64) -> Self {
        let [a, b] = [first, second].map(|signal| Whitened::new(signal, noise));
        let (alone_a, alone_b) = (a.against(&b), b.against(&a));
        Self::of([&a, &b], lags, (step_mm / noise.independent_mm).min(1.0), |i, j| 0.5 * (alone_a[i] + alone_b[j]))
    }

    /// How well they agree at each lag, wherever else they might.
    pub fn agreement(
        first: &Signal,
        second: &Signal,
        lags: RangeInclusive<isize>,
        noise: &Noise,
        step_mm: f64,
    ) -> Self {
        let [a, b] = [first, second].map(|signal| Whitened::new(signal, noise));
        Self::of([&a, &b], lags, (step_mm / noise.independent_mm).min(1.0), |_, _| 0.0)
    }

    /// The score of each pair: what it is held against less its loss, `worth` independent samples to one.
    fn of(
        [a, b]: [&Whitened; 2],
        lags: RangeInclusive<isize>,
        worth: f64,
        unrelated: impl Fn(usize, usize) -> f32,
    ) -> Self {
        let places = a.value.len();
        let count = lags.clone().count();
        let mut score = vec![f32::NAN; places * count];
        for k in 0..places {
            let row = &mut score[k * count..(k + 1) * count];
            for (slot, lag) in row.iter_mut().zip(lags.clone()) {
                let Some([i, j]) = pair(k, lag, places) else { continue };
                if a.seen[i] && b.seen[j] {
                    *slot = worth as f32 * (unrelated(i, j) - loss(a.apart(i, b, j).1));
                }
            }
        }
        Self { first_lag: *lags.start(), lags: count, places, score }
    }

    /// The score of a place at a lag (an index), 0 where nothing is seen.
    pub fn at(&self, place: usize, lag: usize) -> f32 {
        let score = self.score[place * self.lags + lag];
        if score.is_nan() { 0.0 } else { score }
    }

    /// The median lag, samples, of a path of lags (indices).
    pub fn lag_of(&self, path: &[usize]) -> Option<f64> {
        Some(self.first_lag as f64 + median(path.iter().map(|&l| l as f64).collect())?)
    }

    /// Whether anything is seen of a place.
    pub fn seen(&self, place: usize) -> bool {
        self.score[place * self.lags..(place + 1) * self.lags].iter().any(|s| !s.is_nan())
    }

    /// The difference of the signals along a path of lags (indices), at each place; `None` where one is not seen.
    pub fn differences(
        &self,
        first: &Signal,
        second: &Signal,
        path: &[usize],
        noise: &Noise,
    ) -> Vec<Option<Vector3<f64>>> {
        let [a, b] = [first, second].map(|signal| Whitened::new(signal, noise));
        let at = |(place, &lag): (usize, &usize)| {
            let [i, j] = pair(place, self.first_lag + lag as isize, a.value.len())?;
            (a.seen[i] && b.seen[j]).then(|| noise.coloured(a.apart(i, &b, j).0))
        };
        path.iter().enumerate().map(at).collect()
    }
}
