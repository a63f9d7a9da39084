//! How unlike two stacks of lines are, lag by lag, when every piece of the seam may stand a little further or less far.
//!
//! Over the whole seam at once, a jump that wanders by half a line's width makes the right lag as unlike as a wrong one. Piece
//! by piece it does not: each piece has its own best lag, the best path through them is the offset as first seen, and moved
//! as a whole it tells which other partners would be as good.

use crate::smooth::{boxed, median};

/// Relief and weight at each sample.
pub type Stack = (Vec<[f32; 3]>, Vec<f32>);

/// A change of the lag from piece to piece costs this for a millimetre.
const CHANGE_COST_PER_MM: f64 = 0.02;
/// The most it may change from piece to piece, millimetres.
const MOST_CHANGE_MM: f64 = 3.0;
/// The path to another partner stands aside from the best one's by no more than this, millimetres.
const MOST_ASIDE_MM: f64 = 5.0;
/// Lines are drawn out by this much, millimetres: within a piece a jump may change by more than a thin line's width.
const BLUR_MM: f64 = 0.75;
/// A piece tells something where its lines have at least this share of the mean square of all.
const LEAST_LINES: f64 = 0.2;
/// Lags of one partner are as good where they leave this many times as much unlike, and this share more: cloth is not
/// print.
const AS_GOOD: f64 = 1.8;
const AS_GOOD_BESIDE: f64 = 0.03;
/// And where they explain at least this share of what the best one explains.
const AS_LIKE: f64 = 0.9;

/// How unlike the pieces of two stacks are at each lag: 0 alike, 1 unrelated, 2 opposite.
pub struct Pieces {
    first_lag: isize,
    step_mm: f64,
    /// By piece, then by lag; `None` where too little is seen, or no line.
    unlike: Vec<Vec<Option<f64>>>,
}

/// Whether what is left unlike at one lag is as good as what is left at the best.
pub fn as_good(unlike: f64, best: f64) -> bool {
    unlike <= AS_GOOD * best + AS_GOOD_BESIDE && 1.0 - unlike >= AS_LIKE * (1.0 - best)
}

impl Pieces {
    /// Compares `first` with `second` moved back by each lag of `lags` (samples), in pieces of `piece_mm` that overlap by
    /// half.
    pub fn new(
        first: &Stack,
        second: &Stack,
        lags: std::ops::RangeInclusive<isize>,
        piece_mm: f64,
        step_mm: f64,
    ) -> Self {
        let [first, second] = [first, second].map(|stack| blurred(stack, step_mm));
        let n = first.0.len() as isize;
        let piece = ((piece_mm / step_mm).round() as usize).clamp(4, first.0.len().max(4));
        let hop = (piece / 2).max(1);
        let count = (first.0.len().saturating_sub(piece)) / hop + 1;
        let energy = mean_square(&first) + mean_square(&second);
        let mut unlike = vec![Vec::with_capacity(lags.clone().count()); count];
        let mut sums = vec![[0.0f64; 3]; first.0.len() + 1];
        for lag in lags.clone() {
            for k in 0..n {
                // The piece lies midway between what is compared: there a jump is where it is said to be.
                let i = k - lag.div_euclid(2);
                let j = i + lag;
                let mut next = sums[k as usize];
                let inside = (0..n).contains(&i) && (0..n).contains(&j);
                if inside && first.1[i as usize] > 0.0 && second.1[j as usize] > 0.0 {
                    let (a, b) = (&first.0[i as usize], &second.0[j as usize]);
                    next[0] += (0..3).map(|c| f64::from(a[c] - b[c]).powi(2)).sum::<f64>();
                    next[1] += 1.0;
                    next[2] += a.iter().chain(b).map(|&x| f64::from(x).powi(2)).sum::<f64>();
                }
                sums[k as usize + 1] = next;
            }
            for (b, row) in unlike.iter_mut().enumerate() {
                let (from, to) = (sums[b * hop], sums[(b * hop + piece).min(first.0.len())]);
                let (seen, lines) = (to[1] - from[1], to[2] - from[2]);
                let tells = 2.0 * seen >= piece as f64 && lines > LEAST_LINES * seen * energy;
                row.push(tells.then(|| (to[0] - from[0]) / (seen * energy)));
            }
        }
        Self { first_lag: *lags.start(), step_mm, unlike }
    }

    fn lags(&self) -> usize {
        self.unlike.first().map_or(0, Vec::len)
    }

    /// How unlike each piece is at `lag_of(piece)` (an index), free to move by `slack` lags.
    fn each(&self, lag_of: impl Fn(usize) -> isize, slack: usize) -> Vec<Option<f64>> {
        let at = |piece: usize| -> Option<f64> {
            let lag = lag_of(piece);
            let (from, to) = ((lag - slack as isize).max(0), (lag + slack as isize + 1).min(self.lags() as isize));
            let row = &self.unlike[piece];
            (from..to).filter_map(|k| row[k as usize]).min_by(f64::total_cmp)
        };
        (0..self.unlike.len()).map(at).collect()
    }

    /// How unlike each piece is at one lag (samples), free to move by `slack_mm`.
    pub fn at(&self, lag: f64, slack_mm: f64) -> Vec<Option<f64>> {
        let index = lag.round() as isize - self.first_lag;
        self.each(|_| index, (slack_mm / self.step_mm).round() as usize)
    }

    /// The lag (an index) of each piece on the path of least unlikeness, no piece further than `reach` lags from where `near`
    /// has it; `None` where nothing is seen.
    ///
    /// # Source
    /// Dynamic programming: A. J. Viterbi, IEEE Transactions on Information Theory 13, 1967 (from memory).
    fn path(&self, near: impl Fn(usize) -> isize, reach: usize) -> Option<Vec<isize>> {
        let lags = self.lags();
        let best_of = |row: &Vec<Option<f64>>| row.iter().flatten().copied().min_by(f64::total_cmp);
        // What is not seen costs what a piece typically costs at its best.
        let typical = median(self.unlike.iter().filter_map(best_of).collect())?;
        let cost = |piece: usize, lag: usize| match near(piece).abs_diff(lag as isize) <= reach {
            true => self.unlike[piece][lag].unwrap_or(typical),
            false => f64::INFINITY,
        };
        let most = ((MOST_CHANGE_MM / self.step_mm).round() as usize).max(1);
        let mut total: Vec<f64> = (0..lags).map(|lag| cost(0, lag)).collect();
        let mut origins = Vec::with_capacity(self.unlike.len());
        for piece in 1..self.unlike.len() {
            let (mut reached, mut origin) = (Vec::with_capacity(lags), Vec::with_capacity(lags));
            for lag in 0..lags {
                let from = lag.saturating_sub(most)..(lag + most + 1).min(lags);
                let change = |before: usize| CHANGE_COST_PER_MM * self.step_mm * before.abs_diff(lag) as f64;
                let (before, least) = from
                    .map(|before| (before, total[before] + change(before)))
                    .min_by(|a, b| a.1.total_cmp(&b.1))
                    .expect("a lag reaches itself");
                reached.push(least + cost(piece, lag));
                origin.push(before);
            }
            total = reached;
            origins.push(origin);
        }
        let mut lag = (0..lags).min_by(|&a, &b| total[a].total_cmp(&total[b]))?;
        let mut path = vec![lag as isize];
        for origin in origins.iter().rev() {
            lag = origin[lag];
            path.push(lag as isize);
        }
        path.reverse();
        Some(path)
    }

    /// The lag (samples, mean over the pieces) of the nearest partner that is as good as the best, and how unlike the lines
    /// are there; each piece follows the path of least unlikeness. `None` where nothing is seen.
    ///
    /// The best path moved as a whole tells where other partners are; each of those has a path of its own, for a jump that
    /// two partners share is met at another place with each.
    pub fn nearest(&self, slack_mm: f64) -> Option<(f64, f64)> {
        let slack = (slack_mm / self.step_mm).round() as usize;
        let lags = self.lags();
        let path = self.path(|_| 0, lags)?;
        let best = self.each(|piece| path[piece], slack);
        let unlike = median_of(best.iter().copied())?;
        let lag_of = |path: &[isize]| path.iter().sum::<isize>() as f64 / path.len() as f64 + self.first_lag as f64;
        let own_lag = lag_of(&path);
        let moved = (-(lags as isize)..=lags as isize)
            .filter_map(|s| Some((s, excess(&self.each(|piece| path[piece] + s, slack), &best)?)));
        let moved: Vec<(isize, f64)> = moved.collect();
        // The middle of a flat valley is its place.
        let runs = moved.chunk_by(|a, b| a.1 == b.1 && b.0 == a.0 + 1);
        let runs: Vec<(isize, f64)> = runs.map(|run| ((run[0].0 + run[run.len() - 1].0) / 2, run[0].1)).collect();
        let is_low = |k: usize| {
            let left = k.checked_sub(1).is_none_or(|k| runs[k].1 > runs[k + 1].1);
            left && runs.get(k + 1).is_none_or(|v| v.1 > runs[k].1)
        };
        let valleys: Vec<isize> = (0..runs.len()).filter(|&k| is_low(k)).map(|k| runs[k].0).collect();
        let partner = |k: usize| -> Option<(f64, f64)> {
            let apart = |other: Option<&isize>| other.map_or(usize::MAX, |o| o.abs_diff(valleys[k]) / 2);
            let reach = ((MOST_ASIDE_MM / self.step_mm).round() as usize)
                .min(apart(k.checked_sub(1).and_then(|k| valleys.get(k))))
                .min(apart(valleys.get(k + 1)));
            let own = self.path(|piece| path[piece] + valleys[k], reach)?;
            let left = excess(&self.each(|piece| own[piece], slack), &best)?;
            as_good(unlike + left, unlike).then(|| (lag_of(&own), unlike + left))
        };
        let nearer = (0..valleys.len()).filter(|&k| (own_lag + valleys[k] as f64).abs() < own_lag.abs());
        nearer.filter_map(partner).chain([(own_lag, unlike)]).min_by(|a, b| a.0.abs().total_cmp(&b.0.abs()))
    }
}

/// By how much pieces are more unlike than others, in the median over those seen in both: a slip or a pin is in few of
/// them. `None` where those are fewer than a third.
fn excess(pieces: &[Option<f64>], than: &[Option<f64>]) -> Option<f64> {
    median_of(pieces.iter().zip(than).map(|(a, b)| Some((*a)? - (*b)?)))
}

/// The median of what is seen; `None` where that is less than a third.
fn median_of(pieces: impl ExactSizeIterator<Item = Option<f64>>) -> Option<f64> {
    let all = pieces.len();
    let seen: Vec<f64> = pieces.flatten().collect();
    (3 * seen.len() >= all).then(|| median(seen)).flatten()
}

/// A stack with its lines drawn out by three quarters of a millimetre to either side; a gap stays a gap.
pub fn blurred((value, weight): &Stack, step_mm: f64) -> Stack {
    let seen = value.iter().zip(weight).map(|(v, &w)| match w > 0.0 {
        true => [f64::from(v[0]), f64::from(v[1]), f64::from(v[2]), 1.0],
        false => [0.0; 4],
    });
    let sums = boxed(&seen.collect::<Vec<_>>(), (BLUR_MM / step_mm).round() as usize);
    let mean = |s: &[f64; 4]| std::array::from_fn(|c| if s[3] > 0.0 { (s[c] / s[3]) as f32 } else { 0.0 });
    (sums.iter().map(mean).collect(), weight.clone())
}

/// Mean square of a stack's relief, all channels together.
fn mean_square((value, weight): &Stack) -> f64 {
    let seen = || value.iter().zip(weight).filter(|(_, w)| **w > 0.0);
    let sum: f64 = seen().map(|(v, _)| v.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>()).sum();
    sum / seen().count().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEP_MM: f64 = 0.25;

    /// Lines every 12 mm in two colours, displaced by a function of the place.
    fn lines(displaced_mm: impl Fn(f64) -> f64) -> Stack {
        let value = |k: usize| {
            let u = k as f64 * STEP_MM;
            let place = (u - displaced_mm(u)).rem_euclid(24.0);
            match place {
                p if p < 4.0 => [0.5, -0.3, -0.4],
                p if (12.0..16.0).contains(&p) => [-0.1, 0.2, 0.5],
                _ => [0.0f32; 3],
            }
        };
        ((0..600).map(value).collect(), vec![1.0; 600])
    }

    #[test]
    fn a_wandering_jump_keeps_its_partner() {
        let wander = |u: f64| 2.2 * (u / 19.0).sin();
        let pieces = Pieces::new(&lines(|_| 0.0), &lines(wander), -160..=160, 18.0, STEP_MM);
        let (lag, unlike) = pieces.nearest(0.6).unwrap();
        assert!(lag.abs() * STEP_MM < 1.5 && unlike < 0.1, "{lag} {unlike}");
    }

    #[test]
    fn a_line_of_another_colour_is_no_partner() {
        let pieces = Pieces::new(&lines(|_| 0.0), &lines(|_| 11.0), -160..=160, 18.0, STEP_MM);
        let (lag, _) = pieces.nearest(0.6).unwrap();
        assert!((lag * STEP_MM - 11.0).abs() < 0.7, "{lag}");
    }

    #[test]
    fn nothing_seen_has_no_lag() {
        let blind: Stack = (vec![[0.0; 3]; 600], vec![0.0; 600]);
        assert!(Pieces::new(&blind, &lines(|_| 0.0), -20..=20, 18.0, STEP_MM).nearest(0.6).is_none());
    }
}
