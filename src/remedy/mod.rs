//! Room 8: [`Offset`](crate::offset::Offset) + [`Verdict`](crate::verdict::Verdict) → [`Remedy`].

use crate::conventions::{Direction, Side};
use serde::Serialize;

/// What to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Action {
    /// Leave it.
    Leave,
    /// Unpick and pin one stretch again.
    RepinStretch,
    /// Unpick and pin the whole seam again, with one shift.
    RepinWhole,
    /// Pin the whole seam again and ease one side into the other.
    Ease,
    /// Cut again, or accept it: pinning will not cure it.
    RecutOrAccept,
    /// Photograph again: the measurement cannot tell.
    PhotographAgain,
}

/// How far the work has gone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, clap::ValueEnum)]
#[serde(rename_all = "lowercase")]
pub enum Stage {
    /// Held by basting or pins.
    Basted,
    /// Sewn.
    Sewn,
    /// Finished: lined, pressed.
    Finished,
}

/// The answer to "is it worth unpicking, and how?".
#[derive(Clone, Debug)]
pub struct Remedy {
    /// What to do.
    pub action: Action,
    /// Whether unpicking is worth it; `None` where the measurement cannot tell.
    pub worth_unpicking: Option<bool>,
    /// Which side moves.
    pub side: Option<Side>,
    /// Which way it moves, in the picture.
    pub direction: Option<Direction>,
    /// By how much.
    pub by_mm: Option<f64>,
    /// Where the work begins, u.
    pub from_mm: Option<f64>,
    /// Where it ends, u.
    pub to_mm: Option<f64>,
    /// The |offset| that will be left at the worst place.
    pub expected_worst_mm: Option<f64>,
    /// Stitches to take out.
    pub stitches: Option<u32>,
    /// Minutes of work.
    pub minutes: Option<f64>,
    /// The distance from which the worst step is seen by a normal eye, metres.
    pub visible_from_m: Option<f64>,
    /// The reason in one sentence with numbers.
    pub why: String,
    /// What to do, in words a person can follow at the table.
    pub instruction: String,
    /// Cautions that apply to this work, short.
    pub cautions: Vec<&'static str>,
}

impl Action {
    /// The word of the JSON contract.
    pub fn word(self) -> &'static str {
        match self {
            Action::Leave => "leave",
            Action::RepinStretch => "re-pin-stretch",
            Action::RepinWhole => "re-pin-whole",
            Action::Ease => "re-pin-and-ease",
            Action::RecutOrAccept => "recut-or-accept",
            Action::PhotographAgain => "photograph-again",
        }
    }
}
