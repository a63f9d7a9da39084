//! The seam as it lies: its path on the cloth's plane and the place of every line on either side of it.

use super::profile::OffsetProfile;
use crate::conventions::Runs;
use crate::units::MmPoint;

/// The seam's path: a leaning line with a parabolic bow, in the plane whose origin the camera looks at.
#[derive(Clone, Copy, Debug)]
pub(super) struct Course {
    origin: MmPoint,
    /// Unit direction of growing u at the anchor.
    along: MmPoint,
    /// Unit direction of growing v at the anchor.
    across: MmPoint,
    /// The path stands `bend · s²` towards growing v at the distance s along its tangent at the anchor.
    bend_per_mm: f64,
}

impl Course {
    /// A seam that passes the picture's middle at `aside_mm` (towards growing v), leans by `lean_rad` (clockwise) and
    /// has curved aside by `bow_mm` (towards growing v) at 100 mm from its anchor.
    pub(super) fn new(runs: Runs, aside_mm: f64, lean_rad: f64, bow_mm: f64) -> Self {
        let straight = match runs {
            Runs::Down => MmPoint::new(0.0, 1.0),
            Runs::Across => MmPoint::new(1.0, 0.0),
        };
        let (sin, cos) = lean_rad.sin_cos();
        let along = MmPoint::new(straight.x * cos - straight.y * sin, straight.x * sin + straight.y * cos);
        Self {
            origin: MmPoint::new(straight.y * aside_mm, -straight.x * aside_mm),
            along,
            across: MmPoint::new(along.y, -along.x),
            bend_per_mm: bow_mm / 1e4,
        }
    }

    /// Arc length from the anchor to the path's point at s: the series of the parabola's length.
    fn arc(&self, s: f64) -> f64 {
        let q = (2.0 * self.bend_per_mm * s).powi(2);
        s * (1.0 + q / 6.0 - q * q / 40.0 + q * q * q / 112.0)
    }

    /// The point of the plane at seam coordinates (u, v), millimetres.
    pub(super) fn at(&self, u_mm: f64, v_mm: f64) -> MmPoint {
        let mut s = u_mm;
        for _ in 0..6 {
            s -= (self.arc(s) - u_mm) / (1.0 + (2.0 * self.bend_per_mm * s).powi(2)).sqrt();
        }
        let slope = 2.0 * self.bend_per_mm * s;
        let norm = (1.0 + slope * slope).sqrt();
        let a = s - slope / norm * v_mm;
        let b = self.bend_per_mm * s * s + v_mm / norm;
        MmPoint::new(
            self.origin.x + a * self.along.x + b * self.across.x,
            self.origin.y + a * self.along.y + b * self.across.y,
        )
    }

    /// Seam coordinates (u, v) of a point of the plane, millimetres.
    pub(super) fn coordinates(&self, p: MmPoint) -> (f64, f64) {
        let (x, y) = (p.x - self.origin.x, p.y - self.origin.y);
        let a = x * self.along.x + y * self.along.y;
        let b = x * self.across.x + y * self.across.y;
        if self.bend_per_mm == 0.0 {
            return (a, b);
        }
        let mut s = a;
        for _ in 0..3 {
            let aside = b - self.bend_per_mm * s * s;
            let slope = 2.0 * self.bend_per_mm * s;
            s -= (s - a - slope * aside) / (1.0 + slope * slope - 2.0 * self.bend_per_mm * aside);
        }
        let slope = 2.0 * self.bend_per_mm * s;
        let v = ((s - a) * slope + b - self.bend_per_mm * s * s) / (1.0 + slope * slope).sqrt();
        (self.arc(s), v)
    }
}

/// Step of the table that undoes the offset, millimetres: its interpolation errs by less than 0.001 mm.
const STEP_MM: f64 = 0.05;

/// Where the lines of either side stand along u at the seam, and back.
///
/// A line that would stand at m in a matched seam stands at m − δ(m)/2 on the first side and at m + δ(m)/2 on the
/// second, with δ the whole offset: the profile and what the sides' different repeats add.
#[derive(Clone, Debug)]
pub(super) struct Lines {
    profile: OffsetProfile,
    /// What the sides' repeats add to the offset, millimetres to a millimetre of seam.
    repeat_drift: f64,
    /// One over the mean of the sides' repeat factors.
    narrowing: f32,
    first_mm: f64,
    tables: [Vec<f32>; 2],
}

impl Lines {
    /// The lines of a seam over −reach to +reach, millimetres.
    pub(super) fn new(profile: &OffsetProfile, repeat_factor: [f64; 2], reach_mm: f64) -> Self {
        let mean_factor = (repeat_factor[0] + repeat_factor[1]) / 2.0;
        let repeat_drift = (repeat_factor[1] - repeat_factor[0]) / mean_factor;
        let count = (2.0 * reach_mm / STEP_MM).ceil() as usize + 1;
        let mut lines = Self {
            profile: profile.clone(),
            repeat_drift,
            narrowing: (1.0 / mean_factor) as f32,
            first_mm: -reach_mm,
            tables: [Vec::new(), Vec::new()],
        };
        for side in 0..2 {
            let sign = [-0.5, 0.5][side];
            let mut m = -reach_mm - sign * lines.offset(-reach_mm);
            let table = (0..count).map(|k| {
                let u = k as f64 * STEP_MM - reach_mm;
                m += STEP_MM;
                // The place and its neighbour are near: a few steps of the secant rule reach the root.
                for _ in 0..12 {
                    let miss = m + sign * lines.offset(m) - u;
                    let slope = 1.0 + sign * (lines.offset(m + 0.01) - lines.offset(m - 0.01)) / 0.02;
                    m -= miss / slope;
                    if miss.abs() < 1e-9 {
                        break;
                    }
                }
                (m - u) as f32
            });
            lines.tables[side] = table.collect();
        }
        lines
    }

    /// The whole offset δ of the line that would stand at m, millimetres.
    pub(super) fn offset(&self, m_mm: f64) -> f64 {
        self.profile.at(m_mm) + self.repeat_drift * m_mm
    }

    /// Coordinate on the cloth, before it was cut, of what stands at u on a side (0 first, 1 second), millimetres.
    #[inline]
    pub(super) fn cloth_coordinate(&self, side: usize, u_mm: f32) -> f32 {
        let table = &self.tables[side];
        let x = ((u_mm - self.first_mm as f32) * (1.0 / STEP_MM as f32)).clamp(0.0, (table.len() - 2) as f32);
        let k = x as usize;
        let f = x - k as f32;
        (u_mm + table[k] + f * (table[k + 1] - table[k])) * self.narrowing
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::profile::{Slip, Step};

    #[test]
    fn seam_coordinates_go_there_and_back() {
        for (runs, bow) in [(Runs::Down, 0.0), (Runs::Down, 6.0), (Runs::Across, -9.0)] {
            let course = Course::new(runs, 12.0, 0.14, bow);
            for (u, v) in [(-90.0, 35.0), (0.0, 0.0), (70.0, -40.0), (120.0, 3.0)] {
                let (u2, v2) = course.coordinates(course.at(u, v));
                assert!((u - u2).abs() < 1e-5 && (v - v2).abs() < 1e-5, "{runs:?} {bow}: ({u}, {v}) → ({u2}, {v2})");
            }
        }
    }

    #[test]
    fn u_grows_down_or_right_and_the_second_side_is_right_or_above() {
        let down = Course::new(Runs::Down, 0.0, 0.0, 0.0);
        assert_eq!(down.coordinates(MmPoint::new(3.0, 7.0)), (7.0, 3.0));
        let across = Course::new(Runs::Across, 0.0, 0.0, 0.0);
        assert_eq!(across.coordinates(MmPoint::new(3.0, 7.0)), (3.0, -7.0));
    }

    #[test]
    fn u_is_arc_length() {
        let course = Course::new(Runs::Down, 0.0, 0.0, 10.0);
        let walked: f64 = (0..1000)
            .map(|k| course.at(f64::from(k) * 0.1, 0.0).distance(course.at(f64::from(k + 1) * 0.1, 0.0)))
            .sum();
        assert!((walked - 100.0).abs() < 1e-4, "{walked}");
    }

    #[test]
    fn a_line_stands_half_its_offset_to_either_side() {
        let profile = OffsetProfile {
            constant_mm: 2.0,
            slips: vec![Slip { at_mm: 10.0, amount_mm: 4.0, half_width_mm: 15.0 }],
            steps: vec![Step { at_mm: -30.0, amount_mm: 3.0, over_mm: 6.0 }],
            ..OffsetProfile::default()
        };
        let factors = [1.0, 1.02];
        let lines = Lines::new(&profile, factors, 100.0);
        for k in -60..60 {
            let m = f64::from(k);
            let offset = lines.offset(m);
            let first = lines.cloth_coordinate(0, (m - offset / 2.0) as f32);
            let second = lines.cloth_coordinate(1, (m + offset / 2.0) as f32);
            assert!((first - second).abs() < 2e-3, "at {m}: {first} {second}");
            assert!((f64::from(first) * 1.01 - m).abs() < 2e-3, "at {m}: {first}");
        }
    }

    #[test]
    fn each_side_has_its_own_repeat() {
        let lines = Lines::new(&OffsetProfile::default(), [0.98, 1.03], 100.0);
        for (side, factor) in [(0, 0.98), (1, 1.03)] {
            let span = lines.cloth_coordinate(side, 50.0) - lines.cloth_coordinate(side, -50.0);
            assert!((f64::from(span) - 100.0 / factor).abs() < 1e-3);
        }
    }
}
