//! The uncertainty budget of a length: standard uncertainties, each with its degrees of freedom, and what they come to.
//!
//! Rows are of independent sources and already multiplied by their sensitivity: each says what its source brings to the
//! result. Ground for every room.
//!
//! # Source
//! JCGM 100:2008, Evaluation of measurement data: Guide to the expression of uncertainty in measurement (GUM): 5.1.2
//! (combination), G.4.1 (Welch and Satterthwaite's effective degrees of freedom), G.3 (Student's t); clause numbers from
//! memory.

use crate::conventions::COVERAGE_FACTOR;
use serde::{Serialize, Serializer};
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// From this many effective degrees of freedom on, the coverage factor is that of a normal distribution; Student's t is
/// 2.05 there.
const MANY: f64 = 50.0;
/// Two-sided level that [`COVERAGE_FACTOR`] has for a normal distribution.
const LEVEL: f64 = 0.9545;
/// From here on, Student's t is the normal distribution's quantile to about a part in a hundred thousand, and the beta
/// function's inverse begins to lose more than that.
const AS_GOOD_AS_NORMAL: f64 = 1e5;

/// One source of uncertainty.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// What it comes from, in words a person reads.
    pub source: &'static str,
    /// Standard uncertainty it brings to the result, millimetres; not negative.
    pub u_mm: f64,
    /// Degrees of freedom of that figure: infinite for what is known and not counted (type B), else above 0.
    /// Infinite is null when serialised.
    #[serde(serialize_with = "finite_or_null")]
    pub freedom: f64,
}

/// All sources of one result's uncertainty.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Budget {
    /// One row a source, independent of each other.
    pub rows: Vec<Row>,
}

impl Budget {
    /// The row that brings most; of equals the last, `None` without rows.
    pub fn chief(&self) -> Option<&Row> {
        self.rows.iter().max_by(|a, b| a.u_mm.total_cmp(&b.u_mm))
    }

    /// The combined standard uncertainty, millimetres: the root of the sum of squares; 0 without rows.
    pub fn combined_mm(&self) -> f64 {
        self.rows.iter().map(|row| row.u_mm.powi(2)).sum::<f64>().sqrt()
    }

    /// The effective degrees of freedom of [`Self::combined_mm`], not rounded; infinite when no row has fewer.
    ///
    /// # Source
    /// Welch and Satterthwaite's formula, JCGM 100:2008, equation (G.2b): u⁴ / Σ uᵢ⁴/νᵢ.
    pub fn effective_freedom(&self) -> f64 {
        let combined_mm = self.combined_mm();
        // Shares of the whole, so that neither metres nor nanometres overflow; a row of nothing brings nothing.
        let counted = self.rows.iter().filter(|row| row.u_mm != 0.0);
        let lack: f64 = counted.map(|row| (row.u_mm / combined_mm).powi(4) / row.freedom).sum();
        if lack == 0.0 { f64::INFINITY } else { 1.0 / lack }
    }

    /// The factor from standard to expanded uncertainty at a level of about 95 %: [`COVERAGE_FACTOR`] when the effective
    /// freedom is 50 or more, else Student's t of the freedom cut to a whole number, 1 at least.
    ///
    /// # Source
    /// JCGM 100:2008, G.4.1 (cutting to the next lower integer) and G.6.4.
    pub fn coverage_factor(&self) -> f64 {
        let freedom = self.effective_freedom();
        if freedom >= MANY {
            return COVERAGE_FACTOR;
        }
        students_t(LEVEL, freedom.floor().max(1.0)).max(COVERAGE_FACTOR)
    }

    /// The expanded uncertainty, millimetres.
    pub fn expanded_mm(&self) -> f64 {
        self.coverage_factor() * self.combined_mm()
    }
}

/// The t for which a share `level` of Student's distribution with `freedom` degrees of freedom lies within ±t.
///
/// `level` is taken into 0 to 1 and `freedom` must be above 0; infinite freedom is the normal distribution. Not a number
/// when either is not a number or the freedom is 0 or less.
///
/// # Source
/// JCGM 100:2008, table G.2.
pub fn students_t(level: f64, freedom: f64) -> f64 {
    if level.is_nan() {
        return f64::NAN;
    }
    let below = 0.5 + level.clamp(0.0, 1.0) / 2.0;
    if freedom >= AS_GOOD_AS_NORMAL {
        return Normal::standard().inverse_cdf(below);
    }
    StudentsT::new(0.0, 1.0, freedom).map_or(f64::NAN, |t| t.inverse_cdf(below))
}

fn finite_or_null<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    value.is_finite().then_some(*value).serialize(serializer)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn budget(rows: &[(f64, f64)]) -> Budget {
        Budget { rows: rows.iter().map(|&(u_mm, freedom)| Row { source: "test", u_mm, freedom }).collect() }
    }

    #[test]
    fn nothing_uncertain_is_a_budget_too() {
        for nothing in [budget(&[]), budget(&[(0.0, 3.0), (0.0, f64::INFINITY), (0.0, 0.0)])] {
            assert_eq!(nothing.combined_mm(), 0.0);
            assert_eq!(nothing.effective_freedom(), f64::INFINITY);
            assert_eq!(nothing.coverage_factor(), 2.0);
            assert_eq!(nothing.expanded_mm(), 0.0);
        }
    }

    #[test]
    fn a_row_of_nothing_changes_nothing() {
        let (without, with) = (budget(&[(0.3, 9.0), (0.4, 16.0)]), budget(&[(0.3, 9.0), (0.0, 1.0), (0.4, 16.0)]));
        assert!((without.combined_mm() - 0.5).abs() < 1e-15);
        assert_eq!(without.effective_freedom(), with.effective_freedom());
        assert_eq!(without.expanded_mm(), with.expanded_mm());
    }

    #[test]
    fn one_row_keeps_its_freedom_and_few_repetitions_cost() {
        for (freedom, factor) in [(f64::INFINITY, 2.0), (50.0, 2.0), (49.9, 2.052), (10.0, 2.284), (1.0, 13.968)] {
            // Metres and nanometres alike.
            for u_mm in [1e-80, 0.1, 1e80] {
                let one = budget(&[(u_mm, freedom)]);
                assert!((one.effective_freedom() / freedom - 1.0).abs() < 1e-12 || freedom.is_infinite());
                assert!((one.coverage_factor() - factor).abs() < 1e-3, "{freedom}: {}", one.coverage_factor());
                assert_eq!(one.expanded_mm(), one.coverage_factor() * u_mm);
            }
        }
        // Fewer than one: the last row of the table is the best that can be said.
        assert_eq!(budget(&[(0.1, 0.3)]).coverage_factor(), budget(&[(0.1, 1.0)]).coverage_factor());
    }

    #[test]
    fn t_falls_towards_the_normal_quantile_and_takes_any_argument() {
        let at = |freedom| students_t(0.95, freedom);
        let freedoms = [0.5, 1.0, 2.5, 10.0, 100.0, 1e4, 9e4, 1e5, 1e12, f64::INFINITY];
        assert!(freedoms.windows(2).all(|pair| at(pair[0]) >= at(pair[1]) - 1e-9), "{:?}", freedoms.map(at));
        assert!((at(9e4) - at(f64::INFINITY)).abs() < 3e-5 && (at(f64::INFINITY) - 1.959_964).abs() < 1e-6);
        assert_eq!(students_t(0.0, 5.0), 0.0);
        assert_eq!(students_t(1.0, 5.0), f64::INFINITY);
        assert!(
            [students_t(0.95, 0.0), students_t(0.95, f64::NAN), students_t(f64::NAN, 5.0)].iter().all(|t| t.is_nan())
        );
    }

    #[test]
    fn infinite_freedom_is_null() {
        let json = serde_json::to_string(&budget(&[(0.1, f64::INFINITY), (0.2, 12.5)])).unwrap();
        assert_eq!(
            json,
            r#"{"rows":[{"source":"test","u_mm":0.1,"freedom":null},{"source":"test","u_mm":0.2,"freedom":12.5}]}"#
        );
    }
}
