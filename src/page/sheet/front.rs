//! The first sheet: photograph a seam, and the seams that are kept.

use super::form::{place_field, stage_field};
use super::sheet;
use crate::digits::{self};
use crate::page::asked::Asked;
use crate::page::server::{MOST_UPLOAD_BYTES, Shared};
use crate::page::store::{Kept, Outcome};
use crate::photo::decode::FORMATS;
use crate::report::phrase;
use axum::extract::State;
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};
use std::sync::Arc;

/// `GET /`.
pub async fn front(State(shared): State<Arc<Shared>>) -> Response {
    let kept = shared.store.all();
    let pieces = by_piece(&kept);
    let body = html! {
        main id="front" data-most-bytes=(MOST_UPLOAD_BYTES) {
            header {
                h1 { "Do the lines run through the seam?" }
                p { "Photograph the seam straight from above, its lines sharp, the scale card flat beside it. What jumps, by how \
                     much, and whether it is worth unpicking is told in a moment." }
            }
            section {
                form id="send" method="post" action="/photographs" enctype="multipart/form-data" {
                    div.choose {
                        label.big for="camera" { "Take a photograph" }
                        input.file id="camera" type="file" name="camera" accept="image/*" capture="environment";
                        label.big for="file" { "Choose a picture" }
                        input.file id="file" type="file" name="photograph" accept="image/*,.heic,.heif";
                    }
                    p.soft.drop hidden { "Or drop a picture anywhere on this page." }
                    div.fields {
                        (place_field(&Asked::default(), &shared))
                        (stage_field(&Asked::default()))
                        p.field {
                            label for="piece" { "Piece of work, to keep its seams together" }
                            input id="piece" type="text" name="piece" list="pieces" autocomplete="off" maxlength="60";
                            datalist id="pieces" { @for (piece, _) in &pieces { @if !piece.is_empty() { option value=(piece) {} } } }
                        }
                    }
                    button.main.plain type="submit" { "Measure it" }
                    figure.preview hidden {}
                    p id="status" role="status" {}
                }
                p.soft {
                    "No card yet? " a href="/card.pdf" { "Print it" } " at 100 %. Formats: " (FORMATS) ", up to "
                    (MOST_UPLOAD_BYTES >> 20) " MB."
                }
            }
            @if !kept.is_empty() { (seams(&pieces)) }
            (cautions())
        }
    };
    Html(sheet("Seams", &body).into_string()).into_response()
}

/// The pieces in the order their newest photograph came in, newest first; those without a name last.
fn by_piece(kept: &[Kept]) -> Vec<(String, Vec<&Kept>)> {
    let mut pieces: Vec<(String, Vec<&Kept>)> = Vec::new();
    for photograph in kept.iter().rev() {
        let piece = photograph.asked.piece.trim();
        match pieces.iter_mut().find(|(name, _)| name == piece) {
            Some((_, seams)) => seams.push(photograph),
            None => pieces.push((piece.to_owned(), vec![photograph])),
        }
    }
    pieces.sort_by_key(|(name, _)| name.is_empty());
    pieces
}

fn seams(pieces: &[(String, Vec<&Kept>)]) -> Markup {
    let several = pieces.iter().map(|(_, seams)| seams.len()).sum::<usize>() > 1;
    let listed = html! {
        @for (piece, seams) in pieces {
            section {
                h2 { @if piece.is_empty() { "Seams of no named piece" } @else { (piece) } }
                ul.seams { @for seam in seams { (row(seam, several)) } }
            }
        }
    };
    html! {
        @if several {
            form id="kept" method="get" action="/compare" {
                (listed)
                p.together { button type="submit" { "Compare the two that are ticked" } }
            }
        } @else {
            (listed)
        }
    }
}

fn row(kept: &Kept, several: bool) -> Markup {
    let place = kept.asked.place().ok().flatten().map(|place| place.custom().words);
    html! {
        li {
            @if several { input type="checkbox" name="of" value=(kept.id) aria-label={ "Compare " (kept.name) }; }
            a href={ "/photographs/" (kept.id) } {
                img src={ "/photographs/" (kept.id) "/shown" } alt="" loading="lazy";
                span.about {
                    span { (kept.name) @if let Some(place) = place { ", " (place) } }
                    @match kept.outcome.as_deref() {
                        None => span.soft { "not measured yet" },
                        Some(Outcome::Refused(_)) => span { span.state.unsure { "REFUSED" } },
                        Some(Outcome::Found(finding)) => {
                            @let worst = phrase::worst(finding);
                            span {
                                span class={ "state " (finding.verdict.result.word()) } { (phrase::headline(finding.verdict.result)) }
                                " " (worst.size) "\u{a0}±\u{a0}" (worst.uncertainty) "\u{a0}" (finding.unit().after())
                                " of " (digits::given(finding.verdict.tolerance_mm, finding.verdict.unit))
                            }
                        },
                    }
                }
            }
        }
    }
}

fn cautions() -> Markup {
    html! {
        section {
            h2 { "Take care" }
            p { "Pins out a stitch or two before the needle: a needle that hits a pin can break and fly. Unpick away from your \
                 body. Test the iron on a scrap. Where the maker or the buyer specifies a tolerance, that one counts." }
        }
    }
}
