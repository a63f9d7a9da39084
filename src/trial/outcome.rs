//! One photograph of the trial, measured and set beside its truth.

use super::TrialRequest;
use super::scenes::{self, DRAWN_MM};
use crate::finding::Finding;
use crate::inspect::{Question, inspect};
use crate::photo::Photo;
use crate::problem::{Problem, RefusalCode};
use crate::render::{Rendered, Truth, offset_at, render};
use crate::scale::ScaleRequest;
use crate::seam::{SeamRequest, SeamSource};
use crate::units::PxPoint;
use crate::verdict::Judgement;
use rand::RngExt;

/// One photograph and what became of it.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// The seam's number, from 0.
    pub number: usize,
    /// The mean offset over the seam as it is in the picture, millimetres.
    pub true_mean_mm: f64,
    /// What the photograph answered.
    pub answer: Answer,
}

/// What a photograph answered.
#[derive(Clone, Debug)]
pub enum Answer {
    /// It was measured.
    Measured(Measured),
    /// It was refused, for this reason.
    Refused(RefusalCode),
}

/// What was measured, beside the truth at the same places.
#[derive(Clone, Debug)]
pub struct Measured {
    /// Measured mean offset less the true mean at the readings' places, millimetres.
    pub error_mm: f64,
    /// Expanded uncertainty of the mean, millimetres.
    pub expanded_uncertainty_mm: f64,
    /// Its coverage factor: 2, or Student's t where the degrees of freedom are few.
    pub coverage_factor: f64,
    /// The readings between the first and the last line, which the verdict judges.
    pub readings: Vec<ReadingError>,
    /// The true offset furthest from zero at those readings' places (signed), millimetres.
    pub true_worst_mm: f64,
    /// How the seam's place was known.
    pub source: SeamSource,
    /// What the seam was judged.
    pub verdict: Judgement,
}

/// One reading beside its truth.
#[derive(Clone, Copy, Debug)]
pub struct ReadingError {
    /// Measured less true offset, millimetres.
    pub error_mm: f64,
    /// Expanded uncertainty (about 95 %), millimetres.
    pub expanded_uncertainty_mm: f64,
}

impl Measured {
    /// The largest |error| + U of the readings, millimetres: by so much a seam must be better than the tolerance to be
    /// called matched.
    pub fn room_mm(&self) -> f64 {
        self.readings.iter().map(|r| r.error_mm.abs() + r.expanded_uncertainty_mm).fold(0.0, f64::max)
    }
}

impl Outcome {
    /// What was measured; `None` where it was refused.
    pub fn measured(&self) -> Option<&Measured> {
        match &self.answer {
            Answer::Measured(measured) => Some(measured),
            Answer::Refused(_) => None,
        }
    }
}

/// Renders a seam at a distance and measures it.
///
/// # Errors
/// [`Problem::Usage`] where the scene cannot be rendered; a refused photograph is an outcome.
pub(super) fn measure(request: &TrialRequest, number: usize, mm_per_px: f64) -> Result<Outcome, Problem> {
    let rendered = render(&scenes::scene(request, number, mm_per_px))?;
    let seam =
        if request.seam_drawn { drawn(request, number, mm_per_px, &rendered.truth) } else { SeamRequest::default() };
    let Rendered { photo, truth, .. } = rendered;
    let photo = Photo::new(format!("seam {number}"), photo);
    // A trial is in millimetres: a card that cannot be read is a refusal here.
    let question = Question { scale: ScaleRequest::Card, seam, demand: request.demand.clone(), ..Question::default() };
    let answer = match inspect(&photo, &question) {
        Ok(finding) => Answer::Measured(compared(&finding, &truth)),
        Err(Problem::Refused(refusal)) => Answer::Refused(refusal.code),
        Err(problem) => return Err(problem),
    };
    Ok(Outcome { number, true_mean_mm: truth.mean_offset_mm, answer })
}

/// The seam as a user draws it: near both ends and in the middle, each point a little aside.
fn drawn(request: &TrialRequest, number: usize, mm_per_px: f64, truth: &Truth) -> SeamRequest {
    let mut rng = scenes::dice(request, number, 1);
    let last = truth.seam_px.len() - 1;
    let points_px = [last / 12, last / 2, last - last / 12]
        .map(|k| {
            let p = truth.seam_px[k];
            let aside_mm = DRAWN_MM * rng.random_range(-1.0..1.0);
            PxPoint::new(p.x + aside_mm / mm_per_px, p.y)
        })
        .to_vec();
    SeamRequest { points_px, ..SeamRequest::default() }
}

/// A finding beside the truth.
fn compared(finding: &Finding, truth: &Truth) -> Measured {
    let true_at = |at_px: PxPoint| offset_at(&truth.readings, at_px).unwrap_or(truth.mean_offset_mm);
    let offset = &finding.offset;
    let all = &offset.readings;
    let true_mean_mm = all.iter().map(|r| true_at(r.at_px)).sum::<f64>() / all.len().max(1) as f64;
    let judged = offset.between_lines();
    let readings: Vec<ReadingError> = judged
        .iter()
        .map(|r| ReadingError {
            error_mm: r.offset_mm - true_at(r.at_px),
            expanded_uncertainty_mm: r.expanded_uncertainty_mm,
        })
        .collect();
    let further = |worst: f64, offset: f64| if offset.abs() > worst.abs() { offset } else { worst };
    Measured {
        error_mm: offset.mean_mm - true_mean_mm,
        expanded_uncertainty_mm: offset.expanded_uncertainty_mm,
        coverage_factor: offset.budget.coverage_factor(),
        readings,
        true_worst_mm: judged.iter().map(|r| true_at(r.at_px)).fold(0.0, further),
        source: finding.seam.source,
        verdict: finding.verdict.result,
    }
}
