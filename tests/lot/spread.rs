//! Lines of several runs, joined: the same answer as one run's.

use super::delivery::{ASKED, files};
use super::run::{Said, seamstep, seamstep_fed, text};
use std::path::Path;

/// The first photographs, so that this does not take long.
const SOME: usize = 24;

/// `lot --jsonl` of these files.
fn stream(files: &[&Path], more: &[&str]) -> String {
    let paths: String = files.iter().map(|file| format!("{}\n", text(file))).collect();
    let said = seamstep_fed(&[&["lot", "--jsonl"], &ASKED[..], more].concat(), paths.as_bytes());
    assert_eq!((said.status, said.stderr.as_str()), (0, ""), "{}", said.stdout);
    assert_eq!(said.stdout.lines().count(), files.len());
    said.stdout
}

/// The summary with its table and its page.
fn summed(command: &[&str], folder: &Path) -> (Said, Vec<u8>, Vec<u8>) {
    let [csv, page] = ["lot.csv", "lot.html"].map(|name| folder.join(name));
    let said = seamstep(&[command, &["--json", "--csv", text(&csv), "--report", text(&page)]].concat());
    let read = |file: &Path| std::fs::read(file).expect("a file");
    (said, read(&csv), read(&page))
}

#[test]
fn split_three_ways_and_joined_is_the_same_as_one_run() {
    let folder = tempfile::tempdir().expect("a folder");
    let all = files();
    let some: Vec<&Path> = all[..SOME].iter().map(|file| file.as_path()).collect();
    let given: Vec<&str> = some.iter().map(|file| text(file)).collect();
    let lot = [&["lot"], &ASKED[..], given.as_slice()].concat();
    let (one, csv, page) = summed(&lot, folder.path());

    // Each machine has every third photograph, in its own order; the last one has two of another's too.
    let parts: Vec<Vec<&Path>> = (0..3)
        .map(|machine| {
            let mut part: Vec<&Path> = some.iter().copied().skip(machine).step_by(3).collect();
            if machine == 1 {
                part.reverse();
            }
            part
        })
        .collect();
    let mut names = Vec::new();
    for (machine, part) in parts.iter().enumerate() {
        let file = folder.path().join(format!("machine-{machine}.jsonl"));
        std::fs::write(&file, stream(part, &["--threads", "2"])).expect("a file");
        names.push(file.display().to_string());
    }
    for order in [[0, 1, 2], [2, 0, 1]] {
        let tally = ["tally", &names[order[0]], &names[order[1]], &names[order[2]]];
        let (joined, csv_joined, page_joined) = summed(&tally, folder.path());
        assert_eq!((joined.status, &joined.stdout), (one.status, &one.stdout));
        assert!(csv_joined == csv && page_joined == page);
    }
    let in_words = seamstep(&["tally", &names[0], &names[1], &names[2]]);
    assert_eq!(in_words.stdout, seamstep(&lot).stdout);

    // A line that two machines wrote counts once, and is told.
    let again = seamstep(&["tally", &names[0], &names[1], &names[2], &names[0], "--json"]);
    let [one, again]: [serde_json::Value; 2] =
        [&one.stdout, &again.stdout].map(|text| serde_json::from_str(text).expect("an object"));
    assert_eq!(again["summary"]["photographs"], one["summary"]["photographs"]);
    assert_eq!(again["summary"]["twice"]["repeated_lines"], SOME / 3);
}

#[test]
fn lines_come_in_the_order_of_the_paths_and_a_file_that_is_gone_has_one_too() {
    let all = files();
    let gone = Path::new("no such photograph.jpg");
    let paths = [all[5].as_path(), gone, all[2].as_path()];
    let told = stream(&paths, &["--place", "hem", "--tolerance", "0.5"]);
    let lines: Vec<serde_json::Value> =
        told.lines().map(|line| serde_json::from_str(line).expect("an object")).collect();
    assert_eq!(lines.iter().map(|line| line["file"].as_str()).collect::<Vec<_>>(), paths.map(Path::to_str));
    assert_eq!((&lines[1]["standing"], &lines[1]["content"]), (&"trouble".into(), &serde_json::Value::Null));
    // What a name says goes before what is said of all.
    assert_eq!((&lines[0]["place"], &lines[1]["place"]), (&"zip".into(), &"hem".into()));
    assert_eq!(lines[0]["measured"]["tolerance_mm"], 0.5);
    assert_eq!(told, stream(&paths, &["--place", "hem", "--tolerance", "0.5", "--threads", "1"]));
}

#[test]
fn a_torn_end_is_told_and_left_out() {
    let folder = tempfile::tempdir().expect("a folder");
    let all = files();
    let lines = stream(&[&all[0], &all[1]], &[]);
    let file = folder.path().join("torn.jsonl");
    std::fs::write(&file, &lines[..lines.len() - 20]).expect("a file");
    let said = seamstep(&["tally", text(&file), "--json"]);
    assert!(said.stderr.contains("middle of a line"), "{}", said.stderr);
    let object: serde_json::Value = serde_json::from_str(&said.stdout).expect("an object");
    assert_eq!(object["summary"]["photographs"]["all"], 1);
    let piped = seamstep_fed(&["tally", "-", "--json"], lines.lines().next().expect("a line").as_bytes());
    assert_eq!(piped.status, 2, "a line without its end is no line");
}
