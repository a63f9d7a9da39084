//! Room 7: [`Offset`] → [`Verdict`]: is the seam within tolerance, or can the measurement not tell?
//!
//! Each reading is judged by one rule ([`judge`]) that keeps the expanded uncertainty as a guard band. The seam is
//! matched when every judged reading is, off when a line or a stretch of a line's length is, else unsure, with what
//! would settle it ([`settle`]). Readings between the outermost lines decide, and no others: where there is no line, nothing
//! can be seen to jump, and the offset is only carried on. Unsure is also a seam whose place was only assumed and whose lines
//! do not show it ([`shown`]), one that was drawn where none shows (`there`), and one whose lines may belong to one another
//! otherwise (`partners`). Tolerances by place ([`place`]) are habits of
//! the trade; the user's own figure ([`demand`]) always wins.

pub mod place;

pub mod demand;

pub mod settle;

pub mod shown;

mod there;

mod partners;

use crate::digits::{self, Unit};
use crate::offset::{Offset, Reading};
use crate::problem::Note;
use crate::scale::{Contradiction, Plane};
use crate::seam::{Seam, SeamSource};
use crate::signal::alignment::LEAST_PROBABLE;
pub use demand::{Demand, OwnTolerances, ToleranceSource};
pub use place::{Place, Showing};
use serde::{Deserialize, Serialize};

/// Where the lines show less than this share of the seam, the reason says which piece was judged.
const WHOLE_SHARE: f64 = 0.8;

/// The three answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Judgement {
    /// Within tolerance everywhere, the uncertainty included.
    Matched,
    /// Out of tolerance over a stretch of a line or more, the uncertainty included.
    Off,
    /// The measurement cannot tell; the reason says what would.
    Unsure,
}

impl Judgement {
    /// The word of the JSON contract.
    pub fn word(self) -> &'static str {
        match self {
            Judgement::Matched => "matched",
            Judgement::Off => "off",
            Judgement::Unsure => "unsure",
        }
    }
}

/// Why an answer is unsure, where a program may want to know.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum UnsureCode {
    /// A seam was given where none shows and the cloth seems to run on.
    #[serde(rename = "no-seam-there")]
    NoSeamThere,
    /// The seam's place was only assumed, and its lines do not show it.
    #[serde(rename = "seam-assumed")]
    Assumed,
    /// Another answer to which line belongs to which is probable enough, and the seam would be judged otherwise.
    #[serde(rename = "which-line-belongs-to-which")]
    WhichLine,
}

/// A stretch of the seam that is out of tolerance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Stretch {
    /// Where it begins, u.
    pub from_mm: f64,
    /// Where it ends, u.
    pub to_mm: f64,
    /// The offset furthest from zero in it (signed).
    pub worst_mm: f64,
}

/// The answer to "is it within tolerance?".
#[derive(Clone, Debug)]
pub struct Verdict {
    /// The answer for the whole seam.
    pub result: Judgement,
    /// What kind of unsure it is, where it is one of these.
    pub code: Option<UnsureCode>,
    /// What the answer would be if the seam is where it was taken to be; some where it is unsure for that alone.
    pub if_here: Option<Judgement>,
    /// Where on the garment, in the trade's words.
    pub place: Place,
    /// The tolerance used: |offset| up to this is accepted. Millimetres.
    pub tolerance_mm: f64,
    /// Where the tolerance came from.
    pub tolerance_source: ToleranceSource,
    /// The file it came from; `None` where it came from none.
    pub tolerance_file: Option<String>,
    /// What lengths are told in, here and in every report.
    pub unit: Unit,
    /// One sentence with the figures that decided.
    pub reason: String,
    /// What would settle an `unsure`; `None` otherwise.
    pub cure: Option<String>,
    /// Out-of-tolerance stretches, in the order of u.
    pub stretches: Vec<Stretch>,
    /// The judgement of each line of [`Offset::lines`], in the same order.
    pub lines: Vec<Judgement>,
    /// Doubts about the question.
    pub notes: Vec<Note>,
}

/// Judges one offset: matched when it is within tolerance by more than its expanded uncertainty, off when it is outside
/// by more, else unsure.
///
/// # Source
/// Guarded acceptance and guarded rejection with the guard band w = U: JCGM 106:2012, 8.3.2 and 8.3.3; the same
/// uncertainty zone is ISO 14253-1:2017's (both from memory).
pub fn judge(offset_mm: f64, expanded_uncertainty_mm: f64, tolerance_mm: f64) -> Judgement {
    let size = offset_mm.abs();
    if size + expanded_uncertainty_mm <= tolerance_mm {
        Judgement::Matched
    } else if size - expanded_uncertainty_mm > tolerance_mm {
        Judgement::Off
    } else {
        Judgement::Unsure
    }
}

/// Judges the seam.
pub fn decide(plane: &Plane, seam: &Seam, offset: &Offset, demand: &Demand) -> Verdict {
    let place = demand.place();
    let (tolerance_mm, tolerance_source) = demand.tolerance();
    let unit = demand.unit;
    let (length, place_at) = (|mm: f64| digits::length(mm, unit), |mm: f64| digits::place(mm, unit));
    let accepted = digits::given(tolerance_mm, unit);
    let judged = offset.between_lines();
    let lines: Vec<Judgement> = if plane.is_metric() && plane.contradiction.is_none() {
        offset.lines.iter().map(|l| judge(l.offset_mm, l.expanded_uncertainty_mm, tolerance_mm)).collect()
    } else {
        vec![Judgement::Unsure; offset.lines.len()]
    };
    let accepts_all = offset.modulo_mm.filter(|repeat_mm| plane.is_metric() && tolerance_mm > 0.5 * repeat_mm).map(|mm| {
        format!(
            "A jump of more than {} would show as a smaller one the other way, for the repeat is {}: a tolerance of {accepted} \
             accepts everything",
            length(0.5 * mm),
            length(mm)
        )
    });
    let base = Verdict {
        result: Judgement::Unsure,
        code: None,
        if_here: None,
        place,
        tolerance_mm,
        tolerance_source,
        tolerance_file: (tolerance_source == ToleranceSource::Settings).then(|| demand.own.file.clone()),
        unit,
        reason: String::new(),
        cure: None,
        stretches: Vec::new(),
        lines,
        notes: accepts_all.iter().map(|told| Note::new("tolerance-beyond-half-a-repeat", told.clone() + ".")).collect(),
    };
    if let Some(doubt) = there::doubt(plane, seam, unit) {
        return Verdict {
            code: Some(UnsureCode::NoSeamThere),
            reason: doubt,
            cure: Some(
                "Draw the seam where it shows (--seam), or leave it to be found; where you are sure, say that the seam is \
                 where you drew it (--insist)."
                    .into(),
            ),
            ..base
        };
    }
    if !plane.is_metric() {
        return Verdict {
            reason: "without a scale the jump is known in repeats of the cloth, not in millimetres".into(),
            cure: Some(
                "Lay the printed scale card (seamstep card) beside the seam and photograph again, or mark a known \
                 length or a thing of known size, or give the cloth's repeat (--length, --rectangle, --repeat)."
                    .into(),
            ),
            ..base
        };
    }
    if let Some(Contradiction { given_mm, by_card_mm }) = plane.contradiction {
        let [given, by_card] = [given_mm, by_card_mm].map(length);
        return Verdict {
            reason: format!("by the card in the picture the repeat is {by_card}, not {given} as given, and one of them is wrong"),
            cure: Some(
                "Leave the repeat out to measure by the card (--repeat); or, if the card's side is not as printed on it, take \
                 the card out of the picture. Measure the repeat on the flat cloth, over ten repeats."
                    .into(),
            ),
            ..base
        };
    }
    if let Some(other) = partners::doubt(offset, tolerance_mm) {
        return Verdict {
            code: Some(UnsureCode::WhichLine),
            reason: format!(
                "which line belongs to which is not sure: the jump is {}, or {} where the lines belong to others (chance {:.0} %)",
                length(offset.mean_mm),
                length(offset.mean_mm + other.apart_mm),
                100.0 * other.probability
            ),
            cure: Some(
                "Photograph a longer piece of the seam, so that lines are seen of which there is only one; or compare the lines \
                 by their colours and widths at the seam."
                    .into(),
            ),
            ..base
        };
    }
    if offset.unrelated >= LEAST_PROBABLE {
        return Verdict {
            code: Some(UnsureCode::WhichLine),
            reason: format!(
                "it is not sure that the two sides show the same lines: the chance that they have nothing to do with one another \
                 is {:.0} %",
                100.0 * offset.unrelated
            ),
            cure: Some("Photograph a longer piece of the seam, sharp and in even light, so that more lines are seen on both sides.".into()),
            ..base
        };
    }
    let stretches = stretches(offset, judged, tolerance_mm);
    let only_assumed = |if_here: Judgement, reason: &str| Verdict {
        code: Some(UnsureCode::Assumed),
        if_here: Some(if_here),
        reason: reason.into(),
        cure: Some("Mark where the seam is (--seam).".into()),
        ..base.clone()
    };
    let (begin_mm, end_mm) = (judged[0].along_mm, judged[judged.len() - 1].along_mm);
    let piece = if end_mm - begin_mm < WHOLE_SHARE * seam.length_mm() {
        format!(
            "; it was judged from {} to {} of its {} {}, for beyond that no lines are plain",
            place_at(begin_mm),
            place_at(end_mm),
            place_at(seam.length_mm()),
            unit.places()
        )
    } else {
        String::new()
    };
    if let Some(worst) = stretches.iter().max_by(|a, b| a.worst_mm.abs().total_cmp(&b.worst_mm.abs())) {
        if seam.source == SeamSource::Assumed && !shown::surely(seam, offset) {
            return only_assumed(
                Judgement::Off,
                "the lines jump where the seam was taken to be, but no plain trace of a seam was seen there, and cloth that \
                 runs on can look like this",
            );
        }
        let assumed = match seam.source {
            SeamSource::Assumed => ", if the seam is where it was taken to be",
            SeamSource::Found | SeamSource::Given => "",
        };
        let reason = format!(
            "the lines jump {} between {} and {} {} along the seam, and {accepted} is accepted{assumed}{piece}",
            length(worst.worst_mm),
            place_at(worst.from_mm),
            place_at(worst.to_mm),
            unit.places()
        );
        return Verdict { result: Judgement::Off, reason, stretches, ..base };
    }
    let open = judged
        .iter()
        .filter(|r| judge(r.offset_mm, r.expanded_uncertainty_mm, tolerance_mm) != Judgement::Matched)
        .max_by(|a, b| reach(a).total_cmp(&reach(b)));
    match (open, accepts_all) {
        (None, Some(reason)) => {
            let cure = "Give a tolerance of less than half the repeat (--tolerance).";
            Verdict { reason, cure: Some(cure.into()), ..base }
        }
        (None, None) if seam.source == SeamSource::Assumed && !shown::by_the_lines(offset) => {
            only_assumed(Judgement::Matched, "the lines run straight on, but no plain trace of the seam was seen")
        }
        (None, None) => {
            let shown = match seam.source {
                SeamSource::Assumed => "; that they jump at all shows that the seam is there",
                SeamSource::Found | SeamSource::Given => "",
            };
            let reason = format!(
                "no line jumps more than {}, and {accepted} is accepted{shown}{piece}",
                length(judged.iter().map(reach).fold(0.0, f64::max))
            );
            Verdict { result: Judgement::Matched, reason, ..base }
        }
        (Some(r), _) => Verdict {
            reason: format!(
                "{} {} along the seam the jump is {}, give or take {}, and {accepted} is accepted{piece}",
                place_at(r.along_mm),
                unit.places(),
                length(r.offset_mm),
                length(r.expanded_uncertainty_mm)
            ),
            cure: Some(settle::cure(r, tolerance_mm, unit)),
            ..base
        },
    }
}

/// The largest size that a reading's offset may have.
fn reach(r: &Reading) -> f64 {
    r.offset_mm.abs() + r.expanded_uncertainty_mm
}

/// The stretches over which readings are off; a run shorter than the narrowest line, if there are lines, is none unless
/// it holds an off line.
fn stretches(offset: &Offset, judged: &[Reading], tolerance_mm: f64) -> Vec<Stretch> {
    let least = offset.lines.iter().map(|l| l.width_mm).fold(f64::INFINITY, f64::min);
    let least = if least.is_finite() { least } else { 0.0 };
    let half_step = judged.windows(2).map(|pair| (pair[1].along_mm - pair[0].along_mm) / 2.0).fold(0.0, f64::max);
    let off = |r: &Reading| judge(r.offset_mm, r.expanded_uncertainty_mm, tolerance_mm) == Judgement::Off;
    judged
        .chunk_by(|a, b| off(a) == off(b))
        .filter(|run| off(&run[0]))
        .map(|run| Stretch {
            from_mm: (run[0].along_mm - half_step).max(judged[0].along_mm),
            to_mm: (run[run.len() - 1].along_mm + half_step).min(judged[judged.len() - 1].along_mm),
            worst_mm: run.iter().map(|r| r.offset_mm).fold(0.0, |w: f64, o| if o.abs() > w.abs() { o } else { w }),
        })
        .filter(|s| {
            s.to_mm - s.from_mm >= least
                || offset.lines.iter().any(|l| {
                    (s.from_mm..=s.to_mm).contains(&l.along_mm)
                        && judge(l.offset_mm, l.expanded_uncertainty_mm, tolerance_mm) == Judgement::Off
                })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tolerance_of_zero_never_says_matched() {
        assert_eq!(judge(0.0, 0.001, 0.0), Judgement::Unsure);
        assert_eq!(judge(0.5, 0.001, 0.0), Judgement::Off);
    }

    #[test]
    fn a_larger_offset_never_gets_a_better_verdict() {
        let rank = |j| match j {
            Judgement::Matched => 0,
            Judgement::Unsure => 1,
            Judgement::Off => 2,
        };
        for u in [0.0, 0.1, 0.7, 2.0] {
            let ranks: Vec<i32> = (0..60).map(|k| rank(judge(f64::from(k) * 0.05, u, 1.5))).collect();
            assert!(ranks.is_sorted(), "{u}");
        }
    }
}
