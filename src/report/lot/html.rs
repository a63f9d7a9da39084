//! A lot on one page that needs nothing beside it: the answer, the worst, what could not be judged, the places, the course,
//! the pieces, and how to read it.

use super::{chart, phrase};
use crate::digits::{Unit, plain};
use crate::lot::Lot;
use crate::lot::pieces::Piece;
use crate::problem::Problem;
use crate::record::Standing;
use crate::report::html::{stands, unbroken, whole};
use crate::report::phrase::first_word;
use maud::{Markup, PreEscaped, html};

/// So many pieces have a row each; the table of photographs (CSV) has them all.
const MOST_PIECES: usize = 500;

/// The whole page, lengths in `unit`.
///
/// # Errors
/// [`Problem::Io`] where a chart cannot be drawn.
pub fn page(lot: &Lot, unit: Unit) -> Result<String, Problem> {
    let standing = lot.standing();
    let body = html! {
        header {
            @if let Some(sample) = &lot.sample {
                @let [planned, told, follows] = phrase::sample(sample);
                h1 { (stands(sample.standing(), phrase::decision(sample))) " " (follows) }
                p { (planned) " " (told) }
                p { strong { (first_word(standing)) ": " } (phrase::counted(lot)) }
            } @else {
                h1 { (stands(standing, first_word(standing))) " " (phrase::counted(lot)) }
            }
            @if lot.pieces.len() != lot.lines.len() {
                p { "Of the photographs: " (phrase::standings(&lot.photographs)) "." }
            }
            @for standing in [Standing::Off, Standing::Unsure] {
                @if let Some(names) = phrase::names(lot, standing) { p { (names) } }
            }
        }
        (worst(lot, unit))
        @if !lot.refused.is_empty() {
            section {
                h2 { "What could not be judged" }
                @for refused in &lot.refused {
                    p { (phrase::refused(refused)) }
                    details {
                        summary { "Which photographs" }
                        ul { @for &k in refused.lines.iter().take(MOST_PIECES) { li { (lot.lines[k].record.subject.file) } } }
                    }
                }
            }
        }
        @if let Some(svg) = chart::places_svg(lot)?.filter(|_| phrase::places_differ(lot)) {
            section {
                h2 { "Which places bring most of what is off" }
                figure.chart { div.wide { (PreEscaped(svg)) } }
                (places(lot))
            }
        }
        (keeping(lot, unit))
        @if let (Some(course), Some(svg)) = (&lot.course, chart::course_svg(lot, unit)?) {
            section {
                h2 { "One after the other" }
                figure.chart {
                    div.wide { (PreEscaped(svg)) }
                    figcaption { (chart::course_reading(course)) }
                }
                @for line in phrase::course(course, lot, unit) { p { (unbroken(&line)) } }
            }
        }
        (pieces(lot))
        @let twice = phrase::twice(&lot.twice);
        @if !twice.is_empty() {
            section {
                h2 { "More than once" }
                @for line in &twice { p { (line) } }
            }
        }
        section {
            h2 { "How to read it" }
            @for line in phrase::reading() { p { (line) } }
        }
    };
    Ok(whole(&format!("{} – a lot of {}", first_word(standing), phrase::many(lot.lines.len(), "photograph")), &body))
}

fn worst(lot: &Lot, unit: Unit) -> Markup {
    if lot.worst.is_empty() {
        return html! {};
    }
    html! {
        section.lines {
            h2 { "The worst photographs" }
            div.wide {
                table {
                    thead { tr {
                        th scope="col" { "State" }
                        th.number scope="col" { "Worst jump, " (unit.column()) }
                        th.number scope="col" { "Accepted" }
                        th scope="col" { "Place" }
                        th scope="col" { "Photograph" }
                    } }
                    tbody {
                        @for line in lot.worst.iter().map(|&k| &lot.lines[k]) {
                            tr {
                                td { (stands(line.record.standing, line.record.standing.word())) }
                                td.number { (phrase::jump(line, unit).unwrap_or_else(|| "no scale".into())) }
                                td.number { (phrase::tolerance(line, unit).unwrap_or_default()) }
                                td { (phrase::place(line.record.subject.place)) }
                                td { (line.record.subject.file) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn places(lot: &Lot) -> Markup {
    html! {
        div.wide {
            table {
                thead { tr {
                    th scope="col" { "Place" }
                    @for standing in Standing::ALL.into_iter().rev() { th.number scope="col" { (phrase::stands(standing)) } }
                    th.number scope="col" { "All" }
                    th.number scope="col" { "Off so far" }
                } }
                tbody {
                    @for place in &lot.places {
                        tr {
                            td { (phrase::place(place.place)) }
                            @for standing in Standing::ALL.into_iter().rev() { td.number { (place.photographs.get(standing)) } }
                            td.number { (place.photographs.total()) }
                            td.number { (plain(100.0 * place.off_so_far.unwrap_or(0.0), 0)) "\u{a0}%" }
                        }
                    }
                }
            }
        }
    }
}

/// The capability indices by place.
fn keeping(lot: &Lot, unit: Unit) -> Markup {
    if lot.keeping.is_empty() {
        return html! {};
    }
    html! {
        section {
            h2 { "How well the tolerance is kept" }
            div.wide {
                table {
                    thead { tr {
                        th scope="col" { "Place" }
                        th.number scope="col" { "Mean, " (unit.column()) }
                        th.number scope="col" { "Standard deviation" }
                        th.number scope="col" { "Cp" }
                        th.number scope="col" { "Cpk" }
                        th.number scope="col" { "Beyond" }
                    } }
                    tbody {
                        @for keeping in &lot.keeping {
                            @let [mean, deviation] = phrase::spread(keeping, unit);
                            tr {
                                td { (phrase::kept(keeping, unit)) }
                                td.number { (mean) }
                                td.number { (deviation) }
                                td.number { (phrase::index(&keeping.capability.cp)) }
                                td.number { (phrase::index(&keeping.capability.cpk)) }
                                td.number { (phrase::beyond(keeping)) }
                            }
                        }
                    }
                }
            }
            p.soft { (phrase::KEEPING) }
        }
    }
}

/// The pieces, the worst first.
fn pieces(lot: &Lot) -> Markup {
    if lot.nameless == lot.lines.len() {
        return html! {};
    }
    let mut sorted: Vec<&Piece> = lot.pieces.iter().collect();
    sorted.sort_by_key(|piece| std::cmp::Reverse(piece.standing));
    html! {
        section {
            h2 { "The pieces" }
            div.wide {
                table {
                    thead { tr {
                        th scope="col" { "Piece" }
                        th scope="col" { "State" }
                        th.number scope="col" { "Photographs" }
                        th scope="col" { "Off at" }
                    } }
                    tbody {
                        @for piece in sorted.iter().take(MOST_PIECES) {
                            tr {
                                td { (piece.name) }
                                td { (stands(piece.standing, phrase::stands(piece.standing))) }
                                td.number { (piece.photographs) }
                                td { (piece.off_at.iter().map(|place| place.word()).collect::<Vec<_>>().join(", ")) }
                            }
                        }
                    }
                }
            }
            @if sorted.len() > MOST_PIECES {
                p.soft { "And " (sorted.len() - MOST_PIECES) " more, none of them worse: --csv gives them all." }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    #[test]
    fn the_page_stands_alone_and_escapes_what_others_wrote() {
        let text = page(&sample::delivery(), Unit::Millimetre).unwrap();
        assert!(text.contains("8_hem &amp; &lt;more&gt;.jpg") && !text.contains("<more>"));
        assert!(text.contains("The lines are &lt;too soft&gt;."));
        for link in ["<script", "<link", "https://", "url(", "@import", " style=", "src="] {
            assert!(!text.contains(link), "{link}");
        }
        let order = [
            "<h1",
            "The worst",
            "not be judged</h2>",
            "Which places",
            "One after",
            "The pieces",
            "More than",
            "How to",
        ];
        let at = |what: &str| text.find(what).unwrap_or_else(|| panic!("no {what}"));
        assert!(order.windows(2).all(|pair| at(pair[0]) < at(pair[1])), "{text}");
    }

    #[test]
    fn every_kind_of_lot_has_its_page() {
        for (kind, made) in sample::every_kind() {
            let text = page(&made, Unit::Sixteenth).unwrap();
            assert!(text.contains(first_word(made.standing())) && text.ends_with("</html>"), "{kind}");
            assert!(text.len() < 600_000, "{kind}: {}", text.len());
        }
    }
}
