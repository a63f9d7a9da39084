//! The same printer for the card's PDF.

use crate::print::{placed, rgb, sheet};
use image::RgbImage;
use resvg::tiny_skia::{Color, FillRule, Paint, PathBuilder, Stroke, Transform};
use seamstep::card::PageRect;

/// The part `window` of a printed PDF page at a true `px_per_mm`, on white; its words are left out.
///
/// Reads the page's content stream, uncompressed, and paints the rectangles and lines that it holds. An operator that
/// it does not know is a failure, so that nothing drawn goes unseen.
pub fn print_pdf(pdf: &[u8], px_per_mm: f64, window: PageRect) -> RgbImage {
    let text = String::from_utf8_lossy(pdf);
    let media_box = numbers(text.split("/MediaBox [").nth(1).and_then(|rest| rest.split(']').next()).expect("a box"));
    let content = text.split("\nstream\n").nth(1).and_then(|rest| rest.split("\nendstream").next()).expect("a stream");

    let mut paper = sheet(px_per_mm, window);
    // Default user space: 72 units to the inch, y upward from the lower edge (ISO 32000-1, from memory).
    let page = placed(px_per_mm * 25.4 / 72.0, px_per_mm, window).pre_concat(Transform::from_row(
        1.0,
        0.0,
        0.0,
        -1.0,
        0.0,
        media_box[3],
    ));
    let (mut space, mut path, mut stroke, mut grey) = (page, PathBuilder::new(), Stroke::default(), 0.0);
    for line in content.lines() {
        let (operands, operator) = line.rsplit_once(' ').unwrap_or(("", line));
        match operator {
            "BT" | "Tf" | "Tm" | "Tj" | "ET" => continue,
            _ => {}
        }
        let operands = numbers(operands);
        match (operator, operands.as_slice()) {
            ("cm", &[a, b, c, d, e, f]) => space = space.pre_concat(Transform::from_row(a, b, c, d, e, f)),
            ("w", &[width]) => stroke.width = width,
            ("G", &[level]) => grey = level,
            ("m", &[x, y]) => path.move_to(x, y),
            ("l", &[x, y]) => path.line_to(x, y),
            ("re", &[x, y, width, height]) => {
                path.move_to(x, y);
                path.line_to(x + width, y);
                path.line_to(x + width, y + height);
                path.line_to(x, y + height);
                path.close();
            }
            ("f", []) => {
                let outline = std::mem::take(&mut path).finish().expect("a path");
                paper.fill_path(&outline, &ink(0.0), FillRule::Winding, space, None);
            }
            ("S", []) => {
                let outline = std::mem::take(&mut path).finish().expect("a path");
                paper.stroke_path(&outline, &ink(grey), &stroke, space, None);
            }
            _ => panic!("an operator that this printer does not know: {line}"),
        }
    }
    rgb(&paper)
}

fn numbers(text: &str) -> Vec<f32> {
    text.split_whitespace().map(|word| word.parse().unwrap_or_else(|_| panic!("not a number: {word}"))).collect()
}

fn ink(grey: f32) -> Paint<'static> {
    let mut paint = Paint::default();
    paint.set_color(Color::from_rgba(grey, grey, grey, 1.0).expect("a grey between 0 and 1"));
    paint
}
