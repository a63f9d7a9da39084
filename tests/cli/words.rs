//! The help that every command gives.

use super::run::seamstep;

const COLUMNS: usize = 80;

fn help(command: &[&str], flag: &str) -> String {
    let said = seamstep(&[command, &[flag]].concat());
    assert_eq!((said.status, said.stderr.as_str()), (0, ""), "{command:?} {flag}");
    for line in said.stdout.lines() {
        assert!(line.chars().count() <= COLUMNS, "{} columns in {command:?} {flag}: {line}", line.chars().count());
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
        "--place",
        "--tolerance",
        "--stage",
        "--json",
        "--explain",
        "--picture",
        "--report",
    ];
    let words = ["down", "across", "basted", "sewn", "finished", "centre-back"];
    for flag in ["--help", "-h"] {
        let text = help(&["check"], flag);
        for word in options.iter().chain(&words) {
            assert!(text.contains(word), "no {word} in the help of check {flag}:\n{text}");
        }
    }
    let statuses = help(&["check"], "--help");
    for status in ["0 matched", "1 off", "2 ", "3 unsure", "4 "] {
        assert!(statuses.contains(status), "no {status} in:\n{statuses}");
    }
    for (command, due) in [("card", &["--out", "--side", "--paper"][..]), ("demo", &["--folder"])] {
        let text = help(&[command], "--help");
        assert!(due.iter().all(|option| text.contains(option)), "{text}");
    }
}

#[test]
fn the_help_of_the_program_names_every_command() {
    for flag in ["--help", "-h"] {
        let text = help(&[], flag);
        for command in ["check", "card", "demo"] {
            assert!(text.contains(command), "{text}");
            assert!(!help(&[command], flag).is_empty());
        }
    }
}
