//! The joint fit: one template, displaced on every rib of both sides.
//!
//! Every rib's relief is modelled as one common template T, carried along by the field of [`super::field`]:
//! p(u) ≈ T(u − D). The template is eliminated where it stands, so that Gauss-Newton works on the field alone
//! ([`super::linear`]). The fit begins with smoothed profiles, for its reach, and ends with the profiles themselves.
//! How freely the field varies is chosen by the evidence (marginal likelihood).

use super::field::{Freedom, Layout};
use super::linear::{Data, Linear, Noise};
use crate::lines::relief::{self, Profile};
use nalgebra::{DMatrix, DVector};

/// Widths of the smooth that the fit begins with, millimetres: from coarse, for its reach, to none.
const COARSE_TO_FINE_MM: [f64; 4] = [1.6, 0.8, 0.35, 0.0];
/// Rounds of Gauss-Newton at each width.
const ROUNDS: usize = 4;
/// Random walks tried for the offset, mm per √mm.
const WALKS: [f64; 6] = [0.001, 0.006, 0.02, 0.06, 0.16, 0.4];
/// Jitters tried, millimetres.
const JITTERS_MM: [f64; 5] = [0.002, 0.01, 0.03, 0.08, 0.2];
/// Freedoms of slope and bend tried.
const DRAPES: [f64; 4] = [0.03, 0.3, 1.0, 3.0];

/// The field as fitted.
#[derive(Clone, Debug)]
pub struct Fit {
    /// Where the parameters stand.
    pub layout: Layout,
    /// The parameters.
    pub theta: DVector<f64>,
    /// Their covariance.
    pub covariance: DMatrix<f64>,
    /// The common template, one sample a step of t.
    pub template: Vec<[f64; 3]>,
    /// Whether both sides are seen at each sample of t.
    pub seen_on_both: Vec<bool>,
}

/// Fits the field from a first offset and the sides' slopes; `None` when the data do not fix it.
pub fn joint(data: &Data, first_offset_mm: f64, slopes: [f64; 2]) -> Option<Fit> {
    let length_mm = data.step_mm * (data.samples - 1) as f64;
    let layout = Layout::new(length_mm);
    let mut theta = layout.constant(first_offset_mm, slopes);
    let mut freedom = Freedom { walk: 0.06, drape: 0.3, jitter_mm: 0.02 };
    let mut last = None;
    for width_mm in COARSE_TO_FINE_MM {
        let smoothed: [Vec<Profile>; 2] = data.sides.map(|side| smoothed(side, width_mm / data.step_mm));
        let view = Data { sides: [&smoothed[0], &smoothed[1]], ..*data };
        let rounds = if width_mm == 0.0 { 3 * ROUNDS } else { ROUNDS };
        let mut noise: Option<Noise> = None;
        for round in 0..rounds {
            let linear = Linear::new(&view, &layout, &theta, noise.as_ref())?;
            let fine = width_mm == 0.0 && round >= ROUNDS - 1;
            if fine && round % ROUNDS == ROUNDS - 1 && round + 1 < rounds {
                freedom = best_freedom(&layout, &linear, &theta, slopes, freedom)?;
            }
            let (precision, centre) = layout.prior(freedom, slopes, fine.then_some(&theta));
            let pull = &linear.right + &precision * (centre - &theta);
            let step = (&linear.normal + &precision).cholesky()?.solve(&pull);
            theta += limited(step, 0.6 * width_mm.max(0.5));
            if !theta.iter().all(|x| x.is_finite()) {
                return None;
            }
            noise = Some(linear.noise.clone());
            last = Some(linear);
        }
    }
    let linear = last?;
    let (precision, _) = layout.prior(freedom, slopes, Some(&theta));
    let covariance = (&linear.normal + precision).cholesky()?.inverse();
    let Linear { template, seen_on_both, .. } = linear;
    Some(Fit { layout, theta, covariance, template, seen_on_both })
}

/// A step whose largest part is no longer than `most` (millimetres for δ; slopes and bends are smaller anyway).
fn limited(step: DVector<f64>, most: f64) -> DVector<f64> {
    let largest = step.amax();
    if largest > most { step * (most / largest) } else { step }
}

fn smoothed(side: &[Profile], sigma_samples: f64) -> Vec<Profile> {
    if sigma_samples < 0.5 {
        return side.to_vec();
    }
    side.iter().map(|p| Profile { tone: relief::smooth(&p.tone, &p.weight, sigma_samples), ..p.clone() }).collect()
}

/// The freedom with the largest marginal likelihood of the linearised model, searched one part after the other.
fn best_freedom(
    layout: &Layout,
    linear: &Linear,
    theta: &DVector<f64>,
    slopes: [f64; 2],
    start: Freedom,
) -> Option<Freedom> {
    let normal = &linear.normal;
    let pull = normal * theta + &linear.right;
    let evidence = |freedom: Freedom| -> Option<f64> {
        let (precision, centre) = layout.prior(freedom, slopes, None);
        let prior_root = precision.clone().cholesky()?;
        let posterior = (normal + &precision).cholesky()?;
        let b = &pull + &precision * &centre;
        let log_determinant = |l: &DMatrix<f64>| 2.0 * l.diagonal().iter().map(|x| x.ln()).sum::<f64>();
        Some(
            0.5 * (log_determinant(prior_root.l_dirty()) - log_determinant(posterior.l_dirty()))
                + 0.5 * b.dot(&posterior.solve(&b))
                - 0.5 * centre.dot(&(&precision * &centre)),
        )
    };
    let best = |candidates: Vec<Freedom>| {
        candidates
            .into_iter()
            .filter_map(|freedom| Some((evidence(freedom)?, freedom)))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, freedom)| freedom)
    };
    let mut freedom = start;
    for _ in 0..2 {
        freedom = best(DRAPES.iter().map(|&drape| Freedom { drape, ..freedom }).collect())?;
        let pairs = WALKS.iter().flat_map(|&walk| JITTERS_MM.iter().map(move |&jitter_mm| (walk, jitter_mm)));
        freedom = best(pairs.map(|(walk, jitter_mm)| Freedom { walk, jitter_mm, ..freedom }).collect())?;
    }
    Some(freedom)
}
