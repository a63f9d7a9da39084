//! The joint fit: one template, displaced on every rib of both sides.
//!
//! Every rib's relief is modelled as one common template T, carried along by the field of [`super::field`]:
//! p(u) ≈ T(u − D). The template is eliminated where it stands, so that Gauss-Newton works on the field alone
//! ([`super::linear`]). The fit begins with smoothed profiles, for its reach, and ends with the profiles themselves.
//! How freely the field varies, and where δ jumps, is told by the evidence ([`super::evidence`]).

use super::course::Course;
use super::descent::{DRAWING_MM, Descent, SETTLING_MM};
use super::field::Layout;
use super::means::Means;
use super::near::Near;
use super::ribs::{Data, Ribs};
use crate::lines::relief::Slope;
use crate::threads;
use nalgebra::{DMatrix, DVector, DVectorView, Matrix3};

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
    /// What the nearest ribs say against the field.
    pub near: Near,
}

/// The ribs at every width of the smooth at which descents read them.
pub struct Widths {
    drawing: [Ribs; 2],
    settling: [Ribs; 2],
    length_mm: f64,
    step_mm: f64,
}

impl Widths {
    /// Smooths them.
    pub fn of(data: &Data) -> Self {
        let [drawing, settling] = [DRAWING_MM, SETTLING_MM].map(|widths| widths.map(|mm| Ribs::smoothed(data, mm)));
        Self { drawing, settling, length_mm: data.length_mm(), step_mm: data.step_mm }
    }
}

/// Fits the field from the offset as first seen and the sides' slopes; `None` when the data do not fix it.
///
/// Where the first look changes along the seam, it may have followed something else than the lines: the fit that begins
/// with the same offset everywhere is taken unless the other leaves much less unexplained.
pub fn joint(ribs: &Widths, first: &Course, slopes: [Slope; 2]) -> Option<Fit> {
    let begin = |course: &Course| Descent::drawn_in(ribs.length_mm, &ribs.drawing, course, slopes);
    let settle = |start: Option<Descent>| start?.settled(&ribs.settling);
    if !first.changes() {
        return settle(begin(first)).map(|found| found.fit);
    }
    let constant = Course::constant(first.first_mm());
    let (followed, plain) = threads::both(|| begin(first), || begin(&constant));
    if let (Some(followed), Some(plain)) = (&followed, &plain)
        && plain.agrees(followed)
    {
        // Both would end at the same place; the one that followed knows where jumps may be.
        return settle(Some(followed.clone())).map(|found| found.fit);
    }
    match threads::both(|| settle(followed), || settle(plain)) {
        (Some(followed), Some(plain)) => {
            Some(if plain.is_as_good_as(&followed, ribs.step_mm) { plain } else { followed }.fit)
        }
        (one, other) => one.or(other).map(|found| found.fit),
    }
}

/// A fit and what it leaves.
pub struct Found {
    /// The fit.
    pub fit: Fit,
    /// Covariance of the difference of the sides' means over the channels.
    pub noise: Matrix3<f64>,
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
