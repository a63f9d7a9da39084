//! The numbers: the lines one by one, and where the uncertainty comes from.

use super::{state, unbroken};
use crate::colour::word::hex;
use crate::digits::{self, Figures};
use crate::finding::Finding;
use crate::report::phrase::{self, sentence};
use maud::{Markup, html};

/// Mean, worst place and drift, then every line.
pub fn lines(finding: &Finding) -> Markup {
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
                                        svg.swatch viewBox="0 0 1 1" aria-hidden="true" { rect width="1" height="1" fill=(hex(line.colour)) {} }
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

/// The budget of the mean.
pub fn uncertainty(finding: &Finding) -> Markup {
    let unit = finding.unit();
    let mean = digits::figures(finding.offset.mean_mm, finding.offset.expanded_uncertainty_mm, unit);
    html! {
        section.budget {
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
