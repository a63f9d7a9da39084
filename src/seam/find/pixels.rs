//! The photograph's pixels under straight rows of the cloth.

use super::raster::Row;
use crate::light;
use crate::photo::{Light, Photo};
use crate::scale::Plane;
use crate::scale::covered::{Covered, Shown};
use crate::units::PxPoint;
use nalgebra::Vector3;

/// Cells of a row over which the picture is as good as flat: seen ever so slantwise, what is midway between the first and the last
/// stands 0.03 pixels off the straight line through them.
pub const STRETCH: usize = 8;
/// Places are stepped through in whole numbers of 2⁻³² pixels.
const FRACTION_BITS: u32 = 32;

/// The picture's pixels that may show cloth.
pub struct Pixels<'a> {
    plane: &'a Plane,
    covered: Covered<'a>,
    light: Light<'a>,
}

/// A row's places in the picture: homogeneous coordinates, which grow evenly along it.
pub struct Line {
    first: Vector3<f64>,
    step: Vector3<f64>,
}

impl Line {
    /// The picture's point at fractional cell i.
    #[inline]
    fn at(&self, i: f64) -> PxPoint {
        let depth = 1.0 / (self.first.z + i * self.step.z);
        PxPoint::new((self.first.x + i * self.step.x) * depth, (self.first.y + i * self.step.y) * depth)
    }
}

impl<'a> Pixels<'a> {
    /// Means of the photograph's pixels up to `largest_mm` on the cloth.
    pub fn of(photo: &'a Photo, plane: &'a Plane, largest_mm: f64) -> Self {
        Self { plane, covered: plane.covered(), light: photo.light(largest_mm / plane.mm_per_px) }
    }

    /// Size of a pixel on the cloth, millimetres.
    pub fn size_mm(&self) -> f64 {
        self.light.block() as f64 * self.plane.mm_per_px
    }

    /// A row's places in the picture.
    pub fn line(&self, row: &Row) -> Line {
        Line {
            first: self.plane.mm_to_px * Vector3::new(row.first.x, row.first.y, 1.0),
            step: self.plane.mm_to_px * Vector3::new(row.step[0], row.step[1], 0.0),
        }
    }

    /// Adds the linear light of the nearest pixel and 1, at `taps` places of each of some cells, the first of them number `first`
    /// of the row; nothing outside the picture and under a card. No more cells than a [`STRETCH`] at once.
    pub fn add(&self, line: &Line, taps: usize, first: usize, cells: &mut [[f32; 4]]) {
        let place = |tap: usize| line.at((tap as f64 + 0.5) / taps as f64 - 0.5);
        let (from, to) = (place(taps * first), place(taps * (first + cells.len())));
        match (self.between(from, to), self.light) {
            (Shown::Nothing, _) => {}
            (Shown::All, Light::Whole(pixels)) => {
                let (raw, linear) = (pixels.as_raw(), light::of_codes());
                self.step(from, to, taps, cells, |pixel| {
                    let rgb = &raw[3 * pixel..][..3];
                    [0, 1, 2].map(|c| linear[usize::from(rgb[c])])
                });
            }
            (Shown::All, Light::Halved(halved)) => self.step(from, to, taps, cells, |pixel| halved.light(pixel)),
            (Shown::Some, _) => {
                for (k, cell) in cells.iter_mut().enumerate() {
                    for tap in 0..taps {
                        let p = place(taps * (first + k) + tap);
                        if let Some(light) = self.light.nearest(p.x, p.y).filter(|_| !self.covered.holds(p)) {
                            add(cell, light);
                        }
                    }
                }
            }
        }
    }

    /// Goes from one place to the other in equal steps.
    #[inline]
    fn step(&self, from: PxPoint, to: PxPoint, taps: usize, cells: &mut [[f32; 4]], light: impl Fn(usize) -> [f32; 3]) {
        let ([width, _], block) = (self.light.size(), self.light.block() as f64);
        let fixed = |px: f64| ((px + 0.5) / block * (1u64 << FRACTION_BITS) as f64) as i64;
        let (mut x, mut y) = (fixed(from.x), fixed(from.y));
        let steps = (taps * cells.len()) as i64;
        let (dx, dy) = ((fixed(to.x) - x) / steps, (fixed(to.y) - y) / steps);
        for cell in cells {
            for _ in 0..taps {
                add(cell, light((y >> FRACTION_BITS) as usize * width + (x >> FRACTION_BITS) as usize));
                (x, y) = (x + dx, y + dy);
            }
        }
    }

    /// What is shown of the cloth between two places.
    #[inline]
    fn between(&self, from: PxPoint, to: PxPoint) -> Shown {
        let [width, height] = self.light.size().map(|pixels| (pixels * self.light.block()) as f64 - 0.5);
        let inside = |p: PxPoint| p.x > -0.5 && p.y > -0.5 && p.x < width && p.y < height;
        if !(inside(from) && inside(to)) {
            return Shown::Some;
        }
        self.covered.leave(from, to)
    }
}

#[inline]
fn add(cell: &mut [f32; 4], [r, g, b]: [f32; 3]) {
    *cell = [cell[0] + r, cell[1] + g, cell[2] + b, cell[3] + 1.0];
}
