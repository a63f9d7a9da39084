//! The answer in words: verdict, instruction, cautions.

use super::{state, unbroken};
use crate::finding::Finding;
use crate::report::phrase::{self, sentence};
use maud::{Markup, html};

/// The head: the verdict and why.
pub fn verdict(finding: &Finding) -> Markup {
    let verdict = &finding.verdict;
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
    }
}

/// What to do, whether it is worth it, and what went wrong.
pub fn what_to_do(finding: &Finding) -> Markup {
    let remedy = &finding.remedy;
    html! {
        section {
            h2 { "What to do" }
            p.instruction { (remedy.instruction) }
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

/// What to take care of.
pub fn cautions(finding: &Finding) -> Markup {
    html! {
        @if !finding.remedy.cautions.is_empty() {
            section {
                h2 { "Take care" }
                ul { @for caution in &finding.remedy.cautions { li { (caution) } } }
            }
        }
    }
}
