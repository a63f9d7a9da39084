//! What went wrong with a request: problem details (RFC 9457) for a program, a sheet for a browser.

use super::door::text;
use super::sheet;
use super::words::plain;
use crate::problem::{Problem, Refusal, RefusalCode};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde_json::json;

/// A request that is not answered as asked.
#[derive(Clone, Debug)]
pub struct Trouble {
    /// The status of HTTP.
    pub status: StatusCode,
    /// What happened.
    pub detail: String,
    /// What to do.
    pub help: String,
    /// The refusal's word, where a photograph was refused.
    code: Option<&'static str>,
    /// Seconds after which to ask again.
    again_after_s: Option<u32>,
}

impl Trouble {
    /// A trouble with what happened and what to do.
    pub fn new(status: StatusCode, detail: impl Into<String>, help: impl Into<String>) -> Self {
        Self { status, detail: detail.into(), help: help.into(), code: None, again_after_s: None }
    }

    /// Too much to do at once.
    pub fn busy() -> Self {
        Self {
            again_after_s: Some(5),
            ..Self::new(
                StatusCode::SERVICE_UNAVAILABLE,
                "too many photographs are waiting to be measured",
                "wait a few seconds and try again",
            )
        }
    }

    /// No such photograph.
    pub fn not_kept() -> Self {
        Self::new(
            StatusCode::NOT_FOUND,
            "there is no such photograph here; it may have been removed",
            "go back to the first page and choose one that is there",
        )
    }

    /// No such page.
    pub fn nothing_here() -> Self {
        Self::new(StatusCode::NOT_FOUND, "there is nothing at this address", "go to the first page: /")
    }

    /// The right address, asked in a way that it does not answer.
    pub fn not_so() -> Self {
        Self::new(
            StatusCode::METHOD_NOT_ALLOWED,
            "this address does not answer to that method",
            "the addresses and their methods are in DEVELOPERS.md",
        )
    }

    /// More bytes than are taken.
    pub fn too_many_bytes(most: usize) -> Self {
        Self::new(
            StatusCode::PAYLOAD_TOO_LARGE,
            format!("the photograph is larger than {} MB", most >> 20),
            "send it as JPEG, or at half its size; 12 megapixels are plenty",
        )
    }

    /// The answer to a request with these headers.
    pub fn answer(&self, headers: &HeaderMap) -> Response {
        let mut response = if wants_a_sheet(headers) {
            (self.status, axum::response::Html(sheet::trouble(self).into_string())).into_response()
        } else {
            let mut body = json!({
                "type": "about:blank",
                "title": self.status.canonical_reason(),
                "status": self.status.as_u16(),
                "detail": plain(&self.detail),
                "help": plain(&self.help),
            });
            if let Some(code) = self.code {
                body["code"] = json!(code);
            }
            let kind = [(header::CONTENT_TYPE, "application/problem+json")];
            (self.status, kind, format!("{body:#}\n")).into_response()
        };
        if let Some(seconds) = self.again_after_s {
            response.headers_mut().insert(header::RETRY_AFTER, HeaderValue::from(seconds));
        }
        response
    }
}

impl From<&Refusal> for Trouble {
    fn from(refusal: &Refusal) -> Self {
        let status = match refusal.code {
            RefusalCode::NotAPicture => StatusCode::UNSUPPORTED_MEDIA_TYPE,
            RefusalCode::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            _ => StatusCode::UNPROCESSABLE_ENTITY,
        };
        Self { code: Some(refusal.code.word()), ..Self::new(status, &refusal.message, &refusal.help) }
    }
}

impl From<&Problem> for Trouble {
    fn from(problem: &Problem) -> Self {
        match problem {
            Problem::Usage { message, help } => Self::new(StatusCode::BAD_REQUEST, message, help),
            Problem::Io { message, help } => Self::new(StatusCode::INTERNAL_SERVER_ERROR, message, help),
            Problem::Refused(refusal) => refusal.into(),
        }
    }
}

/// Whether the one who asks reads HTML rather than JSON.
pub fn wants_a_sheet(headers: &HeaderMap) -> bool {
    text(headers, header::ACCEPT).is_some_and(|accept| accept.contains("text/html"))
}
