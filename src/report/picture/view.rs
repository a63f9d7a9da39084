//! The geometry of the drawing: where seam coordinates lie in the panel that is drawn, and how big things are there.

use crate::finding::Finding;
use crate::offset::{LineOffset, RUN_PLACES, RUN_SPACING_MM};
use crate::units::PxPoint;

/// Width of every picture: three pixels to each of a phone's 390.
pub const WIDTH_PX: u32 = 1170;
/// Height of words: at phone width a third of it, about twelve points of the page.
pub const WORDS_PX: f32 = 40.0;

/// How seam coordinates become pixels of the panel.
#[derive(Clone, Copy, Debug)]
enum Projection {
    /// As the camera saw it, so many times the photograph's size.
    Taken { zoom: f64 },
    /// Along the seam: the seam upright at this column, starting at this row.
    Straight { px_per_mm: f64, seam_px: f64, start_px: f64 },
}

/// From seam coordinates to the pixels of a panel, with the sizes of what is drawn.
#[derive(Clone, Copy)]
pub struct View<'a> {
    finding: &'a Finding,
    projection: Projection,
    unit_mm: f64,
    /// Width and height of the panel.
    pub size_px: [f64; 2],
    /// Weight of a plain stroke.
    pub pen_px: f64,
    /// Where the strokes along the lines begin, on either side of the seam.
    pub near_mm: f64,
    /// Where they end.
    pub far_mm: f64,
}

impl<'a> View<'a> {
    /// The view of a photograph drawn `zoom` times its size, `size_px` wide and high.
    pub fn taken(finding: &'a Finding, zoom: f64, size_px: [f64; 2]) -> Self {
        let [long, short] = [size_px[0].max(size_px[1]), size_px[0].min(size_px[1])];
        let mut view = View::new(finding, Projection::Taken { zoom }, size_px);
        let mm_per_px = view.px_per_mm_at_middle().map_or(1.0, |px| 1.0 / px);
        // 3 to 22 mm from the seam, as far as the picture's scale leaves that visible and inside.
        let (near_px, far_px) = match finding.plane.is_metric() {
            true => (3.0 / mm_per_px, 22.0 / mm_per_px),
            false => (0.012 * long, 0.09 * long),
        };
        let near_px = near_px.min(0.05 * short).max(3.0 * view.pen_px);
        view.near_mm = near_px * mm_per_px;
        view.far_mm = far_px.min(0.2 * short).max(near_px + 0.03 * long) * mm_per_px;
        view
    }

    /// The view of the photograph straightened along the seam: `px_per_mm` to a millimetre both ways, the seam upright at
    /// column `seam_px` from row `start_px` on, cloth shown `half_mm` to either side.
    pub fn straight(
        finding: &'a Finding,
        px_per_mm: f64,
        [seam_px, start_px]: [f64; 2],
        half_mm: f64,
        size_px: [f64; 2],
    ) -> Self {
        let projection = Projection::Straight { px_per_mm, seam_px, start_px };
        let view = View::new(finding, projection, size_px);
        View { near_mm: 4.0 * view.pen_px / px_per_mm, far_mm: 0.42 * half_mm, ..view }
    }

    fn new(finding: &'a Finding, projection: Projection, size_px: [f64; 2]) -> Self {
        let pen_px = ((size_px[0] * size_px[1]).sqrt() / 420.0).clamp(1.0, 3.5);
        let unit_mm = finding.offset.unit_mm;
        View { finding, projection, unit_mm, size_px, pen_px, near_mm: 0.0, far_mm: 0.0 }
    }

    /// The pixel at place `along` of the seam (in the unit of the offset) and `v_mm` across it; `None` where the seam
    /// has no path or the point lies behind the camera.
    pub fn at(&self, along: f64, v_mm: f64) -> Option<PxPoint> {
        self.on_path(along * self.unit_mm, v_mm)
    }

    /// The pixel of a line on a side (0 first, 1 second), `away_mm` from the seam, as the line runs there, `by` further
    /// along (in the unit of the offset).
    pub fn on_line(&self, line: &LineOffset, side: usize, away_mm: f64, by: f64) -> Option<PxPoint> {
        let sign = if side == 0 { -1.0 } else { 1.0 };
        let place = (away_mm / RUN_SPACING_MM).clamp(0.0, (RUN_PLACES - 1) as f64);
        let (k, f) = (place.floor() as usize, place.fract());
        let [a, b] = [k, (k + 1).min(RUN_PLACES - 1)].map(|k| line.runs_mm[side][k]);
        self.at(line.along_mm + sign * line.offset_mm / 2.0 + a + f * (b - a) + by, sign * away_mm)
    }

    /// Whether a pixel lies in the panel.
    pub fn shows(&self, p: PxPoint) -> bool {
        p.x >= 0.0 && p.y >= 0.0 && p.x < self.size_px[0] && p.y < self.size_px[1]
    }

    /// Inner and outer edge of the band that marks a stretch, beyond the strokes along the lines.
    pub fn band_mm(&self) -> [f64; 2] {
        let reach = self.far_mm - self.near_mm;
        [self.far_mm + 0.2 * reach, self.far_mm + 0.5 * reach]
    }

    /// The seam itself in `count` + 1 points.
    pub fn seam(&self, count: u32) -> Vec<PxPoint> {
        if self.finding.seam.path.points.len() < 2 {
            return Vec::new();
        }
        let length_mm = self.finding.seam.path.length_mm();
        (0..=count).filter_map(|k| self.on_path(f64::from(k) / f64::from(count) * length_mm, 0.0)).collect()
    }

    /// Pixels to a millimetre at the seam's middle, along the picture's rows where it is as taken; `None` where that is no
    /// number.
    pub fn px_per_mm_at_middle(&self) -> Option<f64> {
        let path = &self.finding.seam.path;
        let zoom = match self.projection {
            Projection::Straight { px_per_mm, .. } => return Some(px_per_mm),
            Projection::Taken { .. } if path.points.len() < 2 => return None,
            Projection::Taken { zoom } => zoom,
        };
        let middle = path.at(path.length_mm() / 2.0).0;
        let beside = crate::units::MmPoint::new(middle.x + 1.0, middle.y);
        let px = self.finding.plane.to_px(middle).distance(self.finding.plane.to_px(beside)) * zoom;
        (px.is_finite() && px > 0.0).then_some(px)
    }

    fn on_path(&self, u_mm: f64, v_mm: f64) -> Option<PxPoint> {
        let Finding { seam, plane, .. } = self.finding;
        if seam.path.points.len() < 2 {
            return None;
        }
        let (x, y) = match self.projection {
            Projection::Taken { zoom } => {
                let p = plane.to_px(seam.at(u_mm, v_mm));
                ((p.x + 0.5) * zoom - 0.5, (p.y + 0.5) * zoom - 0.5)
            }
            Projection::Straight { px_per_mm, seam_px, start_px } => {
                (seam_px + v_mm * px_per_mm, start_px + u_mm * px_per_mm)
            }
        };
        (x.abs() < 1e5 && y.abs() < 1e5).then_some(PxPoint::new(x, y))
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::sample;
    use super::*;

    #[test]
    fn the_seam_starts_and_ends_where_the_photograph_has_it() {
        for recipe in [sample::down(), sample::unscaled()] {
            let finding = recipe.finding();
            let view = View::taken(&finding, 0.5, [600.0, 450.0]);
            let seam = view.seam(40);
            // (590 + 0.5) / 2 − 0.5 and (890 + 0.5) / 2 − 0.5.
            assert!((seam[0].x - 294.75).abs() < 1e-6 && (seam[40].y - 444.75).abs() < 1e-6);
            // The second side of a seam that runs down is right.
            assert!(view.at(1.0, view.near_mm).unwrap().x > view.at(1.0, 0.0).unwrap().x);
        }
    }

    #[test]
    fn places_told_in_repeats_land_on_their_readings() {
        let finding = sample::unscaled().finding();
        let view = View::taken(&finding, 1.0, [1200.0, 900.0]);
        for reading in &finding.offset.readings {
            assert!(view.at(reading.along_mm, 0.0).unwrap().distance(reading.at_px) < 1e-6);
        }
    }

    #[test]
    fn straightened_the_seam_is_upright_and_jumps_have_their_true_size() {
        for recipe in [sample::down(), sample::across()] {
            let finding = recipe.finding();
            let view = View::straight(&finding, 8.0, [500.0, 40.0], 30.0, [1170.0, 1300.0]);
            let seam = view.seam(10);
            assert!(seam.iter().all(|p| p.x == 500.0) && seam[0].y == 40.0);
            for line in &finding.offset.lines {
                let [first, second] = [0, 1].map(|side| view.on_line(line, side, 0.0, 0.0).unwrap());
                assert!((second.y - first.y - 8.0 * line.offset_mm).abs() < 1e-9);
                // Sample::down: the second side's lines fall 0.02 mm to a millimetre away from the seam.
                let far = view.on_line(line, 1, 15.0, 0.0).unwrap();
                assert!((far.y - second.y - 8.0 * 0.02 * 15.0).abs() < 1e-9 && far.x == 500.0 + 8.0 * 15.0);
            }
        }
    }

    #[test]
    fn a_seam_without_a_path_has_no_points() {
        let mut finding = sample::down().finding();
        finding.seam.path.points.truncate(1);
        let view = View::taken(&finding, 1.0, [1200.0, 900.0]);
        assert!(view.at(1.0, 0.0).is_none() && view.seam(10).is_empty());
    }
}
