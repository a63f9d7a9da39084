//! What lot and tally owe on the command line: what is new is measured, what is wrong is told, nothing is written over.

use super::delivery::{ASKED, files};
use super::run::{fixture, seamstep, seamstep_fed, text};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Three photographs of a delivery in a folder of their own.
fn three() -> (tempfile::TempDir, Vec<PathBuf>) {
    let folder = tempfile::tempdir().expect("a folder");
    let copied = files().into_iter().take(3).map(|file| {
        let copy = folder.path().join(file.file_name().expect("a name"));
        std::fs::copy(file, &copy).expect("a copy");
        copy
    });
    let copied = copied.collect();
    (folder, copied)
}

fn lines(file: &Path) -> Vec<Value> {
    let text = std::fs::read_to_string(file).expect("lines");
    text.lines().map(|line| serde_json::from_str(line).expect("an object")).collect()
}

#[test]
fn what_is_new_changed_or_asked_otherwise_is_measured_and_nothing_else() {
    let (folder, photos) = three();
    let out = folder.path().join("lot.jsonl");
    let ask = |more: &[&str]| {
        let said = seamstep(&[&["lot", text(folder.path()), "--out", text(&out)], &ASKED[..], more].concat());
        assert!(said.stderr.contains("Wrote"), "{}", said.stderr);
        lines(&out)
    };
    let first = ask(&[]);
    // A mark in a line stays where the photograph is not measured again.
    let marked =
        std::fs::read_to_string(&out).expect("lines").replace("\"taken\":null", "\"taken\":\"2026-01-01T00:00:00\"");
    std::fs::write(&out, marked).expect("marks");
    std::fs::copy(&photos[1], &photos[2]).expect("a changed photograph");
    let second = ask(&[]);
    let taken = |lines: &[Value]| lines.iter().map(|line| line["taken"].is_string()).collect::<Vec<_>>();
    assert_eq!((taken(&first), taken(&second)), (vec![false; 3], vec![true, true, false]));
    assert_ne!(first[2]["content"], second[2]["content"]);
    assert_eq!(taken(&ask(&["--tolerance", "0.7"])), [false; 3], "another question");

    // A photograph that is not given any more is not dropped without a word.
    std::fs::remove_file(&photos[1]).expect("a photograph less");
    let before = std::fs::read(&out).expect("lines");
    let refused = seamstep(&["lot", text(folder.path()), "--out", text(&out)]);
    assert!(refused.status == 2 && refused.stderr.contains("--forget"), "{}", refused.stderr);
    assert!(refused.stderr.contains("P1_zip"), "{}", refused.stderr);
    assert_eq!(std::fs::read(&out).expect("lines"), before);
    assert_eq!(ask(&["--forget"]).len(), 2);
}

#[test]
fn a_list_says_pieces_and_places_and_names_fill_in() {
    let (folder, photos) = three();
    let list = folder.path().join("list.csv");
    let name = |k: usize| photos[k].file_name().expect("a name").to_string_lossy().into_owned();
    std::fs::write(&list, format!("photo,piece,place\n{},X,hem\n{},,\n", name(0), name(1))).expect("a list");
    let out = folder.path().join("lot.jsonl");
    let said = seamstep(&[&["lot", "--manifest", text(&list), "--out", text(&out)], &ASKED[..]].concat());
    assert!(said.stderr.starts_with("Wrote "), "{}", said.stderr);
    let told: Vec<_> = lines(&out).iter().map(|l| [&l["piece"], &l["place"], &l["by"]].map(Value::to_string)).collect();
    assert_eq!(told, [["\"X\"", "\"hem\"", "\"Alma\""], ["\"P1\"", "\"zip\"", "\"Alma\""]]);
    let unfit = seamstep(&["lot", text(&photos[0]), "--named", "{place}_{piece}"]);
    assert!(unfit.stderr.contains("1 of 1 names do not fit") && unfit.status != 2, "{}", unfit.stderr);
}

#[test]
fn the_same_photograph_under_two_names_counts_once() {
    let (folder, photos) = three();
    std::fs::copy(&photos[0], folder.path().join("again.jpg")).expect("a double");
    let said = seamstep(&["lot", text(folder.path()), "--json"]);
    let summary: Value = serde_json::from_str(&said.stdout).expect("an object");
    assert_eq!(summary["summary"]["photographs"]["all"], 3);
    let double = &summary["summary"]["twice"]["doubles"][0];
    assert!(double["file"].as_str().is_some_and(|file| file.contains("again") || file.contains("P1")), "{double}");
}

#[test]
fn the_exit_status_is_the_worst() {
    let flat = fixture("flat-01.jpg");
    assert_eq!(seamstep(&["lot", &flat]).status, 1);
    assert_eq!(seamstep(&["lot", &flat, "--tolerance", "6"]).status, 0);
    assert_eq!(seamstep(&["lot", &flat, &fixture("truth.json")]).status, 1);
    assert_eq!(seamstep(&["lot", &flat, &fixture("truth.json"), "--tolerance", "6"]).status, 4);
    assert_eq!(seamstep(&["lot", &flat, "none.jpg", "--tolerance", "6"]).status, 2);
}

#[test]
fn a_plan_decides_and_the_exit_status_says_so() {
    let flat = fixture("flat-01.jpg");
    let ask = |more: &[&str]| seamstep(&[&["lot", &flat, "--aql", "6.5"], more].concat());
    // Two pieces of two to eight are looked at, and none may be off: ISO 2859-1, letter A.
    assert_eq!(ask(&["--lot-size", "8"]).status, 1, "rejected: it is off");
    let more = ask(&["--lot-size", "8", "--tolerance", "6"]);
    assert_eq!(more.status, 3);
    assert!(
        more.stdout.starts_with("LOOK AT MORE: ") && more.stdout.contains("1 more piece is needed"),
        "{}",
        more.stdout
    );
    let whole = ask(&["--tolerance", "6", &fixture("zip-01.jpg")]);
    assert_eq!(whole.status, 0);
    assert!(whole.stdout.starts_with("ACCEPT: "), "{}", whole.stdout);
    let untold = ask(&["--tolerance", "6", &fixture("blur-00.jpg"), "--json"]);
    let object: Value = serde_json::from_str(&untold.stdout).expect("an object");
    let acceptance = &object["summary"]["acceptance"];
    assert_eq!((untold.status, &acceptance["outcome"]["decision"]), (3, &"unsure".into()), "{acceptance}");
    let both = ["failing_if_untold_are_good", "failing_if_untold_are_bad"].map(|name| acceptance[name].as_u64());
    assert_eq!(both, [Some(0), Some(1)]);
}

#[test]
fn the_text_fits_eighty_columns() {
    let (folder, _) = three();
    let said = seamstep(&[&["lot", text(folder.path())], &ASKED[..]].concat());
    for line in said.stdout.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    assert!(said.stdout.contains("2 pieces on 3 photographs"), "{}", said.stdout);
}

#[test]
fn what_cannot_be_is_trouble_and_nothing_is_written_over() {
    let (folder, photos) = three();
    let photo = text(&photos[0]);
    let bytes = std::fs::read(&photos[0]).expect("a photograph");
    let empty = folder.path().join("empty");
    std::fs::create_dir(&empty).expect("a folder");
    let cases: [(&[&str], &str); 20] = [
        (&["lot", photo, "--aql", "3"], "not in the table"),
        (&["lot", photo, "--aql", "2.5", "--lot-size", "1"], "--lot-size"),
        (&["lot", photo, "--lot-size", "9"], "--aql"),
        (&["lot", photo, "--aql", "2.5"], "--lot-size"),
        (&["lot"], "PHOTO"),
        (&["lot", text(&empty)], "no photograph"),
        (&["lot", photo, "--out", photo], "written over"),
        (&["lot", photo, "--csv", photo], "written over"),
        (&["lot", photo, "--report", "page.txt"], ".html"),
        (&["lot", photo, "--tolerance", "-1"], "tolerance"),
        (&["lot", photo, "--named", "{pice}"], "{piece}"),
        (&["lot", photo, "--threads", "0"], "--threads"),
        (&["lot", photo, "--jsonl"], "cannot be used with"),
        (&["lot", photo, "--forget"], "--out"),
        (&["lot", photo, "--manifest", "none.csv"], "none.csv"),
        (&["lot", photo, "--settings", "none.toml"], "none.toml"),
        (&["lot", "-"], "standard input names no photograph"),
        (&["tally"], "FILE"),
        (&["tally", "none.jsonl"], "none.jsonl"),
        (&["tally", photo], "something else"),
    ];
    for (arguments, due) in cases {
        let said = seamstep(arguments);
        assert_eq!(said.status, 2, "{arguments:?}: {}", said.stdout);
        assert!(said.stdout.is_empty() && said.stderr.contains(due), "{arguments:?}: {}", said.stderr);
    }
    // A file that is not lines stays as it is, though nobody reads it as a photograph.
    let words = folder.path().join("notes.txt");
    std::fs::write(&words, "for Monday\n").expect("notes");
    let said = seamstep(&["lot", photo, "--out", text(&words)]);
    assert!(said.status == 2 && said.stderr.contains("something else"), "{}", said.stderr);
    assert_eq!(std::fs::read_to_string(&words).expect("notes"), "for Monday\n");
    assert_eq!(std::fs::read(&photos[0]).expect("a photograph"), bytes);
    assert_eq!(seamstep_fed(&["lot", "--jsonl"], b"").stdout, "");
}
