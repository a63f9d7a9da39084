//! Room 8: [`Offset`] + [`Verdict`] → [`Remedy`]: is it worth unpicking, which side moves which way, what will be left?
//!
//! Each cure is worked out from the readings, the simplest first ([`cure`]), and the first that brings the seam surely
//! inside tolerance is chosen ([`choose`]); when none does, one that may; when every one surely fails, the cloth must be cut
//! again or the jump accepted, and what is left at best is said; else it is photographed again. Whether it is worth it is weighed by how far out it is, from how
//! far it is seen ([`visible`]), the place, and how far the work has gone; what unpicking costs, and the limits of cloth,
//! are rules of thumb in one table ([`custom`]). [`instruct`] says it in sewing words, [`fault`] what went wrong.

pub mod custom;

pub mod visible;

pub mod cure;

pub mod choose;

pub mod instruct;

pub mod fault;

use crate::conventions::{Direction, Side};
use crate::lines::Lines;
use crate::offset::{Offset, Reading};
use crate::scale::Plane;
use crate::seam::Seam;
use crate::verdict::{Judgement, Verdict, settle};
use choose::{RunnerUp, Weights};
use cure::Cure;
use custom::Rules;
use fault::Fault;
use serde::{Deserialize, Serialize};

/// What to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Action {
    /// Leave it.
    Leave,
    /// Unpick and pin one stretch again.
    #[serde(rename = "re-pin-stretch")]
    RepinStretch,
    /// Unpick and pin the whole seam again, with one shift.
    #[serde(rename = "re-pin-whole")]
    RepinWhole,
    /// Pin the whole seam again and ease one side into the other.
    #[serde(rename = "re-pin-and-ease")]
    Ease,
    /// Cut again, or accept it: pinning will not cure it.
    RecutOrAccept,
    /// Photograph again: the measurement cannot tell.
    PhotographAgain,
}

/// How far the work has gone.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "lowercase")]
pub enum Stage {
    /// Held by basting or pins
    #[default]
    Basted,
    /// Sewn
    Sewn,
    /// Finished: lined, pressed
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
    /// By how much; at the middle of the work, where one side is eased.
    pub by_mm: Option<f64>,
    /// Where the work begins, u.
    pub from_mm: Option<f64>,
    /// Where it ends, u.
    pub to_mm: Option<f64>,
    /// Ease beside the shift, per cent of the longer side; `None`: none.
    pub ease_percent: Option<f64>,
    /// The longer side, which is eased into the other.
    pub longer_side: Option<Side>,
    /// The |offset| that will be left at the worst place.
    pub expected_worst_mm: Option<f64>,
    /// Expanded uncertainty (about 95 %) of what will be left at the worst place, wherever that may be.
    pub expected_uncertainty_mm: Option<f64>,
    /// Stitches to take out.
    pub stitches: Option<u32>,
    /// Minutes of work.
    pub minutes: Option<f64>,
    /// The distance from which a normal eye sees the worst step, metres: a guide.
    pub visible_from_m: Option<f64>,
    /// The reason in one sentence with numbers.
    pub why: String,
    /// What to do, in words a person can follow at the table.
    pub instruction: String,
    /// Every cure that was weighed, simplest first, leaving it before all; empty without a scale.
    pub cures: Vec<Cure>,
    /// The next best, where the seam is off.
    pub runner_up: Option<RunnerUp>,
    /// What went wrong, as far as it shows.
    pub faults: Vec<Fault>,
    /// Cautions that apply to this work, short.
    pub cautions: Vec<&'static str>,
}

impl Stage {
    /// The word of the command line and of every contract.
    pub fn word(self) -> &'static str {
        match self {
            Stage::Basted => "basted",
            Stage::Sewn => "sewn",
            Stage::Finished => "finished",
        }
    }
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

/// What the remedy is worked out from.
#[derive(Clone, Copy, Debug)]
pub struct Evidence<'a> {
    /// The scale.
    pub plane: &'a Plane,
    /// The seam.
    pub seam: &'a Seam,
    /// The lines of both sides.
    pub lines: &'a Lines,
    /// How far they jump.
    pub offset: &'a Offset,
    /// Whether that is accepted.
    pub verdict: &'a Verdict,
}

/// Works out what to do.
pub fn work_out(evidence: Evidence<'_>, stage: Stage, rules: &Rules) -> Remedy {
    let Evidence { plane, seam, lines, offset, verdict } = evidence;
    let readings = offset.between_lines();
    let metric = plane.is_metric();
    // The fainter side decides: a line that ends in nothing is no step.
    let contrast = lines.sides.iter().map(|side| side.contrast).fold(1.0, f64::min);
    let visible_from_m = metric.then(|| visible::from_m(offset.worst_mm, contrast));
    let cures = match metric {
        true => cure::all(readings, &verdict.stretches, seam.length_mm(), verdict.tolerance_mm, rules),
        false => Vec::new(),
    };
    let nothing = Remedy {
        action: Action::Leave,
        worth_unpicking: Some(false),
        side: None,
        direction: None,
        by_mm: None,
        from_mm: None,
        to_mm: None,
        ease_percent: None,
        longer_side: None,
        expected_worst_mm: cures.first().map(|leave| leave.leaves_mm),
        expected_uncertainty_mm: cures.first().map(|leave| leave.expanded_uncertainty_mm),
        stitches: None,
        minutes: None,
        visible_from_m,
        why: verdict.reason.clone(),
        instruction: String::new(),
        runner_up: None,
        faults: fault::recognise(lines, offset, seam.runs, verdict, rules),
        cautions: Vec::new(),
        cures,
    };
    match verdict.result {
        Judgement::Matched => Remedy { instruction: "Leave the seam as it is.".into(), ..nothing },
        Judgement::Unsure => Remedy {
            action: Action::PhotographAgain,
            worth_unpicking: None,
            expected_worst_mm: None,
            expected_uncertainty_mm: None,
            instruction: verdict.cure.clone().unwrap_or_default(),
            ..nothing
        },
        Judgement::Off => {
            let weights = Weights { stage, visible_from_m: visible_from_m.unwrap_or(f64::INFINITY), rules };
            chosen(evidence, weights, nothing)
        }
    }
}

/// The remedy of a seam that is off.
fn chosen(evidence: Evidence<'_>, weights: Weights<'_>, base: Remedy) -> Remedy {
    let Evidence { seam, offset, verdict, .. } = evidence;
    let Weights { stage, rules, .. } = weights;
    let Some(choice) = choose::choose(&base.cures, verdict, weights) else { return base };
    if choice.action == Action::PhotographAgain {
        return Remedy {
            action: choice.action,
            worth_unpicking: None,
            expected_worst_mm: None,
            expected_uncertainty_mm: None,
            instruction: settled(&choice.cure, offset, verdict),
            why: choice.why,
            runner_up: choice.runner_up,
            ..base
        };
    }
    let instruction = instruct::words(&choice, stage, seam.runs, offset, verdict.unit);
    let cautions = custom::cautions(stage);
    let base = Remedy {
        action: choice.action,
        worth_unpicking: Some(choice.worth),
        why: choice.why,
        runner_up: choice.runner_up,
        instruction,
        cautions,
        ..base
    };
    let cure = choice.cure;
    if choice.action == Action::RecutOrAccept {
        return Remedy {
            expected_worst_mm: Some(cure.leaves_mm),
            expected_uncertainty_mm: Some(cure.expanded_uncertainty_mm),
            ..base
        };
    }
    if !choice.worth {
        return base;
    }
    let length_mm = cure.to_mm - cure.from_mm;
    let moves = cure.moves(seam.runs);
    Remedy {
        side: Some(moves.side),
        direction: Some(moves.direction),
        by_mm: Some(cure.shift_mm.abs()),
        from_mm: Some(cure.from_mm),
        to_mm: Some(cure.to_mm),
        ease_percent: cure.longer(seam.runs).map(|_| 100.0 * cure.ease.abs()),
        longer_side: cure.longer(seam.runs),
        expected_worst_mm: Some(cure.leaves_mm),
        expected_uncertainty_mm: Some(cure.expanded_uncertainty_mm),
        stitches: Some((length_mm / rules.stitch_mm(stage)).ceil() as u32),
        minutes: Some(rules.minutes(stage, length_mm).round()),
        ..base
    }
}

/// What would settle whether this cure does: the reading at which it leaves most.
fn settled(cure: &Cure, offset: &Offset, verdict: &Verdict) -> String {
    let worst = offset.between_lines().iter().find(|r| r.along_mm == cure.leaves_at_mm);
    worst.map_or_else(String::new, |r| {
        settle::cure(&Reading { offset_mm: cure.leaves_mm, ..*r }, verdict.tolerance_mm, verdict.unit)
    })
}
