//! Where the uncertainty of an offset comes from: the rows of its budget.

use super::fit::Fit;
use crate::budget::{Budget, Row};
use crate::lines::Lines;
use crate::scale::Plane;
use crate::seam::Seam;
use nalgebra::{DMatrix, DVector};

/// Standard uncertainty that pixels bring whatever the fit says of itself (sampling, compression, uneven threads), pixels:
/// a type B figure (JCGM 100:2008, 4.3), from the scatter of rendered photographs with known offsets.
const RESOLUTION_PX: f64 = 0.1;
/// Where a side is not seen over more than this to either end, millimetres, the offset may wander: random walk, mm per √mm,
/// as a pin that let go would make it.
const LEAST_HIDDEN_MM: f64 = 3.0;
const HIDDEN_WALK: f64 = 0.06;
/// The noise's variance is read from samples of which those this far apart err independently, millimetres.
const INDEPENDENT_MM: f64 = 4.0;

/// The sources, as the rows of a budget name them.
pub const THREADS: &str = "the lines themselves: threads and noise, as they hang together along the seam";
/// Slope and drape between the lines that are seen and the seam.
pub const CARRY: &str = "carrying the lines to the seam: slope and drape";
/// Millimetres to a pixel.
pub const SCALE: &str = "scale and tilt";
/// The seam's own place.
pub const SEAM: &str = "where the seam runs, on slanted lines";
/// What lies on the cloth.
pub const HIDDEN: &str = "stretches where no cloth is seen on one side";
/// The photograph's own resolution.
pub const PIXELS: &str = "pixels and uneven threads";
/// Whole lines.
pub const PARTNER: &str = "which line is whose partner";

/// What the budget of a combination of δ's knots is worked out from.
pub struct Sources<'a> {
    fit: &'a Fit,
    scale_relative: f64,
    seam_u_mm: f64,
    resolution_mm: f64,
    step_mm: f64,
    freedom: f64,
}

impl<'a> Sources<'a> {
    /// Takes what each source needs.
    pub fn new(plane: &Plane, seam: &Seam, lines: &Lines, fit: &'a Fit) -> Self {
        let seen_mm = fit.seen_on_both.iter().filter(|&&s| s).count() as f64 * lines.step_mm;
        Self {
            fit,
            scale_relative: plane.relative_uncertainty,
            seam_u_mm: seam.u_across_mm,
            resolution_mm: RESOLUTION_PX * lines.step_mm,
            step_mm: lines.step_mm,
            // Three channels each.
            freedom: (3.0 * seen_mm / INDEPENDENT_MM - 1.0).max(1.0),
        }
    }

    /// Value and budget of a combination of δ's knots near t.
    pub fn at(&self, weights: &DVector<f64>, t_mm: f64) -> (f64, Budget) {
        self.of(weights, t_mm, self.hidden(t_mm))
    }

    /// Value and budget of a mean over places; what is hidden at once is hidden in one piece, so its shares add.
    pub fn over(&self, weights: &DVector<f64>, places: &[f64]) -> (f64, Budget) {
        let count = places.len() as f64;
        let hidden = places.iter().map(|&t| self.hidden(t)).sum::<f64>() / count;
        self.of(weights, places.iter().sum::<f64>() / count, hidden)
    }

    fn of(&self, weights: &DVector<f64>, t_mm: f64, hidden: f64) -> (f64, Budget) {
        let value = weights.dot(&self.fit.offset());
        let variance = |covariance: &DMatrix<f64>| weights.dot(&(covariance * weights)).max(0.0);
        let all = variance(&self.fit.covariance);
        let carried = variance(&self.fit.carried).min(all);
        let [first, second] = self.fit.layout.at(&self.fit.theta, t_mm).shape.map(|shape| shape[0]);
        let read = |source, u_mm| Row { source, u_mm, freedom: self.freedom };
        let known = |source, u_mm| Row { source, u_mm, freedom: f64::INFINITY };
        let rows = vec![
            read(THREADS, (all - carried).sqrt()),
            read(CARRY, carried.sqrt()),
            known(SCALE, self.scale_relative * value.abs()),
            known(SEAM, (second - first).abs() * self.seam_u_mm),
            known(HIDDEN, hidden),
            known(PIXELS, self.resolution_mm),
            known(PARTNER, self.fit.partner_mm),
        ];
        (value, Budget { rows })
    }

    /// How far the offset may have wandered where no cloth is seen, at t: standard uncertainty.
    fn hidden(&self, t_mm: f64) -> f64 {
        let seen = &self.fit.seen_on_both;
        let at = ((t_mm / self.step_mm).round() as usize).min(seen.len().saturating_sub(1));
        let before = seen[..=at].iter().rev().position(|&s| s);
        let after = seen[at..].iter().position(|&s| s);
        // Nothing is carried beyond the first and the last place that is seen.
        let nearest = before.into_iter().chain(after).min().unwrap_or(seen.len());
        let far_mm = nearest as f64 * self.step_mm;
        if far_mm > LEAST_HIDDEN_MM { HIDDEN_WALK * far_mm.sqrt() } else { 0.0 }
    }
}
