//! What the network and a look say of a place, weighed: how likely it is that this is a seam.

use super::refine::Look;
use super::through::Through;
use super::trace::Shown;

/// Number of clues.
pub const CLUES: usize = 22;

/// The clues, each about 0 to 1, in the order of the weights; without a look only what the network says.
pub fn clues(shown: Shown, look: Option<(&Look, Through)>) -> [f64; CLUES] {
    let mut clues = [0.0; CLUES];
    clues[..4].copy_from_slice(&[
        f64::from((1.0 + shown.gain.max(0.0)).ln()) / 5.0,
        f64::from(shown.mean),
        f64::from(shown.sure),
        f64::from(shown.length),
    ]);
    let Some((look, through)) = look else { return clues };
    let crease = f64::from(look.darkness());
    let agreement = f64::from(look.agreement.max(0.0));
    clues[4..].copy_from_slice(&[
        1.0,
        agreement,
        f64::from(look.jump.min(0.6)) * f64::from(look.plainness),
        f64::from((look.lag_mm / 1.5).min(1.0)) * agreement * f64::from(look.plainness),
        f64::from((look.bend / 0.12).min(1.0)) * f64::from(look.plainness),
        f64::from(look.plainness),
        (crease / 0.12).min(1.0),
        f64::from((look.crease[1] / 0.08).clamp(-1.0, 1.0)),
        ((crease - f64::from(look.next_crease)) / 0.1).clamp(-1.0, 1.0),
        if look.gap_mm.is_some() { agreement } else { 0.0 },
        f64::from((look.kept_crease / 0.1).clamp(-1.0, 1.0)),
        f64::from((look.otherness / 0.4).min(1.0)),
        f64::from(1.0 - look.seen),
        (0.6 - agreement).max(0.0) / 0.6,
        f64::from((look.otherness / 0.3).min(1.0)) * (1.0 - agreement),
        f64::from((0.5 - look.plainness).max(0.0)) / 0.5,
        f64::from(through.broken),
        f64::from(through.unbroken),
    ]);
    clues
}

/// The weights of the clues and their constant: a logistic regression, made again by `tests/confidence.rs`.
const WEIGHTS: [f64; CLUES] = [
    1.72, 7.01, -1.29, 0.51, -1.09, 1.04, 1.20, -0.78, -0.21, 1.80, -0.39, 0.64, 0.06, 2.36, 0.00, -0.62, 1.24, 0.21,
    0.20, 0.33, 0.99, -1.50,
];
const CONSTANT: f64 = -5.53;

/// Log-odds that a place with these clues is a seam.
pub fn log_odds(clues: &[f64; CLUES]) -> f64 {
    CONSTANT + clues.iter().zip(WEIGHTS).map(|(clue, weight)| clue * weight).sum::<f64>()
}

/// The probability with these log-odds.
pub fn likely(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}
