//! The joint fit: one template, displaced on every rib of both sides.
//!
//! Every rib's relief is modelled as one common template T, carried along by the field of [`super::field`]:
//! p(u) ≈ T(u − D). The template is eliminated where it stands, so that Gauss-Newton works on the field alone
//! ([`super::linear`]). The fit begins with smoothed profiles, for its reach, and ends with the profiles themselves.
//! How freely the field varies, and where δ jumps, is told by the evidence ([`super::evidence`]).

use super::course::Course;
use super::evidence::{Average, Evidence};
use super::field::{Freedom, Layout};
use super::linear::{Data, Linear, Noise};
use super::means::Means;
use super::partner;
use crate::lines::relief::{self, Profile};
use crate::threads;
use nalgebra::{DMatrix, DVector, DVectorView, Matrix3};

/// Widths of the smooth that the fit begins with, millimetres: from coarse, for its reach, to none.
const COARSE_TO_FINE_MM: [f64; 4] = [1.6, 0.8, 0.35, 0.0];
/// A smoothed profile is read at no finer steps than this share of its smooth's width; so many samples are left at least.
const STEP_SHARE: f64 = 0.4;
const LEAST_SAMPLES: usize = 200;
/// Most rounds of Gauss-Newton at each width, and between two choices of the freedom.
const ROUNDS: usize = 4;
/// How often the freedom is chosen.
const CHOICES: usize = 2;
/// The most rounds at the last width: from faint lines the fit may begin far off, and a step has a longest length.
const MOST_ROUNDS: usize = 6 * ROUNDS;
/// A round whose step is shorter than this, millimetres, is the last; and the last of its width.
const SETTLED_MM: f64 = 0.005;
const NEAR_MM: f64 = 0.05;
/// A step that turns back is shortened to this share, or the fit could go to and fro for ever.
const TURNED_SHARE: f64 = 0.5;
/// A whitened difference is counted up to this square when two fits are compared: a pin is no partner.
const MOST_SQUARE: f64 = 60.0;
/// Two fits say different things where their offsets differ by more, millimetres.
const APART_MM: f64 = 0.3;
/// The fit that followed the first look is taken when it leaves less than this share of what the plain one leaves: the edge
/// of something that lies on the cloth is followed too, and explains less than a jump does.
const FOLLOWED_SHARE: f64 = 0.7;

/// The field as fitted.
#[derive(Clone, Debug)]
pub struct Fit {
    /// Where the parameters stand.
    pub layout: Layout,
    /// The parameters.
    pub theta: DVector<f64>,
    /// Covariance of δ's knots, which are the first parameters.
    pub covariance: DMatrix<f64>,
    /// The part of it that slope and drape bring, which carry the lines to the seam.
    pub carried: DMatrix<f64>,
    /// The common template, one sample a step of t.
    pub template: Vec<[f64; 3]>,
    /// Both sides' means, laid on one another, at each sample of t.
    pub means: Vec<Means>,
    /// Whether both sides are seen at each sample of t.
    pub seen_on_both: Vec<bool>,
    /// Standard uncertainty that the doubt about the partner lines brings, millimetres.
    pub partner_mm: f64,
}

/// Fits the field from the offset as first seen and the sides' slopes; `None` when the data do not fix it.
///
/// Where the first look changes along the seam, it may have followed something else than the lines: the fit that begins
/// with the same offset everywhere is taken unless the other leaves much less unexplained.
pub fn joint(data: &Data, first: &Course, slopes: [f64; 2]) -> Option<Fit> {
    if !first.changes() {
        return from(data, first, slopes).map(|found| found.fit);
    }
    let constant = Course::constant(first.first_mm());
    let (followed, plain) = threads::both(|| from(data, first, slopes), || from(data, &constant, slopes));
    match (followed, plain) {
        (Some(followed), Some(plain)) => {
            Some(if plain.is_as_good_as(&followed, data.step_mm) { plain } else { followed }.fit)
        }
        (one, other) => one.or(other).map(|found| found.fit),
    }
}

/// A fit and what it leaves.
struct Found {
    fit: Fit,
    noise: Matrix3<f64>,
}

impl Found {
    /// Whether this plain fit leaves hardly more unexplained than one that followed, both measured by the smaller noise, where
    /// they say different things.
    fn is_as_good_as(&self, other: &Self, step_mm: f64) -> bool {
        let noise = if self.noise.determinant() < other.noise.determinant() { self.noise } else { other.noise };
        let Some(whiten) = noise.try_inverse() else { return false };
        let apart: Vec<bool> = (0..self.fit.means.len())
            .map(|k| {
                let t_mm = k as f64 * step_mm;
                (self.fit.offset_at(t_mm) - other.fit.offset_at(t_mm)).abs() > APART_MM
            })
            .collect();
        let left = |found: &Self| -> f64 {
            let places = found.fit.means.iter().zip(&apart).filter(|(_, apart)| **apart);
            places
                .map(|(m, _)| {
                    let d = m.difference();
                    if m.both() { (whiten * d).dot(&d).min(MOST_SQUARE) } else { 3.0 }
                })
                .sum()
        };
        FOLLOWED_SHARE * left(self) <= left(other)
    }
}

impl Fit {
    /// The offset at δ's knots, millimetres.
    pub fn offset(&self) -> DVectorView<'_, f64> {
        self.theta.rows(0, self.layout.offset_knots())
    }

    /// The offset at t, millimetres.
    fn offset_at(&self, t_mm: f64) -> f64 {
        self.layout.offset_weights(t_mm).dot(&self.offset())
    }
}

/// The fit from one start.
fn from(data: &Data, first: &Course, slopes: [f64; 2]) -> Option<Found> {
    let length_mm = data.step_mm * (data.samples - 1) as f64;
    let layout = Layout::new(length_mm);
    let mut theta = layout.first(first, slopes);
    let start = theta.clone();
    let mut freedom = Freedom { walk: 0.06, drape: 0.3, jitter_mm: 0.02, jumps: layout.jumps(&theta) };
    let mut places = Vec::new();
    let mut last = None;
    for width_mm in COARSE_TO_FINE_MM {
        let every = every(width_mm / data.step_mm, data.samples);
        let smoothed: [Vec<Profile>; 2] = data.sides.map(|side| smoothed(side, width_mm / data.step_mm, every));
        let view = Data {
            sides: [&smoothed[0], &smoothed[1]],
            step_mm: data.step_mm * every as f64,
            samples: data.samples.div_ceil(every),
        };
        let is_last = width_mm == 0.0;
        let mut noise: Option<Noise> = None;
        let mut before = DVector::zeros(layout.total());
        let (mut fine, mut choices, mut since) = (false, 0, 0);
        for _ in 0..if is_last { MOST_ROUNDS } else { ROUNDS } {
            let linear = Linear::new(&view, &layout, &theta, noise.as_ref(), fine)?;
            if fine && since == 0 && choices < CHOICES {
                let seen: Vec<bool> = linear.means.iter().map(Means::both).collect();
                places = layout.jump_places(&[&start, &theta], &seen, view.step_mm);
                freedom = Evidence::new(&layout, &linear, &theta, slopes, &places).best(&freedom)?;
                choices += 1;
            }
            let (precision, centre) = layout.prior(&freedom, slopes, fine.then_some(&theta));
            let pull = &linear.right + &precision * (centre - &theta);
            let step = (&linear.normal + &precision).cholesky()?.solve(&pull);
            let mut step = limited(step, 0.6 * width_mm.max(0.5));
            if step.dot(&before) < 0.0 {
                step *= TURNED_SHARE;
            }
            let at = theta.clone();
            theta += &step;
            if !theta.iter().all(|x| x.is_finite()) {
                return None;
            }
            noise = Some(linear.noise.clone());
            last = Some((linear, at));
            since += 1;
            let moved_mm = step.amax();
            before = step;
            match (is_last, fine) {
                (false, _) if moved_mm < NEAR_MM => break,
                (true, false) if moved_mm < NEAR_MM || since == ROUNDS - 1 => (fine, since) = (true, 0),
                (true, true) if choices < CHOICES && (moved_mm < SETTLED_MM || since == ROUNDS) => since = 0,
                (true, true) if choices == CHOICES && moved_mm < SETTLED_MM => break,
                _ => {}
            }
        }
    }
    let (linear, at) = last?;
    let Average { theta, covariance, carried } =
        Evidence::new(&layout, &linear, &at, slopes, &places).averaged(&freedom)?;
    let Linear { template, means, noise, .. } = linear;
    let partner_mm = partner::doubt_mm(&means, &noise.sides, data.step_mm);
    let seen_on_both = means.iter().map(Means::both).collect();
    Some(Found {
        fit: Fit { layout, theta, covariance, carried, template, means, seen_on_both, partner_mm },
        noise: noise.sides,
    })
}

/// A step whose largest part is no longer than `most` (millimetres for δ; slopes and bends are smaller anyway).
fn limited(step: DVector<f64>, most: f64) -> DVector<f64> {
    let largest = step.amax();
    if largest > most { step * (most / largest) } else { step }
}

/// Every which sample of a profile smoothed by `sigma_samples` is enough.
fn every(sigma_samples: f64, samples: usize) -> usize {
    ((STEP_SHARE * sigma_samples) as usize).min(samples / LEAST_SAMPLES).max(1)
}

/// The profiles smoothed, of each every so many samples.
fn smoothed(side: &[Profile], sigma_samples: f64, every: usize) -> Vec<Profile> {
    if sigma_samples < 0.5 {
        return side.to_vec();
    }
    let thinned = |p: &Profile| Profile {
        v_mm: p.v_mm,
        value: Vec::new(),
        tone: relief::smooth(&p.tone, &p.weight, sigma_samples).into_iter().step_by(every).collect(),
        weight: p.weight.iter().copied().step_by(every).collect(),
    };
    side.iter().map(thinned).collect()
}
