//! Skew and bow of the crosswise lines, as the textile standards state them, over the breadth of cloth that is seen.
//!
//! # Source
//! ASTM D3882-08(2020), after a laboratory's guide to it (the standard itself was not seen; the ratio is from memory and from
//! one other page): bow is the greatest distance between a marked crosswise yarn and the straight line that joins its ends,
//! measured parallel to the selvedge; skew is the distance of the line from the square to the selvedge; both in per cent of
//! the width. That standard takes the whole width between the selvedges; a photograph shows a patch, as ASTM D7811-13 takes
//! a fixed distance, and the two are not to be compared.

use super::course::Course;
use super::frame::Frame;
use crate::conventions::COVERAGE_FACTOR;
use serde::Serialize;

/// What a plane's own uncertainty brings to an angle between two directions in it, radians to a unit of its relative
/// uncertainty; and the least of it. From rendered photographs.
const ANGLE_OF_PLANE: f64 = 0.35;
const LEAST_ANGLE_RAD: f64 = 5e-4;

/// A distance over a breadth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Ratio {
    /// The distance D with its sign, millimetres.
    pub distance_mm: f64,
    /// The breadth W that it is taken over, millimetres.
    pub over_mm: f64,
    /// 100 D / W.
    pub percent: f64,
    /// Expanded uncertainty of the percentage.
    pub expanded_uncertainty_percent: f64,
}

impl Ratio {
    /// D over W, D with its standard uncertainty; `over_mm` must be above 0.
    pub fn new(distance_mm: f64, u_distance_mm: f64, over_mm: f64) -> Self {
        let percent = |x: f64| 100.0 * x / over_mm;
        Self {
            distance_mm,
            over_mm,
            percent: percent(distance_mm),
            expanded_uncertainty_percent: COVERAGE_FACTOR * percent(u_distance_mm),
        }
    }

    /// The angle whose tangent is D over W.
    pub fn angle_rad(&self) -> f64 {
        self.distance_mm.atan2(self.over_mm)
    }
}

/// Where a family of lines runs: its frame, how the lines run in it, and how much of their length is seen.
#[derive(Clone, Copy, Debug)]
pub struct Run {
    /// The frame.
    pub frame: Frame,
    /// The lines in it.
    pub course: Course,
    /// Length of the lines that is seen, millimetres.
    pub breadth_mm: f64,
}

impl Run {
    /// The direction of the lines' chord, a vector of the plane.
    fn direction(&self) -> [f64; 2] {
        let (u, v, s) = (self.frame.u, self.frame.v, self.course.slope);
        [v.x + s * u.x, v.y + s * u.y]
    }
}

/// Skew of the crosswise lines against the square to the selvedge, whose direction is `selvedge` (a vector of the plane, down
/// the cloth) with its standard uncertainty in radians. Positive: with the warp upright, their right ends stand lower.
pub fn skew(across: &Run, (selvedge, u_selvedge_rad): ([f64; 2], f64), plane_relative: f64) -> Ratio {
    let square = [selvedge[1], -selvedge[0]];
    let line = across.direction();
    let turn = square[0] * line[1] - square[1] * line[0];
    let ahead = square[0] * line[0] + square[1] * line[1];
    let tangent = turn / ahead;
    let u = across.course.u_slope.hypot(u_selvedge_rad).hypot(ANGLE_OF_PLANE * plane_relative).hypot(LEAST_ANGLE_RAD);
    let over_mm = across.breadth_mm;
    Ratio::new(tangent * over_mm, u * (1.0 + tangent * tangent) * over_mm, over_mm)
}

/// The direction of the lines along the warp, down the cloth, with its standard uncertainty, radians.
pub fn direction_of(along: &Run) -> ([f64; 2], f64) {
    (along.direction(), along.course.u_slope)
}

/// Bow of the crosswise lines: the greatest distance from their chord, of an even arc in its middle. Positive: with the warp
/// upright, the middle hangs lower than the ends.
pub fn bow(across: &Run) -> Ratio {
    let half_mm = 0.5 * across.breadth_mm;
    let arc = half_mm * half_mm;
    Ratio::new(-across.course.bow_per_mm * arc, across.course.u_bow_per_mm * arc, across.breadth_mm)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::MmPoint;

    fn run(slope: f64, bow_per_mm: f64, breadth_mm: f64) -> Run {
        let frame = Frame { middle: MmPoint::new(0.0, 0.0), u: MmPoint::new(0.0, 1.0), v: MmPoint::new(1.0, 0.0) };
        Run { frame, course: Course { slope, bow_per_mm, ..Course::default() }, breadth_mm }
    }

    #[test]
    fn the_worked_figures_of_skew_and_bow() {
        // Worked from the ratio 100 D / W and the angle atan(D / W) as ASTM D3882 states them (formula from memory and one
        // secondary page): D 30 mm over W 1500 mm is 2.0 % and 1.1458°; a parabola of D 12 mm over 1500 mm is 0.8 %.
        let skew = skew(&run(30.0 / 1500.0, 0.0, 1500.0), ([0.0, 1.0], 0.0), 0.0);
        assert!((skew.percent - 2.0).abs() < 1e-12 && (skew.distance_mm - 30.0).abs() < 1e-9);
        assert!((skew.angle_rad().to_degrees() - 1.1458).abs() < 5e-5);
        let bow = bow(&run(0.0, -12.0 / 750f64.powi(2), 1500.0));
        assert!((bow.percent - 0.8).abs() < 1e-12 && (bow.distance_mm - 12.0).abs() < 1e-9);
    }

    #[test]
    fn the_square_method_agrees_on_a_sheared_square() {
        // AATCC TM179: X = 200 (AC − BD) / (AC + BD) of the diagonals of a square (formula from memory): 360 and 348 mm give
        // 3.390 %. A square sheared by the tangent t has diagonals √((1 ± t)² + 1), so the two agree to first order.
        let square = 200.0 * (360.0 - 348.0) / (360.0 + 348.0);
        assert!((square - 3.390f64).abs() < 5e-4);
        let t: f64 = 0.0339;
        let (long, short) = ((1.0 + t).hypot(1.0), (1.0 - t).hypot(1.0));
        let x = 200.0 * (long - short) / (long + short);
        let skew = skew(&run(t, 0.0, 100.0), ([0.0, 1.0], 0.0), 0.0);
        assert!((x - skew.percent).abs() < 0.01, "{x} {}", skew.percent);
    }

    #[test]
    fn a_cloth_that_lies_turned_is_not_skewed() {
        let across = run(0.1, 0.0, 200.0);
        let skew = skew(&across, ([-0.1, 1.0], 0.001), 0.0);
        assert!(skew.percent.abs() < 1e-9 && skew.expanded_uncertainty_percent > 0.2);
    }
}
