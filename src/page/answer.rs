//! What is asked for of a photograph that is kept: `check`'s JSON, page and picture, the photograph itself; and its removal.

use super::server::Shared;
use super::store::Outcome;
use super::trouble::{Trouble, wants_a_sheet};
use crate::ask::Refused;
use crate::card::{self, CardOptions};
use crate::finding::Finding;
use crate::report::{self, html, json, picture};
use axum::extract::{Path, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use image::RgbImage;
use std::sync::Arc;

/// The report's style stands in the page itself, and its pictures too; it needs nothing else and may do nothing else.
const REPORT_POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox";

/// `GET /photographs/ID/finding`: the object that `check --json` prints.
pub async fn finding(State(shared): State<Arc<Shared>>, Path(id): Path<String>, headers: HeaderMap) -> Response {
    finding_of(&shared, &id, &headers)
}

/// The finding of a photograph as `check`'s JSON.
pub fn finding_of(shared: &Shared, id: &str, headers: &HeaderMap) -> Response {
    let found = outcome(shared, id).map(|(kept, outcome)| match &*outcome {
        Outcome::Found(finding) => json::finding(finding),
        Outcome::Refused(refusal) => {
            json::refusal(&kept.name, &Refused { size_px: Some(kept.size_px), ..refusal.clone().into() })
        }
    });
    match found {
        Ok(value) => ([(header::CONTENT_TYPE, "application/json")], format!("{value:#}\n")).into_response(),
        Err(trouble) => trouble.answer(headers),
    }
}

/// `GET /photographs/ID/report`: the page that `check --report` writes.
pub async fn report(State(shared): State<Arc<Shared>>, Path(id): Path<String>, headers: HeaderMap) -> Response {
    let made = async {
        let (kept, outcome) = outcome(&shared, &id)?;
        let worker = Arc::clone(&shared);
        shared
            .work
            .run(move || match &*outcome {
                Outcome::Found(finding) => {
                    html::page(&worker.store.photo(&id)?.pixels, finding).map_err(|problem| Trouble::from(&problem))
                }
                Outcome::Refused(refusal) => Ok(html::refusal(&kept.name, refusal)),
            })
            .await?
    };
    match made.await {
        Ok(page) => ([(header::CONTENT_SECURITY_POLICY, REPORT_POLICY)], Html(page)).into_response(),
        Err(trouble) => trouble.answer(&headers),
    }
}

/// `GET /photographs/ID/picture`: the annotated picture.
pub async fn picture(State(shared): State<Arc<Shared>>, Path(id): Path<String>, headers: HeaderMap) -> Response {
    drawn(&shared, id, &headers, picture::annotate).await
}

/// `GET /photographs/ID/seam`: the seam straightened, its marks drawn in; where it cannot be straightened, the photograph as
/// taken with them.
pub async fn seam(State(shared): State<Arc<Shared>>, Path(id): Path<String>, headers: HeaderMap) -> Response {
    let draw = |photo: &RgbImage, finding: &Finding| {
        picture::straightened(photo, finding).unwrap_or_else(|| picture::as_taken(photo, finding))
    };
    drawn(&shared, id, &headers, draw).await
}

/// A picture is drawn when it is asked for: the verdict does not wait for it.
async fn drawn(
    shared: &Arc<Shared>,
    id: String,
    headers: &HeaderMap,
    draw: impl Fn(&RgbImage, &Finding) -> RgbImage + Send + 'static,
) -> Response {
    let made = async {
        let (_, outcome) = outcome(shared, &id)?;
        let worker = Arc::clone(shared);
        let drawing = move || match &*outcome {
            Outcome::Found(finding) => {
                let photo = worker.store.photo(&id)?;
                report::jpeg(&draw(&photo.pixels, finding)).map_err(|problem| Trouble::from(&problem))
            }
            Outcome::Refused(_) => Err(Trouble::new(
                StatusCode::NOT_FOUND,
                "there is no picture of a photograph that was refused",
                "look at the reason on its sheet",
            )),
        };
        shared.work.run(drawing).await?
    };
    match made.await {
        Ok(bytes) => jpeg(bytes),
        Err(trouble) => trouble.answer(headers),
    }
}

/// `GET /photographs/ID/shown`: the upright photograph in the size of the page.
pub async fn shown(State(shared): State<Arc<Shared>>, Path(id): Path<String>, headers: HeaderMap) -> Response {
    let worker = Arc::clone(&shared);
    let made = match shared.store.get(&id).map(|kept| kept.shown) {
        Ok(Some(shown)) => Ok(shown),
        Ok(None) => shared.work.run(move || worker.store.shown(&id)).await.and_then(|made| made),
        Err(trouble) => Err(trouble),
    };
    match made {
        Ok(bytes) => {
            let mut response = jpeg(bytes.to_vec());
            // A photograph never changes; its removal takes its address with it.
            let keep = HeaderValue::from_static("private, max-age=3600");
            response.headers_mut().insert(header::CACHE_CONTROL, keep);
            response
        }
        Err(trouble) => trouble.answer(&headers),
    }
}

/// `POST /photographs/ID/remove` and `DELETE /photographs/ID`: removes a photograph and all that is known of it.
pub async fn remove(State(shared): State<Arc<Shared>>, Path(id): Path<String>, headers: HeaderMap) -> Response {
    match shared.store.remove(&id) {
        Ok(()) if wants_a_sheet(&headers) => (StatusCode::SEE_OTHER, [(header::LOCATION, "/")]).into_response(),
        Ok(()) => StatusCode::NO_CONTENT.into_response(),
        Err(trouble) => trouble.answer(&headers),
    }
}

/// `GET /card.pdf`: the scale card to print.
pub async fn card(headers: HeaderMap) -> Response {
    match card::pdf(&CardOptions::default()) {
        Ok(bytes) => ([(header::CONTENT_TYPE, "application/pdf")], bytes).into_response(),
        Err(problem) => Trouble::from(&problem).answer(&headers),
    }
}

fn jpeg(bytes: Vec<u8>) -> Response {
    ([(header::CONTENT_TYPE, "image/jpeg")], bytes).into_response()
}

fn outcome(shared: &Shared, id: &str) -> Result<(super::store::Kept, Arc<Outcome>), Trouble> {
    let kept = shared.store.get(id)?;
    match kept.outcome.clone() {
        Some(outcome) => Ok((kept, outcome)),
        None => Err(Trouble::new(
            StatusCode::CONFLICT,
            "this photograph has not been measured yet",
            "measure it first: POST to its /finding, or press the button on its sheet",
        )),
    }
}
