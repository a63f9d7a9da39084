//! Is a lot accepted? How many pieces are looked at, and how many may fail: [`plan`], and what follows from what was seen:
//! [`Plan::decide`]. How sharp a plan is, [`oc`] tells.
//!
//! # Source
//! ISO 2859-1, Sampling procedures for inspection by attributes, single sampling, normal inspection, general inspection
//! level II. Its tables for these acceptance quality limits are those of MIL-STD-105E, tables I and II-A, which is in the
//! public domain (that both agree is from memory).

pub mod oc;

pub mod table;

use crate::problem::Problem;
use crate::record::Standing;
use serde::Serialize;

/// A single sampling plan.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Plan {
    /// Pieces in the lot.
    pub lot: u64,
    /// Acceptance quality limit: per cent of failing pieces that is still good enough.
    pub aql_percent: f64,
    /// The code letter of the lot's size.
    pub letter: char,
    /// Pieces to look at; all of the lot where the plan asks for as many or more.
    pub sample: u64,
    /// Accepted with up to this many failing pieces.
    pub accept: u64,
}

/// The plan for a lot of so many pieces.
///
/// # Errors
/// Usage, where the limit is none of [`table::AQL_PERCENT`] or the lot has fewer than two pieces.
pub fn plan(lot: u64, aql_percent: f64) -> Result<Plan, Problem> {
    let Some(column) = table::AQL_PERCENT.iter().position(|known| (known - aql_percent).abs() < 1e-9) else {
        let known: Vec<String> = table::AQL_PERCENT.iter().map(f64::to_string).collect();
        return Err(Problem::usage(
            format!("an acceptance quality limit of {aql_percent} % is not in the table (--aql)"),
            format!("choose one of {}", known.join(", ")),
        ));
    };
    if lot < 2 {
        return Err(Problem::usage(
            format!("a lot of {lot} is no lot: nothing can be sampled from it (--lot-size)"),
            "give the number of pieces in the lot, 2 or more",
        ));
    }
    let row = table::row(lot);
    let (used, accept) = table::resolved(row, column);
    let sample = table::SAMPLES[used].min(lot);
    Ok(Plan { lot, aql_percent, letter: table::LETTERS[row], sample, accept })
}

/// What becomes of the lot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "decision")]
pub enum Decision {
    /// Accepted.
    Accept,
    /// Rejected: however the unsure ones and those not yet looked at turn out.
    Reject,
    /// So many pieces more are needed.
    More {
        /// Pieces.
        needed: u64,
    },
    /// Accepted if enough of the unsure pieces turn out to be good, else rejected.
    Unsure {
        /// Of the unsure ones, the most that may fail.
        may_fail: u64,
    },
}

/// What was seen, and what follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Outcome {
    /// Pieces of the sample that were looked at: the first ones, in the order in which they came, up to the plan's number.
    pub looked_at: u64,
    /// Failing pieces among them.
    pub failing: u64,
    /// Pieces among them that could not be told: unsure, refused, or with a file that could not be read.
    pub untold: u64,
    /// What follows.
    #[serde(flatten)]
    pub decision: Decision,
}

impl Plan {
    /// Rejected from this many failing pieces on.
    pub fn reject(&self) -> u64 {
        self.accept + 1
    }

    /// What follows from these pieces, each by the worst of its photographs, in the order in which they came. More pieces
    /// than the plan asks for do not count: who may go on until it fits looks for a good sample.
    ///
    /// A piece that is not told counts both ways: the lot is accepted only if it would be with all of them failing, and
    /// rejected only if it would be with all of them good.
    pub fn decide(&self, pieces: &[Standing]) -> Outcome {
        let sample = &pieces[..pieces.len().min(usize::try_from(self.sample).unwrap_or(usize::MAX))];
        let count = |holds: fn(Standing) -> bool| sample.iter().filter(|&&s| holds(s)).count() as u64;
        let looked_at = sample.len() as u64;
        let failing = count(|s| s == Standing::Off);
        let untold = count(|s| matches!(s, Standing::Unsure | Standing::Refused | Standing::Trouble));
        let decision = if failing > self.accept {
            Decision::Reject
        } else if looked_at < self.sample {
            Decision::More { needed: self.sample - looked_at }
        } else if failing + untold <= self.accept {
            Decision::Accept
        } else {
            Decision::Unsure { may_fail: self.accept - failing }
        };
        Outcome { looked_at, failing, untold, decision }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use Standing::{Matched, Off, Refused, Unsure};

    #[test]
    fn pieces_that_are_not_told_count_both_ways() {
        // 20 of 100 pieces, one may fail.
        let plan = plan(100, 2.5).unwrap();
        assert_eq!((plan.letter, plan.sample, plan.accept, plan.reject()), ('F', 20, 1, 2));
        let decided = |counts: &[(Standing, usize)]| {
            let pieces: Vec<Standing> = counts.iter().flat_map(|&(s, n)| vec![s; n]).collect();
            plan.decide(&pieces).decision
        };
        assert_eq!(decided(&[(Matched, 19), (Off, 1)]), Decision::Accept);
        assert_eq!(decided(&[(Matched, 19), (Refused, 1)]), Decision::Accept);
        assert_eq!(decided(&[(Matched, 18), (Unsure, 1), (Off, 1)]), Decision::Unsure { may_fail: 0 });
        assert_eq!(decided(&[(Matched, 18), (Unsure, 2)]), Decision::Unsure { may_fail: 1 });
        assert_eq!(decided(&[(Off, 2)]), Decision::Reject);
        assert_eq!(decided(&[(Matched, 12)]), Decision::More { needed: 8 });
        // The twenty-first piece does not count.
        assert_eq!(decided(&[(Off, 1), (Matched, 19), (Off, 5)]), Decision::Accept);
        assert_eq!(decided(&[]), Decision::More { needed: 20 });
    }

    #[test]
    fn a_small_lot_is_looked_at_whole() {
        let plan = plan(6, 0.65).unwrap();
        assert_eq!((plan.sample, plan.accept), (6, 0));
        // Whoever looks at all of it accepts it for certain when none fails, and never when one does.
        assert!((plan.accepted_with(0) - 1.0).abs() < 1e-12 && plan.accepted_with(1).abs() < 1e-12);
        assert!(super::plan(1, 2.5).is_err() && super::plan(0, 2.5).is_err());
        assert!(super::plan(50, 3.0).unwrap_err().help().contains("0.65"));
        assert!(super::plan(50, f64::NAN).is_err());
    }
}
