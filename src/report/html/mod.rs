//! The face to keep or to send: one HTML page that needs nothing beside it, for screen and paper.
//!
//! In the order in which a person asks: the verdict, what to do, the pictures, the lines one by one, the charts, where the
//! uncertainty comes from, how it was measured, how to read it, and what to take care of.

mod answer;

mod figures;

mod tables;

pub use answer::{cautions, what_to_do};
pub(crate) use figures::{alternative, embedded};
pub use tables::lines;

use super::look::stylesheet;
use super::phrase::{self, sentence};
use crate::finding::Finding;
use crate::problem::{Problem, Refusal};
use crate::record::Standing;
use crate::verdict::Judgement;
use image::RgbImage;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// The whole page. `photo` must be the upright photograph that the finding was measured on.
///
/// # Errors
/// [`Problem::Io`] where a picture or a chart cannot be made.
pub fn page(photo: &RgbImage, finding: &Finding) -> Result<String, Problem> {
    let title = format!("{} – {}", phrase::headline(finding.verdict.result), finding.photo.file);
    let body = html! {
        (answer::verdict(finding))
        (answer::what_to_do(finding))
        (figures::pictures(photo, finding)?)
        (tables::lines(finding))
        (figures::charts(finding)?)
        (tables::uncertainty(finding))
        section {
            h2 { "How it was measured" }
            @for line in phrase::method(finding) { p { (unbroken(&line)) } }
            @if !finding.notes.is_empty() {
                ul { @for note in &finding.notes { li { (note.text) } } }
            }
        }
        section {
            h2 { "How to read it" }
            @for line in phrase::reading(finding.seam.runs) { p { (line) } }
        }
        (answer::cautions(finding))
    };
    Ok(whole(&title, &body))
}

/// The page of a photograph that cannot be judged: why, and what to do.
pub fn refusal(file: &str, refusal: &Refusal) -> String {
    let body = html! {
        header {
            h1 { span.state.unsure { "REFUSED" } " This photograph cannot be judged." }
            p { (sentence(&refusal.message)) }
            p.soft { "Photograph: " (file) }
        }
        section {
            h2 { "What to do" }
            p { strong { (sentence(&refusal.help)) } }
        }
    };
    whole(&format!("REFUSED – {file}"), &body)
}

pub(crate) fn whole(title: &str, body: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(stylesheet())) }
            }
            body { main { (body) } }
        }
    };
    page.into_string()
}

fn state(judgement: Judgement, words: &str) -> Markup {
    html! { span class={ "state " (judgement.word()) } { (words) } }
}

/// Words with the sign of how something stands.
pub(crate) fn stands(standing: Standing, words: &str) -> Markup {
    let class = match standing {
        Standing::Matched => "matched",
        Standing::Off | Standing::Trouble => "off",
        Standing::Unsure | Standing::Refused => "unsure",
    };
    html! { span class={ "state " (class) } { (words) } }
}

/// `text` with numbers that are not torn from their unit and uncertainty at the end of a line.
pub fn unbroken(text: &str) -> String {
    text.replace(" ± ", "\u{a0}±\u{a0}").replace(" mm", "\u{a0}mm").replace(" %", "\u{a0}%")
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::problem::RefusalCode;

    fn made(finding: &Finding) -> String {
        let (width, height) = (finding.photo.width_px / 4, finding.photo.height_px / 4);
        page(&RgbImage::new(width, height), finding).unwrap()
    }

    #[test]
    fn the_page_stands_alone_and_escapes_what_others_wrote() {
        let finding = sample::down().finding();
        let text = made(&finding);
        assert!(text.contains("back seam &lt;1&gt;.jpg") && !text.contains("<1>"));
        assert!(text.contains("all of it &amp; nothing else"));
        for link in ["<script", "<link", "http://", "https://", "url(", "@import"] {
            let outside = text.matches(link).count()
                - text.matches("http://www.w3.org/2000/svg").count() * usize::from(link == "http://");
            assert_eq!(outside, 0, "{link}");
        }
        assert!(text.contains("src=\"data:image/jpeg;base64,/9j/"));
    }

    #[test]
    fn everything_stands_in_the_order_in_which_a_person_asks() {
        for (kind, finding) in sample::every_kind() {
            let text = made(&finding);
            let at = |what: &str| text.find(what).unwrap_or_else(|| panic!("{kind}: no {what}"));
            let order = [
                "<body",
                "<h1",
                "What to do</h2>",
                "class=\"instruction\"",
                "<img",
                "How far the lines jump",
                "class=\"chart\"",
                "Where the uncertainty",
                "How it was measured",
                "How to read it",
            ];
            assert!(order.windows(2).all(|pair| at(pair[0]) < at(pair[1])), "{kind}");
            assert!(finding.remedy.cautions.is_empty() || at("How to read it") < at("Take care"), "{kind}");
            assert_eq!(text.matches("<img").count(), 2, "{kind}");
            assert_eq!(text.matches("class=\"chart\"").count(), 3, "{kind}");
            assert!(!text.contains(" style="), "{kind}");
            assert_eq!(
                text.matches("<tr").count(),
                2 + finding.offset.budget.rows.len()
                    + finding.offset.lines.len()
                    + usize::from(!finding.offset.lines.is_empty())
            );
        }
    }

    #[test]
    fn a_refusal_says_why_and_what_to_do() {
        let refused = Refusal::new(RefusalCode::NoLines, "no lines cross <here>", "try --repeat");
        let text = refusal("a&b.jpg", &refused);
        assert!(text.contains("No lines cross &lt;here&gt;.") && text.contains("<strong>Try --repeat.</strong>"));
        assert!(text.contains("a&amp;b.jpg") && text.ends_with("</html>"));
    }
}
