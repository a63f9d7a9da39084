//! Room 3: [`Photo`](crate::photo::Photo) + [`Plane`](crate::scale::Plane) → [`Seam`].

use crate::conventions::Runs;
use crate::units::MmPoint;
use serde::Serialize;

/// How the seam's place is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum SeamSource {
    /// Found in the picture.
    Found,
    /// Given by the user.
    Given,
    /// Taken to be in the middle: no trace of a seam was seen.
    Assumed,
}

/// The seam's path and the seam coordinates that hang on it.
#[derive(Clone, Debug)]
pub struct Seam {
    /// How its place is known.
    pub source: SeamSource,
    /// How it runs in the picture.
    pub runs: Runs,
    /// The path on the cloth, in the order of growing u.
    pub path: Path,
    /// Width of the gap between the folds (a zip's tape), millimetres; `None` where the sides touch.
    pub gap_mm: Option<f64>,
    /// How sure the finder is, 0 to 1; 1 for a given seam.
    pub confidence: f64,
    /// Standard uncertainty of the path's place across the seam, millimetres.
    pub u_across_mm: f64,
}

/// A smooth path on the cloth, sampled densely.
#[derive(Clone, Debug)]
pub struct Path {
    /// Points at equal steps of arc length, millimetres.
    pub points: Vec<MmPoint>,
    /// Arc length between neighbouring points, millimetres.
    pub step_mm: f64,
    /// Length of the whole path, millimetres.
    pub length_mm: f64,
}

impl Seam {
    /// The point of the cloth at seam coordinates (u, v); u beyond either end goes straight on.
    pub fn at(&self, u_mm: f64, v_mm: f64) -> MmPoint {
        let (point, tangent) = self.path.at(u_mm);
        MmPoint::new(point.x + tangent.y * v_mm, point.y - tangent.x * v_mm)
    }
}

impl Path {
    /// The point at arc length u and the unit tangent there (direction of growing u).
    pub fn at(&self, u_mm: f64) -> (MmPoint, MmPoint) {
        let last = self.points.len() - 1;
        let k = ((u_mm / self.step_mm).floor().max(0.0) as usize).min(last - 1);
        let (a, b) = (self.points[k], self.points[k + 1]);
        let f = u_mm / self.step_mm - k as f64;
        let (dx, dy) = (b.x - a.x, b.y - a.y);
        let norm = dx.hypot(dy);
        (MmPoint::new(a.x + f * dx, a.y + f * dy), MmPoint::new(dx / norm, dy / norm))
    }
}
