//! The camera: where a point of the cloth's plane falls in the picture, and what the lens and the sensor do to it.

use super::messenger::Messenger;
use crate::units::{MmPoint, PxPoint};

/// A camera above the cloth.
#[derive(Clone, Debug, PartialEq)]
pub struct Camera {
    /// Width of the picture, pixels.
    pub width_px: u32,
    /// Height of the picture, pixels.
    pub height_px: u32,
    /// Millimetres to a pixel in the middle of the picture, across the direction of the tilt.
    pub mm_per_px: f64,
    /// Focal length, pixels.
    pub focal_px: f64,
    /// Angle between the camera's axis and the cloth's normal, 0 to below 60 degrees.
    pub tilt_rad: f64,
    /// Direction in the picture in which the cloth recedes: 0 is right, a quarter turn is down.
    pub tilt_towards_rad: f64,
    /// Barrel distortion: a ray that falls in the picture's corner is this share too far in; negative for a pincushion.
    pub barrel: f64,
    /// Gaussian defocus beside the lens's own 0.5 px, standard deviation, pixels.
    pub defocus_px: f64,
    /// Length of the motion blur, pixels.
    pub motion_px: f64,
    /// Direction of the motion: 0 is right, a quarter turn is down.
    pub motion_rad: f64,
    /// The light.
    pub light: Light,
    /// Standard deviation of the shot noise where the sensor is full, in linear light of 0 to 1.
    pub shot_noise: f64,
    /// Standard deviation of the reading noise, in linear light of 0 to 1.
    pub read_noise: f64,
    /// Amount of the camera's sharpening: 0 none, 0.5 plainly seen.
    pub sharpening: f64,
    /// JPEG quality, 1 to 100.
    pub jpeg_quality: u8,
    /// What is done to the picture on its way; `None`: nothing.
    pub messenger: Option<Messenger>,
}

/// The light on the cloth, as the camera sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct Light {
    /// Gain of the exposure: at 1, a perfectly white cloth just fills the sensor.
    pub exposure: f64,
    /// Gain of red, green and blue: lamplight is above 1 in red and below 1 in blue.
    pub tint: [f64; 3],
    /// How much darker the dark end of the picture is than its middle, 0 to 0.9.
    pub unevenness: f64,
    /// Direction in which it gets darker: 0 is right, a quarter turn is down.
    pub darker_towards_rad: f64,
    /// The edge of a hard shadow.
    pub shadow: Option<ShadowEdge>,
}

/// A straight edge beyond which something stands in the light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShadowEdge {
    /// Distance of the edge from the picture's middle, as a share of half the picture's diagonal.
    pub distance: f64,
    /// Direction from the lit into the dark part: 0 is right, a quarter turn is down.
    pub towards_rad: f64,
    /// Share of the light taken away, 0 to 0.9.
    pub depth: f64,
    /// Width of the soft edge, pixels.
    pub softness_px: f64,
}

impl Camera {
    /// A good phone held level above the cloth in even daylight.
    pub fn new(width_px: u32, height_px: u32, mm_per_px: f64) -> Self {
        Self {
            width_px,
            height_px,
            mm_per_px,
            focal_px: 1.1 * f64::from(width_px.max(height_px)),
            tilt_rad: 0.0,
            tilt_towards_rad: 0.0,
            barrel: 0.0,
            defocus_px: 0.0,
            motion_px: 0.0,
            motion_rad: 0.0,
            light: Light::even(),
            shot_noise: 0.012,
            read_noise: 0.002,
            sharpening: 0.0,
            jpeg_quality: 92,
            messenger: None,
        }
    }

    /// The same camera without noise and sharpening, and with the gentlest JPEG: for measuring the truth in pixels.
    pub fn noiseless(self) -> Self {
        Self { shot_noise: 0.0, read_noise: 0.0, sharpening: 0.0, jpeg_quality: 100, ..self }
    }

    /// The camera's map between the plane and the picture.
    pub(super) fn projection(&self) -> Projection {
        let (w, h) = (f64::from(self.width_px), f64::from(self.height_px));
        let (tilt_sin, tilt_cos) = self.tilt_rad.sin_cos();
        Projection {
            middle: PxPoint::new((w - 1.0) / 2.0, (h - 1.0) / 2.0),
            focal_px: self.focal_px,
            distance_mm: self.focal_px * self.mm_per_px,
            towards: (self.tilt_towards_rad.cos(), self.tilt_towards_rad.sin()),
            tilt_sin,
            tilt_cos,
            barrel_per_px2: self.barrel / (w.hypot(h) / 2.0).powi(2),
        }
    }
}

impl Light {
    /// Even daylight, exposed so that white paper is not blown.
    pub fn even() -> Self {
        Self { exposure: 0.95, tint: [1.0; 3], unevenness: 0.0, darker_towards_rad: 0.0, shadow: None }
    }
}

/// A pinhole camera over a plane, with radial distortion; the plane's origin falls in the picture's middle.
#[derive(Clone, Copy, Debug)]
pub(super) struct Projection {
    middle: PxPoint,
    focal_px: f64,
    distance_mm: f64,
    towards: (f64, f64),
    tilt_sin: f64,
    tilt_cos: f64,
    barrel_per_px2: f64,
}

impl Projection {
    /// Where on the plane a point of the picture lies; `None` at and above the horizon.
    pub(super) fn to_mm(self, p: PxPoint) -> Option<MmPoint> {
        let (dx, dy) = (p.x - self.middle.x, p.y - self.middle.y);
        let k = (1.0 + self.barrel_per_px2 * (dx * dx + dy * dy)) / self.focal_px;
        let (x, y) = (dx * k, dy * k);
        let a = x * self.towards.0 + y * self.towards.1;
        let b = y * self.towards.0 - x * self.towards.1;
        let fall = self.tilt_cos - a * self.tilt_sin;
        if fall < 0.02 {
            return None;
        }
        let s = a * self.distance_mm / fall;
        let t = b * (self.distance_mm + s * self.tilt_sin);
        Some(MmPoint::new(s * self.towards.0 - t * self.towards.1, s * self.towards.1 + t * self.towards.0))
    }

    /// Where a point of the plane falls in the picture; what lies beside or behind the camera falls very far outside.
    pub(super) fn to_px(self, p: MmPoint) -> PxPoint {
        let s = p.x * self.towards.0 + p.y * self.towards.1;
        let t = p.y * self.towards.0 - p.x * self.towards.1;
        let depth = (self.distance_mm + s * self.tilt_sin).max(self.distance_mm * 1e-3);
        let (a, b) = (self.focal_px * s * self.tilt_cos / depth, self.focal_px * t / depth);
        let (x, y) = (a * self.towards.0 - b * self.towards.1, a * self.towards.1 + b * self.towards.0);
        let radius = x.hypot(y);
        let mut r = radius;
        if self.barrel_per_px2 != 0.0 {
            for _ in 0..12 {
                let q = self.barrel_per_px2 * r * r;
                r -= (r * (1.0 + q) - radius) / (1.0 + 3.0 * q).max(0.1);
            }
        }
        let k = if radius > 0.0 { r / radius } else { 1.0 };
        PxPoint::new(self.middle.x + x * k, self.middle.y + y * k)
    }

    /// Millimetres to a pixel at a point of the picture: the square root of the area that one pixel sees.
    pub(super) fn mm_per_px(self, p: PxPoint) -> Option<f64> {
        let at = |dx: f64, dy: f64| self.to_mm(PxPoint::new(p.x + dx, p.y + dy));
        let (left, right, up, down) = (at(-0.5, 0.0)?, at(0.5, 0.0)?, at(0.0, -0.5)?, at(0.0, 0.5)?);
        let area = (right.x - left.x) * (down.y - up.y) - (right.y - left.y) * (down.x - up.x);
        Some(area.abs().sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tilted() -> Camera {
        Camera { tilt_rad: 0.4, tilt_towards_rad: 1.1, barrel: 0.03, ..Camera::new(480, 640, 0.25) }
    }

    #[test]
    fn plane_and_picture_go_there_and_back() {
        let projection = tilted().projection();
        for (x, y) in [(0.0, 0.0), (479.0, 639.0), (100.0, 500.0), (470.0, 3.0)] {
            let p = PxPoint::new(x, y);
            let q = projection.to_px(projection.to_mm(p).unwrap());
            assert!(p.distance(q) < 1e-6, "{p:?} → {q:?}");
        }
    }

    #[test]
    fn a_barrel_draws_the_corner_in_by_its_share_and_a_pincushion_pushes_it_out() {
        let seen = |barrel: f64| {
            let projection = Camera { barrel, ..Camera::new(481, 641, 0.25) }.projection();
            let corner = projection.to_mm(PxPoint::new(480.5, 640.5)).unwrap();
            (corner.distance(MmPoint::new(0.0, 0.0)), projection.to_px(MmPoint::new(50.0, 60.0)).x)
        };
        let (plain_mm, plain_x) = seen(0.0);
        for share in [0.02, -0.02] {
            let (mm, x) = seen(share);
            assert!((mm / plain_mm - (1.0 + share)).abs() < 1e-9, "{share}: {mm}");
            assert!((plain_x - x) * share > 0.0, "{share}: {x}");
        }
    }

    #[test]
    fn a_level_camera_has_one_scale() {
        let projection = Camera::new(480, 640, 0.25).projection();
        for (x, y) in [(239.5, 319.5), (10.0, 600.0)] {
            assert!((projection.mm_per_px(PxPoint::new(x, y)).unwrap() - 0.25).abs() < 1e-9);
        }
        let p = projection.to_mm(PxPoint::new(239.5 + 40.0, 319.5 - 8.0)).unwrap();
        assert!((p.x - 10.0).abs() < 1e-9 && (p.y + 2.0).abs() < 1e-9);
    }

    #[test]
    fn tilt_is_a_homography_that_shrinks_what_recedes() {
        let camera = Camera { barrel: 0.0, tilt_towards_rad: 0.0, ..tilted() };
        let projection = camera.projection();
        // A straight line of the plane stays straight: three points of it are collinear in the picture.
        let [a, b, c] = [-30.0, 5.0, 40.0].map(|s| projection.to_px(MmPoint::new(s, 10.0 + 0.5 * s)));
        let twice_area = (b.x - a.x) * (c.y - a.y) - (c.x - a.x) * (b.y - a.y);
        assert!(twice_area.abs() < 1e-6, "{twice_area}");
        // The cross-ratio of four points is kept (it would not be by a mere shear): (AC·BD)/(BC·AD).
        let x = [-40.0, -10.0, 20.0, 60.0];
        let p = x.map(|s| projection.to_px(MmPoint::new(s, 0.0)).x);
        let ratio = |q: [f64; 4]| (q[2] - q[0]) * (q[3] - q[1]) / ((q[2] - q[1]) * (q[3] - q[0]));
        assert!((ratio(x) - ratio(p)).abs() < 1e-9);
        let near = projection.mm_per_px(PxPoint::new(20.0, 319.5)).unwrap();
        let far = projection.mm_per_px(PxPoint::new(460.0, 319.5)).unwrap();
        assert!(far > 1.3 * near, "{near} {far}");
    }
}
