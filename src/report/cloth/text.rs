//! Sentences first, then the bands of a repeat, at most [`WIDTH`](crate::report::text::WIDTH) characters wide.

use super::phrase;
use crate::cloth::FlatCloth;
use crate::report::text::Page;

/// The flat cloth as text.
pub fn cloth(cloth: &FlatCloth) -> String {
    let mut page = Page::default();
    page.say("", &phrase::headline(cloth));
    for line in phrase::laying(cloth) {
        page.say("", &line);
    }
    if let (Some(cost), Some(cutting)) = (phrase::cost(cloth), &cloth.cutting) {
        page.head("What matching costs");
        page.say("  ", &cost);
        page.blank();
        page.say("  ", &format!("Piece by piece: length, repeats, cloth it takes ({}):", cloth.unit.places()));
        for piece in &cutting.pieces {
            let [length, repeats, takes] = phrase::piece(cloth, piece);
            page.row(&format!("  {length:>9} {repeats:>7} {takes:>9}"));
        }
        phrase::near_whole(cloth).iter().for_each(|line| page.say("  ", line));
    }
    for (met, family) in phrase::families(cloth) {
        page.head(&phrase::heading(met, family));
        if family.bands.is_empty() {
            page.say("  ", "It is not told band by band.");
        } else {
            page.say(
                "  ",
                &format!("Band by band: number, colour, width and where it begins ({}):", cloth.unit.column()),
            );
            for band in &family.bands {
                let [number, name, width, from] = phrase::row(cloth, family, band);
                page.row(&format!("  {number:>3}  {name:<22} {width:>16} {from:>9}"));
            }
        }
        for line in [phrase::balance(family), phrase::notch(cloth, family)].into_iter().flatten() {
            page.say("  ", &line);
        }
    }
    let distortion = phrase::distortion(cloth);
    if !distortion.is_empty() {
        page.head("Is it straight?");
        distortion.iter().for_each(|line| page.say("  ", line));
    }
    page.head("How it was measured");
    phrase::method(cloth).iter().for_each(|line| page.say("  ", line));
    page.say("  ", &format!("Photograph: {}.", cloth.photo.file));
    if !cloth.notes.is_empty() {
        page.head("Notes");
        cloth.notes.iter().for_each(|note| page.item(&note.text));
    }
    page.head("How to read it");
    phrase::reading().iter().for_each(|line| page.say("  ", line));
    page.text
}
