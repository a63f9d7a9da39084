//! Where the uncertainty of an offset comes from: the rows of its budget.

use super::fit::Fit;
use crate::budget::{Budget, Row};
use crate::lines::Lines;
use crate::scale::Plane;
use crate::seam::Seam;
use crate::signal::alignment::LEAST_PROBABLE;
use nalgebra::{DMatrix, DVector};

/// Standard uncertainty that pixels bring whatever the fit says of itself (sampling, compression, uneven threads), pixels:
/// a type B figure (JCGM 100:2008, 4.3), from the scatter of rendered photographs with known offsets.
const RESOLUTION_PX: f64 = 0.08;
/// Where a side is not seen over more than this to either end, millimetres, the offset may wander: a random walk, mm per √mm, of
/// this at the least, as a pin that let go would make it; or as it does where it is seen, from so many millimetres to the next.
const LEAST_HIDDEN_MM: f64 = 3.0;
const HIDDEN_WALK: f64 = 0.06;
const WALKED_MM: f64 = 10.0;
/// The noise's variance is read from samples of which those this far apart err independently, millimetres.
const INDEPENDENT_MM: f64 = 4.0;

/// The sources, as the rows of a budget name them.
pub const THREADS: &str = "the lines themselves: threads and noise, as they hang together along the seam";
/// Slope and drape between the lines that are seen and the seam.
pub const CARRY: &str = "carrying the lines to the seam: slope and drape";
/// What bends within the last millimetres.
pub const NEAR: &str = "how the lines bend right beside the seam";
/// Millimetres to a pixel.
pub const SCALE: &str = "scale and tilt";
/// Millimetres to a pixel are not quite the same all over the picture.
pub const LENS: &str = "the lens, between where the scale was measured and the seam";
/// The seam's own place.
pub const SEAM: &str = "where the seam runs, on slanted lines";
/// What lies on the cloth.
pub const HIDDEN: &str = "stretches where no cloth is seen on one side";
/// Between two edges of lines that jump differently.
pub const BETWEEN: &str = "where the jump changes between two lines";
/// The photograph's own resolution.
pub const PIXELS: &str = "pixels and uneven threads";
/// Whole lines.
pub const PARTNER: &str = "which line is whose partner";

/// Parts of an uncertainty that are no covariance of δ's knots.
struct Told {
    /// Standard uncertainty of what is hidden, millimetres.
    hidden: f64,
    /// Relative standard uncertainty of the lens, signed.
    lens: f64,
    /// What the nearest ribs add to the value, and the variance of that.
    near: (f64, f64),
}

/// What the budget of a combination of δ's knots is worked out from.
pub struct Sources<'a> {
    fit: &'a Fit,
    plane: &'a Plane,
    seam: &'a Seam,
    resolution_mm: f64,
    partner_mm: f64,
    step_mm: f64,
    freedom: f64,
    hidden_walk: f64,
}

impl<'a> Sources<'a> {
    /// Takes what each source needs.
    pub fn new(plane: &'a Plane, seam: &'a Seam, lines: &Lines, fit: &'a Fit) -> Self {
        let seen_mm = fit.seen_on_both.iter().filter(|&&s| s).count() as f64 * lines.step_mm;
        // What is less probable lies outside of what 95 of 100 cover.
        let others = lines.alignment.others.iter().filter(|other| other.probability >= LEAST_PROBABLE);
        Self {
            fit,
            plane,
            seam,
            resolution_mm: RESOLUTION_PX * lines.step_mm,
            // The distance of every other partner by the root of its chance.
            partner_mm: others.map(|o| o.probability * o.apart_mm * o.apart_mm).sum::<f64>().sqrt(),
            step_mm: lines.step_mm,
            // Three channels each.
            freedom: (3.0 * seen_mm / INDEPENDENT_MM - 1.0).max(1.0),
            hidden_walk: walk(fit, lines.step_mm).max(HIDDEN_WALK),
        }
    }

    /// Value and budget of a combination of δ's knots near t.
    pub fn at(&self, weights: &DVector<f64>, t_mm: f64) -> (f64, Budget) {
        let told = Told { hidden: self.hidden(t_mm), lens: self.lens_relative(t_mm), near: self.fit.near.at(t_mm) };
        self.of(weights, t_mm, told)
    }

    /// Value and budget of a mean over places; what is hidden at once is hidden in one piece, so its shares add.
    pub fn over(&self, weights: &DVector<f64>, places: &[f64]) -> (f64, Budget) {
        let count = places.len() as f64;
        let hidden = places.iter().map(|&t| self.hidden(t)).sum::<f64>() / count;
        let lens = places.iter().map(|&t| self.lens_relative(t)).sum::<f64>() / count;
        let told = Told { hidden, lens, near: self.fit.near.over(places) };
        self.of(weights, places.iter().sum::<f64>() / count, told)
    }

    /// Relative standard uncertainty that the lens brings to a length along the seam at t, signed.
    fn lens_relative(&self, t_mm: f64) -> f64 {
        let ends_px = [-0.5, 0.5].map(|mm| self.plane.to_px(self.seam.at(t_mm + mm, 0.0)));
        self.plane.lens.relative_along(&ends_px)
    }

    fn of(&self, weights: &DVector<f64>, t_mm: f64, told: Told) -> (f64, Budget) {
        let Told { hidden, lens, near } = told;
        let value = weights.dot(&self.fit.offset()) + near.0;
        let variance = |covariance: &DMatrix<f64>| weights.dot(&(covariance * weights)).max(0.0);
        let all = variance(&self.fit.covariance);
        let carried = variance(&self.fit.carried).min(all);
        let [first, second] = self.fit.layout.at(&self.fit.theta, t_mm).shape.map(|shape| shape[0]);
        let read = |source, u_mm| Row { source, u_mm, freedom: self.freedom };
        let known = |source, u_mm| Row { source, u_mm, freedom: f64::INFINITY };
        let rows = vec![
            read(THREADS, (all - carried).sqrt()),
            read(CARRY, carried.sqrt()),
            read(NEAR, near.1.sqrt()),
            known(SCALE, self.plane.relative_uncertainty * value.abs()),
            known(LENS, (lens * value).abs()),
            known(SEAM, (second - first).abs() * self.seam.u_across_mm),
            known(HIDDEN, hidden),
            known(PIXELS, self.resolution_mm),
            known(PARTNER, self.partner_mm),
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
        if far_mm > LEAST_HIDDEN_MM { self.hidden_walk * far_mm.sqrt() } else { 0.0 }
    }
}

/// How the offset walks where it is seen, mm per √mm: from the squares of what it changes by.
fn walk(fit: &Fit, step_mm: f64) -> f64 {
    let far = ((WALKED_MM / step_mm).round() as usize).max(1);
    let seen = |k: usize| fit.seen_on_both.get(k).is_some_and(|seen| *seen);
    let at = |k: usize| fit.layout.offset_weights(k as f64 * step_mm).dot(&fit.offset());
    let changes: Vec<f64> = (0..fit.seen_on_both.len().saturating_sub(far))
        .step_by(far)
        .filter(|&k| seen(k) && seen(k + far))
        .map(|k| at(k + far) - at(k))
        .collect();
    let squares: f64 = changes.iter().map(|change| change * change).sum();
    (squares / (changes.len().max(1) as f64 * far as f64 * step_mm)).sqrt()
}
