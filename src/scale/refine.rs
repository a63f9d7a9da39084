//! Fits a symbol's homography to the picture itself: the known modules, blurred, against the pixels (`model`).
//!
//! The model's blur is chosen by the residual. The search is a detector; this is the measurement.

use super::lit::{Lit, TO_MEASURE_PX, TO_READ_PX};
use super::model::{LEAST_KEPT, Model, Until};
use super::pattern::Pattern;
use crate::photo::Photo;
use crate::threads;
use nalgebra::{Matrix3, SMatrix};

/// Samples of the picture along one module.
const SAMPLES: usize = 5;
/// The same while a place is drawn in. Residuals of the two are not to be compared: the finer one meets more edges.
const COARSE_SAMPLES: usize = 3;
/// Blurs of the model that are tried, modules (σ), coarse first: the coarse one draws the start in.
const BLURS: [f64; 7] = [0.6, 0.42, 0.3, 0.22, 0.16, 0.11, 0.06];
/// Most rounds of a fit, and of the first, which may begin far off.
const ROUNDS: usize = 8;
const FIRST_ROUNDS: usize = 15;

/// The card's homography as fitted.
#[derive(Clone, Debug)]
pub struct FittedCard {
    /// Symbol coordinates in modules → picture pixels, last element 1.
    pub modules_to_px: Matrix3<f64>,
    /// Covariance of its first eight elements (row by row), correlation of neighbouring pixels allowed for.
    pub covariance: SMatrix<f64, 8, 8>,
    /// Root mean square of the residual, as a share of the symbol's light-dark difference.
    pub residual: f64,
    /// Share of the known modules that the fit rests on.
    pub kept: f64,
}

/// Fits the homography; `None` when the picture does not show the modules well enough for a fit.
pub fn refine(photo: &Photo, pattern: &Pattern, start: &Matrix3<f64>) -> Option<FittedCard> {
    let lit = Lit::around(photo, start, pattern.modules, TO_MEASURE_PX);
    let all = vec![true; pattern.cells.len()];
    let coarse = Model::new(pattern, BLURS[0], COARSE_SAMPLES);
    let (drawn, mut kept) = coarse.fit(&lit, *start, &all, FIRST_ROUNDS, Until::Near { stiff: false })?;
    let mut h = drawn.modules_to_px;
    let mut best: Option<(Model, FittedCard, Vec<bool>)> = None;
    // What the coarsest model leaves unexplained was not weighed by module: the finer ones are compared, two at a time.
    for pair in BLURS[1..].chunks(2) {
        let with = |blur: Option<&f64>| {
            let model = Model::new(pattern, *blur?, SAMPLES);
            let (fit, judged) = model.fit(&lit, h, &kept, ROUNDS, Until::Near { stiff: false })?;
            Some((model, fit, judged))
        };
        let (one, other) = threads::both(|| with(pair.first()), || with(pair.get(1)));
        let better = |of: &(Model, FittedCard, Vec<bool>)| {
            best.as_ref().is_none_or(|(_, best, _)| of.1.residual <= best.residual)
        };
        let Some(one) = one.filter(better) else { break };
        let finer = other.filter(|other| other.1.residual <= one.1.residual);
        let is_last = finer.is_none();
        let next = finer.unwrap_or(one);
        h = next.1.modules_to_px;
        kept.clone_from(&next.2);
        best = Some(next);
        if is_last {
            break;
        }
    }
    let (model, near, kept) = best?;
    let (fit, _) = model.fit(&lit, near.modules_to_px, &kept, ROUNDS, Until::Settled)?;
    (fit.residual < 0.25 && fit.kept >= LEAST_KEPT).then_some(fit)
}

/// The coarse fit alone: good to a tenth of a module, for a pattern of which a part is known. `agreement` says how well a
/// place agrees with the picture; the best of what was met is taken, the start among it.
pub fn draw_in(
    photo: &Photo,
    pattern: &Pattern,
    start: &Matrix3<f64>,
    agreement: impl Fn(&Matrix3<f64>) -> f64,
) -> Matrix3<f64> {
    let all = vec![true; pattern.cells.len()];
    let lit = Lit::around(photo, start, pattern.modules, TO_READ_PX);
    let model = |blur: f64| Model::new(pattern, blur, COARSE_SAMPLES);
    let (coarse, fine) = threads::both(|| model(BLURS[0]), || model(BLURS[2]));
    let mut best = (agreement(start), *start);
    let mut h = *start;
    for (model, stiff) in [(&coarse, true), (&coarse, false), (&fine, false)] {
        let Some((fit, _)) = model.fit(&lit, h, &all, ROUNDS, Until::Near { stiff }) else { break };
        h = fit.modules_to_px;
        let here = agreement(&h);
        if here < best.0 - 0.1 {
            break;
        }
        if here >= best.0 {
            best = (here, h);
        }
    }
    best.1
}
