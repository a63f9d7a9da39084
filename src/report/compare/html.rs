//! Pieces beside each other on one page that needs nothing beside it.

use super::strips::{self, Labelled};
use super::{chart, phrase};
use crate::compare::{Compared, Comparison};
use crate::digits::Unit;
use crate::problem::Problem;
use crate::record::Standing;
use crate::report::html::{embedded, unbroken, whole};
use crate::report::phrase::sentence;
use image::RgbImage;
use maud::{Markup, PreEscaped, html};

/// The strips of each piece's seams, in the order of [`crate::compare::Given::seams`].
pub type Strips = Vec<Vec<Option<RgbImage>>>;

/// The picture of one place: its strips side by side; `None` where no piece was measured there.
pub fn picture(comparison: &Comparison, place: &Compared, pictures: &Strips, unit: Unit) -> Option<RgbImage> {
    let row: Vec<Labelled<'_>> = (comparison.pieces.iter().zip(&place.joint.seams).zip(pictures))
        .filter_map(|((piece, seam), own)| {
            let (k, name) = ((*seam)?, piece.given.name.as_str());
            Some(Labelled { name, told: phrase::short(&piece.given.seams[k], unit), strip: own.get(k)?.as_ref() })
        })
        .collect();
    row.iter().any(|label| label.strip.is_some()).then(|| strips::beside(&row))
}

/// The whole page, lengths in `unit`.
///
/// # Errors
/// [`Problem::Io`] where a picture or the chart cannot be made.
pub fn page(comparison: &Comparison, pictures: &Strips, unit: Unit) -> Result<String, Problem> {
    let places = (comparison.places.iter())
        .map(|place| self::place(comparison, place, pictures, unit))
        .collect::<Result<Vec<_>, _>>()?;
    let names: Vec<&str> = comparison.pieces.iter().map(|piece| piece.given.name.as_str()).collect();
    let title = names.join(" beside ");
    let drawn = chart::svg(comparison, unit)?;
    let body = html! {
        header {
            h1 { (title) }
            p { strong { (unbroken(&phrase::best(comparison, unit))) } }
        }
        @if let Some(svg) = drawn {
            section {
                h2 { "How far the lines jump" }
                figure { div.chart role="img" aria-label="Chart: the mean jump of every piece at every place" {
                    (PreEscaped(svg))
                }
                figcaption { (chart::reading(comparison)) } }
            }
        }
        (overall(comparison, unit))
        @for place in &places { (place) }
        section {
            h2 { "How to read it" }
            @for line in phrase::reading() { p { (line) } }
        }
    };
    Ok(whole(&title, &body))
}

fn overall(comparison: &Comparison, unit: Unit) -> Markup {
    html! {
        section {
            h2 { "Over all seams" }
            div.wide { table {
                thead { tr {
                    th scope="col" { "Piece" }
                    th scope="col" { "State" }
                    th.number scope="col" { "Mean jump, " (unit.column()) }
                    th.number scope="col" { "Worst jump, " (unit.column()) }
                    th scope="col" { "At" }
                    th.number scope="col" { "Within tolerance" }
                    th scope="col" { "Seen from" }
                } }
                tbody { @for piece in &comparison.pieces {
                    tr {
                        td { (piece.given.name) }
                        td { (state(piece.given.standing())) }
                        @if let Some(all) = &piece.all {
                            td.number { (phrase::size(all.size_mm, all.size_expanded_mm, unit)) }
                            td.number { (phrase::size(all.worst_mm, all.worst_expanded_mm, unit)) }
                            td { (piece.given.seams[all.worst_seam].name) }
                            td.number { (phrase::share(&all.within)) }
                            td { (phrase::seen_from(all.visible_from_m)) }
                        } @else {
                            td.number { "–" } td.number { "–" } td { "–" } td.number { "–" } td { "–" }
                        }
                    }
                } }
            } }
            @for line in phrase::overall(comparison, unit) { p { (unbroken(&line)) } }
        }
    }
}

fn place(comparison: &Comparison, place: &Compared, pictures: &Strips, unit: Unit) -> Result<Markup, Problem> {
    let drawn = picture(comparison, place, pictures, unit).as_ref().map(embedded).transpose()?;
    let rows = || {
        (comparison.pieces.iter().zip(&place.joint.seams))
            .filter_map(|(piece, seam)| Some((piece, &piece.given.seams[(*seam)?])))
    };
    Ok(html! {
        section {
            h2 { (place.joint.name) }
            @if let Some(picture) = &drawn {
                figure {
                    img src=(picture) alt={ "The seams of the pieces side by side at one scale: " (place.joint.name) };
                    figcaption { "Side by side at one scale, each straightened along its seam; strokes mark the seam." }
                }
            }
            div.wide { table {
                thead { tr {
                    th scope="col" { "Piece" }
                    th scope="col" { "State" }
                    th.number scope="col" { "Mean jump, " (unit.column()) }
                    th.number scope="col" { "Worst jump, " (unit.column()) }
                    th.number scope="col" { "Within tolerance" }
                    th scope="col" { "Seen from" }
                } }
                tbody { @for (piece, seam) in rows() {
                    tr {
                        td { (piece.given.name) }
                        td { (state(seam.record.standing)) }
                        @if let (Some(lengths), Some(measured)) = (seam.lengths(), &seam.record.measured) {
                            td.number { (phrase::size(lengths.mean_mm, lengths.mean_expanded_uncertainty_mm, unit)) }
                            td.number { (phrase::size(lengths.worst_mm, lengths.worst_expanded_uncertainty_mm, unit)) }
                            td.number { (phrase::share(&lengths.within)) }
                            td { (phrase::seen_from(measured.visible_from_m)) }
                        } @else {
                            td.number { "–" } td.number { "–" } td.number { "–" } td { "–" }
                        }
                    }
                } }
            } }
            @for (piece, seam) in rows().filter(|(_, seam)| seam.lengths().is_none()) {
                p { (piece.given.name) ": " (sentence(&phrase::why(seam))) }
            }
            @for difference in &place.differences { p { (unbroken(&phrase::difference(comparison, difference, unit))) } }
            @if !place.joint.is_shared() { p.soft { "No other piece has this seam." } }
        }
    })
}

fn state(standing: Standing) -> Markup {
    let class = match standing {
        Standing::Matched => "matched",
        Standing::Off | Standing::Trouble => "off",
        Standing::Unsure | Standing::Refused => "unsure",
    };
    html! { span class={ "state " (class) } { (standing.word()) } }
}
