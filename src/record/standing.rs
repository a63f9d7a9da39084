//! How a photograph stands, and which of many is the worst.

use crate::verdict::Judgement;
use serde::{Deserialize, Serialize};

/// What came of a photograph, from the best to the worst.
///
/// Of many, the worst wins: what is known to be bad comes before what is not known, and what could not be judged at all
/// before what the measurement cannot tell. A file that could not be read is worst: nobody has looked at it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Standing {
    /// Within tolerance.
    Matched,
    /// The measurement cannot tell.
    Unsure,
    /// The photograph cannot be judged.
    Refused,
    /// Out of tolerance.
    Off,
    /// The file could not be read.
    Trouble,
}

impl Standing {
    /// All of them, from the best to the worst.
    pub const ALL: [Standing; 5] =
        [Standing::Matched, Standing::Unsure, Standing::Refused, Standing::Off, Standing::Trouble];

    /// The word of every contract.
    pub fn word(self) -> &'static str {
        match self {
            Standing::Matched => "matched",
            Standing::Unsure => "unsure",
            Standing::Refused => "refused",
            Standing::Off => "off",
            Standing::Trouble => "trouble",
        }
    }

    /// The exit status that says so.
    pub fn exit_status(self) -> u8 {
        match self {
            Standing::Matched => 0,
            Standing::Off => 1,
            Standing::Trouble => 2,
            Standing::Unsure => 3,
            Standing::Refused => 4,
        }
    }
}

impl From<Judgement> for Standing {
    fn from(judgement: Judgement) -> Self {
        match judgement {
            Judgement::Matched => Standing::Matched,
            Judgement::Off => Standing::Off,
            Judgement::Unsure => Standing::Unsure,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worst_is_what_is_known_to_be_bad() {
        use Standing::{Matched, Off, Refused, Trouble, Unsure};
        assert_eq!([Matched, Off, Refused, Unsure].into_iter().max(), Some(Off));
        assert_eq!([Matched, Refused, Unsure].into_iter().max(), Some(Refused));
        assert_eq!([Off, Trouble].into_iter().max(), Some(Trouble));
        assert!(Standing::ALL.is_sorted());
        // The numbers are the contract of `check`.
        assert_eq!(Standing::ALL.map(Standing::exit_status), [0, 3, 4, 1, 2]);
    }
}
