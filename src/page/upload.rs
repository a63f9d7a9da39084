//! A photograph comes in: as the body of the request, or as a field of a form.

use super::asked::Asked;
use super::door::text;
use super::measure;
use super::server::{MOST_UPLOAD_BYTES, Shared};
use super::store::Kept;
use super::trouble::{Trouble, wants_a_sheet};
use axum::Json;
use axum::body::Body;
use axum::extract::{FromRequest, Multipart, Query, Request, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use serde_json::json;
use std::sync::Arc;
use std::time::Duration;
use tokio::time::timeout;
use tokio_stream::StreamExt;

/// A sender that says nothing for so long is gone.
const LONGEST_SILENCE: Duration = Duration::from_secs(30);
/// Of a body that is too large so many bytes are read and thrown away, so that a browser hears the answer.
const MOST_THROWN_AWAY: u64 = 256 << 20;
/// Longest text of a form's field, bytes.
const MOST_FIELD_BYTES: usize = 4 << 10;

/// What may stand in the address when the photograph is the body.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Said {
    name: String,
    piece: String,
    place: String,
    stage: String,
}

/// A photograph and what was said of it.
struct Sent {
    name: String,
    bytes: Vec<u8>,
    asked: Asked,
}

/// `POST /photographs`: keeps a photograph. A program, or the page's script, is told its address; a form's sender sees it
/// measured.
pub async fn upload(State(shared): State<Arc<Shared>>, request: Request) -> Response {
    let headers = request.headers().clone();
    match keep(&shared, request).await {
        Ok(kept) if wants_a_sheet(&headers) => {
            let asked = kept.asked.clone();
            measure::then_show(&shared, &headers, kept.id, asked).await
        }
        Ok(kept) => {
            let address = format!("/photographs/{}", kept.id);
            let told = json!({
                "id": kept.id,
                "address": address,
                "name": kept.name,
                "width_px": kept.size_px[0],
                "height_px": kept.size_px[1],
            });
            (StatusCode::CREATED, [(header::LOCATION, address)], Json(told)).into_response()
        }
        Err(trouble) => trouble.answer(&headers),
    }
}

async fn keep(shared: &Arc<Shared>, request: Request) -> Result<Kept, Trouble> {
    let announced = text(request.headers(), header::CONTENT_LENGTH).and_then(|v| v.parse::<u64>().ok());
    if announced.is_some_and(|bytes| bytes > MOST_UPLOAD_BYTES as u64 + MOST_FIELD_BYTES as u64) {
        throw_away(request.into_body()).await;
        return Err(Trouble::too_many_bytes(MOST_UPLOAD_BYTES));
    }
    let seat = shared.receive.take().await?;
    let form =
        text(request.headers(), header::CONTENT_TYPE).is_some_and(|kind| kind.starts_with("multipart/form-data"));
    let sent = if form { from_form(request).await? } else { from_body(request).await? };
    // What cannot be asked is said before anything is kept.
    sent.asked.question(&shared.settings, shared.unit).map_err(|problem| Trouble::from(&problem))?;
    let keeper = Arc::clone(shared);
    let kept = shared.work.run(move || keeper.store.add(&sent.name, sent.bytes, sent.asked)).await?;
    drop(seat);
    kept
}

async fn from_body(request: Request) -> Result<Sent, Trouble> {
    let said = Query::<Said>::try_from_uri(request.uri()).map_err(|_| unreadable())?.0;
    let mut stream = request.into_body().into_data_stream();
    let mut bytes = Vec::new();
    while let Some(part) = timeout(LONGEST_SILENCE, stream.next()).await.map_err(|_| silent())? {
        let part = part.map_err(|_| unreadable())?;
        room(bytes.len() + part.len(), MOST_UPLOAD_BYTES)?;
        bytes.extend_from_slice(&part);
    }
    let Said { name, piece, place, stage } = said;
    Ok(Sent { name, bytes, asked: Asked { piece, place, stage, ..Asked::default() } })
}

async fn from_form(request: Request) -> Result<Sent, Trouble> {
    let mut form = Multipart::from_request(request, &()).await.map_err(|_| unreadable())?;
    let mut sent: Option<(String, Vec<u8>)> = None;
    let mut asked = Asked::default();
    while let Some(mut field) =
        timeout(LONGEST_SILENCE, form.next_field()).await.map_err(|_| silent())?.map_err(|_| unreadable())?
    {
        let photograph = matches!(field.name(), Some("photograph" | "camera"));
        let most = if photograph { MOST_UPLOAD_BYTES } else { MOST_FIELD_BYTES };
        let (title, name) =
            (field.name().unwrap_or_default().to_owned(), field.file_name().unwrap_or_default().to_owned());
        let mut bytes = Vec::new();
        while let Some(part) =
            timeout(LONGEST_SILENCE, field.chunk()).await.map_err(|_| silent())?.map_err(|_| unreadable())?
        {
            room(bytes.len() + part.len(), most)?;
            bytes.extend_from_slice(&part);
        }
        let value = || String::from_utf8_lossy(&bytes).into_owned();
        match title.as_str() {
            // A form has a field for the camera and one for files; the one that is not used comes empty.
            "photograph" | "camera" if sent.is_none() && !(bytes.is_empty() && name.is_empty()) => {
                sent = Some((name, bytes))
            }
            "piece" => asked.piece = value(),
            "place" => asked.place = value(),
            "stage" => asked.stage = value(),
            _ => {}
        }
    }
    let (name, bytes) = sent.ok_or_else(|| {
        Trouble::new(
            StatusCode::BAD_REQUEST,
            "no photograph was sent",
            "choose a photograph first, then press the button",
        )
    })?;
    Ok(Sent { name, bytes, asked })
}

fn room(bytes: usize, most: usize) -> Result<(), Trouble> {
    if bytes > most { Err(Trouble::too_many_bytes(MOST_UPLOAD_BYTES)) } else { Ok(()) }
}

fn silent() -> Trouble {
    Trouble::new(StatusCode::REQUEST_TIMEOUT, "the photograph stopped coming", "check the network and send it again")
}

fn unreadable() -> Trouble {
    Trouble::new(StatusCode::BAD_REQUEST, "what was sent cannot be read", "send the photograph again from the page")
}

/// Reads a body to its end, or as far as patience goes: many a sender listens only once it has sent everything.
async fn throw_away(body: Body) {
    let mut stream = body.into_data_stream();
    let mut read = 0;
    while let Ok(Some(Ok(part))) = timeout(LONGEST_SILENCE, stream.next()).await {
        read += part.len() as u64;
        if read > MOST_THROWN_AWAY {
            return;
        }
    }
}
