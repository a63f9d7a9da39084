//! A photograph is measured as it is asked, and the steps are told while they are taken.

use super::answer;
use super::asked::Asked;
use super::door::text;
use super::server::Shared;
use super::sheet;
use super::store::Outcome;
use super::trouble::{Trouble, wants_a_sheet};
use super::words::plain;
use crate::inspect::{Reached, inspect_telling};
use crate::problem::Problem;
use crate::report::json;
use axum::body::{Body, Bytes};
use axum::extract::rejection::FormRejection;
use axum::extract::{Form, Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde_json::{Value, json};
use std::convert::Infallible;
use std::sync::Arc;
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;

/// What the steps are sent as: one JSON object a line.
const STEPS: &str = "application/x-ndjson";
/// Steps that may stand unread; the measurement does not wait for a reader who is gone.
const MOST_UNREAD: usize = 32;

/// `POST /photographs/ID/finding`: measures, and answers as the one who asks reads: the steps line by line, the sheet, or
/// `check`'s JSON.
pub async fn measure(
    State(shared): State<Arc<Shared>>,
    Path(id): Path<String>,
    headers: HeaderMap,
    form: Result<Form<Asked>, FormRejection>,
) -> Response {
    let asked = match form {
        Ok(Form(asked)) => asked,
        Err(rejection) => {
            let status = match rejection.status() {
                StatusCode::PAYLOAD_TOO_LARGE => StatusCode::PAYLOAD_TOO_LARGE,
                _ => StatusCode::BAD_REQUEST,
            };
            let trouble = Trouble::new(
                status,
                format!("the form cannot be read: {}", rejection.body_text()),
                "load the page again and fill it in anew",
            );
            return trouble.answer(&headers);
        }
    };
    let accepts = text(&headers, header::ACCEPT).unwrap_or_default();
    if accepts.contains(STEPS) {
        return told_on_the_way(shared, id, asked);
    }
    if wants_a_sheet(&headers) {
        return then_show(&shared, &headers, id, asked).await;
    }
    match work(&shared, &id, asked, |_| ()).await {
        Ok(()) => answer::finding_of(&shared, &id, &headers),
        Err(trouble) => trouble.answer(&headers),
    }
}

/// Measures, then sends the browser to the photograph's sheet.
pub async fn then_show(shared: &Arc<Shared>, headers: &HeaderMap, id: String, asked: Asked) -> Response {
    match work(shared, &id, asked, |_| ()).await {
        Ok(()) => (StatusCode::SEE_OTHER, [(header::LOCATION, format!("/photographs/{id}"))]).into_response(),
        Err(trouble) => trouble.answer(headers),
    }
}

fn told_on_the_way(shared: Arc<Shared>, id: String, asked: Asked) -> Response {
    let (send, receive) = mpsc::channel::<Result<Bytes, Infallible>>(MOST_UNREAD);
    tokio::spawn(async move {
        let line = |value: Value| Ok(Bytes::from(format!("{value}\n")));
        let _ = send.send(line(json!({ "step": "waiting" }))).await;
        let teller = send.clone();
        let done = work(&shared, &id, asked, move |step| {
            let _ = teller.try_send(line(step));
        });
        let last = match done.await {
            Ok(()) => match shared.store.get(&id) {
                Ok(kept) => json!({ "step": "answer", "html": sheet::answer(&kept).into_string() }),
                Err(trouble) => said(&trouble),
            },
            Err(trouble) => said(&trouble),
        };
        let _ = send.send(line(last)).await;
    });
    ([(header::CONTENT_TYPE, STEPS)], Body::from_stream(ReceiverStream::new(receive))).into_response()
}

fn said(trouble: &Trouble) -> Value {
    json!({ "step": "trouble", "status": trouble.status.as_u16(), "detail": plain(&trouble.detail), "help": plain(&trouble.help) })
}

/// Measures in a seat and keeps what came of it. A refusal is an answer, not a trouble.
async fn work(
    shared: &Arc<Shared>,
    id: &str,
    asked: Asked,
    mut tell: impl FnMut(Value) + Send + 'static,
) -> Result<(), Trouble> {
    let question = asked.question(&shared.settings, shared.unit).map_err(|problem| Trouble::from(&problem))?;
    shared.store.get(id)?;
    let (keeper, id) = (Arc::clone(shared), id.to_owned());
    let done = shared.work.run(move || {
        tell(json!({ "step": "begun" }));
        let photo = keeper.store.photo(&id)?;
        let measured = inspect_telling(&photo, &question, &mut |reached| tell(step(reached)));
        let outcome = match measured {
            Ok(finding) => Outcome::Found(Box::new(finding)),
            Err(Problem::Refused(refusal)) => Outcome::Refused(refusal),
            Err(problem) => return Err(Trouble::from(&problem)),
        };
        keeper.store.answered(&id, asked, Some(outcome))
    });
    done.await?
}

fn step(reached: Reached<'_>) -> Value {
    match reached {
        Reached::Scale(plane) => json!({ "step": "scale", "source": plane.source }),
        Reached::Seam(plane, seam) => json!({
            "step": "seam",
            "source": seam.source,
            "runs": seam.runs.word(),
            "points_px": json::path(plane, &seam.path),
        }),
        Reached::Lines(_) => json!({ "step": "lines" }),
        Reached::Offset(_) => json!({ "step": "offset" }),
    }
}
