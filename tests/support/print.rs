//! A printer without paper: the card's files drawn as pictures, by code that shares nothing with the writers.

use image::RgbImage;
use resvg::tiny_skia::{Color, FillRule, Paint, PathBuilder, Pixmap, Stroke, Transform};
use resvg::usvg;
use seamstep::card::PageRect;

/// The part `window` of a printed SVG page at a true `px_per_mm`, on white; its words are left out.
///
/// The picture has `window`'s size times `px_per_mm`, rounded up; its top left pixel's outer corner is `window`'s.
pub fn print_svg(svg: &str, px_per_mm: f64, window: PageRect) -> RgbImage {
    let tree = usvg::Tree::from_str(svg, &usvg::Options::default()).expect("a valid SVG");
    let mut paper = sheet(px_per_mm, window);
    // The renderer's unit is the CSS pixel: 96 to the inch (CSS Values and Units, from memory).
    resvg::render(&tree, placed(px_per_mm * 25.4 / 96.0, px_per_mm, window), &mut paper.as_mut());
    rgb(&paper)
}

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

fn sheet(px_per_mm: f64, window: PageRect) -> Pixmap {
    let [width_px, height_px] = [window.width_mm, window.height_mm].map(|mm| (mm * px_per_mm).ceil() as u32);
    let mut paper = Pixmap::new(width_px, height_px).expect("a picture of some size");
    paper.fill(Color::WHITE);
    paper
}

/// From a file's units to the pixels of `window`.
fn placed(px_per_unit: f64, px_per_mm: f64, window: PageRect) -> Transform {
    let [x_px, y_px] = [window.x_mm, window.y_mm].map(|mm| (-mm * px_per_mm) as f32);
    Transform::from_row(px_per_unit as f32, 0.0, 0.0, px_per_unit as f32, x_px, y_px)
}

fn ink(grey: f32) -> Paint<'static> {
    let mut paint = Paint::default();
    paint.set_color(Color::from_rgba(grey, grey, grey, 1.0).expect("a grey between 0 and 1"));
    paint
}

fn rgb(paper: &Pixmap) -> RgbImage {
    let bytes = paper.data().chunks_exact(4).flat_map(|pixel| pixel[..3].to_vec()).collect();
    RgbImage::from_raw(paper.width(), paper.height(), bytes).expect("three bytes a pixel")
}
