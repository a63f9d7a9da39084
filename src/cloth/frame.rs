//! The frame of one family of lines on the cloth's plane, and the ribs that are cut across them.

use crate::photo::Photo;
use crate::scale::Plane;
use crate::seam::Across;
use crate::strip::Rib;
use crate::strip::read::{self, Cut};
use crate::units::{MmPoint, PxPoint};

/// Samples of a rib at most, and ribs at most.
const MOST_SAMPLES: f64 = 3000.0;
const MOST_RIBS: f64 = 96.0;
/// Least width of a rib, pixels, and places that are read across it at most.
const LEAST_WIDTH_PX: f64 = 8.0;
const MOST_ACROSS: usize = 8;
/// A rib counts when at least this share of its samples shows cloth.
const LEAST_SEEN: f64 = 0.25;

/// Where a family of lines lies: u is counted square to the lines, v along them, both from the middle of the picture.
#[derive(Clone, Copy, Debug)]
pub struct Frame {
    /// The point of the plane at u = v = 0.
    pub middle: MmPoint,
    /// Unit vector of growing u.
    pub u: MmPoint,
    /// Unit vector of growing v.
    pub v: MmPoint,
}

impl Frame {
    /// The point of the plane at (u, v), millimetres.
    pub fn at(&self, u_mm: f64, v_mm: f64) -> MmPoint {
        MmPoint::new(
            self.middle.x + u_mm * self.u.x + v_mm * self.v.x,
            self.middle.y + u_mm * self.u.y + v_mm * self.v.y,
        )
    }

    /// Where a point of the plane lies in it.
    pub fn place(&self, p: MmPoint) -> [f64; 2] {
        let (x, y) = (p.x - self.middle.x, p.y - self.middle.y);
        [x * self.u.x + y * self.u.y, x * self.v.x + y * self.v.y]
    }

    /// The frame whose v runs along what has the slope du/dv in this one.
    pub fn turned(&self, slope: f64) -> Self {
        let norm = 1.0f64.hypot(slope);
        let add = |a: MmPoint, b: MmPoint, f: f64| MmPoint::new((a.x + f * b.x) / norm, (a.y + f * b.y) / norm);
        Self { u: add(self.u, self.v, -slope), v: add(self.v, self.u, slope), ..*self }
    }

    /// The frame of the lines that run square to these.
    pub fn square(&self) -> Self {
        Self { u: self.v, v: self.u, ..*self }
    }
}

/// Ribs across a family of lines.
#[derive(Clone, Debug)]
pub struct Ribs {
    /// Their frame.
    pub frame: Frame,
    /// u of the first sample, millimetres.
    pub from_mm: f64,
    /// Distance from sample to sample, millimetres.
    pub step_mm: f64,
    /// How many samples a rib has.
    pub samples: usize,
    /// The ribs, v growing; those that show little cloth are left out.
    pub ribs: Vec<Rib>,
}

impl Ribs {
    /// Cuts the rectangle of the picture between two corners into ribs across the lines of `frame`; empty where no cloth is
    /// seen.
    pub fn cut(photo: &Photo, plane: &Plane, frame: Frame, patch_px: [PxPoint; 2]) -> Self {
        Self::cut_bent(photo, plane, frame, patch_px, |_| 0.0)
    }

    /// The same with every rib bent: at u it stands further along v by what is told, millimetres.
    pub fn cut_bent(
        photo: &Photo,
        plane: &Plane,
        frame: Frame,
        patch_px: [PxPoint; 2],
        further_mm: impl Fn(f64) -> f64 + Sync,
    ) -> Self {
        let [a, b] = patch_px;
        let corners = [(a.x, a.y), (b.x, a.y), (b.x, b.y), (a.x, b.y)];
        let places = corners.map(|(x, y)| frame.place(plane.to_mm(PxPoint::new(x, y))));
        let bound = |k: usize, pick: fn(f64, f64) -> f64| places.iter().map(|p| p[k]).reduce(pick).unwrap_or(0.0);
        let (from_mm, to_mm) = (bound(0, f64::min), bound(0, f64::max));
        let (first_mm, last_mm) = (bound(1, f64::min), bound(1, f64::max));
        let px_mm = plane.mm_per_px_at(frame.middle);
        let step_mm = px_mm.max((to_mm - from_mm) / MOST_SAMPLES);
        let light = photo.light(step_mm / px_mm);
        let samples = ((to_mm - from_mm) / step_mm).floor().max(0.0) as usize + 1;
        let width_mm = (LEAST_WIDTH_PX * step_mm).max((last_mm - first_mm) / MOST_RIBS);
        let places = ((width_mm / step_mm).round() as usize).clamp(1, MOST_ACROSS);
        let count = ((last_mm - first_mm) / width_mm).floor().max(0.0) as usize;
        let middles_mm: Vec<f64> = (0..count).map(|k| first_mm + (k as f64 + 0.5) * width_mm).collect();
        let across = |u_mm: f64| Across { point: frame.at(from_mm + u_mm, further_mm(from_mm + u_mm)), v: frame.v };
        let cut = Cut { middles_mm: &middles_mm, width_mm, step_mm, samples, places };
        let mut ribs = read::ribs(light, plane, across, cut);
        ribs.retain(|rib| rib.weight().iter().sum::<f32>() as f64 >= LEAST_SEEN * samples as f64);
        Self { frame, from_mm, step_mm, samples, ribs }
    }

    /// From the first to the last rib, millimetres: the length of the lines that is seen.
    pub fn breadth_mm(&self) -> f64 {
        match (self.ribs.first(), self.ribs.last()) {
            (Some(first), Some(last)) if self.ribs.len() > 1 => {
                let apart = last.v_mm - first.v_mm;
                apart + apart / (self.ribs.len() - 1) as f64
            }
            _ => 0.0,
        }
    }

    /// Length of the ribs, millimetres.
    pub fn length_mm(&self) -> f64 {
        self.samples as f64 * self.step_mm
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_turned_frame_runs_along_the_slope() {
        let level = Frame { middle: MmPoint::new(3.0, 4.0), u: MmPoint::new(0.0, 1.0), v: MmPoint::new(1.0, 0.0) };
        let turned = level.turned(0.1);
        // From (u, v) = (0, 0) to v = 10 of the turned frame, the level frame's u grows by a tenth of what its v grows.
        let [u, v] = level.place(turned.at(0.0, 10.0));
        assert!((u / v - 0.1).abs() < 1e-12 && (u.hypot(v) - 10.0).abs() < 1e-12);
        assert!((turned.u.x * turned.v.x + turned.u.y * turned.v.y).abs() < 1e-12);
        let p = turned.place(turned.at(7.0, -2.0));
        assert!((p[0] - 7.0).abs() < 1e-12 && (p[1] + 2.0).abs() < 1e-12);
        assert_eq!(level.square().u, level.v);
    }
}
