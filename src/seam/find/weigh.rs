//! What was seen around a candidate, weighed: how likely it is that this is a seam.

use super::candidates::Candidate;
use super::refine::Look;

/// Number of clues.
pub const CLUES: usize = 21;

/// The clues, each about 0 to 1, in the order of the weights.
pub fn clues(candidate: &Candidate, look: &Look, aside: f64) -> [f64; CLUES] {
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
    ]
}

/// The crease score from which a crease is plain.
pub const PLAIN_CREASE: f32 = 3.5;

/// The weights of the clues and their constant: a logistic regression over rendered seams and their decoys.
const WEIGHTS: [f64; CLUES] = [
    3.25, 4.92, 1.44, 5.17, 1.3, 1.66, 1.19, 3.09, -0.99, 1.21, 3.31, -5.54, 0.51, 0.91, -0.44, 0.01, 0.53, -1.31,
    -3.33, 2.97, -0.43,
];
const CONSTANT: f64 = -9.65;

/// How likely it is that a place with these clues is a seam, 0 to 1.
pub fn confidence(clues: &[f64; CLUES]) -> f64 {
    let evidence = CONSTANT + clues.iter().zip(&WEIGHTS).map(|(clue, weight)| clue * weight).sum::<f64>();
    1.0 / (1.0 + (-evidence).exp())
}
