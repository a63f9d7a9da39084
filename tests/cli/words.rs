//! The help that every command gives.

use super::run::seamstep;

const COLUMNS: usize = 80;

fn help(command: &[&str]) -> String {
    let said = seamstep(&[command, &["--help"]].concat());
    assert_eq!((said.status, said.stderr.as_str()), (0, ""), "{command:?}");
    for line in said.stdout.lines() {
        assert!(line.chars().count() <= COLUMNS, "{} columns in {command:?}: {line}", line.chars().count());
    }
    said.stdout
}

#[test]
fn the_help_names_every_option_of_the_contract_in_80_columns() {
    let options = [
        "--card",
        "--rectangle",
        "--length",
        "--repeat",
        "--seam",
        "--along",
        "--all",
        "--place",
        "--tolerance",
        "--stage",
        "--units",
        "--settings",
        "--json",
        "--explain",
        "--picture",
        "--chart",
        "--report",
    ];
    let words = ["down", "across", "basted", "sewn", "finished", "centre-back"];
    let text = help(&["check"]);
    let statuses = ["0 matched", "1 off", "2 usage", "3 unsure", "4 the photograph"];
    for word in options.iter().chain(&words).chain(&statuses) {
        assert!(text.contains(word), "no {word} in the help of check:\n{text}");
    }
    for (command, due) in [("card", &["--out", "--side", "--paper"][..]), ("demo", &["--folder"])] {
        let text = help(&[command]);
        assert!(due.iter().all(|option| text.contains(option)), "{text}");
    }
}

#[test]
fn the_help_of_the_program_names_every_command() {
    let text = help(&[]);
    for command in ["check", "card", "demo"] {
        assert!(text.contains(command), "{text}");
        let brief = seamstep(&[command, "-h"]);
        assert!(brief.status == 0 && brief.stdout.contains("Usage: seamstep"), "{}", brief.stdout);
    }
}
