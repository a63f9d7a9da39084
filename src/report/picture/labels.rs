//! The words on the photograph: never over the seam, never over each other; where there is no room, none, but the
//! worst place always has its own.

use super::canvas::{Frame, Type, words_size, write_on_cloth};
use super::view::{View, WORDS_PX};
use crate::digits;
use crate::finding::Finding;
use crate::report::phrase;
use crate::units::PxPoint;
use image::RgbImage;

/// Places that are taken, and the seam that must stay free.
pub struct Labels {
    taken: Vec<Frame>,
    seam: Vec<PxPoint>,
    size_px: [f64; 2],
    look: Type,
}

impl Labels {
    /// No word yet.
    pub fn new(view: &View) -> Self {
        let look = Type { height_px: WORDS_PX, bold: true };
        Labels { taken: vec![], seam: view.seam(400), size_px: view.size_px, look }
    }

    /// Keeps words off what is covered already.
    pub fn keep_off(&mut self, covered: Vec<Frame>) {
        self.taken.extend(covered);
    }

    /// The worst place, then the other lines, the largest jumps first, where there is room.
    pub fn offsets(&mut self, picture: &mut RgbImage, view: &View, finding: &Finding) {
        let unit = finding.unit();
        let offset = &finding.offset;
        if !offset.readings.is_empty() {
            let words = format!("worst {} {}", phrase::worst(finding).value, unit.after());
            let frame = self.worst_frame(view, finding, words_size(&words, self.look));
            self.put(picture, frame, &words);
        }
        let mut lines: Vec<_> = offset.lines.iter().collect();
        lines.sort_by(|a, b| b.offset_mm.abs().total_cmp(&a.offset_mm.abs()).then(a.number.cmp(&b.number)));
        for line in lines {
            let figures = digits::figures(line.offset_mm, line.expanded_uncertainty_mm, unit);
            let size = words_size(&figures.value, self.look);
            let ends = |side| [view.near_mm, view.far_mm].map(|away| view.on_line(line, side, away, 0.0));
            let mut places = [1, 0].into_iter().filter_map(|side| beside(view, ends(side), 0.0, size));
            if let Some(frame) = places.find(|&frame| self.is_free(frame)) {
                self.put(picture, frame, &figures.value);
            }
        }
    }

    /// A free place near the worst reading; where none is free, the one nearest to it that leaves the seam alone.
    fn worst_frame(&self, view: &View, finding: &Finding, size: [f64; 2]) -> Frame {
        let along = finding.offset.worst_at_mm;
        let ends = |sign: f64| [view.near_mm, view.far_mm].map(|away| view.at(along, sign * away));
        let shifts = (0..24).map(|k| f64::from((k + 1) / 2) * if k % 2 == 0 { 1.0 } else { -1.0 });
        let tries: Vec<Frame> = shifts
            .flat_map(|shift| [1.0, -1.0].map(|sign| beside(view, ends(sign), sign * shift * size[1], size)))
            .flatten()
            .map(|frame| frame.moved_inside(self.size_px))
            .collect();
        let corner = Frame { edges_px: [0.0, 0.0, size[0], size[1]] }.moved_inside(self.size_px);
        tries
            .iter()
            .find(|frame| self.is_free(**frame))
            .or_else(|| tries.iter().find(|frame| !self.is_on_seam(**frame)))
            .copied()
            .unwrap_or(corner)
    }

    fn put(&mut self, picture: &mut RgbImage, frame: Frame, words: &str) {
        let [left, top, ..] = frame.edges_px;
        write_on_cloth(picture, PxPoint::new(left, top), words, self.look);
        self.taken.push(frame);
    }

    fn is_free(&self, frame: Frame) -> bool {
        frame.is_inside(self.size_px) && !self.is_on_seam(frame) && !self.taken.iter().any(|taken| taken.touches(frame))
    }

    fn is_on_seam(&self, frame: Frame) -> bool {
        self.seam.iter().any(|&p| frame.holds(p, 4.0))
    }
}

/// The frame of a word of this size just beyond a stroke from its end near the seam to its far one, `shift_px` aside.
fn beside(view: &View, [near, end]: [Option<PxPoint>; 2], shift_px: f64, size: [f64; 2]) -> Option<Frame> {
    let (near, end) = (near?, end?);
    let length = near.distance(end).max(1e-9);
    let (dx, dy) = ((end.x - near.x) / length, (end.y - near.y) / length);
    // From the end of the stroke outward by half the word's extent in that direction, and a gap.
    let out = (dx * size[0]).abs() / 2.0 + (dy * size[1]).abs() / 2.0 + 6.0 * view.pen_px;
    let middle = PxPoint::new(end.x + dx * out + dy * shift_px, end.y + dy * out - dx * shift_px);
    Some(Frame::around(middle, size[0], size[1]))
}

#[cfg(test)]
mod tests {
    use super::super::super::sample;
    use super::*;
    use image::Rgb;

    #[test]
    fn words_leave_the_seam_and_each_other_alone_and_the_worst_is_always_there() {
        for (kind, finding) in sample::every_kind() {
            let size_px = [f64::from(finding.photo.width_px), f64::from(finding.photo.height_px)];
            let view = View::taken(&finding, 1.0, size_px);
            let mut labels = Labels::new(&view);
            let mut picture = RgbImage::from_pixel(size_px[0] as u32, size_px[1] as u32, Rgb([90, 90, 90]));
            labels.offsets(&mut picture, &view, &finding);
            assert!(!labels.taken.is_empty(), "{kind}");
            for (k, frame) in labels.taken.iter().enumerate() {
                assert!(frame.is_inside(size_px) && !labels.is_on_seam(*frame), "{kind}: {frame:?}");
                assert!(!labels.taken[..k].iter().any(|other| other.touches(*frame)), "{kind}: {frame:?}");
            }
        }
    }

    #[test]
    fn sixty_lines_are_thinned_out() {
        let finding = sample::every_kind().into_iter().find(|(kind, _)| *kind == "many").unwrap().1;
        let view = View::taken(&finding, 1.0, [1200.0, 900.0]);
        let mut labels = Labels::new(&view);
        labels.offsets(&mut RgbImage::new(1200, 900), &view, &finding);
        assert!((8..60).contains(&labels.taken.len()), "{}", labels.taken.len());
    }
}
