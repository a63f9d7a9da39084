//! Room 6: [`Strips`](crate::strip::Strips) + [`Lines`](crate::lines::Lines) → [`Offset`], the core.

use crate::units::PxPoint;
use serde::Serialize;

/// The offset along the seam. All lengths are millimetres where the plane is metric, repeats of the cloth where not.
#[derive(Clone, Debug)]
pub struct Offset {
    /// Mean over the seam as photographed.
    pub mean_mm: f64,
    /// Expanded uncertainty (k = 2) of the mean.
    pub expanded_uncertainty_mm: f64,
    /// The reading that is furthest from zero (signed).
    pub worst_mm: f64,
    /// Where it stands along the seam.
    pub worst_at_mm: f64,
    /// Slope of a straight line through the readings, per 100 mm of seam; `None` on a seam too short to tell.
    pub drift_mm_per_100_mm: Option<f64>,
    /// The offset is known modulo this length; `None` where less than one repeat is seen.
    pub modulo_mm: Option<f64>,
    /// Readings along the seam, every 5 mm or finer, in the order of u.
    pub readings: Vec<Reading>,
    /// The lines one by one, in the order of u.
    pub lines: Vec<LineOffset>,
    /// Where the uncertainty of the mean comes from.
    pub budget: Vec<BudgetRow>,
}

/// The offset at one place of the seam.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Reading {
    /// Place along the seam, u.
    pub along_mm: f64,
    /// The same place in the picture.
    pub at_px: PxPoint,
    /// The offset there.
    pub offset_mm: f64,
    /// Its expanded uncertainty (k = 2).
    pub expanded_uncertainty_mm: f64,
}

/// The offset of one line of the cloth.
#[derive(Clone, Debug)]
pub struct LineOffset {
    /// Counted from the start of the seam (top of the picture, or its left), from 1.
    pub number: usize,
    /// Where the line meets the seam, u, midway between its two halves.
    pub along_mm: f64,
    /// Width of the line along the seam.
    pub width_mm: f64,
    /// The line's own colour, 8-bit sRGB.
    pub colour: [u8; 3],
    /// Its offset.
    pub offset_mm: f64,
    /// Expanded uncertainty (k = 2).
    pub expanded_uncertainty_mm: f64,
}

/// One row of the uncertainty budget (JCGM 100:2008).
#[derive(Clone, Debug, Serialize)]
pub struct BudgetRow {
    /// What it comes from.
    pub source: &'static str,
    /// Standard uncertainty it brings to the mean, millimetres.
    pub u_mm: f64,
}
