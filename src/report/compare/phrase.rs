//! Sentences that more than one face of a comparison says.

use crate::compare::{Comparison, Difference, Seam};
use crate::digits::{self, Unit};
use crate::record::Share;
use crate::remedy::visible;

/// A size with its expanded uncertainty: `2.61 ± 0.09`.
pub fn size(size_mm: f64, expanded_mm: f64, unit: Unit) -> String {
    let figures = digits::figures(size_mm.abs(), expanded_mm, unit);
    format!("{} ± {}", figures.size, figures.uncertainty)
}

/// A share in per cent, from what is surely so to what may be: `84 to 100 %`.
pub fn share(share: &Share) -> String {
    let [least, most] = [share.least, share.most].map(|s| format!("{:.0}", 100.0 * s));
    if least == most { format!("{most} %") } else { format!("{least} to {most} %") }
}

/// A chance: `under 0.001`, `0.032`.
pub fn chance(p: f64) -> String {
    if p < 0.001 { "under 0.001".into() } else { format!("{p:.3}") }
}

/// From how far it is seen; a dash where that is not known.
pub fn seen_from(visible_from_m: Option<f64>) -> String {
    visible_from_m.map_or_else(|| "–".into(), visible::told)
}

fn name(comparison: &Comparison, piece: usize) -> &str {
    &comparison.pieces[piece].given.name
}

/// Which piece is matched best, in a sentence or two.
pub fn best(comparison: &Comparison, unit: Unit) -> String {
    let order = comparison.best_first();
    let [first, .., last] = order[..] else {
        return match order.first() {
            Some(&only) => format!(
                "Only {} was measured in millimetres: there is nothing to compare it with.",
                name(comparison, only)
            ),
            None => "No piece was measured in millimetres: there is nothing to compare.".into(),
        };
    };
    let told = |piece: usize| {
        let all = comparison.pieces[piece].all.unwrap_or_else(|| unreachable!("it was measured"));
        let over = if all.seams == 1 { "one seam".to_owned() } else { format!("{} seams", all.seams) };
        format!("{} {} over {over}", size(all.size_mm, all.size_expanded_mm, unit), unit.after())
    };
    let certain = comparison
        .overall
        .iter()
        .find(|d| d.pieces == [first, last] || d.pieces == [last, first])
        .map_or("", |d| if d.is_told() { "" } else { " Over all seams that could still be chance." });
    format!(
        "{} is matched best: its lines jump by {} in the mean. {}: by {}.{certain}",
        name(comparison, first),
        told(first),
        name(comparison, last),
        told(last)
    )
}

/// What the difference at one place says: how large, how sure.
pub fn difference(comparison: &Comparison, difference: &Difference, unit: Unit) -> String {
    held_against("the measurement", comparison, difference, unit)
}

/// The same of any difference, and what it is held against.
fn held_against(against: &str, comparison: &Comparison, difference: &Difference, unit: Unit) -> String {
    let [a, b] = difference.pieces;
    let welch = &difference.welch;
    // The one that jumps further is named first.
    let (more, less) = if welch.value >= 0.0 { (a, b) } else { (b, a) };
    let by = format!("{} {}", size(welch.value, welch.expanded(), unit), unit.after());
    let freedom = match welch.freedom {
        f if f.is_finite() && f < 1000.0 => format!("{f:.1} degrees of freedom"),
        _ => "very many degrees of freedom".into(),
    };
    let test = format!("Welch's t {:.1}, {freedom}, chance {}", welch.t.abs(), chance(difference.p_adjusted));
    match difference.is_told() {
        true => format!(
            "{} jumps further than {}, by {by}: more than {against} ({test}).",
            name(comparison, more),
            name(comparison, less)
        ),
        false => format!(
            "{} and {} cannot be told apart: {by} is no more than {against} ({test}).",
            name(comparison, more),
            name(comparison, less)
        ),
    }
}

/// What the seams of all tell, two pieces at a time.
pub fn overall(comparison: &Comparison, unit: Unit) -> Vec<String> {
    let against = "the scatter from seam to seam";
    let said = comparison.overall.iter().map(|d| held_against(against, comparison, d, unit));
    let said: Vec<String> = said.collect();
    match said.is_empty() {
        true => vec!["Over all seams nothing can be tested: that takes two measured seams of two pieces.".into()],
        false => said,
    }
}

/// What was measured on a seam, in a few words: `jump 2.61 mm, off`.
pub fn short(seam: &Seam, unit: Unit) -> String {
    let standing = seam.record.standing.word();
    match seam.lengths() {
        Some(lengths) => {
            let figures = digits::figures(lengths.mean_mm.abs(), lengths.mean_expanded_uncertainty_mm, unit);
            format!("jump {} {}, {standing}", figures.size, unit.column())
        }
        None => standing.into(),
    }
}

/// Why a seam has no figures.
pub fn why(seam: &Seam) -> String {
    match &seam.record.instead {
        Some(instead) => instead.message.clone(),
        None => seam.record.measured.as_ref().map_or(String::new(), |measured| measured.reason.clone()),
    }
}

/// How to read it.
pub fn reading() -> [String; 3] {
    [
        "Compared is the size of each seam's mean jump, whichever way it goes; ± is the expanded uncertainty (k = 2, of \
         differences at 95 %)."
            .into(),
        "A difference counts as told where the chance of one so large by the measurement alone is under 0.05, all places \
         taken together (Welch's test, adjusted after Holm). Over all seams the scatter from seam to seam takes the \
         measurement's place."
            .into(),
        "Within tolerance: the share of the seam that is surely so, to the share that may be. The distance from which a \
         jump is seen is a guide. The buyer's or maker's own specification goes before all of this."
            .into(),
    ]
}
