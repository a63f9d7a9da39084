//! Is the sewing able to keep the tolerance? Capability indices of many offsets, with their confidence intervals.
//!
//! They take the offsets for a normal distribution that does not change while the lot is sewn: a run chart shows whether
//! that may be so. The measurement's own scatter is in the offsets too, so that the sewing is never worse than is told.
//!
//! # Source
//! Cp and Cpk: NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6. The interval of Cp by the chi-square distribution:
//! Chou, Owen, Borrego, Journal of Quality Technology 22, 1990; that of Cpk: A. F. Bissell, Applied Statistics 39, 1990, as
//! SAS/QC documents both (its documentation was read, the papers were not).

use serde::Serialize;
use statrs::distribution::{ChiSquared, ContinuousCDF, Normal};

/// Level of the intervals.
pub const LEVEL: f64 = 0.95;
/// Fewer offsets than this tell no capability: the interval of Cp would reach from a half to one and a half of it.
pub const LEAST: usize = 10;

/// How the offsets lie within their limits.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Capability {
    /// How many offsets.
    pub count: usize,
    /// Their mean, in the unit of the offsets.
    pub mean: f64,
    /// Their standard deviation.
    pub deviation: f64,
    /// (upper limit − lower limit) / 6 standard deviations: what could be reached if the mean stood in the middle.
    pub cp: Index,
    /// The distance from the mean to the nearer limit / 3 standard deviations.
    pub cpk: Index,
    /// The share of a normal distribution with this mean and deviation that lies beyond the limits, 0 to 1.
    pub beyond: f64,
}

/// An index with its confidence interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Index {
    /// The index.
    pub value: f64,
    /// The lower end.
    pub low: f64,
    /// The upper end.
    pub high: f64,
}

/// The capability of `values` within `limits` (lower, upper), intervals of `level` (0 to 1); `None` for fewer than two
/// values, for values that do not differ, and where something is not finite.
pub fn of(values: &[f64], limits: [f64; 2], level: f64) -> Option<Capability> {
    let [low, high] = limits;
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let deviation = (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    if values.len() < 2 || !(deviation > 0.0 && (high - low).is_finite() && mean.is_finite() && deviation.is_finite()) {
        return None;
    }
    let freedom = n - 1.0;
    let tail = (1.0 - level) / 2.0;
    let cp = (high - low) / (6.0 * deviation);
    let chi = ChiSquared::new(freedom).ok()?;
    let ends = [tail, 1.0 - tail].map(|below| cp * (chi.inverse_cdf(below) / freedom).sqrt());
    let cpk = (high - mean).min(mean - low) / (3.0 * deviation);
    let half = Normal::standard().inverse_cdf(1.0 - tail) * (1.0 / (9.0 * n) + cpk * cpk / (2.0 * freedom)).sqrt();
    let normal = Normal::new(mean, deviation).ok()?;
    Some(Capability {
        count: values.len(),
        mean,
        deviation,
        cp: Index { value: cp, low: ends[0], high: ends[1] },
        cpk: Index { value: cpk, low: cpk - half, high: cpk + half },
        beyond: normal.cdf(low) + normal.sf(high),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_told_from_nothing() {
        for values in [&[][..], &[1.0], &[2.0, 2.0, 2.0], &[1.0, f64::NAN]] {
            assert!(of(values, [-1.0, 1.0], LEVEL).is_none(), "{values:?}");
        }
        assert!(of(&[0.0, 1.0], [f64::NEG_INFINITY, 1.0], LEVEL).is_none());
    }

    #[test]
    fn a_mean_in_the_middle_makes_both_indices_equal() {
        let told = of(&[-1.0, 0.0, 1.0], [-3.0, 3.0], LEVEL).unwrap();
        assert_eq!((told.cp.value, told.cpk.value, told.deviation), (1.0, 1.0, 1.0));
        assert!(told.cp.low < 1.0 && told.cp.high > 1.0);
    }
}
