//! The geometry of the drawing: where seam coordinates lie in the picture that is drawn, and how big things are there.

use crate::finding::Finding;
use crate::units::PxPoint;

/// From seam coordinates to the pixels of the annotated picture, with the sizes of what is drawn.
pub struct View<'a> {
    finding: &'a Finding,
    zoom: f64,
    unit_mm: f64,
    /// Width and height of the drawn photograph.
    pub size_px: [f64; 2],
    /// Weight of a plain stroke.
    pub pen_px: f64,
    /// Height of words on the photograph.
    pub words_px: f32,
    /// Where the strokes along the lines begin, on either side of the seam.
    pub near_mm: f64,
    /// Where they end.
    pub far_mm: f64,
    /// By how much jumps are drawn too large.
    pub exaggeration: f64,
}

impl<'a> View<'a> {
    /// The view of a photograph drawn `zoom` times its size, `size_px` wide and high.
    pub fn new(finding: &'a Finding, zoom: f64, size_px: [f64; 2]) -> Self {
        let [long, short] = [size_px[0].max(size_px[1]), size_px[0].min(size_px[1])];
        let pen_px = ((long * short).sqrt() / 450.0).max(1.0);
        let mut view = View {
            finding,
            zoom,
            unit_mm: finding.offset.unit_mm,
            size_px,
            pen_px,
            words_px: (size_px[0] / 42.0).clamp(11.0, 40.0) as f32,
            near_mm: 0.0,
            far_mm: 0.0,
            exaggeration: 1.0,
        };
        let mm_per_px = view.mm_per_px().unwrap_or(1.0);
        // 3 to 22 mm from the seam, as far as the picture's scale leaves that visible and inside.
        let (near_px, far_px) = match finding.plane.is_metric() {
            true => (3.0 / mm_per_px, 22.0 / mm_per_px),
            false => (0.012 * long, 0.09 * long),
        };
        let near_px = near_px.min(0.05 * short).max(3.0 * view.pen_px);
        view.near_mm = near_px * mm_per_px;
        view.far_mm = far_px.min(0.2 * short).max(near_px + 0.03 * long) * mm_per_px;
        view.exaggeration = exaggeration(finding);
        view
    }

    /// The pixel at place `along` of the seam (in the unit of the offset) and `v_mm` across it; `None` where the seam
    /// has no path or the point lies behind the camera.
    pub fn at(&self, along: f64, v_mm: f64) -> Option<PxPoint> {
        self.on_path(along * self.unit_mm, v_mm)
    }

    /// The pixel of a line that meets the seam at place `along` with this slope (du/dv), `v_mm` across the seam.
    pub fn on_line(&self, along: f64, slope: f64, v_mm: f64) -> Option<PxPoint> {
        self.on_path(along * self.unit_mm + slope * v_mm, v_mm)
    }

    /// Whether a pixel lies in the photograph.
    pub fn shows(&self, p: PxPoint) -> bool {
        p.x >= 0.0 && p.y >= 0.0 && p.x < self.size_px[0] && p.y < self.size_px[1]
    }

    /// Inner and outer edge of the band that marks a stretch, beyond the strokes along the lines.
    pub fn band_mm(&self) -> [f64; 2] {
        let reach = self.far_mm - self.near_mm;
        [self.far_mm + 0.15 * reach, self.far_mm + 0.5 * reach]
    }

    /// The seam itself in `count` + 1 points.
    pub fn seam(&self, count: u32) -> Vec<PxPoint> {
        let length_mm = self.finding.seam.path.length_mm();
        (0..=count).filter_map(|k| self.on_path(f64::from(k) / f64::from(count) * length_mm, 0.0)).collect()
    }

    /// Pixels to a millimetre along the picture's rows at the seam's middle; `None` where that is no number.
    pub fn px_per_mm_at_middle(&self) -> Option<f64> {
        let path = &self.finding.seam.path;
        if path.points.len() < 2 {
            return None;
        }
        let middle = path.at(path.length_mm() / 2.0).0;
        let beside = crate::units::MmPoint::new(middle.x + 1.0, middle.y);
        let px = self.finding.plane.to_px(middle).distance(self.finding.plane.to_px(beside)) * self.zoom;
        (px.is_finite() && px > 0.0).then_some(px)
    }

    fn mm_per_px(&self) -> Option<f64> {
        self.px_per_mm_at_middle().map(|px| 1.0 / px)
    }

    fn on_path(&self, u_mm: f64, v_mm: f64) -> Option<PxPoint> {
        let Finding { seam, plane, .. } = self.finding;
        if seam.path.points.len() < 2 {
            return None;
        }
        let p = plane.to_px(seam.at(u_mm, v_mm));
        let (x, y) = ((p.x + 0.5) * self.zoom - 0.5, (p.y + 0.5) * self.zoom - 0.5);
        (x.abs() < 1e5 && y.abs() < 1e5).then_some(PxPoint::new(x, y))
    }
}

/// The largest of 10, 5, 2 and 1 for which the largest jump still fits between two lines.
fn exaggeration(finding: &Finding) -> f64 {
    let lines = &finding.offset.lines;
    let mut spacings: Vec<f64> = lines.windows(2).map(|pair| pair[1].along_mm - pair[0].along_mm).collect();
    spacings.sort_by(f64::total_cmp);
    let largest = lines.iter().map(|line| line.offset_mm.abs()).fold(0.0, f64::max);
    let room = spacings.get(spacings.len() / 2).map_or(f64::INFINITY, |spacing| 0.8 * spacing);
    [10.0, 5.0, 2.0].into_iter().find(|factor| factor * largest <= room).unwrap_or(1.0)
}

#[cfg(test)]
mod tests {
    use super::super::super::sample;
    use super::*;

    #[test]
    fn the_seam_starts_and_ends_where_the_photograph_has_it() {
        for recipe in [sample::down(), sample::unscaled()] {
            let finding = recipe.finding();
            let view = View::new(&finding, 0.5, [600.0, 450.0]);
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
        let view = View::new(&finding, 1.0, [1200.0, 900.0]);
        for reading in &finding.offset.readings {
            assert!(view.at(reading.along_mm, 0.0).unwrap().distance(reading.at_px) < 1e-6);
        }
    }

    #[test]
    fn jumps_are_drawn_large_but_never_into_the_next_line() {
        let largest = |height: f64| sample::Recipe { base_mm: 0.0, slip_mm: [height, 70.0, 12.0], ..sample::down() };
        // Lines stand 15 mm apart: 12 mm is the room.
        assert_eq!(exaggeration(&largest(1.0).finding()), 10.0);
        assert_eq!(exaggeration(&largest(2.0).finding()), 5.0);
        assert_eq!(exaggeration(&largest(4.0).finding()), 2.0);
        assert_eq!(exaggeration(&largest(7.0).finding()), 1.0);
    }

    #[test]
    fn a_seam_without_a_path_has_no_points() {
        let mut finding = sample::down().finding();
        finding.seam.path.points.truncate(1);
        let view = View::new(&finding, 1.0, [1200.0, 900.0]);
        assert!(view.at(1.0, 0.0).is_none() && view.seam(10).is_empty());
    }
}
