//! Finds scale cards: QR symbols (ISO/IEC 18004) whose text is `seamstep:SIDE`.
//!
//! The reader's corners are only a start for [`super::refine`]: its bounds enclose one module too many
//! (rqrr 0.11.0), which is divided out here and asserted in a test, so that a change is noticed.

use super::homography;
use crate::photo::Photo;
use image::GrayImage;
use nalgebra::Matrix3;
use rqrr::{BitGrid, PreparedImage};

/// What every scale card's text begins with; the printed width in millimetres follows.
pub const TEXT_PREFIX: &str = "seamstep:";

/// Printed widths that are believed, millimetres.
pub const SIDE_RANGE_MM: std::ops::RangeInclusive<f64> = 5.0..=200.0;

/// A scale card as the QR reader sees it.
#[derive(Clone, Debug)]
pub struct SeenCard {
    /// Printed width of the symbol without its quiet zone, millimetres.
    pub side_mm: f64,
    /// Modules along one side of the symbol.
    pub modules: usize,
    /// The modules, row by row from the symbol's top left; true is dark.
    pub dark: Vec<bool>,
    /// Symbol coordinates in modules (0..modules) → picture pixels; good to a pixel or two.
    pub modules_to_px: Matrix3<f64>,
}

/// What the search for cards met.
#[derive(Clone, Debug, Default)]
pub struct Sightings {
    /// Every scale card that was read, largest in the picture first.
    pub cards: Vec<SeenCard>,
    /// QR symbols that say something else.
    pub others: usize,
}

/// Looks for scale cards in the picture: on reduced sizes first, then with the light evened out.
pub fn find(photo: &Photo) -> Sightings {
    let full = image::imageops::grayscale(&photo.pixels);
    let half = halved(&full);
    let quarter = halved(&half);
    let mut best = Sightings::default();
    let levels = [(&half, 2.0), (&full, 1.0), (&quarter, 4.0)];
    for even in [false, true] {
        for (level, factor) in levels {
            let seen = if even { read_level(&evened(level), factor) } else { read_level(level, factor) };
            best.others = best.others.max(seen.others);
            if !seen.cards.is_empty() {
                return Sightings { cards: seen.cards, ..best };
            }
        }
    }
    best
}

/// Each pixel against the mean and spread of its surroundings (a square of a tenth of the long side): a card in the
/// shade or out of focus gets the contrast of one in the light.
fn evened(grey: &GrayImage) -> GrayImage {
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    let reach = w.max(h) / 20;
    let mut sums = vec![[0.0f64; 2]; (w + 1) * (h + 1)];
    for y in 0..h {
        let mut row = [0.0f64; 2];
        for x in 0..w {
            let v = f64::from(grey.get_pixel(x as u32, y as u32).0[0]);
            row = [row[0] + v, row[1] + v * v];
            let above = sums[y * (w + 1) + x + 1];
            sums[(y + 1) * (w + 1) + x + 1] = [above[0] + row[0], above[1] + row[1]];
        }
    }
    GrayImage::from_fn(w as u32, h as u32, |x, y| {
        let (x, y) = (x as usize, y as usize);
        let (x0, x1) = (x.saturating_sub(reach), (x + reach + 1).min(w));
        let (y0, y1) = (y.saturating_sub(reach), (y + reach + 1).min(h));
        let count = ((x1 - x0) * (y1 - y0)) as f64;
        let total = |k: usize| {
            sums[y1 * (w + 1) + x1][k] - sums[y0 * (w + 1) + x1][k] - sums[y1 * (w + 1) + x0][k]
                + sums[y0 * (w + 1) + x0][k]
        };
        let mean = total(0) / count;
        let spread = (total(1) / count - mean * mean).max(4.0).sqrt();
        let v = f64::from(grey.get_pixel(x as u32, y as u32).0[0]);
        image::Luma([(128.0 + 64.0 * (v - mean) / spread).clamp(0.0, 255.0) as u8])
    })
}

/// The picture at half size: each pixel the mean of four.
fn halved(grey: &GrayImage) -> GrayImage {
    let (w, h) = (grey.width() / 2, grey.height() / 2);
    GrayImage::from_fn(w, h, |x, y| {
        let sum: u32 = [(0, 0), (1, 0), (0, 1), (1, 1)]
            .iter()
            .map(|&(i, j)| u32::from(grey.get_pixel(2 * x + i, 2 * y + j).0[0]))
            .sum();
        image::Luma([((sum + 2) / 4) as u8])
    })
}

fn read_level(grey: &GrayImage, factor: f64) -> Sightings {
    let (w, h) = (grey.width() as usize, grey.height() as usize);
    if w < 32 || h < 32 {
        return Sightings::default();
    }
    let mut prepared = PreparedImage::prepare_from_greyscale(w, h, |x, y| grey.get_pixel(x as u32, y as u32).0[0]);
    let mut seen = Sightings::default();
    for grid in prepared.detect_grids() {
        let Ok((_, text)) = grid.decode() else { continue };
        let Some(side_mm) = text.strip_prefix(TEXT_PREFIX).and_then(side_of) else {
            seen.others += 1;
            continue;
        };
        let modules = grid.grid.size();
        // The bounds belong to a square one module larger than the symbol.
        let n = (modules + 1) as f64;
        let square = [[0.0, 0.0], [n, 0.0], [n, n], [0.0, n]];
        // A reduced pixel's centre lies between the pixels it was made of.
        let to_full = |v: i32| (f64::from(v) + 0.5) * factor - 0.5;
        let corners = grid.bounds.map(|p| [to_full(p.x), to_full(p.y)]);
        let Some(modules_to_px) = homography::from_pairs(&square, &corners) else { continue };
        let dark = (0..modules * modules).map(|i| grid.grid.bit(i / modules, i % modules)).collect();
        seen.cards.push(SeenCard { side_mm, modules, dark, modules_to_px });
    }
    seen.cards.sort_by(|a, b| side_px(b).total_cmp(&side_px(a)));
    seen
}

fn side_of(text: &str) -> Option<f64> {
    text.parse().ok().filter(|side| SIDE_RANGE_MM.contains(side))
}

/// Mean side of the symbol in the picture, pixels.
pub fn side_px(card: &SeenCard) -> f64 {
    let n = card.modules as f64;
    let corners = [[0.0, 0.0], [n, 0.0], [n, n], [0.0, n]].map(|p| homography::apply(&card.modules_to_px, p));
    (0..4)
        .map(|k| (corners[k][0] - corners[(k + 1) % 4][0]).hypot(corners[k][1] - corners[(k + 1) % 4][1]))
        .sum::<f64>()
        / 4.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{Rgb, RgbImage};

    fn flat_card(text: &str, module_px: u32, margin_px: u32) -> (Photo, usize) {
        let code = qrcode::QrCode::new(text.as_bytes()).unwrap();
        let n = code.width() as u32;
        let colours = code.to_colors();
        let size = n * module_px + 2 * margin_px;
        let pixels = RgbImage::from_fn(size, size, |x, y| {
            let inside = |v: u32| v.checked_sub(margin_px).map(|v| v / module_px).filter(|&v| v < n);
            match (inside(x), inside(y)) {
                (Some(i), Some(j)) if colours[(j * n + i) as usize] == qrcode::Color::Dark => Rgb([20; 3]),
                _ => Rgb([235; 3]),
            }
        });
        (Photo { name: String::new(), pixels }, n as usize)
    }

    #[test]
    fn the_reader_s_bounds_are_one_module_too_large_and_it_is_divided_out() {
        let (photo, modules) = flat_card("seamstep:30", 12, 80);
        let card = &find(&photo).cards[0];
        assert_eq!((card.side_mm, card.modules), (30.0, modules));
        let side = side_px(card);
        let truth = 12.0 * modules as f64;
        assert!((side - truth).abs() < 0.02 * truth, "side {side} px, truth {truth}: has the reader's bound changed?");
    }

    #[test]
    fn other_symbols_are_counted_and_never_used() {
        for text in ["https://example.org", "seamstep:", "seamstep:abc", "seamstep:-30", "seamstep:1e9", "seamstep:NaN"]
        {
            let seen = find(&flat_card(text, 10, 60).0);
            assert!(seen.cards.is_empty() && seen.others == 1, "{text}");
        }
    }
}
