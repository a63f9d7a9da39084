//! Room 7: [`Offset`] → [`Verdict`]: is the seam within tolerance, or can the measurement not tell?
//!
//! Each reading is judged by one rule ([`judge`]) that keeps the expanded uncertainty as a guard band. The seam is
//! matched when every judged reading is, off when a line or a stretch of a line's length is, else unsure, with what
//! would settle it ([`settle`]). Readings between the first and the last line decide: where there is no line, nothing can be seen to
//! jump, and the offset is only carried on. If what is carried on leaves the tolerance, the seam is unsure; and so it is
//! where its place was only assumed and the lines run straight on ([`shown`]). Tolerances by place ([`place`]) are habits of
//! the trade; the user's own figure ([`demand`]) always wins.

pub mod place;

pub mod demand;

pub mod settle;

pub mod shown;

use crate::digits::{self, Unit};
use crate::offset::{Offset, Reading};
use crate::scale::Plane;
use crate::seam::{Seam, SeamSource};
pub use demand::{Demand, OwnTolerances, ToleranceSource};
pub use place::{Place, Showing};
use serde::{Deserialize, Serialize};

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
    let lines: Vec<Judgement> = if plane.is_metric() {
        offset.lines.iter().map(|l| judge(l.offset_mm, l.expanded_uncertainty_mm, tolerance_mm)).collect()
    } else {
        vec![Judgement::Unsure; offset.lines.len()]
    };
    let base = Verdict {
        result: Judgement::Unsure,
        place,
        tolerance_mm,
        tolerance_source,
        tolerance_file: (tolerance_source == ToleranceSource::Settings).then(|| demand.own.file.clone()),
        unit,
        reason: String::new(),
        cure: None,
        stretches: Vec::new(),
        lines,
    };
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
    let stretches = stretches(offset, judged, tolerance_mm);
    if let Some(worst) = stretches.iter().max_by(|a, b| a.worst_mm.abs().total_cmp(&b.worst_mm.abs())) {
        let assumed = match seam.source {
            SeamSource::Assumed => ", if the seam is where it was taken to be",
            SeamSource::Found | SeamSource::Given => "",
        };
        let reason = format!(
            "the lines jump {} between {} and {} {} along the seam, and {accepted} is accepted{assumed}",
            length(worst.worst_mm),
            place_at(worst.from_mm),
            place_at(worst.to_mm),
            unit.places()
        );
        return Verdict { result: Judgement::Off, reason, stretches, ..base };
    }
    let open: Vec<&Reading> = judged
        .iter()
        .filter(|r| judge(r.offset_mm, r.expanded_uncertainty_mm, tolerance_mm) != Judgement::Matched)
        .collect();
    let hardest = open.iter().max_by(|a, b| reach(a).total_cmp(&reach(b)));
    let beyond = offset.readings.iter().find(|r| {
        judge(r.offset_mm, r.expanded_uncertainty_mm, tolerance_mm) == Judgement::Off
            && (r.along_mm < judged[0].along_mm || r.along_mm > judged[judged.len() - 1].along_mm)
    });
    match hardest {
        None if beyond.is_some() => Verdict {
            reason: format!(
                "within tolerance between the first and the last line, but the jump grows to more than {accepted} beyond \
                 them, where no line shows it"
            ),
            cure: Some("Photograph a longer piece of the seam, so that lines are seen up to its ends.".into()),
            ..base
        },
        None if seam.source == SeamSource::Assumed && !shown::by_the_lines(offset) => Verdict {
            reason: "the lines run straight on, but no plain trace of the seam was seen".into(),
            cure: Some("Mark where the seam is (--seam).".into()),
            ..base
        },
        None => {
            let shown = match seam.source {
                SeamSource::Assumed => "; that they jump at all shows that the seam is there",
                SeamSource::Found | SeamSource::Given => "",
            };
            let reason = format!(
                "no line jumps more than {}, and {accepted} is accepted{shown}",
                length(judged.iter().map(reach).fold(0.0, f64::max))
            );
            Verdict { result: Judgement::Matched, reason, ..base }
        }
        Some(r) => Verdict {
            reason: format!(
                "{} {} along the seam the jump is {}, give or take {}, and {accepted} is accepted",
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
