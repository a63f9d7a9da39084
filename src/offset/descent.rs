//! One descent of the joint fit: Gauss-Newton from one start, from coarse to fine.
//!
//! It begins with smoothed profiles, for its reach, and ends with the profiles themselves. How freely the field varies, and
//! where δ jumps, is chosen by the evidence once the sides are nearly aligned.

use super::course::Course;
use super::evidence::{Average, Evidence};
use super::field::{Freedom, Layout};
use super::fit::{Fit, Found};
use super::linear::{Linear, Noise};
use super::means::Means;
use super::near::Near;
use super::ribs::Ribs;
use crate::lines::relief::Slope;
use nalgebra::DVector;

/// Widths of the smooth that draw the start in, millimetres, for their reach.
pub const DRAWING_MM: [f64; 2] = [1.6, 0.8];
/// Those in which it settles: a narrow one, and none.
pub const SETTLING_MM: [f64; 2] = [0.35, 0.0];
/// Most rounds of Gauss-Newton at each width, and between two choices of the freedom.
const ROUNDS: usize = 4;
/// How often the freedom is chosen.
const CHOICES: usize = 2;
/// The most rounds at the last width: from faint lines the fit may begin far off, and a step has a longest length.
const MOST_ROUNDS: usize = 6 * ROUNDS;
/// A round whose step is shorter than this, millimetres, is the last; and the last of its width.
const SETTLED_MM: f64 = 0.005;
const NEAR_MM: f64 = 0.05;
/// A step is no longer than this share of the smooth's width, or of the least width that counts, millimetres.
const STEP_WIDTHS: f64 = 0.6;
const LEAST_WIDTH_MM: f64 = 0.5;
/// A step that turns back is shortened to this share, or the fit could go to and fro for ever.
const TURNED_SHARE: f64 = 0.5;
/// Two descents are at the same place where their offsets nowhere differ by more, millimetres.
const SAME_MM: f64 = 0.05;

/// A descent under way.
#[derive(Clone)]
pub struct Descent {
    layout: Layout,
    /// The sides' slopes as first seen, on which the prior is centred.
    slopes: [Slope; 2],
    /// Where it began.
    start: DVector<f64>,
    /// Where it stands.
    theta: DVector<f64>,
    freedom: Freedom,
}

impl Descent {
    /// From the offset as first seen along a seam of this length and the sides' slopes, by ribs smoothed in the
    /// [`DRAWING_MM`]; `None` when they do not fix it.
    pub fn drawn_in(length_mm: f64, ribs: &[Ribs; 2], first: &Course, slopes: [Slope; 2]) -> Option<Self> {
        let layout = Layout::new(length_mm);
        let start = layout.first(first, slopes);
        let freedom = Freedom { walk: 0.06, drape: 0.3, jitter_mm: 0.02, jumps: layout.jumps(&start) };
        let mut descent = Self { theta: start.clone(), layout, slopes, start, freedom };
        for (ribs, width_mm) in ribs.iter().zip(DRAWING_MM) {
            descent.draw(ribs, width_mm)?;
        }
        Some(descent)
    }

    /// Whether both stand at the same place.
    pub fn agrees(&self, other: &Self) -> bool {
        let knots = self.layout.offset_knots();
        (0..knots).all(|k| (self.theta[k] - other.theta[k]).abs() < SAME_MM)
    }

    /// The rounds at one width of the smooth.
    fn draw(&mut self, ribs: &Ribs, width_mm: f64) -> Option<()> {
        let mut noise: Option<Noise> = None;
        let mut before = DVector::zeros(self.layout.total());
        for _ in 0..ROUNDS {
            let linear = Linear::new(ribs, &self.layout, &self.theta, noise.as_ref(), false)?;
            before = self.step(&linear, false, width_mm, &before)?;
            noise = Some(linear.noise);
            if before.amax() < NEAR_MM {
                break;
            }
        }
        Some(())
    }

    /// The fit at the end of the descent, by ribs smoothed in the [`SETTLING_MM`].
    pub fn settled(mut self, [narrow, ribs]: &[Ribs; 2]) -> Option<Found> {
        self.draw(narrow, SETTLING_MM[0])?;
        let mut noise: Option<Noise> = None;
        let mut before = DVector::zeros(self.layout.total());
        let mut places = Vec::new();
        let mut last = None;
        let (mut fine, mut choices, mut since) = (false, 0, 0);
        for _ in 0..MOST_ROUNDS {
            let linear = Linear::new(ribs, &self.layout, &self.theta, noise.as_ref(), fine)?;
            if fine && since == 0 && choices < CHOICES {
                let seen: Vec<bool> = linear.means.iter().map(Means::both).collect();
                places = self.layout.jump_places(&[&self.start, &self.theta], &seen, ribs.step_mm);
                self.freedom = self.evidence(&linear, &self.theta, &places).best(&self.freedom)?;
                choices += 1;
            }
            let at = self.theta.clone();
            before = self.step(&linear, fine, 0.0, &before)?;
            noise = Some(linear.noise.clone());
            last = Some((linear, at));
            since += 1;
            let moved_mm = before.amax();
            match fine {
                false if moved_mm < NEAR_MM || since == ROUNDS - 1 => (fine, since) = (true, 0),
                true if choices < CHOICES && (moved_mm < SETTLED_MM || since == ROUNDS) => since = 0,
                true if choices == CHOICES && moved_mm < SETTLED_MM => break,
                _ => {}
            }
        }
        let (linear, at) = last?;
        let Average { theta, covariance, carried } = self.evidence(&linear, &at, &places).averaged(&self.freedom)?;
        let near = Near::of(&linear, ribs, &self.layout);
        let Linear { template, means, noise, .. } = linear;
        let seen_on_both = means.iter().map(Means::both).collect();
        Some(Found {
            fit: Fit { layout: self.layout, theta, covariance, carried, template, means, seen_on_both, near },
            noise: noise.sides,
        })
    }

    fn evidence<'a>(&'a self, linear: &'a Linear, theta: &'a DVector<f64>, places: &'a [usize]) -> Evidence<'a> {
        Evidence::new(&self.layout, linear, theta, self.slopes, places)
    }

    /// One step, and where to; `before` is the one before it.
    fn step(&mut self, linear: &Linear, fine: bool, width_mm: f64, before: &DVector<f64>) -> Option<DVector<f64>> {
        let (precision, centre) = self.layout.prior(&self.freedom, self.slopes, fine.then_some(&self.theta));
        let pull = &linear.right + &precision * (centre - &self.theta);
        let step = (&linear.normal + &precision).cholesky()?.solve(&pull);
        let mut step = limited(step, STEP_WIDTHS * width_mm.max(LEAST_WIDTH_MM));
        if step.dot(before) < 0.0 {
            step *= TURNED_SHARE;
        }
        self.theta += &step;
        self.theta.iter().all(|x| x.is_finite()).then_some(step)
    }
}

/// A step whose largest part is no longer than `most` (millimetres for δ; slopes and bends are smaller anyway).
fn limited(step: DVector<f64>, most: f64) -> DVector<f64> {
    let largest = step.amax();
    if largest > most { step * (most / largest) } else { step }
}
