//! Sentences, then a small table.

use super::phrase;
use crate::repeatability::Study;
use crate::report::phrase::sentence;
use crate::report::text::Page;

/// The study as text.
pub fn study(study: &Study) -> String {
    let mut page = Page::default();
    page.say("", &format!("{}: {}", phrase::headline(study), phrase::answer(study)));
    if let Some(doubt) = phrase::doubt(study) {
        page.say("", doubt);
    }
    if let Some(spread) = phrase::spread(study) {
        page.say("", &spread);
    }
    if let Some(components) = &study.components {
        page.head("Where the scatter comes from (standard deviations of the mean jump)");
        for (name, told, interval) in phrase::parts(components) {
            let interval = interval.map_or(String::new(), |interval| format!(" ({interval})"));
            page.say("  ", &format!("{}: {told}{interval}", sentence(name).trim_end_matches('.')));
        }
        for line in phrase::remarks(study) {
            page.say("  ", &line);
        }
    }
    page.head("What was compared");
    phrase::compared(study).iter().for_each(|line| page.say("  ", line));
    page.head("How to read it");
    phrase::reading().iter().for_each(|line| page.say("  ", line));
    page.text
}
