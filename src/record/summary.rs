//! What is kept of a finding: its answer and the figures that many are compared by.

use crate::finding::Finding;
use crate::offset::Reading;
use crate::remedy::Action;
use crate::verdict::{Judgement, Place, judge};
use serde::{Deserialize, Serialize};

/// The answer of one seam, and its figures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Summary {
    /// Within tolerance?
    pub result: Judgement,
    /// The place it was judged as.
    pub place: Place,
    /// The tolerance it was judged by, millimetres.
    pub tolerance_mm: f64,
    /// One sentence with the figures that decided.
    pub reason: String,
    /// What to do.
    pub action: Action,
    /// Whether unpicking is worth it; `None` where the measurement cannot tell.
    pub worth_unpicking: Option<bool>,
    /// Minutes of work; `None` where there is none.
    pub minutes: Option<f64>,
    /// The distance from which a normal eye sees the worst step, metres: a guide.
    pub visible_from_m: Option<f64>,
    /// The lengths; `None` where there was no scale.
    pub lengths: Option<Lengths>,
}

/// The lengths of a seam that was measured with a scale.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Lengths {
    /// Length of the seam as photographed, millimetres.
    pub seam_mm: f64,
    /// One repeat of the cloth along the seam; `None` where less than one is seen.
    pub repeat_mm: Option<f64>,
    /// Mean offset over the seam, signed as in [`crate::conventions`].
    pub mean_mm: f64,
    /// Its standard uncertainty.
    pub mean_standard_uncertainty_mm: f64,
    /// The effective degrees of freedom of that; `None`: so many that they do not matter.
    pub mean_freedom: Option<f64>,
    /// The expanded uncertainty of the mean.
    pub mean_expanded_uncertainty_mm: f64,
    /// The reading between the outermost lines that is furthest from zero, signed.
    pub worst_mm: f64,
    /// Its expanded uncertainty.
    pub worst_expanded_uncertainty_mm: f64,
    /// Where it stands along the seam.
    pub worst_at_mm: f64,
    /// The share of the seam that is within tolerance.
    pub within: Share,
}

/// A share, 0 to 1, with what it is at least and at most.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Share {
    /// The readings taken as they are.
    pub best: f64,
    /// What is surely so, the uncertainty of each reading counted against it.
    pub least: f64,
    /// What may be so, the uncertainty counted for it.
    pub most: f64,
}

impl Summary {
    /// What is kept of this finding.
    pub fn of(finding: &Finding) -> Self {
        let Finding { verdict, remedy, .. } = finding;
        Summary {
            result: verdict.result,
            place: verdict.place,
            tolerance_mm: verdict.tolerance_mm,
            reason: verdict.reason.clone(),
            action: remedy.action,
            worth_unpicking: remedy.worth_unpicking,
            minutes: remedy.minutes,
            visible_from_m: remedy.visible_from_m,
            lengths: finding.plane.is_metric().then(|| Lengths::of(finding)),
        }
    }
}

impl Lengths {
    fn of(finding: &Finding) -> Self {
        let Finding { offset, seam, lines, verdict, .. } = finding;
        let judged = offset.between_lines();
        let worst = judged.iter().max_by(|a, b| a.offset_mm.abs().total_cmp(&b.offset_mm.abs()));
        let freedom = offset.budget.effective_freedom();
        Lengths {
            seam_mm: seam.length_mm(),
            repeat_mm: lines.repeat_mm().map(|(repeat, _)| repeat),
            mean_mm: offset.mean_mm,
            mean_standard_uncertainty_mm: offset.budget.combined_mm(),
            mean_freedom: freedom.is_finite().then_some(freedom),
            mean_expanded_uncertainty_mm: offset.expanded_uncertainty_mm,
            worst_mm: offset.worst_mm,
            worst_expanded_uncertainty_mm: worst
                .map_or(offset.expanded_uncertainty_mm, |reading| reading.expanded_uncertainty_mm),
            worst_at_mm: offset.worst_at_mm,
            within: Share::within(judged, verdict.tolerance_mm),
        }
    }
}

impl Share {
    /// The share of these readings within tolerance; readings stand evenly along the seam.
    fn within(readings: &[Reading], tolerance_mm: f64) -> Self {
        let share = |holds: &dyn Fn(&Reading) -> bool| {
            readings.iter().filter(|r| holds(r)).count() as f64 / readings.len().max(1) as f64
        };
        let judged = |r: &Reading| judge(r.offset_mm, r.expanded_uncertainty_mm, tolerance_mm);
        Share {
            best: share(&|r| r.offset_mm.abs() <= tolerance_mm),
            least: share(&|r| judged(r) == Judgement::Matched),
            most: share(&|r| judged(r) != Judgement::Off),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::PxPoint;

    #[test]
    fn a_share_counts_the_uncertainty_both_ways() {
        let reading = |offset_mm: f64| Reading {
            along_mm: 0.0,
            at_px: PxPoint::new(0.0, 0.0),
            offset_mm,
            expanded_uncertainty_mm: 0.2,
            chief_source: "",
        };
        let share = Share::within(&[0.1, -0.9, 1.1, 1.1, -3.0].map(reading), 1.0);
        assert_eq!((share.least, share.best, share.most), (0.2, 0.4, 0.8));
    }
}
