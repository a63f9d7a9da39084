//! The user's own figures: where they are looked for, what they change, and what is said of wrong ones.

use super::run::{fixture, seamstep};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// A photograph two folders below a folder that may hold settings; the seam is off by 2.1 mm.
fn photograph_in(top: &Path) -> String {
    let folder = top.join("skirt").join("back");
    fs::create_dir_all(&folder).unwrap();
    let photo = folder.join("seam.jpg");
    fs::copy(fixture("flat-01.jpg"), &photo).unwrap();
    photo.display().to_string()
}

fn verdict(arguments: &[&str]) -> Value {
    seamstep(&[&["check", "--json"], arguments].concat()).finding()["verdict"].clone()
}

#[test]
fn settings_are_found_upward_and_the_nearest_figure_wins() {
    let top = tempfile::tempdir().unwrap();
    let photo = photograph_in(top.path());
    fs::write(top.path().join("seamstep.toml"), "[tolerance]\nzip = 2.5\n").unwrap();
    let found = verdict(&[&photo, "--place", "zip"]);
    assert_eq!((found["tolerance_mm"].as_f64(), &found["tolerance_source"]), (Some(2.5), &"settings".into()));
    assert_eq!(found["result"], "matched");
    assert!(found["tolerance_file"].as_str().unwrap().ends_with("seamstep.toml"));
    let given = verdict(&[&photo, "--place", "zip", "--tolerance", "1/16in"]);
    assert_eq!((given["tolerance_mm"].as_f64(), &given["tolerance_source"]), (Some(1.5875), &"given".into()));
    let other = verdict(&[&photo, "--place", "collar"]);
    assert_eq!((other["tolerance_mm"].as_f64(), &other["tolerance_source"]), (Some(1.5), &"common-practice".into()));
    // A nearer file is used alone; a named one before both.
    fs::write(top.path().join("skirt").join("seamstep.toml"), "[tolerance]\nhem = 1\n").unwrap();
    assert_eq!(verdict(&[&photo, "--place", "zip"])["tolerance_source"], "common-practice");
    let named = top.path().join("seamstep.toml").display().to_string();
    assert_eq!(verdict(&[&photo, "--place", "zip", "--settings", &named])["tolerance_source"], "settings");
}

#[test]
fn rules_and_units_are_taken_and_the_text_says_where_from() {
    let top = tempfile::tempdir().unwrap();
    let photo = photograph_in(top.path());
    fs::write(
        top.path().join("seamstep.toml"),
        "units = \"in\"\n[tolerance]\nzip = \"1/16in\"\n[rules]\nbasting-stitch-mm = 2\n",
    )
    .unwrap();
    let said = seamstep(&["check", &photo, "--place", "zip"]).stdout;
    assert!(said.contains("1/16 in (1.59 mm)") && said.contains("sixteenths of an inch"), "{said}");
    assert!(said.split_whitespace().collect::<Vec<_>>().join(" ").contains("your own figure, from"), "{said}");
    // 202 mm of seam at 2 mm a stitch.
    assert!(said.contains("About 101 stitches") || said.contains("About 102 stitches"), "{said}");
    let metric = seamstep(&["check", &photo, "--place", "zip", "--units", "mm"]).stdout;
    assert!(metric.contains("2.10 ± 0.0") && !metric.contains("sixteenths"), "{metric}");
    for line in said.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
}

#[test]
fn settings_that_cannot_be_are_trouble_with_their_name() {
    let top = tempfile::tempdir().unwrap();
    let photo = photograph_in(top.path());
    let file = top.path().join("seamstep.toml");
    for (text, word) in [
        ("[tolerance]\nelbow = 1\n", "elbow"),
        ("[rules]\nease = 1\n", "ease"),
        ("[tolerance]\nhem = -1\n", "hem"),
        ("nonsense", "line 1"),
    ] {
        fs::write(&file, text).unwrap();
        seamstep(&["check", &photo]).is_trouble(&["seamstep.toml", word]);
    }
    fs::write(&file, [0xFF, 0xFE, 0x00]).unwrap();
    seamstep(&["check", &photo]).is_trouble(&["seamstep.toml"]);
    fs::remove_file(&file).unwrap();
    seamstep(&["check", &photo, "--settings", "not-there.toml"]).is_trouble(&["not-there.toml", "--settings"]);
}
