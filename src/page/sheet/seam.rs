//! The sheet of one photograph: the answer, the picture with its marks, and what is asked.

use super::form::asked_fields;
use super::sheet;
use crate::finding::Finding;
use crate::page::server::Shared;
use crate::page::store::{Kept, Outcome};
use crate::page::words::plain;
use crate::problem::{Refusal, RefusalCode};
use crate::report::html::{cautions, lines, unbroken, what_to_do};
use crate::report::json;
use crate::report::phrase::{self, sentence};
use crate::scale::ScaleSource;
use crate::seam::SeamSource;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};
use std::sync::Arc;

/// Handles that a seam which was found gets: both ends and the middle.
const HANDLES: usize = 3;

/// `GET /photographs/ID`.
pub async fn seam(State(shared): State<Arc<Shared>>, Path(id): Path<String>, headers: HeaderMap) -> Response {
    let kept = match shared.store.get(&id) {
        Ok(kept) => kept,
        Err(trouble) => return trouble.answer(&headers),
    };
    let [width, height] = kept.size_px;
    let here = format!("/photographs/{id}");
    let body = html! {
        nav { a href="/" { "All seams" } }
        main id="seam" data-address=(here) data-width=(width) data-height=(height) data-fresh[kept.outcome.is_none()] {
            div id="answer" { (answer(&kept)) }
            section id="marking" {
                h2 { "The photograph" }
                p.soft.scripted {
                    "Round points lie on the seam: drag them where it truly is, or step to one with the Tab key and move it with the \
                     arrow keys. It is measured again by itself."
                }
                div id="pane" {
                    img src={ (here) "/shown" } width=(width) height=(height) alt={ "The photograph " (kept.name) };
                }
                p.tools.scripted {
                    button type="button" id="more" { "Add a point" }
                    button type="button" id="fewer" { "Take a point out" }
                    button type="button" id="look" { "Look for the seam again" }
                }
            }
            form id="asked" method="post" action={ (here) "/finding" } {
                (asked_fields(&kept.asked, &shared))
                div.bar {
                    p id="status" role="status" {}
                    button.main type="submit" { "Measure again" }
                }
            }
            section {
                h2 { "Take away or remove" }
                form method="post" action={ (here) "/remove" } {
                    button type="submit" { "Remove this photograph" }
                }
            }
        }
    };
    Html(sheet(&kept.name, &body).into_string()).into_response()
}

/// What was found of a photograph, with the marks that the script draws.
pub fn answer(kept: &Kept) -> Markup {
    match kept.outcome.as_deref() {
        None => html! {
            header {
                h1 { (kept.name) }
                p { "Not measured yet." }
            }
        },
        Some(Outcome::Refused(refusal)) => refused(kept, refusal),
        Some(Outcome::Found(finding)) => found(kept, finding),
    }
}

fn refused(kept: &Kept, refusal: &Refusal) -> Markup {
    let seam_helps = matches!(
        refusal.code,
        RefusalCode::NoSeam | RefusalCode::SidesDiffer | RefusalCode::NoLines | RefusalCode::NoCloth
    );
    html! {
        header {
            h1 { span.state.unsure { "REFUSED" } " This photograph cannot be judged." }
            p { (sentence(&plain(&refusal.message))) }
            p { strong { (sentence(&plain(&refusal.help))) } }
            @if seam_helps { (mark_it("seam", "Mark the seam in the picture")) }
            @if refusal.code == RefusalCode::NoCard { (mark_it("length", "Mark a known length in the picture")) }
            p.soft { "Photograph: " (kept.name) }
        }
    }
}

/// A button that brings the marks out; the script listens to it.
fn mark_it(what: &str, words: &str) -> Markup {
    html! { p.scripted { button.main type="button" data-mark=(what) { (words) } } }
}

fn found(kept: &Kept, finding: &Finding) -> Markup {
    let verdict = &finding.verdict;
    let here = format!("/photographs/{}", kept.id);
    html! {
        header data-path=(json::path(&finding.plane, &finding.seam.path)) data-handles=(handles(kept, finding)) {
            h1 {
                span class={ "state " (verdict.result.word()) } { (phrase::headline(verdict.result)) }
                " " (unbroken(&sentence(&phrase::verdict(finding))))
            }
            p { (sentence(&verdict.reason)) }
            @if let Some(cure) = &verdict.cure { p { "What would settle it: " (sentence(&plain(cure))) } }
            @if finding.plane.source == ScaleSource::None { (mark_it("length", "Mark a known length in the picture")) }
            @if finding.seam.source == SeamSource::Assumed { (mark_it("seam", "Mark the seam in the picture")) }
            p.soft { (phrase::tolerance(finding)) }
        }
        (what_to_do(finding))
        section.photograph {
            figure {
                // The address changes with the measurement, so that no browser shows the last one's picture.
                img src={ (here) "/seam?of=" (kept.asked_print()) }
                    alt="The seam straightened, with the lines, their jumps and the move that cures them drawn on it";
                figcaption { "What was seen, straightened along the seam: " (kept.name) }
            }
            p.away {
                a href={ (here) "/report" } { "Full report" } " "
                a href={ (here) "/report" } download={ (kept.id) ".html" } { "Save the report" } " "
                a href={ (here) "/picture" } download={ (kept.id) ".jpg" } { "Save the picture" } " "
                a href={ (here) "/finding" } download={ (kept.id) ".json" } { "Save the figures (JSON)" }
            }
        }
        (lines(finding))
        (cautions(finding))
    }
}

/// Points to drag: those that were given, or a few on the seam that was found.
fn handles(kept: &Kept, finding: &Finding) -> String {
    if !kept.asked.seam.trim().is_empty() {
        return kept.asked.seam.trim().to_owned();
    }
    let path = &finding.seam.path;
    let points = (0..HANDLES).map(|k| {
        let (at, _) = path.at(path.length_mm() * k as f64 / (HANDLES - 1) as f64);
        let at = finding.plane.to_px(at);
        format!("{:.1},{:.1}", at.x, at.y)
    });
    points.collect::<Vec<_>>().join(" ")
}
