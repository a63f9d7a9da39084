//! Room 2: [`Photo`](crate::photo::Photo) → [`Plane`], the map between the picture and the cloth.

use crate::units::{MmPoint, PxPoint};
use nalgebra::{Matrix3, Vector3};
use serde::Serialize;

/// Where the scale came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum ScaleSource {
    /// The printed card: a full homography.
    Card,
    /// Four corners of a thing of known size: a full homography.
    Rectangle,
    /// Two points a known length apart.
    Length,
    /// The cloth's own repeat.
    Repeat,
    /// Nothing: lengths are fractions of a repeat.
    None,
}

/// The map between the picture and the cloth's plane.
#[derive(Clone, Debug)]
pub struct Plane {
    /// Where the scale came from.
    pub source: ScaleSource,
    /// Homography, cloth millimetres → picture pixels (homogeneous, last element 1).
    pub mm_to_px: Matrix3<f64>,
    /// Its inverse, picture pixels → cloth millimetres.
    pub px_to_mm: Matrix3<f64>,
    /// Millimetres to a pixel in the middle of the picture.
    pub mm_per_px: f64,
    /// Standard uncertainty of the scale, relative (0.001 is 0.1 %).
    pub relative_uncertainty: f64,
    /// Angle between the camera's axis and the cloth's normal, radians; `None` where the scale cannot tell.
    pub tilt_rad: Option<f64>,
    /// What lies on the cloth and is not cloth: the card's outline in the picture (four corners, in order).
    pub card_px: Option<[PxPoint; 4]>,
}

impl Plane {
    /// Where a point of the cloth appears in the picture.
    pub fn to_px(&self, p: MmPoint) -> PxPoint {
        let q = self.mm_to_px * Vector3::new(p.x, p.y, 1.0);
        PxPoint::new(q.x / q.z, q.y / q.z)
    }

    /// Where on the cloth a point of the picture lies.
    pub fn to_mm(&self, p: PxPoint) -> MmPoint {
        let q = self.px_to_mm * Vector3::new(p.x, p.y, 1.0);
        MmPoint::new(q.x / q.z, q.y / q.z)
    }

    /// Whether lengths are millimetres (false: they are provisional, and only ratios mean something).
    pub fn is_metric(&self) -> bool {
        self.source != ScaleSource::None
    }
}
