//! The displacement of the lines on both sides, as a field of few parameters.
//!
//! A line of template coordinate t stands at u = t + D(t, v):
//! first side D = −δ(t)/2 + a(t) v + Σ κⱼ(t) Bⱼ(|v|), second side the same with +δ(t)/2. δ is the offset at the seam, a the
//! slope of the lines at it, and κⱼ their bend (drape): the second derivative of D at three knots from the seam on, linear
//! between, so that Bⱼ is the hat function of that knot integrated twice. All are piecewise linear along t.
//!
//! Beside δ stands a jitter: what single lines add to it by themselves (uneven threads, a pin lying on a line). It is
//! independent from knot to knot, while δ is a random walk, and it is no part of the offset.

use super::course::{Course, END_MM};
use super::jumps::let_go;
use crate::lines::relief::Slope;
use nalgebra::{DMatrix, DVector};

/// Distance between the knots of δ, a, κ and the jitter along the seam, millimetres.
const SPACING_MM: [f64; 4] = [2.5, 12.0, 18.0, 5.0];
/// A change of the offset from knot to knot that is a jump at first sight, millimetres.
const LEAST_JUMP_MM: f64 = 0.4;
/// A jump is looked for this near to such a change, millimetres.
const JUMP_NEAR_MM: f64 = 7.5;
/// Where the bend has its knots, millimetres from the seam.
const BEND_MM: [f64; BENDS] = [0.0, 18.0, 36.0];
const BENDS: usize = 3;
/// Most knots of δ, so that a long seam stays affordable.
const MOST_KNOTS: usize = 80;
/// Standard deviation of a line's slope around the first look's.
const SLOPE_LEVEL: f64 = 0.1;
/// Standard deviation of the bend, per millimetre, and random-walk steps of slope and bend per √mm, at drape 1.
const BEND_LEVEL: f64 = 1.2e-3;
const SLOPE_WALK: f64 = 3e-3;
const BEND_WALK: f64 = 2.5e-4;
/// Degrees of freedom of the jitter: a pin on one line must not loosen the others.
const JITTER_FREEDOM: f64 = 3.0;

/// Number of parameters that matter at one place: two knots of each part.
pub const ACTIVE: usize = 2 * PARTS;
/// δ, then each side's shapes (slope and bends), then jitter.
const PARTS: usize = 2 + 2 * SHAPES;
/// Which part is the jitter.
const JITTER: usize = PARTS - 1;
/// The shapes that displace a line across v: slope and bends.
pub const SHAPES: usize = 1 + BENDS;

/// How freely the field may vary.
#[derive(Clone, Debug, PartialEq)]
pub struct Freedom {
    /// Standard deviation of the offset's random walk, mm per √mm.
    pub walk: f64,
    /// Freedom of slope and bend: 1 for cloth lying naturally, 0 for a board.
    pub drape: f64,
    /// Standard deviation of the jitter, millimetres.
    pub jitter_mm: f64,
    /// The steps of the walk that are jumps, by the knot of δ before them.
    pub jumps: Vec<usize>,
}

/// The field at one place along the seam.
#[derive(Clone, Copy, Debug)]
pub struct Local {
    /// How far apart the lines stand at the seam: offset and jitter, millimetres.
    pub apart_mm: f64,
    /// Weights of the shapes on the first and second side: slope at the seam, then bends per millimetre.
    pub shape: [[f64; SHAPES]; 2],
}

impl Local {
    /// Displacement of a line on a side (0 first, 1 second) at the distance from the seam that has these [`shapes`], millimetres.
    pub fn shift_mm(&self, side: usize, shapes: &[f64; SHAPES]) -> f64 {
        let sign = if side == 0 { -0.5 } else { 0.5 };
        sign * self.apart_mm + self.run_mm(side, shapes)
    }

    /// The part of it that slope and bend bring: how far along the seam a line runs from where it meets the seam.
    pub fn run_mm(&self, side: usize, shapes: &[f64; SHAPES]) -> f64 {
        shapes.iter().zip(&self.shape[side]).map(|(b, w)| b * w).sum()
    }
}

/// The shapes at distance v from the seam: v itself (slope), then for each knot of the bend its hat function integrated
/// twice from the seam on, mm².
pub fn shapes(v_mm: f64) -> [f64; SHAPES] {
    let far = v_mm.abs();
    // A ramp that begins at `from`, integrated twice.
    let ramp = |from: f64| (far - from).max(0.0).powi(3) / 6.0;
    // A step of one from knot j to the next, in the bend, integrated twice.
    let rise = |j: usize| (ramp(BEND_MM[j]) - ramp(BEND_MM[j + 1])) / (BEND_MM[j + 1] - BEND_MM[j]);
    std::array::from_fn(|k| match k {
        0 => v_mm,
        1 => far * far / 2.0 - rise(0),
        _ if k < BENDS => rise(k - 2) - rise(k - 1),
        _ => rise(BENDS - 2),
    })
}

/// Where the knots of the parts of the field stand.
#[derive(Clone, Debug)]
pub struct Layout {
    start: [usize; PARTS],
    knots: [usize; PARTS],
    spacing_mm: [f64; PARTS],
    total: usize,
}

impl Layout {
    /// The layout for a seam of this length.
    pub fn new(length_mm: f64) -> Self {
        let count = |spacing: f64| ((length_mm / spacing).round() as usize).clamp(2, MOST_KNOTS) + 1;
        let kind = |part: usize| match part {
            0 => 0,
            JITTER => 3,
            _ if is_slope(part) => 1,
            _ => 2,
        };
        let knots: [usize; PARTS] = std::array::from_fn(|part| count(SPACING_MM[kind(part)]));
        let mut start = [0; PARTS];
        for part in 1..PARTS {
            start[part] = start[part - 1] + knots[part - 1];
        }
        let spacing_mm = knots.map(|k| length_mm / (k - 1) as f64);
        Self { start, knots, spacing_mm, total: start[JITTER] + knots[JITTER] }
    }

    /// Length of the seam, millimetres.
    pub fn length_mm(&self) -> f64 {
        self.spacing_mm[0] * (self.knots[0] - 1) as f64
    }

    /// Number of parameters.
    pub fn total(&self) -> usize {
        self.total
    }

    /// Parameter indices that matter at t and the weight of each within its part.
    pub fn active(&self, t_mm: f64) -> ([usize; ACTIVE], [f64; ACTIVE]) {
        let (mut index, mut weight) = ([0; ACTIVE], [0.0; ACTIVE]);
        for part in 0..PARTS {
            let place = (t_mm / self.spacing_mm[part]).clamp(0.0, (self.knots[part] - 1) as f64);
            let k = (place as usize).min(self.knots[part] - 2);
            index[2 * part] = self.start[part] + k;
            index[2 * part + 1] = self.start[part] + k + 1;
            weight[2 * part + 1] = place - k as f64;
            weight[2 * part] = 1.0 - weight[2 * part + 1];
        }
        (index, weight)
    }

    /// The parameters of both sides' shapes: slope and bends.
    pub fn shape_parameters(&self) -> std::ops::Range<usize> {
        self.start[1]..self.start[JITTER]
    }

    /// The parameters of the jitter.
    pub fn jitter_parameters(&self) -> std::ops::Range<usize> {
        self.start[JITTER]..self.total
    }

    /// Number of the knots of δ, which are the first parameters.
    pub fn offset_knots(&self) -> usize {
        self.knots[0]
    }

    /// Distance between the knots of δ, millimetres.
    pub fn offset_spacing_mm(&self) -> f64 {
        self.spacing_mm[0]
    }

    /// Variance of a step of the random walk of δ that is no jump, square millimetres.
    pub fn step_variance(&self, freedom: &Freedom) -> f64 {
        freedom.walk.powi(2) * self.spacing_mm[0]
    }

    /// The steps of δ that are jumps at first sight.
    pub fn jumps(&self, theta: &DVector<f64>) -> Vec<usize> {
        (0..self.knots[0] - 1).filter(|&k| (theta[k + 1] - theta[k]).abs() > LEAST_JUMP_MM).collect()
    }

    /// The steps of δ that may be jumps: those near to a place where it changes in one of `thetas`. Near is told by what is
    /// `seen` of both sides: in a stretch that is hidden the jump may be anywhere.
    pub fn jump_places(&self, thetas: &[&DVector<f64>], seen: &[bool], step_mm: f64) -> Vec<usize> {
        let last = self.knots[0] - 1;
        let sample = |k: f64| ((k * self.spacing_mm[0] / step_mm) as usize).min(seen.len());
        let before = |k: usize| seen[..sample(k as f64 + 0.5)].iter().filter(|&&s| s).count() as f64 * step_mm;
        let seen_mm: Vec<f64> = (0..last).map(before).collect();
        let change = |theta: &DVector<f64>, k: usize| theta[(k + 2).min(last)] - theta[k.saturating_sub(1)];
        let changes = |k: &usize| thetas.iter().any(|theta| change(theta, *k).abs() > LEAST_JUMP_MM);
        let changing: Vec<usize> = (0..last).filter(changes).collect();
        let all_mm = seen.iter().filter(|&&s| s).count() as f64 * step_mm;
        let inner = |k: &usize| (END_MM..=all_mm - END_MM).contains(&seen_mm[*k]);
        let near = |k: &usize| changing.iter().any(|&j| (seen_mm[*k] - seen_mm[j]).abs() <= JUMP_NEAR_MM);
        (0..last).filter(inner).filter(near).collect()
    }

    /// Which of the active parameters weigh a side's shape.
    pub fn places(side: usize, shape: usize) -> [usize; 2] {
        let part = 1 + side * SHAPES + shape;
        [2 * part, 2 * part + 1]
    }

    /// Which of the active parameters move the two sides apart: offset and jitter.
    pub fn offset_places() -> [usize; 4] {
        [0, 1, 2 * JITTER, 2 * JITTER + 1]
    }

    /// The field at t.
    pub fn at(&self, theta: &DVector<f64>, t_mm: f64) -> Local {
        let (index, weight) = self.active(t_mm);
        let part = |p: usize| theta[index[2 * p]] * weight[2 * p] + theta[index[2 * p + 1]] * weight[2 * p + 1];
        let shape = [0, 1].map(|side| std::array::from_fn(|shape| part(1 + side * SHAPES + shape)));
        Local { apart_mm: part(0) + part(JITTER), shape }
    }

    /// The field at each of `samples` places a `step_mm` apart.
    pub fn along(&self, theta: &DVector<f64>, samples: usize, step_mm: f64) -> Vec<Local> {
        (0..samples).map(|k| self.at(theta, k as f64 * step_mm)).collect()
    }

    /// Parameters for a constant offset and the sides' slopes.
    pub fn constant(&self, offset_mm: f64, slopes: [Slope; 2]) -> DVector<f64> {
        let mut theta = DVector::zeros(self.total);
        theta.rows_mut(self.start[0], self.knots[0]).fill(offset_mm);
        for (part, slope) in [(1, slopes[0]), (1 + SHAPES, slopes[1])] {
            for k in 0..self.knots[part] {
                theta[self.start[part] + k] = slope.at(k as f64 * self.spacing_mm[part]);
            }
        }
        theta
    }

    /// Parameters for an offset along the seam and the sides' slopes.
    pub fn first(&self, course: &Course, slopes: [Slope; 2]) -> DVector<f64> {
        let mut theta = self.constant(0.0, slopes);
        for k in 0..self.knots[0] {
            theta[self.start[0] + k] = course.at(k as f64 * self.spacing_mm[0]);
        }
        theta
    }

    /// Weights that turn δ's knots into δ(t).
    pub fn offset_weights(&self, t_mm: f64) -> DVector<f64> {
        let (index, weight) = self.active(t_mm);
        let mut w = DVector::zeros(self.offset_knots());
        w[index[0]] += weight[0];
        w[index[1]] += weight[1];
        w
    }

    /// Precision matrix of the prior and the parameters it is centred on.
    ///
    /// `theta` gives the present jitter, which its heavy tails need; `None`: normal tails.
    pub fn prior(
        &self,
        freedom: &Freedom,
        slopes: [Slope; 2],
        theta: Option<&DVector<f64>>,
    ) -> (DMatrix<f64>, DVector<f64>) {
        let mut precision = DMatrix::zeros(self.total, self.total);
        let knots = self.knots[0];
        precision.view_mut((0, 0), (knots, knots)).copy_from(&self.walk_precision(freedom));
        let shapes = self.shape_parameters();
        let count = shapes.len();
        precision
            .view_mut((shapes.start, shapes.start), (count, count))
            .copy_from(&self.shape_precision(freedom.drape));
        for (k, p) in self.jitter_parameters().zip(self.jitter_precision(freedom.jitter_mm, theta).iter()) {
            precision[(k, k)] = *p;
        }
        (precision, self.constant(0.0, slopes))
    }

    /// The prior's precision of δ's knots: a random walk with jumps, its level free (a metre).
    pub fn walk_precision(&self, freedom: &Freedom) -> DMatrix<f64> {
        let variance = self.step_variance(freedom);
        let steps = |k: usize| if freedom.jumps.contains(&k) { let_go(variance) } else { variance };
        walk(self.knots[0], steps, 1e3)
    }

    /// The prior's precision of the shapes' parameters ([`Self::shape_parameters`]).
    pub fn shape_precision(&self, drape: f64) -> DMatrix<f64> {
        let shapes = self.shape_parameters();
        let mut precision = DMatrix::zeros(shapes.len(), shapes.len());
        for part in 1..JITTER {
            let (step, level) = match is_slope(part) {
                true => (SLOPE_WALK * drape, SLOPE_LEVEL),
                false => (BEND_WALK * drape, BEND_LEVEL * drape),
            };
            let (first, knots) = (self.start[part] - shapes.start, self.knots[part]);
            let own = walk(knots, |_| step.powi(2) * self.spacing_mm[part], level);
            precision.view_mut((first, first), (knots, knots)).copy_from(&own);
        }
        precision
    }

    /// The prior's precision of each knot of the jitter, as in [`Self::prior`].
    pub fn jitter_precision(&self, jitter_mm: f64, theta: Option<&DVector<f64>>) -> DVector<f64> {
        let heavy = |k: usize| theta.map_or(1.0, |theta| tail(JITTER_FREEDOM, (theta[k] / jitter_mm).powi(2)));
        let own = self.jitter_parameters();
        DVector::from_iterator(own.len(), own.map(|k| heavy(k) / jitter_mm.powi(2)))
    }
}

/// Precision of a random walk whose step after knot k has the variance `steps(k)`, its mean zero but for `level`.
fn walk(knots: usize, steps: impl Fn(usize) -> f64, level: f64) -> DMatrix<f64> {
    let mut precision = DMatrix::from_diagonal_element(knots, knots, 1.0 / (level.powi(2) * knots as f64));
    for k in 0..knots - 1 {
        let p = 1.0 / steps(k);
        precision[(k, k)] += p;
        precision[(k + 1, k + 1)] += p;
        precision[(k, k + 1)] -= p;
        precision[(k + 1, k)] -= p;
    }
    precision
}

/// Whether a part, neither δ nor jitter, is a side's slope and not one of its bends.
fn is_slope(part: usize) -> bool {
    (part - 1).is_multiple_of(SHAPES)
}

/// The factor by which a Student distribution's pull on a value of this squared size differs from a normal one's.
fn tail(freedom: f64, square: f64) -> f64 {
    (freedom + 1.0) / (freedom + square)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_constant_field_is_constant_everywhere() {
        let layout = Layout::new(173.0);
        let theta = layout.constant(-1.25, [0.1, -0.2].map(Slope::even));
        for t in [-5.0, 0.0, 0.1, 86.0, 173.0, 200.0] {
            let at = layout.at(&theta, t);
            let [one, two] = [0, 1].map(|side| at.shift_mm(side, &shapes(10.0)));
            assert!((one - 1.625).abs() < 1e-12 && (two + 2.625).abs() < 1e-12);
            assert!((layout.offset_weights(t).sum() - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn the_prior_is_positive_definite() {
        let layout = Layout::new(120.0);
        let theta = layout.constant(0.0, [Slope::even(0.0); 2]);
        for (walk, drape, jitter_mm) in [(1e-3, 0.03, 1e-3), (0.4, 3.0, 0.3)] {
            for theta in [None, Some(&theta)] {
                let (p, _) =
                    layout.prior(&Freedom { walk, drape, jitter_mm, jumps: vec![3] }, [Slope::even(0.0); 2], theta);
                assert!(p.cholesky().is_some());
            }
        }
    }
}
