//! Step 5b: the laid out page as an SVG file.

use super::page::{Mark, Page};
use maud::html;
use std::fmt::Write as _;

/// The page's text as SVG 1.1: `width` and `height` in mm, one user unit a millimetre.
pub(super) fn write(page: &Page) -> String {
    let size = page.places.page;
    let (width, height) = (number(size.width_mm), number(size.height_mm));
    let drawing = html! {
        svg xmlns="http://www.w3.org/2000/svg" width={ (width) "mm" } height={ (height) "mm" }
            viewBox={ "0 0 " (width) " " (height) } font-family="Helvetica, Arial, sans-serif" {
            title { (page.title) }
            rect width=(width) height=(height) fill="#ffffff" {}
            @for mark in &page.marks {
                @match mark {
                    Mark::Solid(_) => path d=(outline(mark)) fill="#000000" {},
                    Mark::Lines { width_mm, grey, .. } => {
                        path d=(outline(mark)) fill="none" stroke=(shade(*grey)) stroke-width=(number(*width_mm)) {}
                    },
                    Mark::Words { at, style, text } => {
                        text x=(number(at.x)) y=(number(at.y)) font-size=(number(style.size_mm))
                            font-weight=[style.bold.then_some("bold")] { (text) }
                    },
                }
            }
        }
    };
    drawing.into_string()
}

/// The path of a mark's rectangles or lines; empty for words.
fn outline(mark: &Mark) -> String {
    let mut path = String::new();
    let written = match mark {
        Mark::Solid(rects) => rects.iter().try_for_each(|rect| {
            let [left, top] = [rect.x_mm, rect.y_mm].map(number);
            let [right, bottom] = [rect.x_mm + rect.width_mm, rect.y_mm + rect.height_mm].map(number);
            write!(path, "M{left} {top}H{right}V{bottom}H{left}Z")
        }),
        Mark::Lines { ends, .. } => ends.iter().try_for_each(|[from, to]| {
            let [x0, y0, x1, y1] = [from.x, from.y, to.x, to.y].map(number);
            write!(path, "M{x0} {y0}L{x1} {y1}")
        }),
        Mark::Words { .. } => Ok(()),
    };
    written.expect("a String takes all that is written to it");
    path
}

/// Millimetres rounded to a nanometre, without needless zeros.
fn number(mm: f64) -> f64 {
    (mm * 1e6).round() / 1e6
}

fn shade(grey: f32) -> String {
    let level = (grey * 255.0).round() as u8;
    format!("#{level:02x}{level:02x}{level:02x}")
}

#[cfg(test)]
mod tests {
    use super::super::{CardOptions, Paper, svg};

    #[test]
    fn the_sheet_is_as_large_as_the_paper() {
        // 210 × 297 mm: ISO 216 (read). 8.5 × 11 in (common practice, no source) at 25.4 mm (from memory).
        let a4 = svg(&CardOptions { side_mm: 30, paper: Paper::A4 }).expect("laid out");
        assert!(a4.contains(r#"width="210mm" height="297mm" viewBox="0 0 210 297""#), "{}", &a4[..200]);
        let letter = svg(&CardOptions { side_mm: 30, paper: Paper::Letter }).expect("laid out");
        assert!(letter.contains(r#"width="215.9mm" height="279.4mm" viewBox="0 0 215.9 279.4""#), "{}", &letter[..200]);
    }

    #[test]
    fn words_are_escaped_and_no_picture_is_embedded() {
        let text = svg(&CardOptions::default()).expect("laid out");
        assert!(text.contains("&quot;actual size&quot;") && !text.contains("<image"));
    }
}
