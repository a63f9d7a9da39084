//! Ink on pixels: strokes and words, clipped to the picture whatever their coordinates.
//!
//! imageproc's own antialiased lines are one pixel thin, so a stroke of any width is laid here by its distance to each
//! pixel; words are imageproc's.

use crate::report::look;
use crate::units::PxPoint;
use ab_glyph::FontRef;
use image::{Rgb, RgbImage};
use imageproc::drawing::{draw_text_mut, text_size};
use std::sync::LazyLock;

/// An 8-bit sRGB colour to draw with.
pub type Ink = Rgb<u8>;

/// Dark ink: the seam, jumps, words.
pub const DARK: Ink = Rgb(look::INK);
/// Light ink: the casing of everything that is drawn on cloth.
pub const LIGHT: Ink = Rgb(look::PAPER);

static REGULAR: LazyLock<FontRef<'static>> = LazyLock::new(|| font(dejavu::sans::regular()));
static BOLD: LazyLock<FontRef<'static>> = LazyLock::new(|| font(dejavu::sans::bold()));

fn font(bytes: &'static [u8]) -> FontRef<'static> {
    FontRef::try_from_slice(bytes).expect("the font inside the program is whole")
}

/// How words look.
#[derive(Clone, Copy, Debug)]
pub struct Type {
    /// Height of a line of words, pixels.
    pub height_px: f32,
    /// Bold or regular.
    pub bold: bool,
}

/// An upright rectangle, pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Left, top, right and bottom edge.
    pub edges_px: [f64; 4],
}

impl Frame {
    /// The rectangle of this width and height around `middle`.
    pub fn around(middle: PxPoint, width_px: f64, height_px: f64) -> Self {
        let (w, h) = (width_px / 2.0, height_px / 2.0);
        Frame { edges_px: [middle.x - w, middle.y - h, middle.x + w, middle.y + h] }
    }

    /// Whether two rectangles share a point.
    pub fn touches(self, other: Self) -> bool {
        let ([l, t, r, b], [ol, ot, or, ob]) = (self.edges_px, other.edges_px);
        l <= or && ol <= r && t <= ob && ot <= b
    }

    /// Whether the point lies in the rectangle widened by `margin_px`.
    pub fn holds(self, p: PxPoint, margin_px: f64) -> bool {
        let [l, t, r, b] = self.edges_px;
        p.x >= l - margin_px && p.x <= r + margin_px && p.y >= t - margin_px && p.y <= b + margin_px
    }

    /// The rectangle moved as little as puts it inside a picture of this size.
    pub fn moved_inside(self, size_px: [f64; 2]) -> Self {
        let [l, t, r, b] = self.edges_px;
        let shift = |low: f64, high: f64, size: f64| if low < 0.0 { -low } else { (size - 1.0 - high).min(0.0) };
        let (dx, dy) = (shift(l, r, size_px[0]), shift(t, b, size_px[1]));
        Frame { edges_px: [l + dx, t + dy, r + dx, b + dy] }
    }

    /// Whether it lies inside a picture of this size.
    pub fn is_inside(self, size_px: [f64; 2]) -> bool {
        let [l, t, r, b] = self.edges_px;
        l >= 0.0 && t >= 0.0 && r <= size_px[0] - 1.0 && b <= size_px[1] - 1.0
    }
}

/// A stroke with round ends, `width_px` wide.
pub fn stroke(picture: &mut RgbImage, a: PxPoint, b: PxPoint, width_px: f64, ink: Ink) {
    if ![a.x, a.y, b.x, b.y, width_px].iter().all(|v| v.is_finite()) {
        return;
    }
    let reach = width_px / 2.0 + 1.0;
    let span = |low: f64, high: f64, size: u32| {
        let size = f64::from(size);
        ((low - reach).clamp(0.0, size) as u32, (high + reach).ceil().clamp(0.0, size) as u32)
    };
    let (left, right) = span(a.x.min(b.x), a.x.max(b.x), picture.width());
    let (top, bottom) = span(a.y.min(b.y), a.y.max(b.y), picture.height());
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let square = (dx * dx + dy * dy).max(1e-12);
    for y in top..bottom {
        for x in left..right {
            let (px, py) = (f64::from(x) - a.x, f64::from(y) - a.y);
            let f = ((px * dx + py * dy) / square).clamp(0.0, 1.0);
            let cover = (width_px / 2.0 + 0.5 - (px - f * dx).hypot(py - f * dy)).clamp(0.0, 1.0);
            if cover > 0.0 {
                mix(picture.get_pixel_mut(x, y), ink, cover);
            }
        }
    }
}

/// A stroke of `ink` in a casing that keeps it apart from any cloth.
pub fn cased(picture: &mut RgbImage, a: PxPoint, b: PxPoint, width_px: f64, ink: Ink) {
    cased_all(picture, &[[a, b]], width_px, ink);
}

/// Several strokes in one casing: no casing covers another's ink.
pub fn cased_all(picture: &mut RgbImage, strokes: &[[PxPoint; 2]], width_px: f64, ink: Ink) {
    strokes.iter().for_each(|&[a, b]| stroke(picture, a, b, width_px * 1.6 + 2.0, LIGHT));
    strokes.iter().for_each(|&[a, b]| stroke(picture, a, b, width_px, ink));
}

/// A stroke through several points.
pub fn path(picture: &mut RgbImage, points: &[PxPoint], width_px: f64, ink: Ink) {
    points.windows(2).for_each(|pair| stroke(picture, pair[0], pair[1], width_px, ink));
}

/// A rectangle filled.
pub fn fill(picture: &mut RgbImage, frame: Frame, ink: Ink) {
    let [left, top, right, bottom] = frame.edges_px;
    let span = |low: f64, high: f64, size: u32| {
        low.clamp(0.0, f64::from(size)) as u32..high.clamp(0.0, f64::from(size)) as u32
    };
    for y in span(top, bottom, picture.height()) {
        for x in span(left, right, picture.width()) {
            picture.put_pixel(x, y, ink);
        }
    }
}

/// The point `f` of the way from `a` to `b`.
pub fn between(a: PxPoint, b: PxPoint, f: f64) -> PxPoint {
    PxPoint::new(a.x + f * (b.x - a.x), a.y + f * (b.y - a.y))
}

/// Width and height of `words`, pixels.
pub fn words_size(words: &str, look: Type) -> [f64; 2] {
    let (width, _) =
        if look.bold { text_size(look.height_px, &*BOLD, words) } else { text_size(look.height_px, &*REGULAR, words) };
    [f64::from(width), f64::from(look.height_px)]
}

/// `words` with their top-left corner at `corner`.
pub fn write(picture: &mut RgbImage, corner: PxPoint, words: &str, look: Type, ink: Ink) {
    if !(corner.x.abs() < 1e6 && corner.y.abs() < 1e6) {
        return;
    }
    let (x, y) = (corner.x.round() as i32, corner.y.round() as i32);
    match look.bold {
        true => draw_text_mut(picture, ink, x, y, look.height_px, &*BOLD, words),
        false => draw_text_mut(picture, ink, x, y, look.height_px, &*REGULAR, words),
    }
}

/// `words` in dark ink with a light halo, readable on any cloth.
pub fn write_on_cloth(picture: &mut RgbImage, corner: PxPoint, words: &str, look: Type) {
    let halo = f64::from(look.height_px / 9.0).max(1.0);
    for k in 0..12 {
        let (sin, cos) = (f64::from(k) * std::f64::consts::TAU / 12.0).sin_cos();
        write(picture, PxPoint::new(corner.x + halo * cos, corner.y + halo * sin), words, look, LIGHT);
    }
    write(picture, corner, words, look, DARK);
}

fn mix(pixel: &mut Ink, ink: Ink, cover: f64) {
    for (old, new) in pixel.0.iter_mut().zip(ink.0) {
        *old = (f64::from(*old) * (1.0 - cover) + f64::from(new) * cover).round() as u8;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stroke_is_as_wide_as_asked() {
        let mut picture = RgbImage::from_pixel(40, 20, LIGHT);
        stroke(&mut picture, PxPoint::new(5.0, 10.0), PxPoint::new(35.0, 10.0), 4.0, DARK);
        let darkness: f64 = (0..20).map(|y| 1.0 - (f64::from(picture.get_pixel(20, y).0[0]) - 29.0) / 226.0).sum();
        assert!((darkness - 4.0).abs() < 0.1, "{darkness}");
    }

    #[test]
    fn nothing_off_the_picture_panics() {
        let mut picture = RgbImage::from_pixel(30, 20, LIGHT);
        for x in [-1e300, -1e9, -5.0, 25.0, 1e9, f64::INFINITY, f64::NAN] {
            let (a, b) = (PxPoint::new(x, 10.0), PxPoint::new(10.0, x));
            stroke(&mut picture, a, b, 3.0, DARK);
            path(&mut picture, &[a, b, a], 3.0, DARK);
            fill(&mut picture, Frame { edges_px: [x, x, -x, -x] }, LIGHT);
            write_on_cloth(&mut picture, a, "off", Type { height_px: 12.0, bold: true });
        }
        assert_eq!(picture.dimensions(), (30, 20));
    }

    #[test]
    fn a_frame_is_moved_inside_and_no_further() {
        let frame = Frame::around(PxPoint::new(-3.0, 95.0), 20.0, 20.0).moved_inside([100.0, 100.0]);
        assert_eq!(frame.edges_px, [0.0, 79.0, 20.0, 99.0]);
        assert!(frame.is_inside([100.0, 100.0]));
    }
}
