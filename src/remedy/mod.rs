//! Room 8: [`Offset`] + [`Verdict`] → [`Remedy`]: is it worth unpicking, which side moves which way, what will be left?
//!
//! Each cure is worked out from the readings ([`cure`]), the simplest first, and the first that brings the seam inside
//! tolerance is chosen; when none does, the best is named and what it leaves is said. What unpicking costs, and the
//! limits of cloth, are rules of thumb in one table ([`custom`]).

pub mod custom;

pub mod cure;

use crate::colour::word::colour_word;
use crate::conventions::{Direction, Runs, Side};
use crate::offset::{LineOffset, Offset};
use crate::scale::Plane;
use crate::seam::Seam;
use crate::verdict::{Judgement, Place, Verdict};
use cure::Cure;
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
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, clap::ValueEnum)]
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

/// Works out what to do.
pub fn work_out(plane: &Plane, seam: &Seam, offset: &Offset, verdict: &Verdict, stage: Stage) -> Remedy {
    let nothing = Remedy {
        action: Action::Leave,
        worth_unpicking: Some(false),
        side: None,
        direction: None,
        by_mm: None,
        from_mm: None,
        to_mm: None,
        expected_worst_mm: None,
        stitches: None,
        minutes: None,
        visible_from_m: plane.is_metric().then(|| custom::SEEN_FROM_M_PER_MM * offset.worst_mm.abs()),
        why: verdict.reason.clone(),
        instruction: String::new(),
        cautions: Vec::new(),
    };
    match verdict.result {
        Judgement::Matched => Remedy {
            expected_worst_mm: Some(cure::leave(offset.between_lines())),
            instruction: "Leave the seam as it is.".into(),
            ..nothing
        },
        Judgement::Unsure => Remedy {
            action: Action::PhotographAgain,
            worth_unpicking: None,
            instruction: verdict.cure.clone().unwrap_or_default(),
            ..nothing
        },
        Judgement::Off => cured(seam, offset, verdict, stage, nothing),
    }
}

fn cured(seam: &Seam, offset: &Offset, verdict: &Verdict, stage: Stage, base: Remedy) -> Remedy {
    let tolerance_mm = verdict.tolerance_mm;
    let readings = offset.between_lines();
    let candidates: Vec<(Action, Cure)> = [
        (Action::RepinStretch, cure::one_stretch(readings, &verdict.stretches, tolerance_mm)),
        (Action::RepinWhole, cure::one_shift(readings)),
        (Action::Ease, cure::shift_and_ease(readings)),
    ]
    .into_iter()
    .filter_map(|(action, cure)| Some((action, cure?)))
    .collect();
    // What is left must be inside tolerance as surely as the worst reading is known.
    let unsure_mm = readings.iter().map(|r| r.expanded_uncertainty_mm).fold(0.0, f64::max);
    let cures = |c: &Cure| c.leaves_mm + unsure_mm <= tolerance_mm;
    let good = candidates.iter().find(|(_, c)| cures(c));
    let best = candidates.iter().min_by(|a, b| a.1.leaves_mm.total_cmp(&b.1.leaves_mm));
    let Some(&(action, chosen)) = good.or(best) else { return base };
    let worst = offset.worst_mm.abs();
    if good.is_none() {
        return Remedy {
            action: Action::RecutOrAccept,
            expected_worst_mm: Some(chosen.leaves_mm),
            why: format!(
                "the lines jump {worst:.1} mm, and however the seam is pinned {:.1} ± {unsure_mm:.1} mm would be left, not \
                 surely within the {tolerance_mm} mm accepted",
                chosen.leaves_mm
            ),
            instruction:
                "Unpicking will not cure this: the two sides do not carry the same spacing of lines along the \
                          seam. Cut one side again with its lines on those of the other, or accept it and match the \
                          line that is looked at most."
                    .into(),
            ..base
        };
    }
    let hidden = verdict.place == Place::Inside;
    let dear = stage == Stage::Finished && worst < custom::FINISHED_WORTH_TOLERANCES * tolerance_mm;
    let worth = !hidden && !dear;
    // The second side moves against its offset.
    let [_, side] = seam.runs.sides();
    let direction = seam.runs.direction(chosen.taken_mm < 0.0);
    // A whole seam is opened from end to end, also where no line shows.
    let (from_mm, to_mm) = match action {
        Action::RepinStretch => (chosen.from_mm, chosen.to_mm),
        _ => (0.0, seam.length_mm()),
    };
    let length_mm = to_mm - from_mm;
    let minutes = custom::minutes(stage, length_mm).round();
    let why = match (hidden, dear) {
        (true, _) => format!("the lines jump {worst:.1} mm, but inside, where nobody looks"),
        (_, true) => format!(
            "the lines jump {worst:.1} mm, less than {} times the {tolerance_mm} mm accepted, and opening a finished \
             seam takes about {minutes:.0} minutes",
            custom::FINISHED_WORTH_TOLERANCES
        ),
        _ => format!(
            "the lines jump {worst:.1} mm where {tolerance_mm} mm is accepted; after it {} will be left, for about \
             {minutes:.0} minutes of work",
            about(chosen.leaves_mm)
        ),
    };
    let work = instruction(action, &chosen, side, direction, offset, seam.runs);
    if !worth {
        return Remedy {
            worth_unpicking: Some(false),
            expected_worst_mm: Some(cure::leave(readings)),
            why,
            instruction: format!("Leave it. If you want it better all the same: {work}"),
            cautions: custom::cautions(stage),
            ..base
        };
    }
    Remedy {
        action,
        worth_unpicking: Some(true),
        side: Some(side),
        direction: Some(direction),
        by_mm: Some(chosen.taken_mm.abs()),
        from_mm: Some(from_mm),
        to_mm: Some(to_mm),
        expected_worst_mm: Some(chosen.leaves_mm),
        stitches: Some((length_mm / custom::stitch_mm(stage)).ceil() as u32),
        minutes: Some(minutes),
        why,
        instruction: work,
        cautions: custom::cautions(stage),
        ..base
    }
}

/// The work in words a person can follow at the table.
fn instruction(action: Action, cure: &Cure, side: Side, direction: Direction, offset: &Offset, runs: Runs) -> String {
    let by = format!("{:.1} mm", cure.taken_mm.abs());
    let side = side.noun();
    let move_it = format!("Move the {side} {} {by}.", direction.word());
    // From the last good line before the work to the first good one after it.
    let begin = offset.lines.partition_point(|l| l.along_mm < cure.from_mm).saturating_sub(1);
    let end = (offset.lines.partition_point(|l| l.along_mm <= cure.to_mm) + 1).min(offset.lines.len());
    let inside: Vec<&LineOffset> = offset.lines[begin.min(end)..end].iter().collect();
    let pin = match commonest_colour(&inside) {
        Some(colour) => format!(" Pin on the {colour} lines first, pins across the seam."),
        None => " Pin across the seam.".into(),
    };
    match action {
        Action::RepinStretch => {
            let where_to = match (inside.first(), inside.last()) {
                (Some(a), Some(b)) if a.number != b.number => {
                    format!(
                        "from line {} ({}) to line {} ({})",
                        a.number,
                        colour_word(a.colour),
                        b.number,
                        colour_word(b.colour)
                    )
                }
                (Some(a), _) => format!("around line {} ({})", a.number, colour_word(a.colour)),
                _ => format!("from {:.0} to {:.0} mm along the seam", cure.from_mm, cure.to_mm),
            };
            let counted = match runs {
                Runs::Down => "counted from the top of the picture",
                Runs::Across => "counted from the left of the picture",
            };
            format!("Unpick {where_to}, {counted}. {move_it}{pin}")
        }
        Action::Ease => {
            let shift = match cure.taken_mm.abs() {
                small if small < 0.1 => String::new(),
                _ => format!(" Move the {side} {} {by} at its middle.", direction.word()),
            };
            let [first, second] = runs.sides();
            let longer = if cure.drift > 0.0 { second } else { first };
            format!(
                "Unpick the whole seam.{shift} Ease the {}, which is longer by {:.1} %, evenly into the other from end to \
                 end, line on line.{pin}",
                longer.noun(),
                100.0 * cure.drift.abs()
            )
        }
        _ => format!(
            "Unpick the whole seam. {move_it}{pin} At both ends of the seam the {side} will stand {by} {}.",
            match direction {
                Direction::Up => "higher",
                Direction::Down => "lower",
                Direction::Left => "further left",
                Direction::Right => "further right",
            }
        ),
    }
}

/// The colour word that most of the lines carry; of equals, the one met first.
fn commonest_colour(lines: &[&LineOffset]) -> Option<&'static str> {
    let words: Vec<&str> = lines.iter().map(|l| colour_word(l.colour)).collect();
    let count = |word: &str| words.iter().filter(|w| **w == word).count();
    words.iter().rev().max_by_key(|word| count(word)).copied()
}

/// A length that is left, in words.
fn about(mm: f64) -> String {
    if mm < 0.1 { "less than 0.1 mm".into() } else { format!("about {mm:.1} mm") }
}
