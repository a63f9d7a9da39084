//! Welch's test: do two means differ by more than their own uncertainty, where that differs between them?

use crate::budget::students_t;
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// The level of every expanded uncertainty of a difference.
const LEVEL: f64 = 0.95;
/// From so many degrees of freedom on, Student's distribution is the normal one.
const AS_GOOD_AS_NORMAL: f64 = 1e5;

/// A mean with its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mean {
    /// The mean.
    pub value: f64,
    /// Its standard uncertainty: the sample's standard deviation over the root of its size, or one that is told.
    pub standard: f64,
    /// The degrees of freedom of that; may be infinite.
    pub freedom: f64,
}

/// The difference of two means, the first less the second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// The difference.
    pub value: f64,
    /// Its standard uncertainty.
    pub standard: f64,
    /// The effective degrees of freedom of that; may be infinite.
    pub freedom: f64,
    /// Student's t.
    pub t: f64,
    /// The chance of a difference of this size or more where there is none (two-sided), 0 to 1.
    pub p: f64,
}

impl Mean {
    /// The mean of a sample with the uncertainty that its own scatter tells; `None` of fewer than two values.
    pub fn of(sample: &[f64]) -> Option<Self> {
        let n = sample.len() as f64;
        if sample.len() < 2 {
            return None;
        }
        let value = sample.iter().sum::<f64>() / n;
        let variance = sample.iter().map(|x| (x - value).powi(2)).sum::<f64>() / (n - 1.0);
        Some(Mean { value, standard: (variance / n).sqrt(), freedom: n - 1.0 })
    }
}

/// The difference of two means and whether it may be chance; `None` where neither has an uncertainty.
///
/// # Source
/// B. L. Welch, The generalization of "Student's" problem when several different population variances are involved,
/// Biometrika 34 (1947), 28–35; F. E. Satterthwaite, Biometrics Bulletin 2 (1946), 110–114 (the degrees of freedom).
pub fn difference(one: Mean, other: Mean) -> Option<Difference> {
    let standard = one.standard.hypot(other.standard);
    if !(standard > 0.0 && standard.is_finite()) {
        return None;
    }
    let lack = |mean: Mean| (mean.standard / standard).powi(4) / mean.freedom;
    let lack = lack(one) + lack(other);
    let freedom = if lack > 0.0 { 1.0 / lack } else { f64::INFINITY };
    let value = one.value - other.value;
    let t = value / standard;
    let below = match freedom < AS_GOOD_AS_NORMAL {
        true => StudentsT::new(0.0, 1.0, freedom).ok()?.cdf(-t.abs()),
        false => Normal::standard().cdf(-t.abs()),
    };
    Some(Difference { value, standard, freedom, t, p: (2.0 * below).clamp(0.0, 1.0) })
}

impl Difference {
    /// Its expanded uncertainty, at 95 %: Student's t of its degrees of freedom.
    pub fn expanded(&self) -> f64 {
        students_t(LEVEL, self.freedom) * self.standard
    }
}

/// The chances of several tests, each adjusted so that of all of them together no more than the level is wrong.
///
/// # Source
/// S. Holm, A simple sequentially rejective multiple test procedure, Scandinavian Journal of Statistics 6 (1979), 65–70.
pub fn holm(chances: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..chances.len()).collect();
    order.sort_by(|&a, &b| chances[a].total_cmp(&chances[b]));
    let mut adjusted = vec![0.0; chances.len()];
    let mut least: f64 = 0.0;
    for (k, &test) in order.iter().enumerate() {
        least = least.max((chances.len() - k) as f64 * chances[test]).min(1.0);
        adjusted[test] = least;
    }
    adjusted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_handbooks_example_comes_out() {
        // NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.3, miles to the gallon of 249 American and 79 Japanese
        // cars: means, standard deviations, T = −12.94627 and 136.8750 degrees of freedom (from memory).
        let car = |value, deviation: f64, n: f64| Mean { value, standard: deviation / n.sqrt(), freedom: n - 1.0 };
        let found = difference(car(20.14458, 6.41470, 249.0), car(30.48101, 6.10771, 79.0)).unwrap();
        assert!((found.t + 12.94627).abs() < 2e-5, "{found:?}");
        assert!((found.freedom - 136.8750).abs() < 2e-3, "{found:?}");
        assert!(found.p < 1e-15 && found.p >= 0.0);
    }

    #[test]
    fn told_uncertainties_without_freedom_are_a_normal_test() {
        let mean = |value| Mean { value, standard: 0.3, freedom: f64::INFINITY };
        let found = difference(mean(1.0), mean(1.0 + 1.959963985 * 0.3 * 2f64.sqrt())).unwrap();
        assert!((found.p - 0.05).abs() < 1e-9 && found.freedom.is_infinite(), "{found:?}");
        assert!((found.expanded() - 1.959963985 * 0.3 * 2f64.sqrt()).abs() < 1e-8);
        assert!(found.value < 0.0 && found.t < 0.0);
    }

    #[test]
    fn where_nothing_scatters_nothing_is_told() {
        let mean = |value| Mean { value, standard: 0.0, freedom: 3.0 };
        assert_eq!(difference(mean(1.0), mean(2.0)), None);
        assert_eq!((Mean::of(&[]), Mean::of(&[1.0])), (None, None));
    }

    #[test]
    fn several_tests_are_adjusted_step_by_step() {
        // By hand: 4 × 0.005, 3 × 0.01, 2 × 0.03, and then never less than before.
        let adjusted = holm(&[0.01, 0.04, 0.03, 0.005]);
        let due = [0.03, 0.06, 0.06, 0.02];
        assert!(adjusted.iter().zip(due).all(|(a, d)| (a - d).abs() < 1e-12), "{adjusted:?}");
        assert_eq!(holm(&[0.6, 0.7]), [1.0, 1.0]);
        assert!(holm(&[]).is_empty());
    }
}
