//! The view of a tilted plane: its horizon in the picture, and the map that straightens it.

use crate::scale::homography;
use crate::units::{MmPoint, PxPoint};
use nalgebra::{Matrix3, Vector3};

/// How a pinhole camera sees a plane, in pixels about the principal point.
#[derive(Clone, Debug)]
pub struct View {
    /// The plane's horizon: the line horizon · (x, y) = 1. (0, 0) is a camera that looks straight down.
    pub horizon: [f64; 2],
    /// Plane → picture. The plane's unit is what a pixel in the middle shows; there the plane's (0, 0) stands upright.
    pub plane_to_px: Matrix3<f64>,
    /// Picture → plane.
    pub px_to_plane: Matrix3<f64>,
    focal_px: f64,
}

impl View {
    /// The view of a plane with this horizon; `None` where the map is degenerate.
    pub fn new(horizon: [f64; 2], focal_px: f64) -> Option<Self> {
        // The plane's normal: the rays that are square to it are those of the horizon.
        let normal = Vector3::new(-focal_px * horizon[0], -focal_px * horizon[1], 1.0).normalize();
        // The least turn that takes the camera's axis to the normal, column by column.
        let (nx, ny, nz) = (normal.x, normal.y, normal.z);
        let share = 1.0 / (1.0 + nz);
        let right = Vector3::new(1.0 - nx * nx * share, -nx * ny * share, -nx);
        let down = Vector3::new(-nx * ny * share, 1.0 - ny * ny * share, -ny);
        let camera = Matrix3::new(focal_px, 0.0, 0.0, 0.0, focal_px, 0.0, 0.0, 0.0, 1.0);
        let any = camera * Matrix3::from_columns(&[right, down, normal * focal_px]);
        let upright = homography::upright(&any, PxPoint::new(0.0, 0.0))?;
        let unit = homography::mm_per_px(&upright, MmPoint::new(0.0, 0.0));
        let plane_to_px = upright * Matrix3::new(unit, 0.0, 0.0, 0.0, unit, 0.0, 0.0, 0.0, 1.0);
        let px_to_plane = plane_to_px.try_inverse()?;
        Some(Self { horizon, plane_to_px, px_to_plane, focal_px })
    }

    /// The view whose plane, straightened by this one, is still seen with a horizon at `left` in the plane.
    pub fn refined(&self, left: [f64; 2]) -> Option<Self> {
        // Lines go the other way than points: a line l of the plane is seen as the transpose of px_to_plane times l.
        let line = self.px_to_plane.transpose() * Vector3::new(-left[0], -left[1], 1.0);
        let horizon = [-line.x / line.z, -line.y / line.z];
        horizon.iter().all(|h| h.is_finite()).then(|| Self::new(horizon, self.focal_px)).flatten()
    }

    /// Focal length, pixels.
    pub fn focal_px(&self) -> f64 {
        self.focal_px
    }

    /// Angle between the camera's axis and the plane's normal, radians.
    pub fn tilt_rad(&self) -> f64 {
        (self.focal_px * self.horizon[0].hypot(self.horizon[1])).atan()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_view_changes_nothing() {
        let view = View::new([0.0, 0.0], 700.0).unwrap();
        assert!((view.plane_to_px - Matrix3::identity()).norm() < 1e-12);
        assert_eq!(view.tilt_rad(), 0.0);
    }

    #[test]
    fn the_tilt_is_the_one_of_the_homography() {
        let (focal, middle) = (740.0, PxPoint::new(0.0, 0.0));
        for (tilt, towards) in [(5.0f64, 0.3f64), (20.0, 2.0), (35.0, -1.2)] {
            let size = tilt.to_radians().tan() / focal;
            let view = View::new([size * towards.cos(), size * towards.sin()], focal).unwrap();
            assert!((view.tilt_rad().to_degrees() - tilt).abs() < 1e-9);
            let told = homography::tilt_rad(&view.plane_to_px, focal, middle).to_degrees();
            assert!((told - tilt).abs() < 1e-9, "{told}");
        }
    }

    #[test]
    fn a_horizon_that_is_left_is_added_in_the_picture() {
        let truth = View::new([3e-4, -2e-4], 700.0).unwrap();
        let half = View::new([2e-4, -0.5e-4], 700.0).unwrap();
        // The true horizon as the half straightened plane shows it.
        let line = half.plane_to_px.transpose() * Vector3::new(-3e-4, 2e-4, 1.0);
        let whole = half.refined([-line.x / line.z, -line.y / line.z]).unwrap();
        assert!((whole.plane_to_px - truth.plane_to_px).norm() < 1e-9);
    }
}
