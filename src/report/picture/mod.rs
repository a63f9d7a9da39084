//! The face for the eye: the photograph straightened along the seam and as it was taken, the seam, its lines and their
//! jumps drawn on both, and strips of paper that say the verdict and what each mark means.
//!
//! Every picture is [`WIDTH_PX`] wide, and its words are high enough to be read where that is shown on a phone.

pub mod canvas;

pub mod view;

pub mod marks;

pub mod moves;

mod labels;

mod smaller;

mod straight;

mod caption;

use crate::finding::Finding;
use crate::threads;
pub use caption::words;
use image::{GenericImage, RgbImage};
use labels::Labels;
use view::View;
pub use view::WIDTH_PX;

/// The photograph as taken is drawn no higher than this.
const MOST_HEIGHT_PX: f64 = 2080.0;

/// Both panels with the verdict above and the legend below, one picture.
///
/// `photo` must be the upright photograph that the finding was measured on. The result is [`WIDTH_PX`] wide. Whatever of the
/// drawing lies outside the photograph is left out.
pub fn annotate(photo: &RgbImage, finding: &Finding) -> RgbImage {
    let heading = |text: &str| words(&[(text.to_owned(), false)]);
    let (straight, taken) = threads::both(|| straightened(photo, finding), || as_taken(photo, finding));
    let mut parts = vec![caption::title(finding)];
    parts.extend(straight);
    parts.push(heading("as photographed"));
    parts.push(taken);
    parts.push(caption::legend(finding));
    let mut whole = RgbImage::from_pixel(WIDTH_PX, parts.iter().map(RgbImage::height).sum(), canvas::LIGHT);
    let mut top = 0;
    for part in &parts {
        whole.copy_from(part, 0, top).expect("every part is as wide as the whole, and together they are as high");
        top += part.height();
    }
    whole
}

/// The photograph straightened along the seam, seam upright, true to scale both ways; a seam that runs across the
/// photograph is turned a quarter clockwise. Beside the cloth: a ruler, what is out of tolerance, the jumps, and on it the
/// move that cures them. [`WIDTH_PX`] wide; `None` where the seam has no path that can be drawn.
pub fn straightened(photo: &RgbImage, finding: &Finding) -> Option<RgbImage> {
    match photo.width().min(photo.height()) {
        0 => None,
        _ => straight::panel(photo, finding),
    }
}

/// The photograph as it was taken with the finding drawn on it, [`WIDTH_PX`] wide (beside paper where it is much higher than
/// wide).
pub fn as_taken(photo: &RgbImage, finding: &Finding) -> RgbImage {
    if photo.width().min(photo.height()) == 0 {
        return RgbImage::from_pixel(WIDTH_PX, 1, canvas::LIGHT);
    }
    let mut taken = Taken::of(photo);
    let (view, picture) = (View::taken(finding, taken.zoom, taken.size_px()), &mut taken.picture);
    let mut labels = Labels::new(&view);
    for stretch in &finding.verdict.stretches {
        labels.keep_off(marks::stretch(picture, &view, stretch).unwrap_or_default());
    }
    marks::should_run(picture, &view, finding);
    marks::lines(picture, &view, finding);
    marks::seam(picture, &view);
    marks::jumps(picture, &view, finding);
    marks::worst(picture, &view, finding);
    labels.offsets(picture, &view, finding);
    taken.on_paper()
}

/// A photograph as it was taken, in the size in which it is drawn on.
pub struct Taken {
    /// What is drawn on.
    pub picture: RgbImage,
    /// Its pixels to one of the photograph.
    pub zoom: f64,
}

impl Taken {
    /// As wide as every picture, or as high as may be; of a photograph with pixels.
    pub fn of(photo: &RgbImage) -> Self {
        let (width, height) = photo.dimensions();
        let zoom = (f64::from(WIDTH_PX) / f64::from(width)).min(MOST_HEIGHT_PX / f64::from(height));
        let [width, height] = [width, height].map(|side| ((f64::from(side) * zoom).round() as u32).max(1));
        Self { picture: smaller::resized(photo, width, height), zoom }
    }

    /// Width and height.
    pub fn size_px(&self) -> [f64; 2] {
        let (width, height) = self.picture.dimensions();
        [width, height].map(f64::from)
    }

    /// As wide as every picture, with paper to either side where it is narrower.
    pub fn on_paper(self) -> RgbImage {
        let (width, height) = self.picture.dimensions();
        if width >= WIDTH_PX {
            return self.picture;
        }
        let mut whole = RgbImage::from_pixel(WIDTH_PX, height, canvas::LIGHT);
        whole.copy_from(&self.picture, (WIDTH_PX - width) / 2, 0).expect("a narrower picture fits");
        whole
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::report::picture::marks::{CURE, OFF};
    use image::Rgb;

    const CLOTH: Rgb<u8> = Rgb([120, 130, 125]);

    /// As taken: 1200 × 900 pixels become 1170 × 878 (0.975 of the size).
    const ZOOM: f64 = 0.975;

    fn drawn(finding: &Finding) -> RgbImage {
        as_taken(&RgbImage::from_pixel(finding.photo.width_px, finding.photo.height_px, CLOTH), finding)
    }

    /// How many pixels of the box (left, top, right, bottom) have this colour.
    fn count(picture: &RgbImage, [l, t, r, b]: [u32; 4], colour: Rgb<u8>) -> usize {
        (t..b).flat_map(|y| (l..r).map(move |x| (x, y))).filter(|&(x, y)| *picture.get_pixel(x, y) == colour).count()
    }

    #[test]
    fn every_picture_is_as_wide_as_said_and_holds_both_panels() {
        for (kind, finding) in sample::every_kind() {
            let photo = RgbImage::from_pixel(finding.photo.width_px, finding.photo.height_px, CLOTH);
            let (straight, taken) = (straightened(&photo, &finding).unwrap(), as_taken(&photo, &finding));
            let whole = annotate(&photo, &finding);
            assert!([&straight, &taken, &whole].iter().all(|p| p.width() == WIDTH_PX), "{kind}");
            assert!(whole.height() > straight.height() + taken.height() + 200, "{kind}");
        }
        let narrow = as_taken(&RgbImage::from_pixel(100, 1000, CLOTH), &sample::down().finding());
        assert_eq!((narrow.width(), narrow.height()), (WIDTH_PX, 2080));
    }

    #[test]
    fn the_band_stands_where_the_stretch_is_and_nowhere_else() {
        let finding = sample::down().finding();
        let picture = drawn(&finding);
        let [inner, outer] = View::taken(&finding, ZOOM, [1170.0, 878.0]).band_mm();
        let stretch = finding.verdict.stretches[0];
        let band = |from_mm: f64, to_mm: f64| {
            let x = |v: f64| ((600.0 - v / 0.16) * ZOOM) as u32;
            let y = |u: f64| ((10.0 + u / 0.16) * ZOOM) as u32;
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
        // Half way down the seam stands at x = 600, drawn at 585.
        let row: Vec<u8> = (577..=592).map(|x| picture.get_pixel(x, 439).0[0]).collect();
        let dark = row.iter().position(|&v| v < 50).expect("a dark seam");
        assert!(row[..dark].iter().any(|&v| v > 200) && row[dark + 1..].iter().any(|&v| v > 200), "{row:?}");
        assert_eq!(*picture.get_pixel(545, 439), CLOTH);
    }

    #[test]
    fn the_lines_are_drawn_where_each_side_has_them_and_where_one_should_run() {
        let finding = sample::Recipe { lines: 1, base_mm: 3.2, slip_mm: [0.0, 1.0, 1.0], ..sample::down() }.finding();
        let picture = drawn(&finding);
        // The line meets the seam at u = 10 mm; its left half 1.6 mm (10 px) higher, its right half as much lower.
        let row = |x: u32, ink: Rgb<u8>| {
            let rows: Vec<f64> = (20..130).filter(|&y| *picture.get_pixel(x, y) == ink).map(f64::from).collect();
            rows.iter().sum::<f64>() / rows.len() as f64
        };
        let at = |u_px: f64| (10.0 + u_px + 0.5) * ZOOM - 0.5;
        let [left, right] = [520, 640];
        assert!((row(left, OFF) - at(62.5 - 10.0)).abs() < 2.5, "{}", row(left, OFF));
        assert!((row(right, OFF) - at(62.5 + 10.0)).abs() < 3.0, "{}", row(right, OFF));
        // On the right, which stands lower, the course of the left half is carried on in dashes.
        let dashed: Vec<u32> = (600..680).filter(|&x| (20..130).any(|y| *picture.get_pixel(x, y) == CURE)).collect();
        assert!(dashed.len() > 20 && dashed.windows(2).any(|pair| pair[1] > pair[0] + 4), "{dashed:?}");
        assert!((row(dashed[dashed.len() / 2], CURE) - at(62.5 - 10.0)).abs() < 4.0);
        assert!((400..570).all(|x| (20..130).all(|y| *picture.get_pixel(x, y) != CURE)));
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
            broken(&|f| f.offset.lines[3].runs_mm = [[1e9; 6], [f64::NAN; 6]]),
            broken(&|f| f.offset.worst_at_mm = f64::NAN),
            broken(&|f| f.seam.path.step_mm = 1e-9),
            broken(&|f| f.seam.path.step_mm = 1e9),
            broken(&|f| f.remedy.by_mm = None),
            broken(&|f| f.remedy.cures.iter_mut().for_each(|c| c.full_mm = [f64::NAN; 2])),
            broken(&|f| f.verdict.stretches[0].to_mm = 1e7),
            broken(&|f| f.verdict.stretches[0].to_mm = f.verdict.stretches[0].from_mm),
            broken(&|f| f.offset.readings.clear()),
        ];
        for size in [(1, 1), (300, 200), (30, 900), (900, 9), (0, 5)] {
            for finding in &findings {
                let picture = annotate(&RgbImage::from_pixel(size.0, size.1, CLOTH), finding);
                assert_eq!(picture.width(), WIDTH_PX);
            }
        }
    }
}
