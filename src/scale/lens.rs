//! What a lens leaves: millimetres to a pixel are not quite the same where the scale was measured and where it is used.
//!
//! A radial distortion moves a point x, in half diagonals from the middle of the picture, to x (1 + k r²). A short length
//! at x in the direction d is then 1 + k (r² + 2 (x·d)²) times as long: 1 + 3 k r² along the radius, 1 + k r² across it.
//! Only the difference between two places counts, since the scale is right where it was measured. What the card's
//! homography takes up of a distortion is not counted.

use crate::units::PxPoint;

/// Standard uncertainty of k: what phones leave after their own correction moves a corner (r = 1) by 1 % at most,
/// rectangular: a type B figure (JCGM 100:2008, 4.3), the per cent from memory.
const CORNER_RELATIVE: f64 = 0.01 / 1.732_050_807_568_877_2;
/// Pieces in which the mean over a straight line is taken.
const PIECES: usize = 16;

/// The lens of a picture, and where in it the scale was measured.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lens {
    /// Width and height of the picture, pixels.
    size_px: [f64; 2],
    /// How much longer lengths are where the scale was measured, in units of k; `None` where it was not measured.
    measured: Option<f64>,
}

impl Lens {
    /// That of a picture so wide and high, pixels.
    pub fn of(size_px: [f64; 2]) -> Self {
        Self { size_px, measured: None }
    }

    /// The same lens with the scale measured along this line.
    pub fn measured_along(self, line_px: &[PxPoint]) -> Self {
        Self { measured: Some(self.lengthening(line_px)), ..self }
    }

    /// Relative standard uncertainty that the lens brings to a length along this line, signed: places of one sign err
    /// together. 0 where the scale was not measured.
    pub fn relative_along(&self, line_px: &[PxPoint]) -> f64 {
        self.measured.map_or(0.0, |measured| CORNER_RELATIVE * (self.lengthening(line_px) - measured))
    }

    /// The mean of r² + 2 (x·d)² along a line of two points or more; 0 of a line without length.
    fn lengthening(&self, line_px: &[PxPoint]) -> f64 {
        let [w, h] = self.size_px;
        let half_px = 0.5 * w.hypot(h);
        let (mut sum, mut length) = (0.0, 0.0);
        for (a, b) in line_px.windows(2).map(|pair| (pair[0], pair[1])) {
            let px = a.distance(b);
            if !(px > 0.0 && half_px > 0.0) {
                continue;
            }
            let d = [(b.x - a.x) / px, (b.y - a.y) / px];
            for k in 0..PIECES {
                let share = (k as f64 + 0.5) / PIECES as f64;
                let at = |from: f64, to: f64, size: f64| (from + share * (to - from) - 0.5 * (size - 1.0)) / half_px;
                let x = [at(a.x, b.x, w), at(a.y, b.y, h)];
                let along = x[0] * d[0] + x[1] * d[1];
                sum += px / PIECES as f64 * (x[0] * x[0] + x[1] * x[1] + 2.0 * along * along);
            }
            length += px;
        }
        if length > 0.0 { sum / length } else { 0.0 }
    }
}

/// The line around a figure, back to where it begins.
pub fn around(corners_px: &[PxPoint; 4]) -> [PxPoint; 5] {
    let [a, b, c, d] = *corners_px;
    [a, b, c, d, a]
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE_PX: [f64; 2] = [4001.0, 3001.0];

    /// Where a lens of this k shows what stands here, and what it does to the length between two places.
    fn lengthened(a: PxPoint, b: PxPoint, k: f64) -> f64 {
        let shown = |p: PxPoint| {
            let [x, y] = [(p.x - 2000.0) / 2500.5, (p.y - 1500.0) / 2500.5];
            let factor = 1.0 + k * (x * x + y * y);
            PxPoint::new(x * factor * 2500.5, y * factor * 2500.5)
        };
        shown(a).distance(shown(b)) / a.distance(b) - 1.0
    }

    #[test]
    fn lengths_grow_as_the_distortion_has_them() {
        let places = [(2000.0, 1500.0), (3900.0, 1500.0), (3500.0, 2600.0), (400.0, 300.0)];
        let card = [PxPoint::new(1990.0, 1500.0), PxPoint::new(2010.0, 1500.0)];
        let lens = Lens::of(SIZE_PX).measured_along(&card);
        let k = 1e-5;
        for (x, y) in places {
            for (dx, dy) in [(20.0, 0.0), (0.0, 20.0), (14.0, -14.0)] {
                let line = [PxPoint::new(x, y), PxPoint::new(x + dx, y + dy)];
                let due = (lengthened(line[0], line[1], k) - lengthened(card[0], card[1], k)) / k;
                let said = lens.relative_along(&line) / CORNER_RELATIVE;
                assert!((due - said).abs() < 2e-3, "{x} {y} {dx} {dy}: {due} {said}");
            }
        }
        // Near a corner, along the radius, three times what the corner moves by.
        let corner = [PxPoint::new(3999.0, 2999.25), PxPoint::new(4000.0, 3000.0)];
        assert!((lens.relative_along(&corner) / CORNER_RELATIVE - 3.0).abs() < 0.01);
    }

    #[test]
    fn where_the_scale_was_measured_and_where_it_was_not_nothing_is_added() {
        let line = [PxPoint::new(300.0, 200.0), PxPoint::new(300.0, 2800.0)];
        assert_eq!(Lens::of(SIZE_PX).measured_along(&line).relative_along(&line), 0.0);
        assert_eq!(Lens::of(SIZE_PX).relative_along(&line), 0.0);
        assert_eq!(Lens::of(SIZE_PX).measured_along(&line[..1]).relative_along(&line[..1]), 0.0);
    }
}
