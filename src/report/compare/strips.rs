//! Seams beside each other at one scale: each straightened along its seam, cut from its photograph, the seam upright.

use crate::ask::Answer;
use crate::finding::Finding;
use crate::problem::Problem;
use crate::report::picture::canvas::{DARK, LIGHT, Type, stroke, words_size, write};
use crate::units::PxPoint;
use image::{GenericImage, RgbImage, imageops};

/// Pixels to a millimetre of every strip.
pub const PX_PER_MM: f64 = 6.0;
/// Cloth shown to either side of the seam, millimetres, and the longest stretch of seam shown.
pub const HALF_MM: f64 = 22.0;
/// The longest stretch of seam that is shown, from its start.
pub const LONGEST_MM: f64 = 120.0;
/// The scale bar, millimetres.
const BAR_MM: f64 = 20.0;
/// Room around each strip, and the height of words, pixels.
const GAP_PX: u32 = 30;
const WORDS_PX: f32 = 30.0;

/// The strip of a seam by what came of its photograph; `None` where there is none to cut.
pub fn of(answer: &Result<Answer, Problem>) -> Option<RgbImage> {
    match answer {
        Ok(Answer::Found { photo, finding }) => strip(&photo.pixels, finding),
        _ => None,
    }
}

/// The strip of a seam that was measured in millimetres; `None` of any other, and where the seam's path cannot be drawn.
///
/// `photo` must be the upright photograph that the finding was measured on. What lies outside it stays paper.
pub fn strip(photo: &RgbImage, finding: &Finding) -> Option<RgbImage> {
    let Finding { seam, plane, .. } = finding;
    if !plane.is_metric() {
        return None;
    }
    let length_mm = seam.length_mm().min(LONGEST_MM);
    let finer = 1.0 / plane.mm_per_px_at(seam.at(seam.length_mm() / 2.0, 0.0)) / PX_PER_MM;
    if !(finer.is_finite() && length_mm > 0.0) {
        return None;
    }
    let width = (2.0 * HALF_MM * PX_PER_MM).round() as u32;
    let height = (length_mm * PX_PER_MM).round() as u32;
    let mut strip = RgbImage::from_pixel(width, height.max(1), LIGHT);
    // As many samples to a pixel, each way, as there are pixels of the photograph to it.
    let fine = finer.ceil().clamp(1.0, 4.0) as u32;
    for (x, y, pixel) in strip.enumerate_pixels_mut() {
        let (mut sum, mut count) = ([0.0f64; 3], 0.0);
        for k in 0..fine * fine {
            let part = |n: u32| (f64::from(n) + 0.5) / f64::from(fine);
            let u_mm = (f64::from(y) + part(k / fine)) / PX_PER_MM;
            let v_mm = (f64::from(x) + part(k % fine)) / PX_PER_MM - HALF_MM;
            let p = plane.to_px(seam.at(u_mm, v_mm));
            if let Some(seen) = imageops::interpolate_bilinear(photo, p.x as f32, p.y as f32) {
                sum.iter_mut().zip(seen.0).for_each(|(s, c)| *s += f64::from(c));
                count += 1.0;
            }
        }
        if count > 0.0 {
            pixel.0 = sum.map(|s| (s / count).round() as u8);
        }
    }
    Some(strip)
}

/// One of several strips.
#[derive(Clone, Debug)]
pub struct Labelled<'a> {
    /// The piece's name.
    pub name: &'a str,
    /// What was measured there, in a few words.
    pub told: String,
    /// The strip; `None` where there is none.
    pub strip: Option<&'a RgbImage>,
}

/// Strips side by side under their names and what was measured, the seam marked above and below each, and one scale bar for
/// all.
pub fn beside(strips: &[Labelled<'_>]) -> RgbImage {
    let look = Type { height_px: WORDS_PX, bold: true };
    let plain = Type { bold: false, ..look };
    let cell = (2.0 * HALF_MM * PX_PER_MM).round() as u32;
    let head = 2 * WORDS_PX as u32 + 44;
    let tallest = strips.iter().filter_map(|label| Some(label.strip?.height())).max().unwrap_or(0);
    let foot = 2 * WORDS_PX as u32 + 10;
    let [width, height] = [GAP_PX + strips.len() as u32 * (cell + GAP_PX), head + tallest + foot];
    let mut picture = RgbImage::from_pixel(width, height, LIGHT);
    for (k, Labelled { name, told, strip }) in strips.iter().enumerate() {
        let left = GAP_PX + k as u32 * (cell + GAP_PX);
        let at = |x: f64, y: f64| PxPoint::new(f64::from(left) + x, y);
        for (words, row, look) in [(*name, 2.0, look), (told.as_str(), 6.0 + f64::from(WORDS_PX), plain)] {
            let look = fitting(words, f64::from(cell), look);
            write(&mut picture, at(0.0, row), words, look, DARK);
        }
        let Some(strip) = strip else { continue };
        if picture.copy_from(*strip, left, head).is_err() {
            continue;
        }
        let middle = f64::from(cell) / 2.0;
        let bottom = f64::from(head + strip.height());
        for [from, to] in [[f64::from(head) - 20.0, f64::from(head) - 6.0], [bottom + 6.0, bottom + 20.0]] {
            stroke(&mut picture, at(middle, from), at(middle, to), 4.0, DARK);
        }
    }
    let row = f64::from(height) - 22.0;
    let [from, to] = [f64::from(GAP_PX), f64::from(GAP_PX) + BAR_MM * PX_PER_MM];
    stroke(&mut picture, PxPoint::new(from, row), PxPoint::new(to, row), 5.0, DARK);
    write(&mut picture, PxPoint::new(to + 12.0, row - 0.6 * f64::from(WORDS_PX)), "20 mm, all", plain, DARK);
    picture
}

/// Pictures one below the other, each under its heading.
pub fn stacked(parts: &[(String, RgbImage)]) -> RgbImage {
    let look = Type { height_px: 1.2 * WORDS_PX, bold: true };
    let head = (2.0 * WORDS_PX) as u32;
    let width = parts.iter().map(|(_, part)| part.width()).max().unwrap_or(1);
    let height: u32 = parts.iter().map(|(_, part)| part.height() + head).sum();
    let mut picture = RgbImage::from_pixel(width, height.max(1), LIGHT);
    let mut top = 0;
    for (heading, part) in parts {
        let corner = PxPoint::new(f64::from(GAP_PX), f64::from(top) + 10.0);
        let look = fitting(heading, f64::from(width - GAP_PX), look);
        write(&mut picture, corner, heading, look, DARK);
        // It fits: the picture was made for it.
        let _ = picture.copy_from(part, 0, top + head);
        top += part.height() + head;
    }
    picture
}

/// The look, smaller where the words would not fit into this width.
fn fitting(words: &str, width_px: f64, look: Type) -> Type {
    let share = (width_px / words_size(words, look)[0].max(1.0)).clamp(0.3, 1.0);
    Type { height_px: look.height_px * share as f32, ..look }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample;

    #[test]
    fn every_strip_has_the_same_scale_whatever_its_photograph_has() {
        let finding = sample::down().finding();
        let photo = RgbImage::from_pixel(finding.photo.width_px, finding.photo.height_px, image::Rgb([9, 90, 200]));
        let strip = strip(&photo, &finding).unwrap();
        let length_mm = finding.seam.length_mm().min(LONGEST_MM);
        assert_eq!(strip.width(), 264);
        assert!((f64::from(strip.height()) - PX_PER_MM * length_mm).abs() <= 0.5, "{}", strip.height());
        assert_eq!(strip.get_pixel(132, strip.height() / 2).0, [9, 90, 200]);
        assert!(super::strip(&photo, &sample::unscaled().finding()).is_none());
    }

    #[test]
    fn strips_stand_side_by_side_and_what_was_not_measured_leaves_room() {
        let red = RgbImage::from_pixel(264, 100, image::Rgb([200, 0, 0]));
        let label = |name, strip| Labelled { name, told: "jump 2.6 mm".into(), strip };
        let both =
            beside(&[label("Bought, with a name far too long for its strip", Some(&red)), label("Handmade", None)]);
        assert_eq!(both.width(), 3 * GAP_PX + 2 * 264);
        let count = both.pixels().filter(|p| p.0 == [200, 0, 0]).count();
        assert_eq!(count, 264 * 100);
        let all = stacked(&[("Back".into(), both.clone()), ("Pocket".into(), both.clone())]);
        assert_eq!((all.width(), all.height()), (both.width(), 2 * (both.height() + 60)));
        assert!(stacked(&[]).width() == 1);
    }
}
