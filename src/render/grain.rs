//! Straight grain under a bowed seam: from seam coordinates to the cloth's own straight threads, and back along the seam.

/// The straight threads that a bowed seam runs through. At the seam's anchor they lie along it and across it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Grain {
    /// The seam stands `bend · s²` aside at the distance s along its tangent at the anchor.
    bend_per_mm: f32,
}

impl Grain {
    /// The grain of a seam that has curved aside by `bow_mm` at 100 mm from its anchor.
    pub(super) fn new(bow_mm: f64) -> Self {
        Self { bend_per_mm: (bow_mm / 1e4) as f32 }
    }

    /// How steeply the threads across run against the seam's normal within `reach_mm` of the anchor, du/dv.
    pub(super) fn steepest(self, reach_mm: f32) -> f32 {
        2.0 * self.bend_per_mm.abs() * reach_mm
    }

    /// Place along the tangent at which the seam has run `u_mm`: the inverse of [`Self::run`], by its series.
    #[inline]
    pub(super) fn tangent(self, u_mm: f32) -> f32 {
        let q = (2.0 * self.bend_per_mm * u_mm).powi(2);
        u_mm * (1.0 - q / 6.0 + q * q * (13.0 / 120.0))
    }

    /// Length of the seam from the anchor to the place `s_mm` along the tangent: the series of the parabola's length.
    #[inline]
    pub(super) fn run(self, s_mm: f32) -> f32 {
        let q = (2.0 * self.bend_per_mm * s_mm).powi(2);
        s_mm * (1.0 + q / 6.0 - q * q / 40.0)
    }

    /// Seam coordinates to the cloth: where along the seam the thread across meets it (u), and how far along the other
    /// threads the place lies, all millimetres.
    #[inline]
    pub(super) fn cloth(self, u_mm: f32, v_mm: f32) -> (f32, f32) {
        let s = self.tangent(u_mm);
        let slope = 2.0 * self.bend_per_mm * s;
        let norm = (1.0 + slope * slope).sqrt();
        (self.run(s - slope / norm * v_mm), self.bend_per_mm * s * s + v_mm / norm)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conventions::Runs;
    use crate::render::seam::Course;

    #[test]
    fn threads_are_straight_lines_of_the_plane() {
        let (grain, course) = (Grain::new(12.0), Course::new(Runs::Down, 0.0, 0.0, 12.0));
        for (u, v) in [(-70.0, 30.0), (0.0, -20.0), (55.0, -35.0), (80.0, 8.0)] {
            // Down and without lean, the plane's y is the tangent and x goes with v.
            let p = course.at(u, v);
            let (meets, along) = grain.cloth(u as f32, v as f32);
            assert!((f64::from(along) - p.x).abs() < 0.02, "({u}, {v}): {along} {p:?}");
            let met = course.at(f64::from(meets), 0.0);
            assert!((met.y - p.y).abs() < 0.02, "({u}, {v}): {met:?} {p:?}");
        }
    }

    #[test]
    fn at_the_seam_a_thread_meets_it_where_it_is() {
        let grain = Grain::new(-16.0);
        for u in [-80.0, -20.0, 0.0, 45.0, 80.0] {
            assert!((grain.cloth(u, 0.0).0 - u).abs() < 0.01, "{u}: {}", grain.cloth(u, 0.0).0);
            assert!((grain.run(grain.tangent(u)) - u).abs() < 0.01, "{u}");
        }
    }
}
