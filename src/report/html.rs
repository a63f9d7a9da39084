//! The face to keep or to send: one HTML page that needs nothing beside it, for screen and paper.

use super::chart;
use super::look::stylesheet;
use super::phrase::{self, sentence};
use super::picture;
use super::save::jpeg;
use crate::colour::word::hex;
use crate::digits::{self, Figures};
use crate::finding::Finding;
use crate::problem::{Problem, Refusal};
use crate::verdict::Judgement;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use image::RgbImage;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// The whole page. `photo` must be the upright photograph that the finding was measured on.
///
/// # Errors
/// [`Problem::Io`] where the picture or the chart cannot be made.
pub fn page(photo: &RgbImage, finding: &Finding) -> Result<String, Problem> {
    let picture = STANDARD.encode(jpeg(&picture::annotate(photo, finding))?);
    let chart = chart::offset_svg(finding)?;
    let title = format!("{} – {}", phrase::headline(finding.verdict.result), finding.photo.file);
    let body = html! {
        (verdict(finding))
        section.photograph {
            figure {
                img src={ "data:image/jpeg;base64," (picture) } alt=(alternative(finding));
                figcaption { "Photograph: " (finding.photo.file) }
            }
        }
        (lines(finding))
        @if let Some(svg) = chart { (curve(finding, &svg)) }
        (uncertainty(finding))
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
        (cautions(finding))
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

fn whole(title: &str, body: &Markup) -> String {
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

fn verdict(finding: &Finding) -> Markup {
    let Finding { verdict, remedy, .. } = finding;
    html! {
        header {
            h1 {
                (state(verdict.result, phrase::headline(verdict.result)))
                " " (unbroken(&sentence(&phrase::verdict(finding))))
            }
            p { (sentence(&verdict.reason)) }
            @if let Some(cure) = &verdict.cure { p { "What would settle it: " (sentence(cure)) } }
            p.soft { (phrase::tolerance(finding)) }
        }
        section {
            h2 { "What to do" }
            p { strong { (finding.remedy.instruction) } }
            h3 { "Is it worth unpicking?" }
            p { (unbroken(&phrase::worth(finding))) }
            p { (phrase::cost(finding)) }
            @if remedy.runner_up.is_some() { p { (phrase::next_best(remedy)) } }
            @if !remedy.cures.is_empty() {
                details {
                    summary { "What was weighed" }
                    ul { @for cure in &remedy.cures { li { (unbroken(&phrase::cure(finding, cure))) } } }
                }
            }
        }
        @if !remedy.faults.is_empty() {
            section {
                h2 { "What went wrong" }
                @for fault in &remedy.faults { p { (phrase::fault(fault)) } }
                p.soft { (phrase::FAULTS_SOURCE) }
            }
        }
    }
}

fn lines(finding: &Finding) -> Markup {
    let unit = finding.unit();
    let runs = finding.seam.runs;
    let offset = &finding.offset;
    let mean = digits::figures(offset.mean_mm, offset.expanded_uncertainty_mm, unit);
    let worst = phrase::worst(finding);
    let told = |figures: &Figures| unbroken(&format!("{} ± {} {}", figures.value, figures.uncertainty, unit.after()));
    html! {
        section.lines {
            h2 { "How far the lines jump" }
            p {
                "Mean: " (told(&mean)) ", "
                (phrase::jump(runs, offset.mean_mm, offset.expanded_uncertainty_mm)) ". "
                "Worst: " (told(&worst)) ", "
                (digits::place(offset.worst_at_mm, unit)) " " (unit.places()) " " (phrase::start(runs)) "."
                @if let Some(drift) = phrase::drift(finding) { " " (drift) }
            }
            @if offset.lines.is_empty() {
                p { "No single lines were told apart." }
            } @else {
                div.wide {
                    table {
                        thead { tr {
                            th.number scope="col" { "Line" }
                            th.number scope="col" { (unit.places()) " " (phrase::start(runs)) }
                            th scope="col" { "Colour" }
                            th.number scope="col" { "Offset, " (unit.column()) }
                            th scope="col" { "State" }
                            th.way scope="col" { "Which way" }
                        } }
                        tbody {
                            @for (line, judgement) in offset.lines.iter().zip(&finding.verdict.lines) {
                                @let figures = digits::figures(line.offset_mm, line.expanded_uncertainty_mm, unit);
                                tr {
                                    td.number { (line.number) }
                                    td.number { (digits::place(line.along_mm, unit)) }
                                    td {
                                        span.swatch style={ "background:" (hex(line.colour)) } {}
                                        (line.name)
                                    }
                                    td.number { (figures.value) " ± " (figures.uncertainty) }
                                    td { (state(*judgement, judgement.word())) }
                                    td.way { (phrase::jump(runs, line.offset_mm, line.expanded_uncertainty_mm)) }
                                }
                            }
                        }
                    }
                }
                p.soft { (sentence(phrase::sign(runs))) }
            }
        }
    }
}

fn curve(finding: &Finding, svg: &str) -> Markup {
    let limit = finding.plane.is_metric();
    html! {
        section {
            h2 { "The offset along the seam" }
            figure.chart role="img" aria-label="Chart of the offset along the seam" { (PreEscaped(svg)) }
            p.soft {
                "Curve: the offset, with its uncertainty as a band."
                @if limit { " Dashed: the tolerance." }
                " Lines of the cloth: a dot is matched, a cross off, a ring unsure."
            }
        }
    }
}

fn uncertainty(finding: &Finding) -> Markup {
    let unit = finding.unit();
    let mean = digits::figures(finding.offset.mean_mm, finding.offset.expanded_uncertainty_mm, unit);
    html! {
        section {
            h2 { "Where the uncertainty of the mean comes from" }
            div.wide {
                table {
                    thead { tr {
                        th scope="col" { "Source" }
                        th.number scope="col" { "Standard uncertainty, " (unit.column()) }
                    } }
                    tbody {
                        @for row in &finding.offset.budget.rows {
                            tr {
                                td { (row.source) }
                                td.number { (phrase::brings(row.u_mm * unit.per_mm())) }
                            }
                        }
                    }
                    tfoot { tr {
                        th scope="row" { "Expanded (" (phrase::coverage(&finding.offset.budget)) ")" }
                        td.number { (mean.uncertainty) }
                    } }
                }
            }
        }
    }
}

fn cautions(finding: &Finding) -> Markup {
    html! {
        @if !finding.remedy.cautions.is_empty() {
            section {
                h2 { "Take care" }
                ul { @for caution in &finding.remedy.cautions { li { (caution) } } }
            }
        }
    }
}

/// `text` with numbers that are not torn from their unit and uncertainty at the end of a line.
fn unbroken(text: &str) -> String {
    text.replace(" ± ", "\u{a0}±\u{a0}").replace(" mm", "\u{a0}mm").replace(" %", "\u{a0}%")
}

/// What the picture shows, for those who do not see it.
fn alternative(finding: &Finding) -> String {
    format!(
        "The photograph with the seam, {} lines and their jumps drawn on it. {}: {}",
        finding.offset.lines.len(),
        phrase::headline(finding.verdict.result),
        phrase::verdict(finding)
    )
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
    fn the_verdict_comes_before_the_instruction_and_both_before_the_picture() {
        for (kind, finding) in sample::every_kind() {
            let text = made(&finding);
            let at = |what: &str| text.find(what).unwrap_or_else(|| panic!("{kind}: no {what}"));
            let body = at("<body");
            assert!(body < at("<h1"), "{kind}");
            assert!(at("<h1") < at("<strong") && at("<strong") < at("<img"), "{kind}");
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
