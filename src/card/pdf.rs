//! Step 5a: the laid out page as a PDF file.

use super::MM_PER_INCH;
use super::page::{Mark, Page};
use pdf_writer::{Content, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

/// Points to a millimetre.
///
/// # Source
/// The unit of default user space is 1/72 inch: ISO 32000-1, 8.3.2.3 (clause from memory).
const POINTS_PER_MM: f64 = 72.0 / MM_PER_INCH;

const REGULAR: Name = Name(b"Regular");
const BOLD: Name = Name(b"Bold");

/// The page's bytes as PDF 1.7.
///
/// The content stream begins by setting its unit to the millimetre with y downward, so that its numbers are the layout's
/// own. The file asks the viewer's print dialogue not to scale it.
pub(super) fn write(page: &Page) -> Vec<u8> {
    let [catalog_id, tree_id, page_id, content_id, regular_id, bold_id, info_id] = [1, 2, 3, 4, 5, 6, 7].map(Ref::new);
    let size = page.places.page;

    let mut pdf = Pdf::new();
    let mut catalog = pdf.catalog(catalog_id);
    catalog.pages(tree_id).lang(TextStr("en"));
    catalog.viewer_preferences().pair(Name(b"PrintScaling"), Name(b"None"));
    catalog.finish();
    pdf.document_info(info_id).title(TextStr(&page.title)).creator(TextStr("seamstep"));
    pdf.pages(tree_id).kids([page_id]).count(1);

    let mut leaf = pdf.page(page_id);
    let [width, height] = [size.width_mm, size.height_mm].map(|mm| (mm * POINTS_PER_MM) as f32);
    leaf.parent(tree_id).media_box(Rect::new(0.0, 0.0, width, height)).contents(content_id);
    leaf.resources().fonts().pair(REGULAR, regular_id).pair(BOLD, bold_id);
    leaf.finish();

    for (id, base) in [(regular_id, &b"Helvetica"[..]), (bold_id, b"Helvetica-Bold")] {
        pdf.type1_font(id).base_font(Name(base)).encoding_predefined(Name(b"WinAnsiEncoding"));
    }
    pdf.stream(content_id, &content(page));
    pdf.finish()
}

fn content(page: &Page) -> Vec<u8> {
    let mut content = Content::new();
    let unit = POINTS_PER_MM as f32;
    content.transform([unit, 0.0, 0.0, -unit, 0.0, (page.places.page.height_mm * POINTS_PER_MM) as f32]);
    for mark in &page.marks {
        match mark {
            Mark::Solid(rects) => {
                for rect in rects {
                    let [x, y, width, height] =
                        [rect.x_mm, rect.y_mm, rect.width_mm, rect.height_mm].map(|mm| mm as f32);
                    content.rect(x, y, width, height);
                }
                content.fill_nonzero();
            }
            Mark::Lines { ends, width_mm, grey } => {
                content.set_line_width(*width_mm as f32).set_stroke_gray(*grey);
                for [from, to] in ends {
                    content.move_to(from.x as f32, from.y as f32).line_to(to.x as f32, to.y as f32);
                }
                content.stroke();
            }
            Mark::Words { at, style, text } => {
                content
                    .begin_text()
                    .set_font(if style.bold { BOLD } else { REGULAR }, style.size_mm as f32)
                    .set_text_matrix([1.0, 0.0, 0.0, -1.0, at.x as f32, at.y as f32])
                    .show(Str(text.as_bytes()))
                    .end_text();
            }
        }
    }
    content.finish().into_vec()
}

#[cfg(test)]
mod tests {
    use super::super::{CardOptions, Paper, pdf};

    fn text_of(paper: Paper) -> String {
        String::from_utf8_lossy(&pdf(&CardOptions { side_mm: 30, paper }).expect("laid out")).into_owned()
    }

    #[test]
    fn the_sheet_is_as_large_as_the_paper() {
        // 210 × 297 mm (ISO 216, read) at 25.4 mm to the inch and 72 points to the inch (both from memory).
        assert!(text_of(Paper::A4).contains("/MediaBox [0 0 595.2756 841.8898]"));
        // 8.5 × 11 in (common practice, no source) at 72 points to the inch.
        assert!(text_of(Paper::Letter).contains("/MediaBox [0 0 612 792]"));
    }

    #[test]
    fn the_viewer_is_asked_not_to_scale() {
        let text = text_of(Paper::A4);
        assert!(text.contains("/PrintScaling /None"));
        assert!(!text.contains("/XObject"), "all vectors, no picture");
    }
}
