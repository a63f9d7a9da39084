//! What lies over the cards: a corner of cloth, a thumb, a blot of ink, a crease in the paper.

use super::colour::{Linear, Srgb, linear};
use super::seam::Course;
use super::sheet::{Thing, Touch};
use crate::units::MmPoint;

/// An opaque patch of one colour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Patch {
    /// Place of its middle along the seam, u, millimetres.
    pub u_mm: f64,
    /// Place of its middle across the seam, v, millimetres.
    pub v_mm: f64,
    /// Half its width and half its height, millimetres.
    pub half_mm: [f64; 2],
    /// How far it is turned clockwise from standing upright in the level picture.
    pub turn_rad: f64,
    /// Whether it is an ellipse; else a rectangle.
    pub round: bool,
    /// Its colour.
    pub colour: Srgb,
    /// How high it lies: the width of its shadow, millimetres; 0 for ink.
    pub lift_mm: f64,
}

/// A patch in its place.
pub(super) struct LaidPatch {
    patch: Patch,
    middle: MmPoint,
    right: MmPoint,
    light: Linear,
}

impl LaidPatch {
    pub(super) fn new(patch: &Patch, course: &Course) -> Self {
        let right = MmPoint::new(patch.turn_rad.cos(), patch.turn_rad.sin());
        Self { patch: *patch, middle: course.at(patch.u_mm, patch.v_mm), right, light: linear(patch.colour) }
    }

    /// How far inside its edge a point lies, millimetres; negative outside.
    fn depth_mm(&self, p: MmPoint) -> f64 {
        let (x, y) = (p.x - self.middle.x, p.y - self.middle.y);
        let (x, y) = (x * self.right.x + y * self.right.y, y * self.right.x - x * self.right.y);
        let [a, b] = self.patch.half_mm;
        if self.patch.round { (1.0 - (x / a).hypot(y / b)) * a.min(b) } else { (a - x.abs()).min(b - y.abs()) }
    }
}

impl Thing for LaidPatch {
    fn outline(&self) -> Vec<MmPoint> {
        let [a, b] = self.patch.half_mm;
        let reach = a.hypot(b) + 3.0 * self.patch.lift_mm + 1.0;
        [(-reach, -reach), (reach, -reach), (reach, reach), (-reach, reach)]
            .map(|(x, y)| MmPoint::new(self.middle.x + x, self.middle.y + y))
            .to_vec()
    }

    fn touch(&self, p: MmPoint, px_mm: f32) -> Touch {
        let cover = (self.depth_mm(p) / f64::from(px_mm) + 0.5).clamp(0.0, 1.0) as f32;
        let lift = self.patch.lift_mm;
        let gain = if lift > 0.0 {
            let depth = self.depth_mm(MmPoint::new(p.x - 0.6 * lift, p.y - 0.8 * lift));
            1.0 - 0.45 * (depth / lift + 0.5).clamp(0.0, 1.0) as f32
        } else {
            1.0
        };
        Touch { gain, cover, light: self.light }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conventions::Runs;

    #[test]
    fn a_patch_covers_what_lies_under_it_and_shades_what_lies_beside_it() {
        let course = Course::new(Runs::Down, 0.0, 0.0, 0.0);
        let patch = Patch {
            u_mm: 10.0,
            v_mm: 20.0,
            half_mm: [5.0, 3.0],
            turn_rad: 0.0,
            round: false,
            colour: [255; 3],
            lift_mm: 1.0,
        };
        let at = |patch: Patch, x: f64, y: f64| LaidPatch::new(&patch, &course).touch(MmPoint::new(x, y), 0.1);
        assert_eq!(at(patch, 24.8, 12.8).cover, 1.0);
        assert_eq!(at(Patch { round: true, ..patch }, 24.8, 12.8).cover, 0.0);
        let shaded = at(patch, 25.3, 10.0);
        assert!(shaded.cover == 0.0 && shaded.gain < 0.8, "{}", shaded.gain);
        assert_eq!(at(Patch { lift_mm: 0.0, ..patch }, 25.3, 10.0).gain, 1.0);
    }
}
