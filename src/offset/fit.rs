//! The joint fit: one template, displaced on every rib of both sides.
//!
//! Every rib's relief is modelled as one common template T, carried along by the field of [`super::field`]:
//! p(u) ≈ T(u − D). The template is eliminated where it stands, so that Gauss-Newton works on the field alone
//! ([`super::linear`]). The fit begins with smoothed profiles, for its reach, and ends with the profiles themselves.
//! How freely the field varies is chosen by the evidence (marginal likelihood).

use super::field::{Freedom, Layout};
use super::linear::{Data, Linear, Noise};
use super::means::Means;
use super::partner;
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
/// A freedom with less evidence than this share of the best one's is left out.
const LEAST_EVIDENCE: f64 = 0.02;

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
    /// Standard uncertainty that the doubt about the partner lines brings, millimetres.
    pub partner_mm: f64,
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
            let fine = width_mm == 0.0 && round >= ROUNDS - 1;
            let linear = Linear::new(&view, &layout, &theta, noise.as_ref(), fine)?;
            if fine && round % ROUNDS == ROUNDS - 1 && round + 1 < rounds {
                freedom = Evidence::new(&layout, &linear, &theta, slopes).best(freedom)?;
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
    let (theta, covariance) = Evidence::new(&layout, &linear, &theta, slopes).averaged(freedom)?;
    let Linear { template, means, noise, .. } = linear;
    Some(Fit {
        layout,
        theta,
        covariance,
        template,
        seen_on_both: means.iter().map(Means::both).collect(),
        partner_mm: partner::doubt_mm(&means, &noise.sides, data.step_mm),
    })
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

/// How well the linearised model explains the data with each freedom, and what it then says.
struct Evidence<'a> {
    layout: &'a Layout,
    linear: &'a Linear,
    theta: &'a DVector<f64>,
    /// Right side of the normal equations for the parameters themselves.
    pull: DVector<f64>,
    slopes: [f64; 2],
}

impl<'a> Evidence<'a> {
    fn new(layout: &'a Layout, linear: &'a Linear, theta: &'a DVector<f64>, slopes: [f64; 2]) -> Self {
        Self { layout, linear, theta, pull: &linear.normal * theta + &linear.right, slopes }
    }

    /// Logarithm of the marginal likelihood, less what is common to all.
    fn of(&self, freedom: Freedom) -> Option<f64> {
        let (precision, centre) = self.layout.prior(freedom, self.slopes, None);
        let prior_root = precision.clone().cholesky()?;
        let posterior = (&self.linear.normal + &precision).cholesky()?;
        let b = &self.pull + &precision * &centre;
        let log_determinant = |l: &DMatrix<f64>| 2.0 * l.diagonal().iter().map(|x| x.ln()).sum::<f64>();
        Some(
            0.5 * (log_determinant(prior_root.l_dirty()) - log_determinant(posterior.l_dirty()))
                + 0.5 * b.dot(&posterior.solve(&b))
                - 0.5 * centre.dot(&(&precision * &centre)),
        )
    }

    /// Parameters and covariance with this freedom.
    fn solved(&self, freedom: Freedom) -> Option<(DVector<f64>, DMatrix<f64>)> {
        let (precision, centre) = self.layout.prior(freedom, self.slopes, Some(self.theta));
        let posterior = (&self.linear.normal + &precision).cholesky()?;
        Some((posterior.solve(&(&self.pull + &precision * centre)), posterior.inverse()))
    }

    /// The freedom with the largest marginal likelihood of the linearised model, searched one part after the other.
    fn best(&self, start: Freedom) -> Option<Freedom> {
        let best = |candidates: Vec<Freedom>| {
            candidates
                .into_iter()
                .filter_map(|freedom| Some((self.of(freedom)?, freedom)))
                .max_by(|a, b| a.0.total_cmp(&b.0))
                .map(|(_, freedom)| freedom)
        };
        let mut freedom = start;
        for _ in 0..2 {
            freedom = best(drapes(freedom))?;
            freedom = best(walks_and_jitters(freedom))?;
        }
        Some(freedom)
    }

    /// The parameters averaged over the freedoms around the best one by their evidence, with the covariance that not
    /// knowing the freedom brings: a few edges often cannot tell an offset that wanders from lines that are uneven, and
    /// where no edge is the two differ.
    ///
    /// # Source
    /// Bayesian model averaging: Hoeting, Madigan, Raftery, Volinsky, Statistical Science 14, 1999 (from memory).
    fn averaged(&self, best: Freedom) -> Option<(DVector<f64>, DMatrix<f64>)> {
        let mut candidates = walks_and_jitters(best);
        candidates.extend(drapes(best).into_iter().filter(|f| f.drape != best.drape));
        let told: Vec<(f64, Freedom)> = candidates.into_iter().filter_map(|f| Some((self.of(f)?, f))).collect();
        let most = told.iter().map(|t| t.0).fold(f64::NEG_INFINITY, f64::max);
        let shares = told.into_iter().map(|(log, f)| ((log - most).exp(), f));
        let solved: Vec<(f64, DVector<f64>, DMatrix<f64>)> = shares
            .filter(|(share, _)| *share > LEAST_EVIDENCE)
            .filter_map(|(share, f)| self.solved(f).map(|(theta, covariance)| (share, theta, covariance)))
            .collect();
        let total: f64 = solved.iter().map(|s| s.0).sum();
        let n = self.layout.total();
        let mean = solved.iter().fold(DVector::zeros(n), |sum, (share, theta, _)| sum + theta * (share / total));
        let covariance = solved.iter().fold(DMatrix::zeros(n, n), |sum, (share, theta, own)| {
            let apart = theta - &mean;
            sum + (own + &apart * apart.transpose()) * (share / total)
        });
        (total > 0.0).then_some((mean, covariance))
    }
}

fn drapes(freedom: Freedom) -> Vec<Freedom> {
    DRAPES.iter().map(|&drape| Freedom { drape, ..freedom }).collect()
}

fn walks_and_jitters(freedom: Freedom) -> Vec<Freedom> {
    let pairs = WALKS.iter().flat_map(|&walk| JITTERS_MM.iter().map(move |&jitter_mm| (walk, jitter_mm)));
    pairs.map(|(walk, jitter_mm)| Freedom { walk, jitter_mm, ..freedom }).collect()
}
