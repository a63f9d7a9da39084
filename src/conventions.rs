//! The frames, signs and words that every room shares; defined here and nowhere else.
//!
//! **Picture.** The upright picture (EXIF orientation applied): pixels, x right, y down, the centre of the
//! top-left pixel is (0, 0). See [`crate::units::PxPoint`].
//!
//! **Cloth.** Millimetres in the cloth's plane, x right, y down. See [`crate::units::MmPoint`].
//!
//! **Seam.** u along the seam, v across it, both in millimetres. A seam that runs *down* the picture: u grows
//! downward, the sides are `left` (v < 0) and `right` (v > 0). One that runs *across*: u grows to the right, the
//! sides are `below` (v < 0) and `above` (v > 0), which is the same picture turned a quarter clockwise.
//!
//! **Offset.** Where a line stands on the second side (right, above) minus where its partner stands on the first
//! (left, below), both read at the seam (v → 0), along u, in millimetres. Positive: the right side is lower, the
//! upper side is further right. It is known modulo one repeat and wrapped into (−repeat/2, repeat/2].
//!
//! **Slope.** du/dv of a line on one side: positive when the line moves to larger u as v grows.
//!
//! **Light.** Colours are decoded to linear light (IEC 61966-2-1) before anything is averaged.
//!
//! **Angles** are radians inside and degrees only where a person reads them.
//!
//! **Uncertainty.** `u_…` is a standard uncertainty; `expanded_…` is expanded with [`COVERAGE_FACTOR`].
//!
//! **Spectra.** rustfft order and scaling: forward transform not normalised, bin k is k cycles per window.

use serde::{Deserialize, Serialize};

/// Coverage factor k of every expanded uncertainty (JCGM 100:2008, 6.2: about 95 % for a normal distribution).
pub const COVERAGE_FACTOR: f64 = 2.0;

/// How the seam runs in the upright picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Runs {
    /// From the top towards the bottom; sides left and right.
    Down,
    /// From the left towards the right; sides below and above.
    Across,
}

/// One of the two sides of a seam. The first side has v < 0, the second v > 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// First side of a seam that runs down.
    Left,
    /// Second side of a seam that runs down.
    Right,
    /// First side of a seam that runs across.
    Below,
    /// Second side of a seam that runs across.
    Above,
}

/// A direction in the picture, as a person says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    /// Towards the top of the picture.
    Up,
    /// Towards the bottom of the picture.
    Down,
    /// Towards the left of the picture.
    Left,
    /// Towards the right of the picture.
    Right,
}

impl Runs {
    /// The sides in order: first (v < 0), second (v > 0).
    pub fn sides(self) -> [Side; 2] {
        match self {
            Runs::Down => [Side::Left, Side::Right],
            Runs::Across => [Side::Below, Side::Above],
        }
    }

    /// The direction of growing u (`positive`) or of falling u along the seam.
    pub fn direction(self, positive: bool) -> Direction {
        match (self, positive) {
            (Runs::Down, true) => Direction::Down,
            (Runs::Down, false) => Direction::Up,
            (Runs::Across, true) => Direction::Right,
            (Runs::Across, false) => Direction::Left,
        }
    }

    /// The word of the JSON contract: `down` or `across`.
    pub fn word(self) -> &'static str {
        match self {
            Runs::Down => "down",
            Runs::Across => "across",
        }
    }
}

impl Side {
    /// The word of the JSON contract and of the report.
    pub fn word(self) -> &'static str {
        match self {
            Side::Left => "left",
            Side::Right => "right",
            Side::Below => "below",
            Side::Above => "above",
        }
    }

    /// The side as a noun: "left side", "side above the seam".
    pub fn noun(self) -> &'static str {
        match self {
            Side::Left => "left side",
            Side::Right => "right side",
            Side::Below => "side below the seam",
            Side::Above => "side above the seam",
        }
    }
}

impl Direction {
    /// The word: up, down, left, right.
    pub fn word(self) -> &'static str {
        match self {
            Direction::Up => "up",
            Direction::Down => "down",
            Direction::Left => "left",
            Direction::Right => "right",
        }
    }
}

/// `value` wrapped into (−period/2, period/2]; the same unit as both arguments.
///
/// `period` must be positive and finite.
pub fn wrap(value: f64, period: f64) -> f64 {
    let wrapped = value - period * (value / period).round();
    if wrapped <= -period / 2.0 { wrapped + period } else { wrapped }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrapping_keeps_half_a_period_positive() {
        assert_eq!(wrap(-5.0, 10.0), 5.0);
        assert_eq!(wrap(5.0, 10.0), 5.0);
        assert_eq!(wrap(12.0, 10.0), 2.0);
        assert_eq!(wrap(-12.0, 10.0), -2.0);
    }
}
