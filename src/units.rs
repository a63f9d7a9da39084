//! Points that know which plane they lie in.
//!
//! A length's unit is in its name (`_mm`, `_px`); a point's unit is in its type. The frames are
//! defined once, in [`crate::conventions`].

use serde::Serialize;

/// A point of the upright photograph: pixels, x right, y down, the centre of the top-left pixel at (0, 0).
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PxPoint {
    /// Pixels to the right.
    pub x: f64,
    /// Pixels downward.
    pub y: f64,
}

/// A point of the cloth's plane: millimetres, x right, y down, as the picture shows it with the tilt removed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MmPoint {
    /// Millimetres to the right.
    pub x: f64,
    /// Millimetres downward.
    pub y: f64,
}

impl PxPoint {
    /// The point (x, y), pixels.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Distance to another point, pixels.
    pub fn distance(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }
}

impl MmPoint {
    /// The point (x, y), millimetres.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Distance to another point, millimetres.
    pub fn distance(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }
}
