//! The places as a table, then each in a few sentences.

use super::{jump, standing};
use crate::inspect::OneOfAll;
use crate::report::phrase;
use crate::report::text::Page;
use crate::units::PxPoint;

/// The places in the order given.
pub fn all(seams: &[OneOfAll]) -> String {
    let mut page = Page::default();
    let places = match seams.len() {
        1 => "1 place where a seam may be".to_owned(),
        count => format!("{count} places where a seam may be, the worst first"),
    };
    let first = seams.iter().find_map(|one| one.came.as_ref().ok());
    let accepted = first.map_or(String::new(), |finding| format!(" {}", phrase::tolerance(finding)));
    page.say("", &format!("{places}.{accepted}"));
    page.blank();
    page.row(&format!(
        "  {:<3} {:<7} {:<30} {:<8} {:<20} {}",
        "", "runs", "from and to, pixels", "state", "worst jump", "sure"
    ));
    for (k, one) in seams.iter().enumerate() {
        page.row(&format!(
            "  {:<3} {:<7} {:<30} {:<8} {:<20} {:>3.0} %",
            k + 1,
            one.place.runs.word(),
            ends(one),
            standing(one).word(),
            jump(one).unwrap_or_else(|| "–".into()),
            100.0 * one.place.confidence,
        ));
    }
    for (k, one) in seams.iter().enumerate() {
        page.head(&format!("{}: {}", k + 1, standing(one).word()));
        match &one.came {
            Ok(finding) => {
                page.say("  ", &phrase::sentence(&phrase::verdict(finding)));
                page.say("  ", &phrase::sentence(&finding.verdict.reason));
            }
            Err(refusal) => {
                page.say("  ", &phrase::sentence(&refusal.message));
                page.say("  ", &format!("What to do: {}.", refusal.help));
            }
        }
        page.say("  ", &format!("Alone, with its cure: --seam \"{}\"", drawing(&one.place.points_px)));
    }
    page.text
}

/// Where a place begins and ends.
fn ends(one: &OneOfAll) -> String {
    let points = &one.place.points_px;
    match (points.first(), points.last()) {
        (Some(a), Some(b)) => format!("{} to {}", at(a), at(b)),
        _ => String::new(),
    }
}

/// Ends and middle, as `--seam` reads them.
fn drawing(points: &[PxPoint]) -> String {
    let some = [0, points.len() / 2, points.len().saturating_sub(1)];
    some.iter().filter_map(|&k| points.get(k)).map(at).collect::<Vec<_>>().join(" ")
}

fn at(p: &PxPoint) -> String {
    format!("{:.0},{:.0}", p.x, p.y)
}
