//! The sheet on one page that needs nothing beside it.

use super::phrase;
use crate::ask::Answer;
use crate::garment::Sheet;
use crate::problem::Problem;
use crate::report::chart::{self, Chart};
use crate::report::html::{alternative, embedded, stands, unbroken, whole};
use crate::report::phrase::{first_word, sentence};
use crate::report::picture;
use image::imageops::FilterType;
use image::{RgbImage, imageops};
use maud::{Markup, PreEscaped, html};

/// Width of a seam's picture: a sheet holds many, and two of its pixels are one of a phone's 390.
const WIDTH_PX: u32 = 780;

/// The picture of a seam, straightened, as the page holds it; `None` where there is none to draw.
///
/// # Errors
/// [`Problem::Io`] where it cannot be encoded.
pub fn picture(answer: &Result<Answer, Problem>) -> Result<Option<String>, Problem> {
    let Ok(Answer::Found { photo, finding }) = answer else { return Ok(None) };
    let straight = picture::straightened(&photo.pixels, finding);
    straight.map(|straight| embedded(&smaller(&straight))).transpose()
}

/// The picture [`WIDTH_PX`] wide.
fn smaller(picture: &RgbImage) -> RgbImage {
    let height = (f64::from(picture.height()) * f64::from(WIDTH_PX) / f64::from(picture.width())).round();
    imageops::resize(picture, WIDTH_PX, (height as u32).max(1), FilterType::CatmullRom)
}

/// The whole page; `pictures` are those of [`picture()`], in the order of the piece's seams.
///
/// # Errors
/// [`Problem::Io`] where a chart cannot be drawn.
pub fn page(sheet: &Sheet, pictures: &[Option<String>]) -> Result<String, Problem> {
    let seams = sheet
        .worst_first
        .iter()
        .map(|&k| seam(sheet, k, pictures.get(k).and_then(Option::as_ref)))
        .collect::<Result<Vec<_>, _>>()?;
    let cautions = phrase::cautions(sheet);
    let body = html! {
        header {
            h1 { (stands(sheet.standing, first_word(sheet.standing))) " " (sheet.garment.name) }
            p { (unbroken(&phrase::overall(sheet))) }
            p.soft { (sentence(&phrase::piece(sheet))) }
        }
        (redo(sheet))
        (table(sheet))
        @for seam in &seams { (seam) }
        section {
            h2 { "How to read it" }
            p { (chart_reading()) }
            @for line in phrase::reading() { p { (line) } }
        }
        @if !cautions.is_empty() {
            section {
                h2 { "Take care" }
                ul { @for caution in cautions { li { (caution) } } }
            }
        }
    };
    Ok(whole(&format!("{} – {}", first_word(sheet.standing), sheet.garment.name), &body))
}

fn redo(sheet: &Sheet) -> Markup {
    html! {
        @if let Some(time) = phrase::whole_time(sheet) {
            section {
                h2 { "What to redo, in this order" }
                ol {
                    @for step in &sheet.redo {
                        li {
                            strong { (sheet.garment.seams[step.seam].name) }
                            @if let Some(minutes) = phrase::minutes_of(sheet, step.seam) { " (about " (minutes) ")" }
                            p.instruction { (unbroken(&phrase::instruction(sheet, step))) }
                            @for line in phrase::closes(sheet, step) { p { (line) } }
                        }
                    }
                }
                p { strong { (time) } }
                p.soft { (phrase::ORDER_SOURCE) }
            }
        }
    }
}

fn table(sheet: &Sheet) -> Markup {
    let cell = |text: Option<String>| text.map_or_else(|| "–".to_owned(), |text| unbroken(&text));
    html! {
        section {
            h2 { "Seam by seam, the worst first" }
            div.wide { table {
                thead { tr {
                    th scope="col" { "Seam" }
                    th scope="col" { "State" }
                    th.number scope="col" { "Worst jump" }
                    th.number scope="col" { "Accepted" }
                    th scope="col" { "What to do" }
                    th.number scope="col" { "Work" }
                } }
                tbody { @for &k in &sheet.worst_first {
                    tr {
                        td { a href={ "#seam-" (k + 1) } { (sheet.garment.seams[k].name) } }
                        td { (stands(sheet.rows[k].record.standing, first_word(sheet.rows[k].record.standing))) }
                        td.number { (cell(phrase::jump(sheet, k))) }
                        td.number { (cell(phrase::accepted(sheet, k))) }
                        td { (phrase::deed(sheet, k)) }
                        td.number { (cell(phrase::minutes_of(sheet, k))) }
                    }
                } }
            } }
        }
    }
}

fn seam(sheet: &Sheet, k: usize, picture: Option<&String>) -> Result<Markup, Problem> {
    let (seam, row) = (&sheet.garment.seams[k], &sheet.rows[k]);
    let finding = row.finding.as_deref();
    let drawn = finding.map(|finding| chart::svg(finding, Chart::Offset)).transpose()?.flatten();
    Ok(html! {
        section.seam id={ "seam-" (k + 1) } {
            h2 { (stands(row.record.standing, first_word(row.record.standing))) " " (seam.name) }
            @for line in phrase::why(sheet, k) { p { (unbroken(&line)) } }
            div.pictures {
                @if let (Some(picture), Some(finding)) = (picture, finding) {
                    figure {
                        img src=(picture) alt=(alternative(finding));
                        figcaption {
                            "Straightened along the seam, true to scale. "
                            @if let Some(turned) = picture::moves::turned(finding.seam.runs) { "It is " (turned) ". " }
                            "Photograph: " (row.record.subject.file)
                        }
                    }
                }
                @if let Some(svg) = &drawn {
                    figure { div.chart role="img" aria-label={ "Chart: the offset along the seam, " (seam.name) } {
                        (PreEscaped(svg))
                    } }
                }
            }
            @if finding.is_none() { p.soft { "Photograph: " (row.record.subject.file) } }
        }
    })
}

/// How the chart of each seam is read.
fn chart_reading() -> &'static str {
    "Curve: the offset along the seam, with its uncertainty as a band. Dashed: the tolerance. Lines of the cloth: a dot is \
     matched, a cross off, a ring unsure."
}
