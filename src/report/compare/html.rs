//! Pieces beside each other on one page that needs nothing beside it.

use super::strips::{self, Labelled};
use super::{chart, phrase};
use crate::compare::{Compared, Comparison};
use crate::digits::Unit;
use crate::problem::Problem;
use crate::record::Standing;
use crate::report::html::{embedded, stands, unbroken, whole};
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
    let rows = comparison.pieces.iter().map(|piece| Row {
        name: &piece.given.name,
        standing: piece.given.standing(),
        figures: piece.all.map(|all| Figures {
            mean: phrase::size(all.size_mm, all.size_expanded_mm, unit),
            worst: phrase::size(all.worst_mm, all.worst_expanded_mm, unit),
            worst_at: Some(&piece.given.seams[all.worst_seam].name),
            within: phrase::share(&all.within),
            seen_from: phrase::seen_from(all.visible_from_m),
        }),
    });
    html! {
        section {
            h2 { "Over all seams" }
            (table(&rows.collect::<Vec<_>>(), unit))
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
    let told = rows().map(|(piece, seam)| Row {
        name: &piece.given.name,
        standing: seam.record.standing,
        figures: seam.lengths().map(|lengths| Figures {
            mean: phrase::size(lengths.mean_mm, lengths.mean_expanded_uncertainty_mm, unit),
            worst: phrase::size(lengths.worst_mm, lengths.worst_expanded_uncertainty_mm, unit),
            worst_at: None,
            within: phrase::share(&lengths.within),
            seen_from: phrase::seen_from(seam.record.measured.as_ref().and_then(|m| m.visible_from_m)),
        }),
    });
    Ok(html! {
        section {
            h2 { (place.joint.name) }
            @if let Some(picture) = &drawn {
                figure {
                    img src=(picture) alt={ "The seams of the pieces side by side at one scale: " (place.joint.name) };
                    figcaption { "Side by side at one scale, each straightened along its seam; strokes mark the seam." }
                }
            }
            (table(&told.collect::<Vec<_>>(), unit))
            @for (piece, seam) in rows().filter(|(_, seam)| seam.lengths().is_none()) {
                p { (piece.given.name) ": " (sentence(&phrase::why(seam))) }
            }
            @for difference in &place.differences { p { (unbroken(&phrase::difference(comparison, difference, unit))) } }
            @if !place.joint.is_shared() { p.soft { "No other piece has this seam." } }
        }
    })
}

/// A piece in a table.
struct Row<'a> {
    name: &'a str,
    standing: Standing,
    figures: Option<Figures<'a>>,
}

/// Its figures in words; over several seams, the seam of the worst too.
struct Figures<'a> {
    mean: String,
    worst: String,
    worst_at: Option<&'a str>,
    within: String,
    seen_from: String,
}

fn table(rows: &[Row<'_>], unit: Unit) -> Markup {
    let with_seam = rows.iter().filter_map(|row| row.figures.as_ref()).any(|figures| figures.worst_at.is_some());
    html! {
        div.wide { table {
            thead { tr {
                th scope="col" { "Piece" }
                th scope="col" { "State" }
                th.number scope="col" { "Mean jump, " (unit.column()) }
                th.number scope="col" { "Worst jump, " (unit.column()) }
                @if with_seam { th scope="col" { "At" } }
                th.number scope="col" { "Within tolerance" }
                th scope="col" { "Seen from" }
            } }
            tbody { @for Row { name, standing, figures } in rows {
                tr {
                    td { (name) }
                    td { (stands(*standing, standing.word())) }
                    @if let Some(Figures { mean, worst, worst_at, within, seen_from }) = figures {
                        td.number { (mean) }
                        td.number { (worst) }
                        @if let Some(seam) = worst_at { td { (seam) } }
                        td.number { (within) }
                        td { (seen_from) }
                    } @else {
                        td.number { "–" } td.number { "–" }
                        @if with_seam { td { "–" } }
                        td.number { "–" } td { "–" }
                    }
                }
            } }
        } }
    }
}
