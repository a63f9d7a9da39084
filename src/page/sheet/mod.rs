//! The sheets that a browser shows, whole without a script, and what they are dressed in.

mod compare;

mod form;

mod front;

mod seam;

pub use compare::compare;
pub use front::front;
pub use seam::{answer, seam};

use super::trouble::Trouble;
use super::words::plain;
use crate::report::look::stylesheet;
use crate::report::phrase::sentence;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use maud::{DOCTYPE, Markup, html};

/// What the sheets add to the report's style.
const OWN_STYLE: &str = include_str!("page.css");
/// Three lines that skip at a seam.
const ICON: &str = include_str!("icon.svg");
/// What drags the seam and tells the steps.
const SCRIPT: &str = include_str!("page.js");

/// `GET /page.css`.
pub async fn style() -> Response {
    ([(header::CONTENT_TYPE, "text/css; charset=utf-8")], [stylesheet(), OWN_STYLE].concat()).into_response()
}

/// `GET /page.js`.
pub async fn script() -> Response {
    ([(header::CONTENT_TYPE, "text/javascript; charset=utf-8")], SCRIPT).into_response()
}

/// `GET /icon.svg`.
pub async fn icon() -> Response {
    ([(header::CONTENT_TYPE, "image/svg+xml")], ICON).into_response()
}

/// A whole sheet.
fn sheet(title: &str, body: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) " – seamstep" }
                link rel="icon" type="image/svg+xml" href="/icon.svg";
                link rel="stylesheet" href="/page.css";
                script src="/page.js" defer {}
            }
            body { (body) }
        }
    }
}

/// The sheet of a request that is not answered as asked.
pub fn trouble(trouble: &Trouble) -> Markup {
    let body = html! {
        main {
            header {
                h1 { (sentence(&plain(&trouble.detail))) }
                p { strong { (sentence(&plain(&trouble.help))) } }
                p { a href="/" { "To the first page" } }
            }
        }
    };
    sheet("Not done", &body)
}
