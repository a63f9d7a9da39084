//! Two seams side by side.

use super::sheet;
use crate::digits;
use crate::page::server::Shared;
use crate::page::store::{Kept, Outcome};
use crate::page::trouble::Trouble;
use crate::page::words::plain;
use crate::report::phrase::{self, sentence};
use axum::extract::{RawQuery, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};
use std::sync::Arc;

/// `GET /compare?of=ID&of=ID`.
pub async fn compare(State(shared): State<Arc<Shared>>, RawQuery(query): RawQuery, headers: HeaderMap) -> Response {
    let query = query.unwrap_or_default();
    let ids: Vec<&str> = query.split('&').filter_map(|pair| pair.strip_prefix("of=")).collect();
    let [one, other] = ids[..] else {
        let trouble = Trouble::new(
            StatusCode::BAD_REQUEST,
            format!("{} seams are ticked", ids.len()),
            "go back and tick exactly two, then compare",
        );
        return trouble.answer(&headers);
    };
    let both = [one, other].map(|id| shared.store.get(id));
    let [Ok(one), Ok(other)] = &both else { return Trouble::not_kept().answer(&headers) };
    let body = html! {
        nav { a href="/" { "All seams" } }
        main {
            header {
                h1 { "Two seams side by side" }
                p.soft { "Each as it was measured, by its own tolerance." }
            }
            div.beside { (column(one)) (column(other)) }
        }
    };
    Html(sheet("Two seams", &body).into_string()).into_response()
}

fn column(kept: &Kept) -> Markup {
    let here = format!("/photographs/{}", kept.id);
    html! {
        section {
            h2 { a href=(here) { (kept.name) } }
            @if !kept.asked.piece.is_empty() { p.soft { "Piece: " (kept.asked.piece) } }
            @match kept.outcome.as_deref() {
                None => p { "Not measured yet: open it first." },
                Some(Outcome::Refused(refusal)) => {
                    p { span.state.unsure { "REFUSED" } " " (sentence(&plain(&refusal.message))) }
                    p { strong { (sentence(&plain(&refusal.help))) } }
                },
                Some(Outcome::Found(finding)) => {
                    @let unit = finding.unit();
                    @let mean = digits::figures(finding.offset.mean_mm, finding.offset.expanded_uncertainty_mm, unit);
                    @let worst = phrase::worst(finding);
                    p {
                        span class={ "state " (finding.verdict.result.word()) } { (phrase::headline(finding.verdict.result)) }
                        " " (sentence(&phrase::verdict(finding)))
                    }
                    figure { img src={ (here) "/seam?of=" (kept.asked_print()) } alt={ "What was seen on " (kept.name) }; }
                    table.pair {
                        tbody {
                            tr { th scope="row" { "Mean jump" } td.number { (mean.value) " ± " (mean.uncertainty) " " (unit.after()) } }
                            tr { th scope="row" { "Worst jump" } td.number { (worst.value) " ± " (worst.uncertainty) " " (unit.after()) } }
                            tr { th scope="row" { "Accepted" } td.number { (digits::given(finding.verdict.tolerance_mm, finding.verdict.unit)) } }
                            tr { th scope="row" { "Seam seen" } td.number { (digits::place(finding.seam.length_mm(), unit)) " " (unit.places()) } }
                        }
                    }
                    @if let Some(drift) = phrase::drift(finding) { p { (drift) } }
                    p { (finding.remedy.instruction) }
                },
            }
        }
    }
}
