//! Where the offset jumps: sets of places at which the random walk of δ may take a step of any size, each with its
//! evidence.
//!
//! A careless hand wanders, and a pin that let go jumps. A walk free enough to jump is free to follow noise everywhere, and
//! one that is not smooths the jump; so single steps between neighbouring knots are let go. Which ones the data cannot
//! always tell, between two lines least of all: all sets that explain the data are kept with their weights, and the
//! spread between them is doubt about the offset there.
//!
//! # Source
//! A step's variance changed is a change of rank one of the precision: Sherman and Morrison's formula and the determinant
//! lemma (from memory). One jump to half a metre of seam, of 2 mm: common practice, no source.

use nalgebra::{DMatrix, DVector};

/// Length of seam with one jump, millimetres, and the standard deviation of its size.
const RARE_MM: f64 = 500.0;
const SIZE_MM: f64 = 2.0;
/// Sets kept of one number of jumps; and the most jumps of a seam.
const KEPT: usize = 24;
const MOST: usize = 8;
/// A set whose weight is below this share of the best one's is left out, and numbers of jumps are tried until two in turn
/// have none that counts.
const LEAST_SHARE: f64 = 2e-3;

/// A random walk's steps, and what letting one of them go changes.
#[derive(Clone, Copy, Debug)]
pub struct Steps {
    /// How much less precise a step is that is let go.
    loss: f64,
    /// Logarithm of what is left of its precision as a share.
    left: f64,
    /// Logarithm of the odds that a step is a jump.
    odds: f64,
}

impl Steps {
    /// Of a walk with steps of this variance, `spacing_mm` apart.
    pub fn new(variance: f64, spacing_mm: f64) -> Self {
        let share = (spacing_mm / RARE_MM).min(0.5);
        let freed = let_go(variance);
        Self { loss: 1.0 / variance - 1.0 / freed, left: (variance / freed).ln(), odds: (share / (1.0 - share)).ln() }
    }

    /// By how much the logarithm of the evidence grows when a step of this variance and size, as known, is let go.
    fn gain(&self, (variance, size): (f64, f64)) -> f64 {
        let left = 1.0 - self.loss * variance;
        if left <= 0.0 {
            return f64::NEG_INFINITY;
        }
        self.odds + 0.5 * (self.left - left.ln() + self.loss * size * size / left)
    }
}

/// The variance of a step that is let go, from what it was.
pub fn let_go(variance: f64) -> f64 {
    variance + SIZE_MM * SIZE_MM
}

/// A set of steps let go.
#[derive(Clone, Debug)]
pub struct Set {
    /// Logarithm of the evidence, prior odds of the jumps and all.
    pub log: f64,
    /// The steps, by the knot before them, in order.
    pub jumps: Vec<usize>,
}

impl Set {
    /// The same and one more, by which the logarithm grows.
    fn and(&self, jump: usize, gain: f64) -> Self {
        let mut jumps = self.jumps.clone();
        jumps.insert(jumps.partition_point(|&j| j < jump), jump);
        Self { log: self.log + gain, jumps }
    }
}

/// What is known of δ, at its knots or of some of its steps.
#[derive(Clone, Debug)]
pub struct Told {
    /// Means, millimetres.
    pub mean: DVector<f64>,
    /// Their covariance.
    pub covariance: DMatrix<f64>,
}

impl Told {
    /// The same with a step let go of this variance and size, whose covariance with all that is told is `across`.
    fn with(mut self, across: &DVector<f64>, (variance, size): (f64, f64), steps: &Steps) -> Self {
        let share = steps.loss / (1.0 - steps.loss * variance);
        self.mean.axpy(share * size, across, 1.0);
        self.covariance.ger(share, across, across, 1.0);
        self
    }

    /// Of the knots: the same with all of these steps let go.
    pub fn with_all(&self, jumps: &[usize], steps: &Steps) -> Self {
        jumps.iter().fold(self.clone(), |told, &k| {
            let across = told.covariance.column(k + 1) - told.covariance.column(k);
            let step = (across[k + 1] - across[k], told.mean[k + 1] - told.mean[k]);
            told.with(&across, step, steps)
        })
    }

    /// Of steps: variance and size of one.
    fn step(&self, k: usize) -> (f64, f64) {
        (self.covariance[(k, k)], self.mean[k])
    }
}

/// The sets of jumps that count, from what is known of the steps at `places` where none is let go, and the logarithm of its
/// evidence: each number of jumps from the best sets of one fewer.
pub fn sets(told: Told, log: f64, places: &[usize], steps: &Steps) -> Vec<Set> {
    let none = Set { log, jumps: Vec::new() };
    let mut best = log;
    let mut all = vec![none.clone()];
    let mut last = vec![(none, told)];
    let mut idle = 0;
    for _ in 0..MOST {
        let mut next: Vec<(f64, usize, usize)> = Vec::new();
        for (parent, (set, told)) in last.iter().enumerate() {
            let free = (0..places.len()).filter(|&k| !set.jumps.contains(&places[k]));
            next.extend(free.map(|k| (set.log + steps.gain(told.step(k)), parent, k)));
        }
        next.retain(|n| n.0 > f64::NEG_INFINITY);
        next.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut grown: Vec<(Set, usize, usize)> = Vec::new();
        for (log, parent, k) in next {
            if grown.len() == KEPT {
                break;
            }
            let set = last[parent].0.and(places[k], log - last[parent].0.log);
            if grown.iter().all(|g| g.0.jumps != set.jumps) {
                grown.push((set, parent, k));
            }
        }
        let Some(top) = grown.first().map(|g| g.0.log) else { break };
        idle = if top > best + LEAST_SHARE.ln() { 0 } else { idle + 1 };
        best = best.max(top);
        all.extend(grown.iter().map(|g| g.0.clone()));
        if idle == 2 {
            break;
        }
        let known = |(set, parent, k): (Set, usize, usize)| {
            let told = &last[parent].1;
            let across = told.covariance.column(k).clone_owned();
            (set, told.clone().with(&across, told.step(k), steps))
        };
        last = grown.into_iter().map(known).collect();
    }
    all.retain(|set| set.log > best + LEAST_SHARE.ln());
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    const SPACING_MM: f64 = 2.5;
    const VARIANCE: f64 = 1e-4;

    /// A walk over `levels.len()` knots, of which those with a level have been measured to 0.02 mm; `jumps` are let go.
    fn measured(levels: &[Option<f64>], jumps: &[usize]) -> (Told, f64) {
        let n = levels.len();
        let mut prior = DMatrix::<f64>::identity(n, n) * 1e-6;
        for k in 0..n - 1 {
            let p = 1.0 / if jumps.contains(&k) { let_go(VARIANCE) } else { VARIANCE };
            for (i, j, sign) in [(k, k, 1.0), (k + 1, k + 1, 1.0), (k, k + 1, -1.0), (k + 1, k, -1.0)] {
                prior[(i, j)] += sign * p;
            }
        }
        let gain = 1.0 / (0.02 * 0.02);
        let normal = DMatrix::from_diagonal(&DVector::from_fn(n, |k, _| levels[k].map_or(0.0, |_| gain)));
        let right = DVector::from_fn(n, |k, _| levels[k].map_or(0.0, |x| gain * x));
        let covariance = (&normal + &prior).try_inverse().unwrap();
        let mean = &covariance * &right;
        let log = 0.5 * (prior.determinant().ln() + covariance.determinant().ln() + right.dot(&mean));
        (Told { mean, covariance }, log)
    }

    /// What the knots tell of the steps between them.
    fn of_steps(told: &Told) -> Told {
        let n = told.mean.len();
        let steps = DMatrix::from_fn(n, n - 1, |i, k| f64::from(i8::from(i == k + 1) - i8::from(i == k)));
        Told { mean: steps.tr_mul(&told.mean), covariance: steps.transpose() * &told.covariance * &steps }
    }

    /// The sets of jumps of these levels, any step a place.
    fn found(levels: &[Option<f64>]) -> Vec<Set> {
        let (told, log) = measured(levels, &[]);
        let places: Vec<usize> = (0..levels.len() - 1).collect();
        sets(of_steps(&told), log, &places, &Steps::new(VARIANCE, SPACING_MM))
    }

    #[test]
    fn a_step_let_go_is_the_same_as_a_walk_that_was_free_there() {
        let levels: Vec<Option<f64>> = (0..12).map(|k| Some(if k < 6 { 0.3 } else { 2.1 })).collect();
        let steps = Steps::new(VARIANCE, SPACING_MM);
        let ((plain, plain_log), (due, due_log)) = (measured(&levels, &[]), measured(&levels, &[5, 8]));
        let grown = plain.with_all(&[5, 8], &steps);
        assert!((&grown.mean - &due.mean).amax() < 1e-6 && (&grown.covariance - &due.covariance).amax() < 1e-8);
        // Step by step, what is known of the steps alone says the same of the evidence.
        let one = of_steps(&plain);
        let (across, gain) = (one.covariance.column(5).clone_owned(), steps.gain(one.step(5)));
        let other = one.clone().with(&across, one.step(5), &steps);
        let log = plain_log + gain + steps.gain(other.step(8));
        assert!((log - 2.0 * steps.odds - due_log).abs() < 1e-3, "{log} {due_log}");
        assert!((other.step(8).0 - of_steps(&plain.with_all(&[5], &steps)).step(8).0).abs() < 1e-9);
    }

    #[test]
    fn a_jump_is_found_and_between_two_lines_it_may_be_anywhere() {
        // Lines at knots 0 to 3 and 8 to 11 only: nothing tells on which of the five steps between them the jump is.
        let seen = |k: &usize| !(4..8).contains(k);
        let levels: Vec<Option<f64>> = (0..12).map(|k| seen(&k).then_some(if k < 6 { 0.0 } else { 2.0 })).collect();
        let found = found(&levels);
        let best = found.iter().map(|t| t.log).fold(f64::NEG_INFINITY, f64::max);
        let likely: Vec<&[usize]> = found.iter().filter(|t| t.log > best - 1.0).map(|t| t.jumps.as_slice()).collect();
        assert!(likely.len() == 5 && (3..8).all(|k| likely.contains(&&[k][..])), "{likely:?}");
    }

    #[test]
    fn an_even_offset_has_no_jump() {
        let levels: Vec<Option<f64>> = (0..12).map(|k| Some(0.01 * f64::from(k % 3))).collect();
        let found = found(&levels);
        let best = found.iter().max_by(|a, b| a.log.total_cmp(&b.log)).unwrap();
        assert!(best.jumps.is_empty(), "{:?}", best.jumps);
    }
}
