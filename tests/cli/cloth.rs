//! `seamstep cloth`: its JSON's fields, its exit statuses, its page, and what cannot be asked.

use super::run::{Said, fixture, seamstep, text};
use serde_json::Value;
use std::collections::BTreeSet;
use tempfile::tempdir;

/// The photograph that the README measures.
const SHOWN: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/reports/cloth/broad-check.jpg");

fn cloth(more: &[&str]) -> Said {
    seamstep(&[&["cloth", SHOWN], more].concat())
}

#[track_caller]
fn has(object: &Value, due: &[&str]) {
    let found: BTreeSet<&str> = object.as_object().expect("an object").keys().map(String::as_str).collect();
    assert_eq!(found, due.iter().copied().collect::<BTreeSet<_>>());
}

#[test]
fn the_json_has_the_fields_of_its_schema_and_no_other() {
    let said = cloth(&["--json", "--pieces", "620,540x2,24in"]);
    assert_eq!(said.status, 0, "{}", said.stderr);
    let object: Value = serde_json::from_str(&said.stdout).expect("one JSON object");
    assert_eq!(object["schema"], "seamstep/cloth/1");
    has(
        &object,
        &[
            "schema",
            "photo",
            "scale",
            "warp",
            "patch_px",
            "coverage_factor",
            "lengthwise",
            "crosswise",
            "lines",
            "skew",
            "bow",
            "laying",
            "cutting",
            "notes",
        ],
    );
    for family in [&object["lengthwise"], &object["crosswise"]] {
        has(
            family,
            &[
                "repeat_mm",
                "expanded_uncertainty_mm",
                "repeats_seen",
                "contrast",
                "bands",
                "balanced",
                "mirrors_about",
                "notch",
            ],
        );
        let (repeat, expanded) =
            (family["repeat_mm"].as_f64().unwrap(), family["expanded_uncertainty_mm"].as_f64().unwrap());
        assert!((repeat - 36.8).abs() <= expanded);
        assert_eq!((&family["balanced"], &family["notch"]), (&Value::from("no"), &Value::from(4)));
        for band in family["bands"].as_array().unwrap() {
            has(
                band,
                &["number", "from_mm", "width_mm", "expanded_uncertainty_mm", "share", "ground", "colour", "name"],
            );
        }
    }
    has(
        &object["skew"],
        &["distance_mm", "over_mm", "percent", "expanded_uncertainty_percent", "angle_deg", "against"],
    );
    has(&object["bow"], &["distance_mm", "over_mm", "percent", "expanded_uncertainty_percent"]);
    has(&object["laying"], &["both_ways_up", "left_and_right"]);
    let cutting = &object["cutting"];
    has(cutting, &["repeat_mm", "pieces", "lengths_mm", "total_mm", "extra_mm"]);
    let repeats: Vec<u64> =
        cutting["pieces"].as_array().unwrap().iter().map(|p| p["repeats"].as_u64().unwrap()).collect();
    // 620, 540, 540 and 609.6 mm in repeats of 36.8 mm.
    assert_eq!(repeats, [17, 15, 15, 17]);
}

#[test]
fn without_a_scale_the_answer_is_incomplete_and_null_in_millimetres() {
    // The upper part of the shown photograph: the card lies below.
    let folder = tempdir().expect("a folder");
    let part = folder.path().join("no-card.png");
    image::open(SHOWN).expect("the photograph").crop_imm(0, 0, 900, 720).save(&part).expect("a picture");
    let said = seamstep(&["cloth", text(&part), "--json", "--pieces", "600"]);
    assert_eq!(said.status, 3, "{}", said.stderr);
    let object: Value = serde_json::from_str(&said.stdout).expect("one JSON object");
    assert_eq!(object["scale"]["mm_per_px"], Value::Null);
    assert_eq!((&object["skew"], &object["cutting"]), (&Value::Null, &Value::Null));
    for family in [&object["lengthwise"], &object["crosswise"]].into_iter().filter(|family| !family.is_null()) {
        assert_eq!(family["repeat_mm"], Value::Null);
    }
}

#[test]
fn the_text_is_eighty_wide_and_the_readme_shows_its_beginning() {
    let said = cloth(&["--pieces", "620,540x2"]);
    assert_eq!((said.status, said.stderr.as_str()), (0, ""));
    for line in said.stdout.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    let readme = include_str!("../../README.md");
    let beginning: Vec<&str> = said.stdout.lines().take(10).collect();
    assert!(readme.contains(&beginning.join("\n")), "the README shows another answer than\n{}", beginning.join("\n"));
    let inches = cloth(&["--units", "in"]).stdout;
    assert!(inches.contains("sixteenths of an inch"), "{inches}");
}

#[test]
fn the_page_stands_alone_and_a_refusal_has_one_too() {
    let folder = tempdir().expect("a folder");
    let page = folder.path().join("cloth.html");
    let said = cloth(&["--report", text(&page), "--pieces", "620"]);
    assert_eq!(said.status, 0);
    assert!(said.stderr.contains("Wrote "), "{}", said.stderr);
    let html = std::fs::read_to_string(&page).expect("a page");
    for part in
        ["<!DOCTYPE html>", "data:image/jpeg;base64,", "class=\"chart\"", "What matching costs", "Is it straight?"]
    {
        assert!(html.contains(part), "{part}");
    }
    for link in ["<script", "<link", "https://", "url("] {
        assert!(!html.contains(link), "{link}");
    }
    let refused = folder.path().join("refused.html");
    let said = seamstep(&["cloth", &fixture("plain-02.jpg"), "--report", text(&refused)]);
    assert_eq!(said.status, 4);
    assert!(said.stdout.starts_with("REFUSED: "), "{}", said.stdout);
    assert!(std::fs::read_to_string(&refused).expect("a page").contains("REFUSED"));
    let said = seamstep(&["cloth", &fixture("plain-02.jpg"), "--json"]);
    let object: Value = serde_json::from_str(&said.stdout).expect("one JSON object");
    assert_eq!((said.status, &object["refused"]["code"]), (4, &Value::from("no-lines")));
}

#[test]
fn what_cannot_be_asked_is_said() {
    cloth(&["--report", "cloth.txt"]).is_trouble(&[".html"]);
    cloth(&["--pieces", "0.2"]).is_trouble(&["piece"]);
    cloth(&["--pieces", "500x100000"]).is_trouble(&["pieces"]);
    cloth(&["--selvedge", "10,10 20,20"]).is_trouble(&["selvedge"]);
    seamstep(&["cloth", "no-such-photograph.jpg"]).is_trouble(&["no-such-photograph.jpg"]);
    for wrong in [["--repeat", "36"], ["--pieces", "abc"], ["--patch", "1,2"], ["--warp", "up"]] {
        assert_eq!(cloth(&wrong).status, 2, "{wrong:?}");
    }
    assert_eq!(cloth(&["--patch", "0,0 50,50"]).status, 4);
}
