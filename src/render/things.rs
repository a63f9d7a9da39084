//! What lies on the cloth: pins and basting thread.

use super::chance;
use super::colour::{Linear, Srgb, linear, scaled};
use super::seam::Course;
use super::sheet::{Thing, Touch};
use crate::units::MmPoint;

/// A straight steel pin with a glass head, across the seam: it lies on the first centimetres, dives under the cloth
/// beyond the seam and comes up again with its point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pin {
    /// Where it crosses the seam, u, millimetres.
    pub at_mm: f64,
    /// How far it is turned from lying straight across, its second side towards growing u.
    pub turn_rad: f64,
    /// Colour of the head.
    pub head: Srgb,
    /// Whether the head lies on the second side.
    pub head_on_second: bool,
}

/// Running stitches along the seam.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Basting {
    /// Colour of the thread.
    pub colour: Srgb,
    /// Length of a stitch on top, millimetres.
    pub stitch_mm: f64,
    /// Distance from stitch to stitch, millimetres.
    pub gap_mm: f64,
    /// Distance from the seam, towards growing v, millimetres.
    pub aside_mm: f64,
}

/// Sizes of a pin with a glass head, millimetres (common practice, no source).
const PIN_LENGTH_MM: f64 = 34.0;
const SHAFT_HALF_MM: f32 = 0.3;
const HEAD_RADIUS_MM: f32 = 1.8;
/// Where along the pin, from the seam towards its point, it is under the cloth, millimetres.
const UNDER_MM: std::ops::Range<f32> = 3.5..9.0;
/// Half the thickness of basting thread, millimetres.
const THREAD_HALF_MM: f32 = 0.24;
/// Where a shadow falls from a thing one millimetre high, millimetres.
const SHADOW: MmPoint = MmPoint::new(0.55, 0.75);

/// A straight piece seen from one end: distance along it and aside from it.
struct Axis {
    start: MmPoint,
    direction: MmPoint,
    length: f32,
}

impl Axis {
    fn new(start: MmPoint, end: MmPoint) -> Self {
        let length = start.distance(end);
        let direction = MmPoint::new((end.x - start.x) / length, (end.y - start.y) / length);
        Self { start, direction, length: length as f32 }
    }

    /// (along, aside) of a point moved back by `height_mm` of shadow.
    fn place(&self, p: MmPoint, height_mm: f64) -> (f32, f32) {
        let (x, y) = (p.x - self.start.x - SHADOW.x * height_mm, p.y - self.start.y - SHADOW.y * height_mm);
        let along = x * self.direction.x + y * self.direction.y;
        (along as f32, (y * self.direction.x - x * self.direction.y) as f32)
    }
}

/// The share of a pixel, `px_mm` wide and its middle `aside` from an axis, that lies within `half` of the axis.
fn covered(aside: f32, half: f32, px_mm: f32) -> f32 {
    let (low, high) = ((aside - px_mm / 2.0).max(-half), (aside + px_mm / 2.0).min(half));
    ((high - low) / px_mm).clamp(0.0, 1.0)
}

/// A pin in its place.
pub(super) struct LaidPin {
    axis: Axis,
    seam_at: f32,
    head: Linear,
}

impl LaidPin {
    pub(super) fn new(pin: &Pin, course: &Course) -> Self {
        let way = if pin.head_on_second { -1.0 } else { 1.0 };
        let seam_at = PIN_LENGTH_MM * 0.58;
        let end = |run: f64| course.at(pin.at_mm + way * run * pin.turn_rad.sin(), way * run * pin.turn_rad.cos());
        let axis = Axis::new(end(-seam_at), end(PIN_LENGTH_MM - seam_at));
        Self { axis, seam_at: seam_at as f32, head: linear(pin.head) }
    }
}

impl Thing for LaidPin {
    fn outline(&self) -> Vec<MmPoint> {
        let a = &self.axis;
        [(-4.0, -4.0), (-4.0, 4.0), (a.length + 3.0, -4.0), (a.length + 3.0, 4.0)]
            .map(|(along, aside)| {
                let along = f64::from(along);
                MmPoint::new(
                    a.start.x + along * a.direction.x - aside * a.direction.y,
                    a.start.y + along * a.direction.y + aside * a.direction.x,
                )
            })
            .to_vec()
    }

    fn touch(&self, p: MmPoint, px_mm: f32) -> Touch {
        let (along, aside) = self.axis.place(p, 0.0);
        let (shade_along, shade_aside) = self.axis.place(p, 0.8);
        let (head_along, head_aside) = self.axis.place(p, 1.6);
        // How high the shaft stands above the cloth: it lies on it near the bite and is under it inside.
        let lifted = |x: f32| {
            let run = x - self.seam_at;
            let under = ((run - UNDER_MM.start) / 0.5).clamp(0.0, 1.0) * ((UNDER_MM.end - run) / 0.5).clamp(0.0, 1.0);
            (1.0 - under) * ((self.axis.length - x) / 0.4).clamp(0.0, 1.0) * (x / 0.4).clamp(0.0, 1.0)
        };
        let shaft_shade = 0.42 * lifted(shade_along) * (-(shade_aside / 0.55).powi(2)).exp();
        let head_shade = 0.5 * (-(head_along.hypot(head_aside) / 1.9).powi(4)).exp();
        // Where the pin dives, the cloth bulges over it.
        let run = along - self.seam_at - (UNDER_MM.start + UNDER_MM.end) / 2.0;
        let bulge = (-(run / 2.2).powi(4)).exp()
            * (0.13 * (-((aside + 0.5) / 0.5).powi(2)).exp() - 0.16 * (-((aside - 0.6) / 0.5).powi(2)).exp());
        let gain = (1.0 - shaft_shade) * (1.0 - head_shade) * (1.0 + bulge);

        let radius = along.hypot(aside);
        let head = ((HEAD_RADIUS_MM - radius) / px_mm + 0.5).clamp(0.0, 1.0);
        if head > 0.0 {
            let (x, y) = (aside / HEAD_RADIUS_MM, along / HEAD_RADIUS_MM);
            let z = (1.0 - x * x - y * y).max(0.0).sqrt();
            // The light falls from the upper left of the picture.
            let (px, py) = self.towards_picture(x, y);
            let facing = (0.72 * z - 0.42 * px - 0.55 * py).max(0.0);
            let glint = 0.7 * facing.powi(40);
            let light = scaled(self.head, 0.25 + 0.85 * facing).map(|c| c + glint);
            return Touch { gain, cover: head, light };
        }
        let cover =
            covered(aside, SHAFT_HALF_MM * ((self.axis.length - along) / 5.0).clamp(0.25, 1.0), px_mm) * lifted(along);
        let x = (aside / SHAFT_HALF_MM).clamp(-1.0, 1.0);
        let steel = 0.16 + 0.55 * (-((x + 0.25) / 0.35).powi(2)).exp() + 0.04 * chance::along(along * 0.4, 3, 0x9E1);
        Touch { gain, cover, light: [steel * 0.98, steel, steel * 1.03] }
    }
}

impl LaidPin {
    /// A vector given as (aside, along) of the pin, as (right, down) of the plane.
    fn towards_picture(&self, aside: f32, along: f32) -> (f32, f32) {
        let (dx, dy) = (self.axis.direction.x as f32, self.axis.direction.y as f32);
        (along * dx - aside * dy, along * dy + aside * dx)
    }
}

/// One stitch of basting thread.
pub(super) struct LaidStitch {
    axis: Axis,
    colour: Linear,
}

impl LaidStitch {
    /// The stitches from one end of the seam to the other, no two alike.
    pub(super) fn all(basting: &Basting, course: &Course, from_mm: f64, to_mm: f64, salt: u32) -> Vec<Self> {
        let pitch = (basting.stitch_mm + basting.gap_mm).max(1.0);
        let (first, last) = ((from_mm / pitch).ceil() as i32, (to_mm / pitch).floor() as i32);
        let end = |k: i32, which: i32, u: f64| {
            let jitter = |kind: u32| f64::from(chance::at(k, which, salt ^ kind));
            course.at(u + 0.5 * jitter(1), basting.aside_mm + 0.28 * jitter(2))
        };
        (first..last)
            .map(|k| {
                let u = f64::from(k) * pitch;
                let axis = Axis::new(end(k, 0, u), end(k, 1, u + basting.stitch_mm.max(0.8)));
                Self { axis, colour: linear(basting.colour) }
            })
            .collect()
    }
}

impl Thing for LaidStitch {
    fn outline(&self) -> Vec<MmPoint> {
        let (a, length) = (&self.axis, f64::from(self.axis.length));
        let ends = [a.start, MmPoint::new(a.start.x + length * a.direction.x, a.start.y + length * a.direction.y)];
        ends.iter().flat_map(|p| [MmPoint::new(p.x - 2.0, p.y - 2.0), MmPoint::new(p.x + 2.0, p.y + 2.0)]).collect()
    }

    fn touch(&self, p: MmPoint, px_mm: f32) -> Touch {
        let (along, aside) = self.axis.place(p, 0.0);
        let (shade_along, shade_aside) = self.axis.place(p, 0.45);
        let length = self.axis.length;
        let within = |x: f32| ((x / 0.3).clamp(0.0, 1.0) * ((length - x) / 0.3).clamp(0.0, 1.0)).sqrt();
        let half = THREAD_HALF_MM * (0.55 + 0.45 * within(along));
        let cover = covered(aside, half, px_mm) * covered(along - length / 2.0, length / 2.0, px_mm);
        // The needle's holes draw the cloth in; the thread throws a small shadow.
        let hole = 0.4 * (-((along.min(length - along)) / 0.35).powi(2) - (aside / 0.4).powi(2)).exp();
        let gain = (1.0 - 0.38 * within(shade_along) * (-(shade_aside / 0.35).powi(2)).exp()) * (1.0 - hole);
        let x = (aside / THREAD_HALF_MM).clamp(-1.0, 1.0);
        let twist = 0.13 * ((along / 0.55 + 0.5 * x) * std::f32::consts::TAU).sin();
        let sunk = 0.7 + 0.3 * within((along - 0.2).max(0.0));
        Touch { gain, cover, light: scaled(self.colour, (1.0 - 0.4 * x * x + twist) * sunk) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conventions::Runs;

    fn pin(turn_rad: f64) -> LaidPin {
        let pin = Pin { at_mm: 12.0, turn_rad, head: [200, 30, 40], head_on_second: false };
        LaidPin::new(&pin, &Course::new(Runs::Down, 0.0, 0.0, 0.0))
    }

    #[test]
    fn the_pin_crosses_the_seam_where_it_should() {
        for turn in [0.0, 0.3, -0.4] {
            let touch = pin(turn).touch(MmPoint::new(0.0, 12.0), 0.1);
            assert!(touch.cover > 0.99, "{turn}");
            assert_eq!(pin(turn).touch(MmPoint::new(0.0, 15.0), 0.1).cover, 0.0);
        }
        // The second side towards growing u: v = +2 lies lower.
        assert!(pin(0.3).touch(MmPoint::new(2.0, 12.0 + 2.0 * 0.3_f64.tan()), 0.1).cover > 0.9);
    }

    #[test]
    fn the_pin_is_under_the_cloth_beyond_the_seam_and_its_head_is_on_the_first_side() {
        assert_eq!(pin(0.0).touch(MmPoint::new(6.0, 12.0), 0.1).cover, 0.0);
        assert!(pin(0.0).touch(MmPoint::new(11.0, 12.0), 0.1).cover > 0.5);
        let head = pin(0.0).touch(MmPoint::new(-0.58 * PIN_LENGTH_MM, 12.0), 0.1);
        assert!(head.cover == 1.0 && head.light[0] > 3.0 * head.light[2], "{:?}", head.light);
    }

    #[test]
    fn a_thin_shaft_covers_its_share_of_a_wide_pixel() {
        assert!((covered(0.0, 0.3, 1.0) - 0.6).abs() < 1e-6);
        assert!((covered(0.5, 0.3, 1.0) - 0.3).abs() < 1e-6);
        assert_eq!(covered(1.0, 0.3, 1.0), 0.0);
    }

    #[test]
    fn stitches_keep_their_length_and_gap() {
        let basting = Basting { colour: [250; 3], stitch_mm: 7.0, gap_mm: 5.0, aside_mm: 1.0 };
        let course = Course::new(Runs::Across, 0.0, 0.0, 0.0);
        let stitches = LaidStitch::all(&basting, &course, -60.0, 60.0, 3);
        assert_eq!(stitches.len(), 10);
        assert!(stitches.iter().all(|s| (s.axis.length - 7.0).abs() < 1.2 && (s.axis.start.y + 1.0).abs() < 0.3));
    }
}
