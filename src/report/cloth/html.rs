//! The flat cloth on one page that needs nothing beside it.

use super::phrase::{self, Met};
use super::{chart, picture};
use crate::cloth::FlatCloth;
use crate::cloth::family::Family;
use crate::colour::word::hex;
use crate::photo::Photo;
use crate::problem::Problem;
use crate::report::html::{unbroken, whole};
use crate::report::save::jpeg;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use maud::{Markup, PreEscaped, html};

/// The whole page. `photo` must be the photograph that was measured.
///
/// # Errors
/// [`Problem::Io`] where the picture or a chart cannot be made.
pub fn page(photo: &Photo, cloth: &FlatCloth) -> Result<String, Problem> {
    let distortion = phrase::distortion(cloth);
    let mut families = Vec::new();
    for (met, family) in phrase::families(cloth) {
        families.push(one(cloth, met, family)?);
    }
    let body = html! {
        header {
            h1 { (unbroken(&phrase::headline(cloth))) }
            @for line in phrase::laying(cloth) { p { (line) } }
        }
        (cost(cloth))
        (patch(photo, cloth)?)
        @for family in &families { (family) }
        @if !distortion.is_empty() {
            section {
                h2 { "Is it straight?" }
                @for line in &distortion { p { (unbroken(line)) } }
            }
        }
        section {
            h2 { "How it was measured" }
            @for line in phrase::method(cloth) { p { (unbroken(&line)) } }
            @if !cloth.notes.is_empty() {
                ul { @for note in &cloth.notes { li { (note.text) } } }
            }
        }
        section {
            h2 { "How to read it" }
            @for line in phrase::reading() { p { (line) } }
        }
    };
    Ok(whole(&format!("Flat cloth – {}", cloth.photo.file), &body))
}

fn patch(photo: &Photo, cloth: &FlatCloth) -> Result<Markup, Problem> {
    let Some(picture) = picture::straightened(photo, cloth) else { return Ok(html! {}) };
    let source = format!("data:image/jpeg;base64,{}", STANDARD.encode(jpeg(&picture)?));
    Ok(html! {
        section.photograph {
            h2 { "The cloth" }
            figure {
                img src=(source) alt="The cloth straightened, its warp upright; dashes where a repeat begins, the bands of one repeat numbered.";
                figcaption {
                    "Straightened, warp upright, true to scale. Dashes: where a repeat begins; the numbers are those of the bands \
                     below. Photograph: " (cloth.photo.file)
                }
            }
        }
    })
}

fn cost(cloth: &FlatCloth) -> Markup {
    let (Some(cost), Some(cutting)) = (phrase::cost(cloth), &cloth.cutting) else { return html! {} };
    html! {
        section {
            h2 { "What matching costs" }
            p.instruction { (unbroken(&cost)) }
            div.wide { table {
                thead { tr {
                    th.number scope="col" { "Piece, " (cloth.unit.places()) }
                    th.number scope="col" { "Repeats" }
                    th.number scope="col" { "Takes, " (cloth.unit.places()) }
                } }
                tbody { @for piece in &cutting.pieces {
                    @let [length, repeats, takes] = phrase::piece(cloth, piece);
                    tr { td.number { (length) } td.number { (repeats) } td.number { (takes) } }
                } }
            } }
            @for line in phrase::near_whole(cloth) { p { (unbroken(&line)) } }
        }
    }
}

fn one(cloth: &FlatCloth, met: Met, family: &Family) -> Result<Markup, Problem> {
    let chart = chart::svg(cloth, met, family)?;
    Ok(html! {
        section {
            h2 { (phrase::heading(met, family)) }
            @for line in [phrase::balance(family), phrase::notch(cloth, family)].into_iter().flatten() {
                p { (unbroken(&line)) }
            }
            @if let Some(svg) = &chart {
                figure {
                    div.chart role="img" aria-label={ "Chart: " (chart::title(met)) } { (PreEscaped(svg)) }
                    figcaption { (chart::reading(family)) }
                }
            }
            @if family.bands.is_empty() {
                p { "It is not told band by band." }
            } @else {
                div.wide { table {
                    thead { tr {
                        th.number scope="col" { "Band" }
                        th scope="col" { "Colour" }
                        th.number scope="col" { "Width, " (cloth.unit.column()) }
                        th.number scope="col" { "From, " (cloth.unit.column()) }
                        th scope="col" { "sRGB" }
                    } }
                    tbody { @for band in &family.bands {
                        @let [number, name, width, from] = phrase::row(cloth, family, band);
                        tr {
                            td.number { (number) }
                            td {
                                svg.swatch viewBox="0 0 1 1" aria-hidden="true" { rect width="1" height="1" fill=(hex(band.colour)) {} }
                                (name)
                            }
                            td.number { (width) }
                            td.number { (from) }
                            td.soft { (hex(band.colour)) }
                        }
                    } }
                } }
            }
        }
    })
}
