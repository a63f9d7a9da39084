//! The printed card, measured on the printed page: its files are drawn by code that shares nothing with their
//! writers, and what was drawn is measured in millimetres.

#[path = "support/print.rs"]
mod print;
#[path = "support/print_pdf.rs"]
mod print_pdf;

use image::RgbImage;
use print::print_svg;
use print_pdf::print_pdf;
use seamstep::card::{CardOptions, OnPage, PageRect, Paper, on_page, pdf, svg};

const PX_PER_MM: f64 = 10.0;
/// How far the drawn page may be from the true one, millimetres.
const NEAR_MM: f64 = 0.02;

/// A drawn page that is asked in millimetres.
struct Drawn {
    format: &'static str,
    options: CardOptions,
    places: OnPage,
    picture: RgbImage,
}

/// The usual card, the largest and the smallest, on both papers, as drawn from both files.
fn drawn() -> Vec<Drawn> {
    let cards = [(30, Paper::A4), (60, Paper::Letter), (20, Paper::A4)];
    cards
        .into_iter()
        .flat_map(|(side_mm, paper)| {
            let options = CardOptions { side_mm, paper };
            let places = on_page(&options).expect("laid out");
            let by_svg = print_svg(&svg(&options).expect("written"), PX_PER_MM, places.page);
            let by_pdf = print_pdf(&pdf(&options).expect("written"), PX_PER_MM, places.page);
            [("SVG", by_svg), ("PDF", by_pdf)].map(|(format, picture)| Drawn { format, options, places, picture })
        })
        .collect()
}

impl Drawn {
    /// Share of ink at a pixel, 0 to 1.
    fn ink(&self, x_px: u32, y_px: u32) -> f64 {
        1.0 - f64::from(self.picture.get_pixel(x_px, y_px)[1]) / 255.0
    }

    /// The ink along a horizontal (or else vertical) stretch of one pixel's breadth: place in mm and share.
    fn stretch(&self, horizontal: bool, beside_mm: f64, from_mm: f64, to_mm: f64) -> Vec<(f64, f64)> {
        let beside_px = (beside_mm * PX_PER_MM) as u32;
        let pixels = (from_mm * PX_PER_MM).round() as u32..(to_mm * PX_PER_MM).round() as u32;
        pixels
            .map(|along_px| {
                let ink = if horizontal { self.ink(along_px, beside_px) } else { self.ink(beside_px, along_px) };
                ((f64::from(along_px) + 0.5) / PX_PER_MM, ink)
            })
            .collect()
    }

    /// Where white gives way to ink between a white place and an inked one, from the share of ink between them.
    fn edge_mm(&self, horizontal: bool, beside_mm: f64, white_mm: f64, inked_mm: f64) -> f64 {
        let (from_mm, to_mm) = (white_mm.min(inked_mm), white_mm.max(inked_mm));
        let stretch = self.stretch(horizontal, beside_mm, from_mm, to_mm);
        let inked: f64 = stretch.iter().map(|(_, ink)| ink / PX_PER_MM).sum();
        let end_mm = (inked_mm * PX_PER_MM).round() / PX_PER_MM;
        if white_mm < inked_mm { end_mm - inked } else { end_mm + inked }
    }

    /// The middle of the ink of the one tick within 0.4 mm of a place.
    fn tick_mm(&self, y_mm: f64, near_mm: f64) -> f64 {
        let stretch = self.stretch(true, y_mm, near_mm - 0.4, near_mm + 0.4);
        let all: f64 = stretch.iter().map(|(_, ink)| ink).sum();
        assert!(all / PX_PER_MM > 0.1, "{}: no tick near {near_mm} mm", self.format);
        stretch.iter().map(|(at_mm, ink)| at_mm * ink).sum::<f64>() / all
    }

    fn says(&self, window: PageRect) -> Vec<String> {
        let [x, y, width, height] =
            [window.x_mm, window.y_mm, window.width_mm, window.height_mm].map(|mm| (mm * PX_PER_MM) as u32);
        let cut = image::imageops::crop_imm(&self.picture, x, y, width, height).to_image();
        rqrr::PreparedImage::prepare_from_greyscale(width as usize, height as usize, |x, y| {
            cut.get_pixel(x as u32, y as u32)[1]
        })
        .detect_grids()
        .iter()
        .map(|grid| grid.decode().expect("readable").1)
        .collect()
    }
}

#[test]
fn the_symbol_is_as_wide_and_high_as_it_says() {
    for drawn in drawn() {
        let symbol = drawn.places.symbol;
        let side_mm = f64::from(drawn.options.side_mm);
        let module_mm = side_mm / 25.0;
        let [near_x_mm, near_y_mm] = [symbol.x_mm + 0.5 * module_mm, symbol.y_mm + 0.5 * module_mm];
        let [far_x_mm, far_y_mm] = [symbol.x_mm + side_mm, symbol.y_mm + side_mm];
        // The outermost row runs through the two upper finders, the outermost column through the two left ones.
        let left_mm = drawn.edge_mm(true, near_y_mm, symbol.x_mm - 2.0, symbol.x_mm + 2.0);
        let right_mm = drawn.edge_mm(true, near_y_mm, far_x_mm + 2.0, far_x_mm - 2.0);
        let top_mm = drawn.edge_mm(false, near_x_mm, symbol.y_mm - 2.0, symbol.y_mm + 2.0);
        let bottom_mm = drawn.edge_mm(false, near_x_mm, far_y_mm + 2.0, far_y_mm - 2.0);
        let (format, options) = (drawn.format, drawn.options);
        assert!((right_mm - left_mm - side_mm).abs() < NEAR_MM, "{format} {options:?}: {}", right_mm - left_mm);
        assert!((bottom_mm - top_mm - side_mm).abs() < NEAR_MM, "{format} {options:?}: {}", bottom_mm - top_mm);
        assert!((left_mm - symbol.x_mm).abs() < NEAR_MM, "{format} {options:?}: {left_mm}");
        assert!((top_mm - symbol.y_mm).abs() < NEAR_MM, "{format} {options:?}: {top_mm}");
    }
}

#[test]
fn the_symbol_says_its_side_on_the_page_and_on_the_cut_card() {
    for drawn in drawn() {
        let text = format!("seamstep:{}", drawn.options.side_mm);
        for window in [drawn.places.page, drawn.places.card] {
            let window = PageRect { width_mm: window.width_mm - 0.1, height_mm: window.height_mm - 0.1, ..window };
            assert_eq!(drawn.says(window), [text.as_str()], "{} {:?}", drawn.format, drawn.options);
        }
    }
}

#[test]
fn no_light_shows_between_rows_of_modules() {
    for drawn in drawn() {
        let symbol = drawn.places.symbol;
        let module_mm = f64::from(drawn.options.side_mm) / 25.0;
        // The upper left finder's left column is seven dark modules, its heart three by three.
        for (column, first, last) in [(0.5, 0.0, 7.0), (3.5, 2.0, 5.0)] {
            let x_mm = symbol.x_mm + column * module_mm;
            let [from_mm, to_mm] = [symbol.y_mm + first * module_mm + 0.2, symbol.y_mm + last * module_mm - 0.2];
            for (y_mm, ink) in drawn.stretch(false, x_mm, from_mm, to_mm) {
                assert!(ink > 0.97, "{} {:?}: ink {ink} at {y_mm} mm", drawn.format, drawn.options);
            }
        }
    }
}

#[test]
fn the_ruler_is_100_mm_and_4_inches_long() {
    for drawn in drawn() {
        let ruler = drawn.places.ruler;
        let zero_mm = drawn.tick_mm(ruler.y_mm + 6.0, ruler.x_mm);
        assert!((zero_mm - ruler.x_mm).abs() < NEAR_MM, "{} {zero_mm}", drawn.format);
        for centimetre in 1..=10 {
            let due_mm = f64::from(centimetre) * 10.0;
            let found_mm = drawn.tick_mm(ruler.y_mm + 6.0, ruler.x_mm + due_mm) - zero_mm;
            assert!((found_mm - due_mm).abs() < NEAR_MM, "{}: {found_mm} instead of {due_mm} mm", drawn.format);
        }
        for millimetre in 0..=100 {
            let due_mm = ruler.x_mm + f64::from(millimetre);
            let found_mm = drawn.tick_mm(ruler.y_mm + 2.0, due_mm);
            assert!((found_mm - due_mm).abs() < NEAR_MM, "{}: tick {millimetre} at {found_mm} mm", drawn.format);
        }
        for inch in 0..=4 {
            // The inch is 25.4 mm exactly (agreement of 1959, from memory).
            let due_mm = ruler.x_mm + f64::from(inch) * 25.4;
            let found_mm = drawn.tick_mm(ruler.y_mm + 15.0 + 6.0, due_mm);
            assert!((found_mm - due_mm).abs() < NEAR_MM, "{}: inch {inch} at {found_mm} mm", drawn.format);
        }
    }
}

#[test]
fn equal_options_give_equal_bytes() {
    let options = CardOptions::default();
    assert_eq!(pdf(&options).expect("written"), pdf(&options).expect("written"));
    assert_eq!(svg(&options).expect("written"), svg(&options).expect("written"));
}
