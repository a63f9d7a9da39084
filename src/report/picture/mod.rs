//! The face for the eye: the photograph with the seam, its lines and their jumps drawn on it, and a strip below it that
//! says the verdict and what each mark means.

pub mod canvas;

pub mod view;

pub mod marks;

mod labels;

mod caption;

use crate::finding::Finding;
use image::imageops::{self, FilterType};
use image::{GenericImage, RgbImage};
use labels::Labels;
use marks::Band;
use view::View;

/// The long side of the drawn photograph, pixels, at most; a smaller photograph is not enlarged.
pub const LONG_SIDE_PX: u32 = 1600;

/// The photograph with the finding drawn on it, and the strip below.
///
/// `photo` must be the upright photograph that the finding was measured on. The result is as wide as the photograph, or
/// narrower where its long side is more than [`LONG_SIDE_PX`], and higher by the strip. Whatever of the drawing lies
/// outside the photograph is left out.
pub fn annotate(photo: &RgbImage, finding: &Finding) -> RgbImage {
    let (width, height) = photo.dimensions();
    if width == 0 || height == 0 {
        return photo.clone();
    }
    let zoom = (f64::from(LONG_SIDE_PX) / f64::from(width.max(height))).min(1.0);
    let [shown_width, shown_height] = [width, height].map(|side| ((f64::from(side) * zoom).round() as u32).max(1));
    let mut picture = match zoom < 1.0 {
        true => imageops::resize(photo, shown_width, shown_height, FilterType::Triangle),
        false => photo.clone(),
    };
    let view = View::new(finding, zoom, [f64::from(shown_width), f64::from(shown_height)]);
    let bands: Vec<Band> =
        finding.verdict.stretches.iter().filter_map(|one| marks::stretch(&mut picture, &view, one)).collect();
    marks::lines(&mut picture, &view, finding);
    marks::seam(&mut picture, &view);
    marks::worst(&mut picture, &view, finding);
    marks::jumps(&mut picture, &view, finding);
    let mut labels = Labels::new(&view);
    labels.bands(&mut picture, &bands);
    labels.offsets(&mut picture, &view, finding);

    let strip = caption::strip(&view, finding);
    let mut whole = RgbImage::new(shown_width, shown_height + strip.height());
    for (part, top) in [(&picture, 0), (&strip, shown_height)] {
        whole.copy_from(part, 0, top).expect("both parts are as wide as the whole, and together as high");
    }
    whole
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::report::picture::marks::OFF;
    use image::Rgb;

    const CLOTH: Rgb<u8> = Rgb([120, 130, 125]);

    fn drawn(finding: &Finding) -> RgbImage {
        annotate(&RgbImage::from_pixel(finding.photo.width_px, finding.photo.height_px, CLOTH), finding)
    }

    /// How many pixels of the box (left, top, right, bottom) have this colour.
    fn count(picture: &RgbImage, [l, t, r, b]: [u32; 4], colour: Rgb<u8>) -> usize {
        (t..b).flat_map(|y| (l..r).map(move |x| (x, y))).filter(|&(x, y)| *picture.get_pixel(x, y) == colour).count()
    }

    #[test]
    fn the_picture_keeps_its_width_and_grows_by_the_strip() {
        for (kind, finding) in sample::every_kind() {
            let picture = drawn(&finding);
            assert_eq!(picture.width(), finding.photo.width_px, "{kind}");
            assert!(picture.height() > finding.photo.height_px + 60, "{kind}");
        }
        let finding = sample::down().finding();
        let large = annotate(&RgbImage::from_pixel(4000, 3000, CLOTH), &finding);
        assert_eq!(large.width(), 1600);
        assert!(large.height() > 1200);
    }

    #[test]
    fn the_band_stands_where_the_stretch_is_and_nowhere_else() {
        let finding = sample::down().finding();
        let picture = drawn(&finding);
        let [inner, outer] = View::new(&finding, 1.0, [1200.0, 900.0]).band_mm();
        let stretch = finding.verdict.stretches[0];
        let band = |from_mm: f64, to_mm: f64| {
            let x = |v: f64| (600.0 - v / 0.16) as u32;
            let y = |u: f64| (10.0 + u / 0.16) as u32;
            count(&picture, [x(outer), y(from_mm), x(inner), y(to_mm)], OFF)
        };
        assert!(band(stretch.from_mm, stretch.to_mm) > 500);
        assert_eq!(band(5.0, stretch.from_mm - 3.0), 0);
        assert_eq!(band(stretch.to_mm + 3.0, 130.0), 0);
    }

    #[test]
    fn the_seam_is_dark_within_light() {
        let finding = sample::Recipe { lines: 0, slip_mm: [0.0, 1.0, 1.0], ..sample::down() }.finding();
        let picture = drawn(&finding);
        // Half way down the seam stands at x = 600.
        let row: Vec<u8> = (594..=606).map(|x| picture.get_pixel(x, 450).0[0]).collect();
        assert!(row[6] < 40 && row[4..6].iter().any(|v| *v > 200) && row[7..9].iter().any(|v| *v > 200), "{row:?}");
        assert_eq!(*picture.get_pixel(560, 450), CLOTH);
    }

    #[test]
    fn the_lines_are_drawn_where_each_side_has_them() {
        let finding = sample::Recipe { lines: 1, base_mm: 3.2, slip_mm: [0.0, 1.0, 1.0], ..sample::down() }.finding();
        let picture = drawn(&finding);
        // The line meets the seam at u = 10 mm; its left half 1.6 mm (10 px) higher, its right half as much lower.
        let dark = |x: u32, y: u32| *picture.get_pixel(x, y) == OFF;
        let [left, right]: [u32; 2] = [520, 660];
        let row = |x: u32| {
            (40..120).filter(|&y| dark(x, y)).map(f64::from).sum::<f64>()
                / (40..120).filter(|&y| dark(x, y)).count() as f64
        };
        assert!((row(left) - (10.0 + 62.5 - 10.0)).abs() < 2.5, "{}", row(left));
        assert!((row(right) - (10.0 + 62.5 + 10.0)).abs() < 2.5, "{}", row(right));
    }

    #[test]
    fn no_photograph_and_no_finding_panics() {
        let broken = |change: &dyn Fn(&mut Finding)| {
            let mut finding = sample::down().finding();
            change(&mut finding);
            finding
        };
        let findings = [
            broken(&|f| f.seam.path.points.clear()),
            broken(&|f| f.plane.mm_to_px *= 1e12),
            broken(&|f| f.plane.mm_to_px[(2, 0)] = 0.02),
            broken(&|f| f.plane.mm_to_px.fill(f64::NAN)),
            broken(&|f| f.offset.lines[3].offset_mm = f64::INFINITY),
            broken(&|f| f.lines.sides[0].slope = 1e9),
            broken(&|f| f.verdict.stretches[0].to_mm = 1e7),
            broken(&|f| f.verdict.stretches[0].to_mm = f.verdict.stretches[0].from_mm),
            broken(&|f| f.offset.readings.clear()),
        ];
        for size in [(1, 1), (300, 200), (30, 900), (900, 9), (0, 5)] {
            for finding in &findings {
                let picture = annotate(&RgbImage::from_pixel(size.0, size.1, CLOTH), finding);
                assert_eq!(picture.width(), size.0);
            }
        }
    }
}
