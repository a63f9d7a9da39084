//! The face for the ear: plain sentences and one small table, at most [`WIDTH`] characters wide.

use super::phrase::{self, sentence};
use super::wrap::wrap;
use crate::digits;
use crate::finding::Finding;
use crate::problem::Refusal;

/// Characters to a line, at most.
pub const WIDTH: usize = 80;

/// The finding as text; `explain` adds where the uncertainty comes from and how to read it.
pub fn finding(finding: &Finding, explain: bool) -> String {
    let mut page = Page::default();
    let verdict = &finding.verdict;
    page.say("", &format!("{}: {}", phrase::headline(verdict.result), phrase::verdict(finding)));
    page.say("", &format!("Why: {}", sentence(&verdict.reason)));
    if let Some(cure) = &verdict.cure {
        page.say("", &format!("What would settle it: {}", sentence(cure)));
    }

    // What an unsure seam asks for is said above.
    if verdict.cure.is_none() {
        page.head("What to do");
        page.say("  ", &finding.remedy.instruction);
    }
    page.head("Is it worth unpicking?");
    page.say("  ", &phrase::worth(finding));
    page.say("  ", &phrase::cost(finding));
    page.say("  ", &phrase::next_best(&finding.remedy));

    if !finding.remedy.faults.is_empty() {
        page.head("What went wrong");
        for fault in &finding.remedy.faults {
            page.say("  ", &phrase::fault(fault));
        }
        page.say("  ", phrase::FAULTS_SOURCE);
    }

    page.head("How far the lines jump");
    measured(&mut page, finding);
    table(&mut page, finding);

    page.head("How it was measured");
    for line in phrase::method(finding) {
        page.say("  ", &line);
    }
    page.say("  ", &phrase::tolerance(finding));
    page.say("  ", &format!("Photograph: {}.", finding.photo.file));

    if explain {
        explanation(&mut page, finding);
    }
    if !finding.notes.is_empty() {
        page.head("Notes");
        finding.notes.iter().for_each(|note| page.item(&note.text));
    }
    if !finding.remedy.cautions.is_empty() {
        page.head("Take care");
        finding.remedy.cautions.iter().for_each(|caution| page.item(caution));
    }
    page.text
}

/// A refusal as text.
pub fn refusal(file: &str, refusal: &Refusal) -> String {
    let mut page = Page::default();
    page.say("", &format!("REFUSED: {file} cannot be judged: {}", sentence(&refusal.message)));
    page.say("", &format!("What to do: {}", sentence(&refusal.help)));
    page.text
}

fn measured(page: &mut Page, finding: &Finding) {
    let unit = finding.unit();
    let offset = &finding.offset;
    let runs = finding.seam.runs;
    let start = phrase::start(runs);
    let mean = digits::figures(offset.mean_mm, offset.expanded_uncertainty_mm, unit);
    let words = phrase::jump(runs, offset.mean_mm, offset.expanded_uncertainty_mm);
    page.say("  ", &format!("Mean:  {} ± {} {}, {words}.", mean.value, mean.uncertainty, unit.after()));
    let worst = phrase::worst(finding);
    let at = format!("{} {} {start}", digits::place(offset.worst_at_mm, unit), unit.places());
    page.say("  ", &format!("Worst: {} ± {} {}, {at}.", worst.value, worst.uncertainty, unit.after()));
    if let Some(drift) = phrase::drift(finding) {
        page.say("  ", &drift);
    }
    for stretch in &finding.verdict.stretches {
        let [from, to] = [stretch.from_mm, stretch.to_mm].map(|along| digits::place(along, unit));
        page.say("  ", &format!("Off:   from {from} to {to} {} {start}.", unit.places()));
    }
}

fn table(page: &mut Page, finding: &Finding) {
    let unit = finding.unit();
    let runs = finding.seam.runs;
    if finding.offset.lines.is_empty() {
        page.say("  ", "No single lines were told apart.");
        return;
    }
    page.blank();
    let place = format!("{} ({})", phrase::start(runs), unit.places());
    page.say("  ", &format!("Line by line: number, place {place}, colour, offset ({}):", unit.column()));
    for (line, state) in finding.offset.lines.iter().zip(&finding.verdict.lines) {
        let figures = digits::figures(line.offset_mm, line.expanded_uncertainty_mm, unit);
        page.row(&format!(
            "  {:>3} {:>7}  {:<12} {:>7} ± {:<6} {:<7}  {}",
            line.number,
            digits::place(line.along_mm, unit),
            line.name,
            figures.value,
            figures.uncertainty,
            state.word(),
            phrase::jump(runs, line.offset_mm, line.expanded_uncertainty_mm),
        ));
    }
}

/// Every cure, what it takes and what it leaves.
fn weighed(page: &mut Page, finding: &Finding) {
    if finding.remedy.cures.is_empty() {
        return;
    }
    page.head("What was weighed");
    for cure in &finding.remedy.cures {
        page.say("  ", &phrase::cure(finding, cure));
    }
}

fn explanation(page: &mut Page, finding: &Finding) {
    let unit = finding.unit();
    weighed(page, finding);
    page.head("Where the uncertainty of the mean comes from");
    let budget = &finding.offset.budget;
    let brings = |u_mm: f64| format!("{} {}", phrase::brings(u_mm * unit.per_mm()), unit.after());
    for row in &budget.rows {
        page.say("  ", &format!("{}: {} (k = 1)", row.source, brings(row.u_mm)));
    }
    let factor = phrase::coverage(budget);
    page.say(
        "  ",
        &format!(
            "together: {} (k = 1), expanded {} ({factor})",
            brings(budget.combined_mm()),
            brings(budget.expanded_mm())
        ),
    );
    page.head("How to read it");
    phrase::reading(finding.seam.runs).iter().for_each(|line| page.say("  ", line));
}

/// Text that grows sentence by sentence.
#[derive(Default)]
pub(super) struct Page {
    pub(super) text: String,
}

impl Page {
    /// A sentence, wrapped, each line after `indent`; nothing for an empty one.
    pub(super) fn say(&mut self, indent: &str, text: &str) {
        for line in wrap(&printable(text), |line| line.chars().count() + indent.len() <= WIDTH) {
            self.text += &format!("{indent}{line}\n");
        }
    }

    pub(super) fn item(&mut self, text: &str) {
        for (k, line) in wrap(&printable(text), |line| line.chars().count() + 4 <= WIDTH).iter().enumerate() {
            self.text += &format!("{}{line}\n", if k == 0 { "  - " } else { "    " });
        }
    }

    pub(super) fn head(&mut self, text: &str) {
        self.text += &format!("\n{}\n", printable(text));
    }

    pub(super) fn row(&mut self, text: &str) {
        self.text += printable(text).trim_end();
        self.text.push('\n');
    }

    pub(super) fn blank(&mut self) {
        self.text.push('\n');
    }
}

/// Words as one line. A name from a file may hold anything: what would break the line becomes a space, what would command a
/// terminal a question mark.
pub fn printable(text: &str) -> String {
    let plain = |c: char| match (c.is_control(), c.is_whitespace()) {
        (true, true) => ' ',
        (true, false) => '?',
        (false, _) => c,
    };
    text.chars().map(plain).collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::problem::RefusalCode;

    #[test]
    fn no_name_breaks_a_line_or_commands_a_terminal() {
        let name = "a\r\n\tb\u{1b}[2J\u{9b}c";
        let mut page = Page::default();
        page.row(name);
        page.head(name);
        page.say("", name);
        page.item(name);
        assert_eq!(page.text, "a   b?[2J?c\n\na   b?[2J?c\na b?[2J?c\n  - a b?[2J?c\n");
    }

    #[test]
    fn no_line_is_wider_than_eighty_characters() {
        for (kind, mut finding) in sample::every_kind() {
            finding.photo.file = "very-long-name-".repeat(12);
            for explain in [false, true] {
                for line in super::finding(&finding, explain).lines() {
                    assert!(line.chars().count() <= WIDTH, "{kind}: {line}");
                }
            }
        }
    }

    #[test]
    fn the_verdict_comes_first_and_the_cure_of_each_follows() {
        for (kind, word) in [("down", "OFF: "), ("matched", "MATCHED: "), ("unsure", "UNSURE: ")] {
            let finding = sample::every_kind().into_iter().find(|(name, _)| *name == kind).unwrap().1;
            let text = super::finding(&finding, false);
            assert!(text.starts_with(word), "{text}");
            assert_eq!(text.contains("What would settle it"), kind == "unsure");
        }
    }

    #[test]
    fn a_line_of_the_table_says_what_and_where() {
        let text = finding(&sample::down().finding(), false);
        let row = text.lines().find(|line| line.trim_start().starts_with("5 ")).unwrap();
        // Line 5 stands 70 mm from the top, in the middle of the slip: 0.4 + 3.0 mm.
        let words: Vec<&str> = row.split_whitespace().collect();
        assert_eq!(words[..7], ["5", "70", "navy", "+3.40", "±", "0.21", "off"], "{row}");
        assert!(row.ends_with("right side lower"));
    }

    #[test]
    fn without_a_scale_only_the_tolerance_is_in_millimetres() {
        let text = finding(&sample::unscaled().finding(), true);
        for line in text.lines().filter(|line| line.contains(" mm")) {
            assert!(line.contains("Accepted"), "{line}");
        }
        assert!(text.contains("of a repeat"));
    }

    #[test]
    fn explaining_adds_the_budget() {
        let brief = finding(&sample::down().finding(), false);
        let long = finding(&sample::down().finding(), true);
        assert!(!brief.contains("fit of the lines") && long.contains("fit of the lines: 0.042 mm (k = 1)"));
        assert!(!long.contains("± 0.00") && !long.contains(": 0.00 mm"));
    }

    #[test]
    fn a_name_cannot_command_the_terminal() {
        let refused = Refusal::new(RefusalCode::NoSeam, "no seam was found", "give it with --seam");
        let text = refusal("a\u{1b}[2Jb.jpg", &refused);
        assert!(text.starts_with("REFUSED: a?[2Jb.jpg cannot be judged: No seam was found.\n"), "{text}");
        assert!(text.contains("Give it with --seam."));
    }
}
