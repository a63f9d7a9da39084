//! The two streams: who reads them, who has gone away, and what goes where.

use super::pictures::{SEAM_LENGTH, SEAM_MARKS, put, put_seam};
use super::run::{Said, binary, seamstep, text};
use std::process::{Command, Stdio};
use tempfile::tempdir;

#[test]
fn a_reader_that_has_gone_away_is_no_trouble() {
    let folder = tempdir().expect("a folder");
    let photo = put_seam(folder.path());
    let check = ["check", text(&photo), "--length", SEAM_LENGTH, "--seam", SEAM_MARKS];
    // The verdict is still the exit status.
    for (arguments, status) in [
        (&[&check[..], &["--json"]].concat()[..], 1),
        (&[&check[..], &["--explain"]].concat(), 1),
        (&["--help"], 0),
        (&["man"], 0),
        (&["completions", "bash"], 0),
        (&["garment", "--new"], 0),
        (&["check", "--help"], 0),
        (&["lot", text(&photo), "--length", SEAM_LENGTH, "--json"], 1),
    ] {
        let mut child = Command::new(binary())
            .args(arguments)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the binary runs");
        drop(child.stdout.take());
        let said = Said::of(&child.wait_with_output().expect("it ends"));
        assert_eq!((said.status, said.stderr.as_str()), (status, ""), "{arguments:?}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_behind_standard_output_is_trouble() {
    let folder = tempdir().expect("a folder");
    let photo = put_seam(folder.path());
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").expect("/dev/full");
    let output = Command::new(binary())
        .args(["check", text(&photo), "--json", "--length", SEAM_LENGTH, "--seam", SEAM_MARKS])
        .stdin(Stdio::null())
        .stdout(full)
        .output()
        .expect("the binary runs");
    Said::of(&output).is_trouble(&["standard output"]);
}

#[test]
fn results_go_to_standard_output_and_talk_to_standard_error() {
    let folder = tempdir().expect("a folder");
    let photo = put_seam(folder.path());
    let page = folder.path().join("page.html");
    let drawn = folder.path().join("drawn.jpg");
    let marks = ["check", text(&photo), "--length", SEAM_LENGTH, "--seam", SEAM_MARKS];
    let files = ["--report", text(&page), "--picture", text(&drawn)];
    let said = seamstep(&[&marks[..], &files, &["--json"]].concat());
    said.finding();
    assert_eq!(said.stderr.lines().count(), 2, "{}", said.stderr);
    assert!(said.stderr.contains("page.html") && said.stderr.contains("drawn.jpg"), "{}", said.stderr);
    let spoken = seamstep(&marks);
    assert_eq!((spoken.status, spoken.stderr.as_str()), (1, ""));
    assert!(spoken.stdout.starts_with("OFF"), "{}", spoken.stdout);
    let version = seamstep(&["--version"]);
    assert_eq!((version.status, version.stderr.as_str()), (0, ""));
    assert_eq!(version.stdout, format!("seamstep {}\n", env!("CARGO_PKG_VERSION")));
}

#[test]
fn a_name_in_a_file_commands_no_terminal() {
    let folder = tempdir().expect("a folder");
    // JSON writes any character as its number (RFC 8259, section 7): here ESC and CSI, which begin a terminal's commands
    // (ECMA-48, 5.4).
    let line = r#"{"file":"a\u001b[2J.jpg","piece":null,"place":"hem","by":null,"standing":"refused","measured":null,
        "instead":{"code":"blurred","message":"too\u009b2J soft","help":"focus"}}"#;
    let lines = put(folder.path(), "lines.jsonl", line.replace('\n', "").as_bytes());
    let cloth = put(folder.path(), "cloth.json", br#"{"we\nave\u001b[2J": 1}"#);
    for (arguments, told) in [
        (["repeatability", text(&lines)].as_slice(), "Not measured: a?[2J.jpg: too?2J soft.\n"),
        (&["trial", "--cloth", text(&cloth)], r"unknown field `we\nave\u{1b}[2J`"),
    ] {
        let said = seamstep(arguments);
        assert!(said.stderr.contains(told), "{}", said.stderr);
        let commands = |c: char| c.is_control() && c != '\n';
        assert!(!said.stderr.contains(commands) && !said.stdout.contains(commands), "{:?}", said.stderr);
    }
}
