//! Room 5: [`Strips`](crate::strip::Strips) → [`Lines`]: the repeat, slope and contrast of the lines on each side.

use crate::conventions::Side;

/// What crosses the seam on one side.
#[derive(Clone, Debug)]
pub struct SideLines {
    /// Which side.
    pub side: Side,
    /// Repeat of the lines along the seam, millimetres; `None` where less than one repeat is seen.
    pub repeat_mm: Option<f64>,
    /// Standard uncertainty of the repeat, the scale's share included.
    pub repeat_uncertainty_mm: Option<f64>,
    /// Slope of the lines, du/dv at the seam.
    pub slope: f64,
    /// Michelson contrast of the lines on linear luminance, 0 to 1.
    pub contrast: f64,
    /// The chance that noise alone would show as strong a repeat, 0 to 1.
    pub chance_noise: f64,
}

/// The lines of both sides, first side first.
#[derive(Clone, Debug)]
pub struct Lines {
    /// The two sides in the order of [`Runs::sides`](crate::conventions::Runs::sides).
    pub sides: [SideLines; 2],
}
