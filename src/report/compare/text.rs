//! Sentences first, then a small table a place.

use super::phrase;
use crate::compare::{Comparison, Seam};
use crate::digits::Unit;
use crate::report::phrase::{first_word, sentence};
use crate::report::text::Page;

/// A name in a row, characters.
const NAME: usize = 22;

/// The comparison as text, lengths in `unit`.
pub fn comparison(comparison: &Comparison, unit: Unit) -> String {
    let mut page = Page::default();
    page.say("", &phrase::best(comparison, unit));
    page.head("Over all seams");
    for piece in &comparison.pieces {
        let named = format!("{} ({})", piece.given.name, first_word(piece.given.standing()));
        match &piece.all {
            Some(all) => page.say(
                "  ",
                &format!(
                    "{named}: mean jump {} {}, worst {} {} ({}), {} within tolerance, seen from {}.",
                    phrase::size(all.size_mm, all.size_expanded_mm, unit),
                    unit.after(),
                    phrase::size(all.worst_mm, all.worst_expanded_mm, unit),
                    unit.after(),
                    piece.given.seams[all.worst_seam].name,
                    phrase::share(&all.within),
                    phrase::seen_from(all.visible_from_m)
                ),
            ),
            None => page.say("  ", &format!("{named}: nothing was measured in millimetres.")),
        }
    }
    phrase::overall(comparison, unit).iter().for_each(|line| page.say("  ", line));

    page.head(&format!("Place by place: mean jump, worst jump ({}), within tolerance", unit.column()));
    for place in &comparison.places {
        page.row(&format!("  {}", place.joint.name));
        for (piece, seam) in comparison.pieces.iter().zip(&place.joint.seams) {
            let name: String = piece.given.name.chars().take(NAME).collect();
            match seam.map(|k| &piece.given.seams[k]) {
                Some(seam) => row(&mut page, &name, seam, unit),
                None => page.row(&format!("    {name:<NAME$} has no such seam")),
            }
        }
        for difference in &place.differences {
            page.say("    ", &phrase::difference(comparison, difference, unit));
        }
    }
    page.head("How to read it");
    phrase::reading().iter().for_each(|line| page.say("  ", line));
    page.text
}

fn row(page: &mut Page, name: &str, seam: &Seam, unit: Unit) {
    let standing = seam.record.standing.word();
    match seam.lengths() {
        Some(lengths) => page.row(&format!(
            "    {name:<NAME$} {:>13} {:>13}  {:>12}  {standing}",
            phrase::size(lengths.mean_mm, lengths.mean_expanded_uncertainty_mm, unit),
            phrase::size(lengths.worst_mm, lengths.worst_expanded_uncertainty_mm, unit),
            phrase::share(&lengths.within),
        )),
        None => page.say("    ", &format!("{name}: {standing}. {}", sentence(&phrase::why(seam)))),
    }
}
