//! The sheet for the ear: sentences, then a table.

use super::phrase;
use crate::garment::Sheet;
use crate::report::phrase::first_word;
use crate::report::text::Page;

/// A seam's name in the table, characters.
const NAME: usize = 17;

/// The sheet as text.
pub fn sheet(sheet: &Sheet) -> String {
    let mut page = Page::default();
    page.say("", &format!("{}: {}.", first_word(sheet.standing), phrase::piece(sheet)));
    page.say("", &phrase::overall(sheet));

    if let Some(time) = phrase::whole_time(sheet) {
        page.head("What to redo, in this order");
        for (k, step) in sheet.redo.iter().enumerate() {
            let minutes = phrase::minutes_of(sheet, step.seam).map_or(String::new(), |m| format!(" (about {m})"));
            page.say("  ", &format!("{}. {}{minutes}", k + 1, sheet.garment.seams[step.seam].name));
            page.say("     ", &phrase::instruction(sheet, step));
            phrase::closes(sheet, step).iter().for_each(|line| page.say("     ", line));
        }
        page.say("  ", &time);
        page.say("  ", phrase::ORDER_SOURCE);
    }

    page.head("Seam by seam, the worst first");
    let cell = |text: Option<String>| text.unwrap_or_else(|| "–".into());
    page.row(&format!("  {:<NAME$} {:<8} {:<20} {:<10} {}", "seam", "state", "worst jump", "accepted", "what to do"));
    for &k in &sheet.worst_first {
        page.row(&format!(
            "  {:<NAME$} {:<8} {:<20} {:<10} {}",
            short(&sheet.garment.seams[k].name),
            sheet.rows[k].record.standing.word(),
            cell(phrase::jump(sheet, k)),
            cell(phrase::accepted(sheet, k)),
            phrase::deed(sheet, k),
        ));
    }
    for &k in &sheet.worst_first {
        page.head(&short_line(&sheet.garment.seams[k].name));
        phrase::why(sheet, k).iter().for_each(|line| page.say("  ", line));
        page.say("  ", &format!("Photograph: {}.", sheet.garment.seams[k].photo.display()));
    }
    let cautions = phrase::cautions(sheet);
    if !cautions.is_empty() {
        page.head("Take care");
        cautions.iter().for_each(|caution| page.item(caution));
    }
    page.text
}

/// A name that fits its column.
fn short(name: &str) -> String {
    cut(name, NAME)
}

/// A name that fits a line.
fn short_line(name: &str) -> String {
    cut(name, crate::report::text::WIDTH)
}

fn cut(name: &str, most: usize) -> String {
    match name.chars().count() > most {
        true => name.chars().take(most - 1).chain(['…']).collect(),
        false => name.to_owned(),
    }
}
