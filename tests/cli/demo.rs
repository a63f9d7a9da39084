//! `seamstep demo`: the whole thing without a photograph.

use super::contract::keeps_the_contract;
use super::pictures::put;
use super::run::{Said, holds, seamstep, text};
use serde_json::Value;
use tempfile::tempdir;

#[test]
fn the_demo_writes_its_four_files_and_measures_the_truth_it_prints() {
    let folder = tempdir().expect("a folder");
    let out = folder.path().join("new/demo");
    let Said { status, stdout, .. } = seamstep(&["demo", "--folder", text(&out)]);
    assert_eq!(status, 0, "{stdout}");
    holds(&out, &["centre-back.jpg", "finding.json", "picture.jpg", "report.html"]);

    // "The truth of this rendered seam: the lines jump X mm at most and Y mm on average."
    let words: Vec<&str> = stdout.split_whitespace().collect();
    let start = words.iter().position(|word| *word == "truth").expect("the truth is told");
    let told: Vec<f64> = words[start..].iter().filter_map(|word| word.parse().ok()).take(2).collect();
    let object = std::fs::read_to_string(out.join("finding.json")).expect("a finding");
    let finding: Value = serde_json::from_str(&object).expect("JSON");
    keeps_the_contract(&finding);
    let mean_mm = finding["offset"]["mean_mm"].as_f64().expect("a mean");
    assert!((mean_mm - told[1]).abs() <= 0.1, "{mean_mm} mm; the truth is {} mm", told[1]);
    let worst_mm = finding["offset"]["worst_mm"].as_f64().expect("a worst place");
    assert!((worst_mm.abs() - told[0]).abs() <= 0.5, "{worst_mm} mm; the truth is {} mm", told[0]);
    for line in stdout.lines().filter(|line| !line.contains(text(&out))) {
        assert!(line.chars().count() <= 80, "{line}");
    }

    // The photograph of the demo is one like any other.
    let again = seamstep(&["check", text(&out.join("centre-back.jpg")), "--json", "--place", "centre-back"]).finding();
    assert_eq!(again["offset"], finding["offset"]);
}

#[test]
fn a_folder_that_cannot_be_made_is_trouble() {
    let folder = tempdir().expect("a folder");
    let file = put(folder.path(), "file", b"mine");
    let said = seamstep(&["demo", "--folder", text(&file.join("demo"))]);
    assert_eq!((said.status, said.stdout.as_str()), (2, ""));
    assert!(said.stderr.contains("--folder"), "{}", said.stderr);
    assert_eq!(std::fs::read(&file).expect("the file"), b"mine");
}
