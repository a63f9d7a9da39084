//! Paper and inches.

use seamstep::card::{CardOptions, MM_PER_INCH, Paper, on_page, pdf};

/// ISO 216: A4 is 210 × 297 mm (tables read in an encyclopedia's copy).
const A4_MM: [f64; 2] = [210.0, 297.0];
/// ISO 216: A5 is 148 × 210 mm (the same tables, read).
const A5_MM: [f64; 2] = [148.0, 210.0];
/// The yard-and-pound agreement of 1959: an inch is 25.4 mm exactly (from memory).
const INCH_MM: f64 = 25.4;
/// The PostScript Language Reference: a point is 1/72 in, 0.352777… mm (from memory).
const POINT_MM: f64 = 0.352_777_777_777_777_8;

#[test]
fn paper_sizes_and_the_inch_are_the_published_ones() {
    assert_eq!(MM_PER_INCH, INCH_MM);
    assert_eq!(Paper::A4.size_mm(), A4_MM);
    // A5 is A4 halved along its long side, rounded down to the millimetre: the rule of the series (ISO 216, read).
    assert_eq!([(Paper::A4.size_mm()[1] / 2.0).floor(), Paper::A4.size_mm()[0]], A5_MM);
    // US Letter, 8.5 × 11 in: common practice, no source.
    let [width_mm, height_mm] = Paper::Letter.size_mm();
    assert!((width_mm / INCH_MM - 8.5).abs() < 1e-12 && (height_mm / INCH_MM - 11.0).abs() < 1e-12);
}

#[test]
fn the_pdf_page_is_the_paper_counted_in_points() {
    for paper in [Paper::A4, Paper::Letter] {
        let options = CardOptions { paper, ..CardOptions::default() };
        let bytes = pdf(&options).expect("written");
        let text = String::from_utf8_lossy(&bytes);
        let (_, rest) = text.split_once("/MediaBox [").expect("a media box");
        let (media_box, _) = rest.split_once(']').expect("its end");
        let corners: Vec<f64> = media_box.split(' ').map(|word| word.parse().expect("a number")).collect();
        let page = on_page(&options).expect("laid out").page;
        for (points, due_mm) in corners.iter().zip([0.0, 0.0, page.width_mm, page.height_mm]) {
            assert!((points * POINT_MM - due_mm).abs() < 1e-4, "{paper:?}: {points} points for {due_mm} mm");
        }
    }
}
