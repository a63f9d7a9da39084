//! What lies beside a seam and hides cloth: a paper label, a finger, a tape measure.

use super::chance;
use super::colour::{Linear, Srgb, linear, scaled};
use super::seam::Course;
use super::sheet::{Thing, Touch};
use crate::units::MmPoint;

/// What a thing beside the seam is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PropKind {
    /// A paper rectangle with rows of print.
    Label,
    /// A finger that holds the cloth: a round-ended shape of skin with a soft shadow; it points towards the prop's own
    /// right.
    Finger,
    /// A tape measure with a stroke at every millimetre, longer ones at five and ten; it runs towards its own right.
    Tape,
}

/// A thing that lies on the cloth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prop {
    /// What it is.
    pub kind: PropKind,
    /// Place of its middle along the seam, u, millimetres.
    pub u_mm: f64,
    /// Place of its middle across the seam, v, millimetres.
    pub v_mm: f64,
    /// How far its own right is turned from growing u towards falling v (clockwise in the picture).
    pub turn_rad: f64,
    /// Length along its own right, millimetres.
    pub length_mm: f64,
    /// Width, millimetres.
    pub width_mm: f64,
    /// Colour of the paper, the skin or the tape.
    pub colour: Srgb,
}

/// Colour of print.
const PRINT: Srgb = [40, 38, 46];
/// From row to row of a label's print, and the height of its letters, millimetres.
const ROW_MM: f32 = 3.4;
const LETTER_MM: f32 = 1.7;
/// Paper that stays free at a label's edge, millimetres.
const EDGE_MM: f32 = 2.0;
/// Where the shadow of a thing one millimetre high falls, millimetres.
const SHADOW: (f32, f32) = (0.55, 0.75);

/// A prop in its place.
pub(super) struct LaidProp {
    kind: PropKind,
    middle: MmPoint,
    right: MmPoint,
    half_length: f32,
    half_width: f32,
    colour: Linear,
}

impl LaidProp {
    pub(super) fn new(prop: &Prop, course: &Course) -> Self {
        let middle = course.at(prop.u_mm, prop.v_mm);
        let end = course.at(prop.u_mm + prop.turn_rad.cos(), prop.v_mm - prop.turn_rad.sin());
        let run = middle.distance(end);
        Self {
            kind: prop.kind,
            middle,
            right: MmPoint::new((end.x - middle.x) / run, (end.y - middle.y) / run),
            half_length: (prop.length_mm / 2.0) as f32,
            half_width: (prop.width_mm / 2.0) as f32,
            colour: linear(prop.colour),
        }
    }

    /// (along, aside) of a point moved back by `height_mm` of shadow.
    fn place(&self, p: MmPoint, height_mm: f32) -> (f32, f32) {
        let (x, y) =
            ((p.x - self.middle.x) as f32 - SHADOW.0 * height_mm, (p.y - self.middle.y) as f32 - SHADOW.1 * height_mm);
        let (rx, ry) = (self.right.x as f32, self.right.y as f32);
        (x * rx + y * ry, y * rx - x * ry)
    }

    /// How far inside its outline a place lies, millimetres; negative outside.
    fn inside(&self, (along, aside): (f32, f32)) -> f32 {
        match self.kind {
            PropKind::Finger => self.half_width - (along - self.half_length + self.half_width).max(0.0).hypot(aside),
            PropKind::Label | PropKind::Tape => (self.half_length - along.abs()).min(self.half_width - aside.abs()),
        }
    }

    /// Light of the thing's own surface.
    fn light(&self, (along, aside): (f32, f32), inside: f32) -> Linear {
        match self.kind {
            PropKind::Label => {
                let row = ((aside + self.half_width) / ROW_MM).floor();
                let height = (aside + self.half_width) - row * ROW_MM;
                let letter = chance::at((along / 0.45).floor() as i32, row as i32, 0x1ABE) > -0.1;
                let word = chance::at((along / 5.0).floor() as i32, row as i32, 0x3D) > -0.8;
                if inside > EDGE_MM && height < LETTER_MM && letter && word { linear(PRINT) } else { self.colour }
            }
            PropKind::Tape => {
                let mm = (along + self.half_length).round() as i32;
                let long = if mm % 10 == 0 {
                    0.6
                } else if mm % 5 == 0 {
                    0.45
                } else {
                    0.3
                };
                let from_edge = self.half_width - aside;
                let on = ((along + self.half_length) - mm as f32).abs() < 0.15;
                if on && from_edge < long * 2.0 * self.half_width { linear(PRINT) } else { self.colour }
            }
            PropKind::Finger => {
                // Round across, with the folds of the skin; the nail shines.
                let round = (inside / self.half_width).clamp(0.0, 1.0);
                let fold = 0.05 * chance::along(along * 0.8, 2, 0xF1) + 0.03 * chance::over(along, aside, 0xF2);
                let (x, y) = ((along - self.half_length + 7.0) / 5.5, aside / (0.62 * self.half_width));
                let nail = if x * x + y * y < 1.0 { 0.18 } else { 0.0 };
                scaled(self.colour, 0.55 + 0.5 * (round * (2.0 - round)).sqrt() + fold + nail)
            }
        }
    }
}

impl Thing for LaidProp {
    fn outline(&self) -> Vec<MmPoint> {
        let (a, b) = (f64::from(self.half_length) + 6.0, f64::from(self.half_width) + 6.0);
        [(-a, -b), (-a, b), (a, -b), (a, b)]
            .map(|(along, aside)| {
                MmPoint::new(
                    self.middle.x + along * self.right.x - aside * self.right.y,
                    self.middle.y + along * self.right.y + aside * self.right.x,
                )
            })
            .to_vec()
    }

    fn touch(&self, p: MmPoint, px_mm: f32) -> Touch {
        let at = self.place(p, 0.0);
        let inside = self.inside(at);
        let cover = if self.kind == PropKind::Finger && at.0 < -self.half_length {
            0.0
        } else {
            (inside / px_mm + 0.5).clamp(0.0, 1.0)
        };
        let (height, soft, depth) = match self.kind {
            PropKind::Label => (0.3, 0.3, 0.3),
            PropKind::Tape => (0.5, 0.4, 0.35),
            PropKind::Finger => (3.0, 2.2, 0.45),
        };
        let shade = depth * (0.5 + 0.5 * (self.inside(self.place(p, height)) / soft).tanh());
        Touch { gain: 1.0 - shade, cover, light: self.light(at, inside) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conventions::Runs;

    fn laid(kind: PropKind, turn_rad: f64) -> LaidProp {
        let prop = Prop { kind, u_mm: 10.0, v_mm: 20.0, turn_rad, length_mm: 30.0, width_mm: 14.0, colour: [240; 3] };
        LaidProp::new(&prop, &Course::new(Runs::Down, 0.0, 0.0, 0.0))
    }

    #[test]
    fn a_prop_covers_what_its_size_says() {
        for kind in [PropKind::Label, PropKind::Finger, PropKind::Tape] {
            let cover = |right: f64, down: f64| laid(kind, 0.0).touch(MmPoint::new(right, down), 0.1).cover;
            // Its own right is growing u: down the picture.
            assert_eq!([cover(20.0, 10.0), cover(20.0, 24.0), cover(26.0, 10.0)], [1.0; 3], "{kind:?}");
            assert_eq!([cover(20.0, 26.0), cover(28.0, 10.0), cover(12.0, 10.0)], [0.0; 3], "{kind:?}");
        }
        // Turned a quarter it reaches 15 mm towards the seam.
        let turned = laid(PropKind::Tape, std::f64::consts::FRAC_PI_2);
        assert_eq!(turned.touch(MmPoint::new(6.0, 10.0), 0.1).cover, 1.0);
        assert_eq!(turned.touch(MmPoint::new(20.0, 20.0), 0.1).cover, 0.0);
    }

    #[test]
    fn a_finger_is_round_at_its_tip_and_throws_a_soft_shadow() {
        let finger = laid(PropKind::Finger, 0.0);
        let at = |right: f64, down: f64| finger.touch(MmPoint::new(right, down), 0.1);
        assert_eq!(at(26.0, 24.0).cover, 0.0);
        assert!(at(28.5, 12.0).cover == 0.0 && at(28.5, 12.0).gain < 0.8);
    }
}
