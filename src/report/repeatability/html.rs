//! The study on one page that needs nothing beside it.

use super::{chart, phrase, sources};
use crate::digits::plain;
use crate::problem::Problem;
use crate::repeatability::anova::LEVEL;
use crate::repeatability::{Answer, Study};
use crate::report::html::{unbroken, whole};
use crate::report::phrase::sentence;
use maud::{Markup, PreEscaped, html};

/// The whole page.
///
/// # Errors
/// [`Problem::Io`] where the chart cannot be drawn.
pub fn page(study: &Study) -> Result<String, Problem> {
    let state = match study.answer() {
        Some(Answer::Good) => "matched",
        Some(Answer::Poor) => "off",
        Some(Answer::Fair) | None => "unsure",
    };
    let body = html! {
        header {
            h1 { span class={ "state " (state) } { (phrase::headline(study)) } " " (sentence(&phrase::answer(study))) }
            @if let Some(doubt) = phrase::doubt(study) { p { (doubt) } }
            @if let Some(spread) = phrase::spread(study) { p { (unbroken(&spread)) } }
        }
        section {
            h2 { "Photograph by photograph" }
            figure.chart {
                div.wide { (PreEscaped(chart::svg(study)?)) }
                figcaption { (chart::reading(study)) }
            }
        }
        @if let Some(components) = &study.components {
            section {
                h2 { "Where the scatter comes from" }
                figure.chart {
                    div.wide { (PreEscaped(sources::svg(study, components)?)) }
                    figcaption { (sources::reading(study)) }
                }
                div.wide { table {
                    thead { tr {
                        th scope="col" { "Source" }
                        th.number scope="col" { "Deviation" }
                        th.number scope="col" { (plain(100.0 * LEVEL, 0)) " % interval" }
                    } }
                    tbody { @for (name, told, interval) in phrase::parts(components) {
                        tr {
                            td { (name) }
                            td.number { (unbroken(&told)) }
                            td.number { (interval.as_deref().unwrap_or("–")) }
                        }
                    } }
                } }
                @for line in phrase::remarks(study) { p { (unbroken(&line)) } }
            }
            (analysis(study))
        }
        section {
            h2 { "What was compared" }
            @for line in phrase::compared(study) { p { (line) } }
        }
        section {
            h2 { "How to read it" }
            @for line in phrase::reading() { p { (unbroken(&line)) } }
        }
    };
    Ok(whole(&format!("{} – repeatability", phrase::headline(study)), &body))
}

fn analysis(study: &Study) -> Markup {
    let rows = study.components.iter().flat_map(|c| &c.rows);
    let or_dash = |told: Option<String>| told.unwrap_or("–".into());
    html! {
        section {
            h2 { "Analysis of variance" }
            div.wide { table {
                thead { tr {
                    th scope="col" { "Source" }
                    th.number scope="col" { "Freedom" }
                    th.number scope="col" { "Mean square, mm²" }
                    th.number scope="col" { "F" }
                    th.number scope="col" { "Chance" }
                } }
                tbody { @for row in rows {
                    tr {
                        td { (row.source) }
                        td.number { (plain(row.freedom, 0)) }
                        td.number { (phrase::figures(row.mean)) }
                        td.number { (or_dash(row.f.map(phrase::figures))) }
                        td.number { (or_dash(row.p.map(phrase::chance))) }
                    }
                } }
            } }
        }
    }
}
