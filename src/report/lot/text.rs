//! Sentences first, then two small tables, at most [`WIDTH`] characters wide.

use super::phrase;
use crate::digits::{Unit, plain};
use crate::lot::Lot;
use crate::record::Standing;
use crate::report::phrase::first_word;
use crate::report::text::{Page, WIDTH};

/// The lot as text, lengths in `unit`.
pub fn lot(lot: &Lot, unit: Unit) -> String {
    let mut page = Page::default();
    if let Some(sample) = &lot.sample {
        let [planned, told, follows] = phrase::sample(sample);
        page.say("", &format!("{}: {follows} {planned} {told}", phrase::decision(sample)));
    }
    page.say("", &format!("{}: {}", first_word(lot.standing()), phrase::counted(lot)));
    if lot.pieces.len() != lot.lines.len() {
        page.say("", &format!("Of the photographs: {}.", phrase::standings(&lot.photographs)));
    }
    for standing in [Standing::Off, Standing::Unsure] {
        page.say("", &phrase::names(lot, standing).unwrap_or_default());
    }
    if !lot.worst.is_empty() {
        page.head(&format!("The worst photographs: worst jump and tolerance, {}", unit.column()));
        for &k in &lot.worst {
            worst(&mut page, lot, k, unit);
        }
    }
    if !lot.refused.is_empty() {
        page.head("What could not be judged");
        for refused in &lot.refused {
            page.item(&phrase::refused(refused));
        }
    }
    if phrase::places_differ(lot) {
        page.head("Which places bring most of what is off");
        for place in lot.places.iter().filter(|place| place.photographs.get(Standing::Off) > 0) {
            let [off, all] = [place.photographs.get(Standing::Off), place.photographs.total()];
            let so_far = plain(100.0 * place.off_so_far.unwrap_or(0.0), 0);
            page.row(&format!(
                "  {:<13} {off:>4} of {all:<5} off; so far {so_far} % of all that is off",
                phrase::place(place.place)
            ));
        }
    }
    if !lot.keeping.is_empty() {
        page.head("How well the tolerance is kept");
        for keeping in &lot.keeping {
            let [mean, deviation] = phrase::spread(keeping, unit);
            let [cp, cpk] = [&keeping.capability.cp, &keeping.capability.cpk].map(phrase::index);
            page.item(&format!(
                "{}: mean {mean}, standard deviation {deviation} {}; Cp {cp}, Cpk {cpk}; beyond the tolerance {}.",
                phrase::kept(keeping, unit),
                unit.after(),
                phrase::beyond(keeping)
            ));
        }
        page.say("  ", phrase::KEEPING);
    }
    if let Some(course) = &lot.course {
        page.head("One after the other");
        phrase::course(course, lot, unit).iter().for_each(|line| page.say("  ", line));
    }
    let twice = phrase::twice(&lot.twice);
    if !twice.is_empty() {
        page.head("More than once");
        twice.iter().for_each(|line| page.say("  ", line));
    }
    page.head("How to read it");
    phrase::reading().iter().for_each(|line| page.say("  ", line));
    page.text
}

fn worst(page: &mut Page, lot: &Lot, k: usize, unit: Unit) {
    let line = &lot.lines[k];
    let jump = phrase::jump(line, unit).unwrap_or_else(|| "no scale".into());
    let row = format!(
        "  {:<7} {jump:>15} {:>5}  {:<13} ",
        line.record.standing.word(),
        phrase::tolerance(line, unit).unwrap_or_default(),
        phrase::place(line.record.subject.place),
    );
    let room = WIDTH.saturating_sub(row.chars().count());
    page.row(&(row + &shortened(&line.record.subject.file, room)));
}

/// The end of a name that is too long: it tells more than the beginning.
fn shortened(name: &str, room: usize) -> String {
    let length = name.chars().count();
    if length <= room {
        return name.to_owned();
    }
    let end: String = name.chars().skip(length + 1 - room.max(1)).collect();
    format!("…{end}")
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    #[test]
    fn the_answer_comes_first_and_nothing_is_wider_than_eighty_characters() {
        for (kind, made) in sample::every_kind() {
            for unit in [Unit::Millimetre, Unit::Sixteenth] {
                let text = lot(&made, unit);
                let first = made.sample.map_or(first_word(made.standing()), |s| phrase::decision(&s));
                assert!(text.starts_with(first), "{kind}: {text}");
                for line in text.lines() {
                    assert!(line.chars().count() <= WIDTH, "{kind}: {line}");
                }
            }
        }
    }

    #[test]
    fn the_worst_stand_with_their_figures() {
        let text = lot(&sample::delivery(), Unit::Millimetre);
        let row = text.lines().find(|line| line.contains("7_zip.jpg")).unwrap();
        let words: Vec<&str> = row.split_whitespace().collect();
        assert_eq!(words[..6], ["off", "+4.80", "±", "0.10", "1.5", "zip"], "{text}");
        assert!(text.contains("12 photographs"), "{text}");
        assert!(text.contains("zip              2 of 5"), "{text}");
    }

    #[test]
    fn a_name_that_would_command_a_terminal_does_not() {
        let mut made = sample::delivery();
        made.lines.iter_mut().for_each(|line| line.record.subject.file += "\u{1b}[2J\n");
        let text = lot(&made, Unit::Millimetre);
        assert!(text.contains("7_zip.jpg?[2J\n"), "{text}");
        assert!(!text.contains(|c: char| c.is_control() && c != '\n'), "{text:?}");
    }

    #[test]
    fn a_long_name_keeps_its_end() {
        assert_eq!(shortened("folder/piece.jpg", 10), "…piece.jpg");
        assert_eq!(shortened("abc", 0), "…");
    }
}
