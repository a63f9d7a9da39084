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
}

/// The variance of a step that is let go, from what it was.
pub fn let_go(variance: f64) -> f64 {
    variance + SIZE_MM * SIZE_MM
}

/// δ's knots as they are known with a set of steps let go.
#[derive(Clone, Debug)]
pub struct Told {
    /// Logarithm of the evidence, prior odds of the jumps and all.
    pub log: f64,
    /// The steps let go, by the knot before them, in order.
    pub jumps: Vec<usize>,
    /// The knots' means.
    pub mean: DVector<f64>,
    /// Their covariance.
    pub covariance: DMatrix<f64>,
}

impl Told {
    /// A step's variance as known, and its size.
    fn step(&self, k: usize) -> (f64, f64) {
        let c = &self.covariance;
        (c[(k, k)] + c[(k + 1, k + 1)] - 2.0 * c[(k, k + 1)], self.mean[k + 1] - self.mean[k])
    }

    /// The logarithm of the evidence with step k let go too.
    fn log_with(&self, k: usize, steps: &Steps) -> f64 {
        let (variance, size) = self.step(k);
        let left = 1.0 - steps.loss * variance;
        if left <= 0.0 {
            return f64::NEG_INFINITY;
        }
        self.log + steps.odds + 0.5 * (steps.left - left.ln() + steps.loss * size * size / left)
    }

    /// The same with step k let go too.
    fn with(&self, k: usize, steps: &Steps) -> Self {
        let (variance, size) = self.step(k);
        let across = self.covariance.column(k + 1) - self.covariance.column(k);
        let share = steps.loss / (1.0 - steps.loss * variance);
        let mut jumps = self.jumps.clone();
        jumps.insert(jumps.partition_point(|&j| j < k), k);
        Self {
            log: self.log_with(k, steps),
            jumps,
            mean: &self.mean + &across * (share * size),
            covariance: &self.covariance + &across * across.transpose() * share,
        }
    }

    /// The same with all of these steps let go too.
    pub fn with_all(&self, jumps: &[usize], steps: &Steps) -> Self {
        jumps.iter().fold(self.clone(), |told, &k| told.with(k, steps))
    }
}

/// The sets of jumps that count, from `told`, which has none of them, and the steps that may be jumps: each number of jumps
/// from the best sets of one fewer.
pub fn sets(told: Told, places: &[usize], steps: &Steps) -> Vec<Told> {
    let mut best = told.log;
    let mut all = vec![told.clone()];
    let mut last = vec![told];
    let mut idle = 0;
    for _ in 0..MOST {
        let mut next: Vec<(f64, usize, usize)> = Vec::new();
        for (parent, told) in last.iter().enumerate() {
            let free = places.iter().filter(|k| !told.jumps.contains(k));
            next.extend(free.map(|&k| (told.log_with(k, steps), parent, k)).filter(|n| n.0 > f64::NEG_INFINITY));
        }
        next.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut grown: Vec<Told> = Vec::new();
        for (_, parent, k) in next {
            if grown.len() == KEPT {
                break;
            }
            let told = last[parent].with(k, steps);
            if grown.iter().all(|g| g.jumps != told.jumps) {
                grown.push(told);
            }
        }
        let Some(top) = grown.first().map(|g| g.log) else { break };
        idle = if top > best + LEAST_SHARE.ln() { 0 } else { idle + 1 };
        best = best.max(top);
        all.extend(grown.iter().cloned());
        last = grown;
        if idle == 2 {
            break;
        }
    }
    all.retain(|told| told.log > best + LEAST_SHARE.ln());
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    const SPACING_MM: f64 = 2.5;
    const VARIANCE: f64 = 1e-4;

    /// A walk over `levels.len()` knots, of which those with a level have been measured to 0.02 mm; `jumps` are let go.
    fn measured(levels: &[Option<f64>], jumps: &[usize]) -> Told {
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
        Told { log, jumps: jumps.to_vec(), mean, covariance }
    }

    #[test]
    fn a_step_let_go_is_the_same_as_a_walk_that_was_free_there() {
        let levels: Vec<Option<f64>> = (0..12).map(|k| Some(if k < 6 { 0.3 } else { 2.1 })).collect();
        let steps = Steps::new(VARIANCE, SPACING_MM);
        let (grown, due) = (measured(&levels, &[]).with_all(&[5, 8], &steps), measured(&levels, &[5, 8]));
        assert!((&grown.mean - &due.mean).amax() < 1e-6 && (&grown.covariance - &due.covariance).amax() < 1e-8);
        assert!((grown.log - 2.0 * steps.odds - due.log).abs() < 1e-3, "{} {}", grown.log, due.log);
        assert_eq!(grown.jumps, [5, 8]);
    }

    #[test]
    fn a_jump_is_found_and_between_two_lines_it_may_be_anywhere() {
        // Lines at knots 0 to 3 and 8 to 11 only: nothing tells on which of the five steps between them the jump is.
        let seen = |k: &usize| !(4..8).contains(k);
        let levels: Vec<Option<f64>> = (0..12).map(|k| seen(&k).then_some(if k < 6 { 0.0 } else { 2.0 })).collect();
        let places: Vec<usize> = (0..11).collect();
        let found = sets(measured(&levels, &[]), &places, &Steps::new(VARIANCE, SPACING_MM));
        let best = found.iter().map(|t| t.log).fold(f64::NEG_INFINITY, f64::max);
        let likely: Vec<&[usize]> = found.iter().filter(|t| t.log > best - 1.0).map(|t| t.jumps.as_slice()).collect();
        assert!(likely.len() == 5 && (3..8).all(|k| likely.contains(&&[k][..])), "{likely:?}");
    }

    #[test]
    fn an_even_offset_has_no_jump() {
        let levels: Vec<Option<f64>> = (0..12).map(|k| Some(0.01 * f64::from(k % 3))).collect();
        let places: Vec<usize> = (0..11).collect();
        let found = sets(measured(&levels, &[]), &places, &Steps::new(VARIANCE, SPACING_MM));
        let best = found.iter().max_by(|a, b| a.log.total_cmp(&b.log)).unwrap();
        assert!(best.jumps.is_empty(), "{:?}", best.jumps);
    }
}
