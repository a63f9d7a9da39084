//! What was seen around a candidate, weighed: how likely it is that this is a seam.

use super::candidates::Candidate;
use super::refine::Look;
use super::through::Through;

/// Number of clues.
pub const CLUES: usize = 23;

/// The clues, each about 0 to 1, in the order of the weights.
pub fn clues(candidate: &Candidate, look: &Look, through: Through, aside: f64) -> [f64; CLUES] {
    let crease = f64::from(look.crease.iter().sum::<f32>()) / look.crease.len() as f64;
    let agreement = f64::from(look.agreement.max(0.0));
    [
        f64::from(candidate.jump) / 6.0,
        f64::from(candidate.crease) / 6.0,
        agreement,
        f64::from(look.jump.min(0.6)) * f64::from(look.plainness),
        f64::from((look.lag_mm / 1.5).min(1.0)) * agreement * f64::from(look.plainness),
        f64::from((look.bend / 0.12).min(1.0)) * f64::from(look.plainness),
        f64::from(look.plainness),
        (crease / 0.12).min(1.0),
        f64::from((look.crease[1] / 0.08).clamp(-1.0, 1.0)),
        ((crease - f64::from(look.next_crease)) / 0.1).clamp(-1.0, 1.0),
        if look.gap_mm.is_some() { agreement } else { 0.0 },
        aside * aside,
        f64::from((candidate.crease_lead / 0.08).clamp(-1.0, 1.0)),
        f64::from((candidate.jump_lead / 0.3).clamp(-1.0, 1.0)),
        f64::from((look.kept_crease / 0.1).clamp(-1.0, 1.0)),
        f64::from((look.otherness / 0.4).min(1.0)),
        f64::from(1.0 - look.seen),
        (0.6 - agreement).max(0.0) / 0.6,
        f64::from((look.otherness / 0.3).min(1.0)) * (1.0 - agreement),
        f64::from(candidate.gap) / 6.0 * agreement,
        f64::from((0.5 - look.plainness).max(0.0)) / 0.5,
        f64::from(through.broken),
        f64::from(through.unbroken),
    ]
}

/// Scores from which a crease is plain, and a jump between lines that agree this well.
const PLAIN_CREASE: f32 = 3.5;
const PLAIN_JUMP: f32 = 4.0;
const SAME_LINES: f32 = 0.8;

/// Whether one trace of a seam is plain, whatever the others say.
pub fn is_plain(candidate: &Candidate, look: &Look) -> bool {
    candidate.crease >= PLAIN_CREASE || (candidate.jump >= PLAIN_JUMP && look.agreement >= SAME_LINES)
}

/// The weights of the clues and their constant: a logistic regression over rendered seams and their decoys.
const WEIGHTS: [f64; CLUES] = [
    2.81, 4.25, 2.71, 6.35, 0.72, 1.52, 1.94, 1.94, -1.25, 2.17, 4.71, -5.68, 0.57, 0.73, 0.30, -0.12, 0.61, -1.85,
    -3.41, 2.97, 0.54, 2.85, -2.12,
];
const CONSTANT: f64 = -10.81;

/// How likely it is that a place with these clues is a seam, 0 to 1.
pub fn confidence(clues: &[f64; CLUES]) -> f64 {
    likely(CONSTANT + weighed(clues, &WEIGHTS))
}

/// The same clues where only a drawing was looked at: what the search of the whole picture would say is not known. Fitted as above to
/// 827 drawings up to 5 mm beside rendered seams (numbers 100 to 399) and to 927 9 mm and more beside them, across them or on cloth
/// without one (100000 to 100099), both weighing the same.
const AT_A_DRAWING: [f64; CLUES] = [
    0.0, 0.0, 0.08, 5.81, 1.08, 1.49, 1.36, 2.15, 0.69, 1.94, 6.88, 0.0, 0.0, 0.0, 0.24, 0.42, 1.12, -0.65, -1.18, 0.0,
    -0.94, 3.28, -2.01,
];
const AT_A_DRAWING_CONSTANT: f64 = -4.8;

/// How much likelier what was seen at a drawing is with a seam there than without, logarithm.
pub fn evidence(look: &Look, through: Through) -> f64 {
    AT_A_DRAWING_CONSTANT + weighed(&clues(&Candidate::default(), look, through, 0.0), &AT_A_DRAWING)
}

/// The probability with these log-odds.
pub fn likely(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}

fn weighed(clues: &[f64; CLUES], weights: &[f64; CLUES]) -> f64 {
    clues.iter().zip(weights).map(|(clue, weight)| clue * weight).sum()
}
