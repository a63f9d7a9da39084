//! A first look at the offset along the seam: the path through place and lag on which the two sides agree best.
//!
//! The fit finds the nearest valley, and beyond a jump of more than half a line's width the first value leads to another
//! one. Here every place may have a lag of its own; a change costs by its size up to the price of a jump, so that a slip or a
//! step is followed, and noise is not.
//!
//! # Source
//! The path of least cost by dynamic programming: A. J. Viterbi, IEEE Transactions on Information Theory 13, 1967; the
//! truncated linear cost in time of the number of lags: Felzenszwalb, Huttenlocher, International Journal of Computer
//! Vision 70, 2006 (both from memory).

use crate::lines::align::Stack;
use crate::smooth::{boxed, median};
use crate::threads;

/// Length of a cell along the seam, and distance of the lags tried, millimetres.
const CELL_MM: f64 = 0.5;
const LAG_MM: f64 = 0.25;
/// The furthest from the first value that is looked, millimetres; and repeats: beyond it another partner is nearer.
const REACH_MM: f64 = 7.0;
const REACH_REPEATS: f64 = 0.5;
/// What a change of the lag costs, in units of the log-likelihood: for a millimetre, and for a jump of any size.
const CHANGE_COST: f64 = 3.0;
const JUMP_COST: f64 = 9.0;
/// A jump nearer than this to the ends of what is seen is not followed, millimetres: a single line would tell of it.
pub const END_MM: f64 = 10.0;
/// A change of this size, millimetres, is more than the fit finds by itself from the same offset everywhere.
const LEAST_CHANGE_MM: f64 = 0.4;
/// Samples this far apart err independently, millimetres.
const INDEPENDENT_MM: f64 = 1.0;
/// A squared difference counts up to this many times its typical size: a pin is no line.
const MOST_SQUARE: f64 = 30.0;
/// The typical difference is read where this length, millimetres, agrees best.
const WINDOW_MM: f64 = 10.0;
/// Lines of the two sides always differ by this share of their own square: cloth is not print.
const UNLIKE: f64 = 0.02;

/// The offset along the seam as first seen.
#[derive(Clone, Debug)]
pub struct Course {
    cell_mm: f64,
    offset_mm: Vec<f64>,
    first_mm: f64,
}

impl Course {
    /// The same offset everywhere, millimetres.
    pub fn constant(offset_mm: f64) -> Self {
        Self { cell_mm: CELL_MM, offset_mm: vec![offset_mm], first_mm: offset_mm }
    }

    /// The offset that all of the seam was first seen to have, millimetres.
    pub fn first_mm(&self) -> f64 {
        self.first_mm
    }

    /// Whether the offset is not the same everywhere.
    pub fn changes(&self) -> bool {
        self.offset_mm.iter().any(|&x| (x - self.offset_mm[0]).abs() > LEAST_CHANGE_MM)
    }

    /// The offset at t, millimetres.
    pub fn at(&self, t_mm: f64) -> f64 {
        let cell = (t_mm / self.cell_mm).max(0.0) as usize;
        self.offset_mm[cell.min(self.offset_mm.len() - 1)]
    }

    /// Follows the offset along the seam through both sides' stacked lines, from a first value on.
    pub fn follow(stacks: &[Stack; 2], first_mm: f64, repeat_mm: Option<f64>, step_mm: f64) -> Self {
        let samples = stacks[0].0.len();
        let cell = ((CELL_MM / step_mm).round() as usize).max(1);
        let reach_mm = repeat_mm.map_or(REACH_MM, |repeat| REACH_MM.min(REACH_REPEATS * repeat));
        let reach = (reach_mm / LAG_MM).floor() as isize;
        let lags: Vec<f64> = (-reach..=reach).map(|k| first_mm + k as f64 * LAG_MM).collect();
        let cells = samples.div_ceil(cell);
        // The square of the difference at each cell and lag, `None` where one side is not seen.
        let of_lag = |lag: &f64| -> Vec<Option<f64>> {
            let half = lag / 2.0 / step_mm;
            let at: Vec<Option<f64>> = (0..samples).map(|k| difference(stacks, k as f64, half)).collect();
            let mean = |part: &[Option<f64>]| {
                let seen: Vec<f64> = part.iter().flatten().copied().collect();
                (2 * seen.len() > part.len()).then(|| seen.iter().sum::<f64>() / seen.len() as f64)
            };
            at.chunks(cell).map(mean).collect()
        };
        let square = threads::halves(&lags, |lags| lags.iter().map(of_lag).collect());
        let cell_mm = cell as f64 * step_mm;
        let Some(typical) = typical(&square, (WINDOW_MM / 2.0 / cell_mm) as usize) else {
            return Self::constant(first_mm);
        };
        let energy = energy(stacks);
        let unit = typical + UNLIKE * energy;
        if unit <= 0.0 {
            return Self::constant(first_mm);
        }
        let likely = 0.5 * cell_mm / INDEPENDENT_MM;
        // What is not seen costs what the best lag would typically cost.
        let cost = |lag: usize, cell: usize| {
            likely * square[lag][cell].map_or(typical / unit, |s| (s / unit).min(MOST_SQUARE))
        };
        let path = cheapest(lags.len(), cells, cost);
        let seen = |cell: &usize| square.iter().any(|row| row[*cell].is_some());
        let end = (END_MM / cell_mm) as usize;
        let from = (0..cells).find(seen).unwrap_or(0) + end;
        let to = (0..cells).rfind(seen).unwrap_or(0).saturating_sub(end).max(from);
        let inner = |cell: usize| lags[path[cell.clamp(from, to).min(cells - 1)]];
        Self { cell_mm, offset_mm: (0..cells).map(inner).collect(), first_mm }
    }
}

/// Squared difference over the channels of the first side half a lag before a sample and the second half a lag behind it.
fn difference(stacks: &[Stack; 2], place: f64, half: f64) -> Option<f64> {
    let a = between(&stacks[0], place - half)?;
    let b = between(&stacks[1], place + half)?;
    Some((0..3).map(|c| (a[c] - b[c]).powi(2)).sum())
}

/// A stack between two samples.
fn between((value, weight): &Stack, place: f64) -> Option<[f64; 3]> {
    let k = place.floor();
    if k < 0.0 || k as usize + 1 >= value.len() {
        return None;
    }
    let (i, f) = (k as usize, place - k);
    (weight[i] > 0.0 && weight[i + 1] > 0.0)
        .then(|| std::array::from_fn(|c| (1.0 - f) * f64::from(value[i][c]) + f * f64::from(value[i + 1][c])))
}

/// The mean square of both sides' lines.
fn energy(stacks: &[Stack; 2]) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for (value, weight) in stacks {
        for (v, _) in value.iter().zip(weight).filter(|(_, w)| **w > 0.0) {
            sum += v.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>();
            count += 1.0;
        }
    }
    sum / f64::max(count, 1.0)
}

/// The median along the seam of the mean square difference over a window at its best lag; `None` where nothing is seen.
fn typical(square: &[Vec<Option<f64>>], half: usize) -> Option<f64> {
    let windows: Vec<Vec<[f64; 2]>> = square
        .iter()
        .map(|row| boxed(&row.iter().map(|s| s.map_or([0.0; 2], |s| [s, 1.0])).collect::<Vec<_>>(), half))
        .collect();
    let best = |cell: usize| {
        let means = windows.iter().map(|row| row[cell]).filter(|w| w[1] >= half as f64).map(|w| w[0] / w[1]);
        means.min_by(f64::total_cmp)
    };
    median((0..square[0].len()).filter_map(best).collect())
}

/// The path of the least sum of costs and changes: a lag for each cell.
fn cheapest(lags: usize, cells: usize, cost: impl Fn(usize, usize) -> f64) -> Vec<usize> {
    let mut total: Vec<f64> = (0..lags).map(|lag| cost(lag, 0)).collect();
    let mut from: Vec<Vec<usize>> = Vec::with_capacity(cells);
    for cell in 1..cells {
        // From the cheapest lag anywhere by a jump, or from a neighbour by a change of one step.
        let cheapest = (0..lags).min_by(|&a, &b| total[a].total_cmp(&total[b])).expect("there are lags");
        let mut origin: Vec<usize> = (0..lags).collect();
        let mut reached = total.clone();
        for (lag, before) in (1..lags).map(|k| (k, k - 1)).chain((1..lags).rev().map(|k| (k - 1, k))) {
            if reached[before] + CHANGE_COST * LAG_MM < reached[lag] {
                (reached[lag], origin[lag]) = (reached[before] + CHANGE_COST * LAG_MM, origin[before]);
            }
        }
        for lag in 0..lags {
            if total[cheapest] + JUMP_COST < reached[lag] {
                (reached[lag], origin[lag]) = (total[cheapest] + JUMP_COST, cheapest);
            }
            reached[lag] += cost(lag, cell);
        }
        total = reached;
        from.push(origin);
    }
    let mut lag = (0..lags).min_by(|&a, &b| total[a].total_cmp(&total[b])).expect("there are lags");
    let mut path = vec![lag];
    for origin in from.iter().rev() {
        lag = origin[lag];
        path.push(lag);
    }
    path.reverse();
    path
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two sides with a line of 2 mm in every 9 mm whose offset is `offset_mm` of the place, a little uneven.
    fn stacks(offset_mm: impl Fn(f64) -> f64, step_mm: f64) -> [Stack; 2] {
        let line = |m: f64| if (m / 9.0).fract() < 2.0 / 9.0 { 1.0 } else { 0.0 };
        let side = |sign: f64| {
            let value = |k: usize| {
                let u = k as f64 * step_mm;
                (line(u - sign * offset_mm(u) / 2.0) + 0.02 * (k as f64 * 1.7 + sign).sin()) as f32
            };
            ((0..600).map(|k| [value(k); 3]).collect(), vec![1.0; 600])
        };
        [side(-1.0), side(1.0)]
    }

    #[test]
    fn a_step_is_followed_from_the_level_of_either_side() {
        let step_mm = 0.2;
        let stacks = stacks(|u| if u < 60.0 { 1.0 } else { 4.0 }, step_mm);
        for first_mm in [1.0, 4.0] {
            let course = Course::follow(&stacks, first_mm, Some(9.0), step_mm);
            assert!(course.changes());
            for (t_mm, due_mm) in [(5.0, 1.0), (50.0, 1.0), (75.0, 4.0), (115.0, 4.0)] {
                assert!((course.at(t_mm) - due_mm).abs() < 0.3, "{first_mm}, {t_mm}: {}", course.at(t_mm));
            }
        }
    }

    #[test]
    fn an_even_offset_stays_even_and_what_is_hidden_changes_nothing() {
        let step_mm = 0.2;
        let mut stacks = stacks(|_| 2.0, step_mm);
        for side in &mut stacks {
            side.1[200..320].fill(0.0);
        }
        assert!(!Course::follow(&stacks, 2.0, Some(9.0), step_mm).changes());
        stacks.iter_mut().for_each(|side| side.1.fill(0.0));
        assert!(!Course::follow(&stacks, 2.0, None, step_mm).changes());
    }
}
