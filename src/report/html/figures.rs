//! What is to be looked at: the two pictures and the charts, inside the page.

use crate::finding::Finding;
use crate::problem::Problem;
use crate::report::chart::{self, CHARTS};
use crate::report::save::jpeg;
use crate::report::{phrase, picture};
use crate::threads;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use image::RgbImage;
use maud::{Markup, PreEscaped, html};

/// Both panels of the picture, and what the marks on them mean.
///
/// # Errors
/// [`Problem::Io`] where a picture cannot be encoded.
pub fn pictures(photo: &RgbImage, finding: &Finding) -> Result<Markup, Problem> {
    let straight = || picture::straightened(photo, finding).as_ref().map(embedded).transpose();
    let (straight, taken) = threads::both(straight, || embedded(&picture::as_taken(photo, finding)));
    let (straight, taken) = (straight?, taken?);
    Ok(html! {
        section.photograph {
            h2 { "The seam" }
            div.pictures {
                @if let Some(straight) = straight {
                    figure {
                        img src=(straight) alt=(alternative(finding));
                        figcaption {
                            "Straightened along the seam, true to scale. "
                            @if let Some(turned) = picture::moves::turned(finding.seam.runs) { "It is " (turned) ". " }
                        }
                    }
                }
                figure {
                    img src=(taken) alt="The photograph as it was taken, with the same seam, lines and jumps drawn on it.";
                    figcaption { "As photographed: " (finding.photo.file) }
                }
            }
            p.soft { (marks(finding)) }
        }
    })
}

/// A picture as the page holds it: the bytes of a JPEG in a `data:` address.
///
/// # Errors
/// [`Problem::Io`] where it cannot be encoded.
pub(crate) fn embedded(picture: &RgbImage) -> Result<String, Problem> {
    Ok(format!("data:image/jpeg;base64,{}", STANDARD.encode(jpeg(picture)?)))
}

/// The marks in words.
fn marks(finding: &Finding) -> String {
    let mut words = vec![
        "Solid strokes follow the lines as they run on each side; they end in a dot where the line is matched, in a cross \
         where it is off, in a ring where that is unsure.",
        "The arrow on the seam is the jump; the circle is the worst place.",
    ];
    if picture::marks::astray(finding).next().is_some() {
        words.insert(1, "Dashes are where a line should run.");
    }
    if !finding.verdict.stretches.is_empty() {
        words.push("Hatched: the stretch that is off.");
    }
    if picture::moves::chosen(finding).is_some() {
        words.push("The broad arrow and its bracket are the move that cures it.");
    }
    words.join(" ")
}

/// Every chart that there is.
///
/// # Errors
/// [`Problem::Io`] where a chart cannot be drawn.
pub fn charts(finding: &Finding) -> Result<Markup, Problem> {
    let mut drawn = Vec::new();
    for which in CHARTS {
        drawn.extend(chart::svg(finding, which)?.map(|svg| (which, svg)));
    }
    Ok(html! {
        @if !drawn.is_empty() {
            section.charts {
                h2 { "Charts" }
                @for (which, svg) in &drawn {
                    figure {
                        h3 { (which.title()) }
                        div.chart role="img" aria-label={ "Chart: " (which.title()) } { (PreEscaped(svg)) }
                        figcaption { (which.reading(finding)) }
                    }
                }
            }
        }
    })
}

/// What the picture shows, for those who do not see it.
pub(crate) fn alternative(finding: &Finding) -> String {
    format!(
        "The seam straightened, {} lines and their jumps drawn on it. {}: {}",
        finding.offset.lines.len(),
        phrase::headline(finding.verdict.result),
        phrase::verdict(finding)
    )
}
