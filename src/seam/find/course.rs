//! The courses that a seam may take through the whole picture: straight or slightly bowed, leaning or upright.

use std::ops::RangeInclusive;

/// Leans tried, dv/du: up to about 10 degrees, and the bows, as the sagitta over the picture's height, millimetres.
const STEEPEST_LEAN: f64 = 0.2;
const LEAN_STEP: f64 = 0.02;
pub const BOWS_MM: [f64; 5] = [-4.0, -2.0, 0.0, 2.0, 4.0];

/// The course of a path through a raster.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Course {
    /// Column at the middle row.
    pub column: f64,
    /// dv/du.
    pub lean: f64,
    /// How far its middle stands aside of its ends, cells.
    pub bow: f64,
}

impl Course {
    /// Through the first column, so many steps of lean, with a bow in cells of `step_mm`.
    pub fn new(lean: i32, bow_mm: f64, step_mm: f64) -> Self {
        Self { column: 0.0, lean: f64::from(lean) * LEAN_STEP, bow: bow_mm / step_mm }
    }

    /// The path's column at a row of a raster of `height` rows.
    pub fn at(&self, row: f64, height: usize) -> f64 {
        let half = height as f64 / 2.0;
        let t = (row - half) / half;
        self.column + self.lean * (row - half) - self.bow * t * t
    }
}

/// The steps of lean that are tried.
pub fn leans() -> RangeInclusive<i32> {
    let most = (STEEPEST_LEAN / LEAN_STEP).round() as i32;
    -most..=most
}
