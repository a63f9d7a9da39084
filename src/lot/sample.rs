//! Is the lot accepted? The pieces held against a sampling plan.

use super::pieces::Piece;
use crate::acceptance::{self, Decision, Outcome, Plan};
use crate::problem::Problem;
use crate::record::Standing;

/// What is asked about acceptance.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sampling {
    /// Acceptance quality limit, per cent of pieces that fail; `None`: nobody asks.
    pub aql_percent: Option<f64>,
    /// Pieces in the lot; `None`: those that are seen are the lot.
    pub lot_size: Option<u64>,
}

/// The plan, and what follows from the pieces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// The plan.
    pub plan: Plan,
    /// What follows.
    pub outcome: Outcome,
    /// Pieces that were seen; the plan counts the first of them, in the order of the photographs' names.
    pub seen: u64,
    /// Whether the lot's size was said; else the pieces seen are taken to be the lot.
    pub size_is_said: bool,
}

impl Sampling {
    /// Refuses what no plan is for, before a photograph is measured.
    ///
    /// # Errors
    /// [`Problem::Usage`].
    pub fn check(&self) -> Result<(), Problem> {
        // Any size will do where none is said: the limit alone is looked at.
        self.aql_percent.map_or(Ok(()), |aql| acceptance::plan(self.lot_size.unwrap_or(2), aql).map(|_| ()))
    }

    /// What follows from these pieces; `None` where nobody asks.
    ///
    /// # Errors
    /// As [`Self::check`], and where more pieces are seen than the lot is said to have.
    pub fn of(&self, pieces: &[Piece]) -> Result<Option<Sample>, Problem> {
        let Some(aql_percent) = self.aql_percent else { return Ok(None) };
        let seen = pieces.len() as u64;
        if let Some(size) = self.lot_size.filter(|size| *size < seen) {
            return Err(Problem::usage(
                format!("{seen} pieces are seen of a lot of {size} (--lot-size)"),
                "say how many pieces the whole lot has, or name the piece of each photograph (--named, --manifest)",
            ));
        }
        let plan = acceptance::plan(self.lot_size.unwrap_or(seen), aql_percent)?;
        let standings: Vec<Standing> = pieces.iter().map(|piece| piece.standing).collect();
        Ok(Some(Sample { plan, outcome: plan.decide(&standings), seen, size_is_said: self.lot_size.is_some() }))
    }
}

impl Sample {
    /// How the lot stands by it: matched where it is accepted, off where it is rejected, unsure where more pieces are needed or
    /// it hangs on those that are not told.
    pub fn standing(&self) -> Standing {
        match self.outcome.decision {
            Decision::Accept => Standing::Matched,
            Decision::Reject => Standing::Off,
            Decision::More { .. } | Decision::Unsure { .. } => Standing::Unsure,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pieces(standings: &[(Standing, usize)]) -> Vec<Piece> {
        let each = standings.iter().flat_map(|&(standing, count)| vec![standing; count]);
        each.map(|standing| Piece { name: String::new(), standing, photographs: 1, off_at: Vec::new() }).collect()
    }

    #[test]
    fn the_pieces_seen_are_the_lot_unless_its_size_is_said() {
        use Standing::{Matched, Off, Unsure};
        let ask = |lot_size, standings: &[(Standing, usize)]| {
            let sampling = Sampling { aql_percent: Some(2.5), lot_size };
            sampling
                .of(&pieces(standings))
                .map(|sample| sample.map(|s| (s.plan.lot, s.plan.sample, s.standing().exit_status())))
        };
        assert_eq!(ask(None, &[(Matched, 99), (Off, 1)]).unwrap(), Some((100, 20, 0)));
        assert_eq!(ask(Some(100), &[(Matched, 12)]).unwrap(), Some((100, 20, 3)));
        assert_eq!(ask(Some(100), &[(Off, 2)]).unwrap(), Some((100, 20, 1)));
        assert_eq!(ask(Some(100), &[(Unsure, 20)]).unwrap(), Some((100, 20, 3)));
        assert!(ask(Some(10), &[(Matched, 12)]).unwrap_err().to_string().contains("--lot-size"));
        assert_eq!(Sampling::default().of(&[]).unwrap(), None);
    }

    #[test]
    fn what_is_in_no_table_is_refused_at_once() {
        assert!(Sampling { aql_percent: Some(3.0), lot_size: None }.check().is_err());
        assert!(Sampling { aql_percent: Some(2.5), lot_size: Some(1) }.check().is_err());
        assert!(Sampling { aql_percent: Some(2.5), lot_size: None }.check().is_ok());
        assert!(Sampling { aql_percent: None, lot_size: Some(0) }.check().is_ok());
    }
}
