//! Every seam of a photograph: one table, one object, one picture.

use super::pictures::{SEAM_JUMP_PX, SEAM_LENGTH, encoded, put, seam, seams};
use super::run::{Said, seamstep, text};
use image::{ImageFormat, RgbImage};
use serde_json::Value;
use std::path::{Path, PathBuf};
use tempfile::tempdir;

const COLUMNS: usize = 80;
/// Marks of [`SEAM_LENGTH`]: 400 pixels are 100 mm.
const MM_PER_PX: f64 = 0.25;
/// Where the seams stand.
const SEAMS_PX: [f64; 2] = [200.0, 560.0];

fn two_seams(folder: &Path) -> PathBuf {
    put(folder, "two.png", &encoded(&seams(760, &SEAMS_PX), ImageFormat::Png))
}

fn all(photo: &Path, more: &[&str]) -> Said {
    seamstep(&[&["check", text(photo), "--all", "--length", SEAM_LENGTH], more].concat())
}

#[test]
fn each_seam_has_its_own_answer_as_if_asked_for_alone() {
    let folder = tempdir().unwrap();
    let said = all(&two_seams(folder.path()), &["--json"]);
    let object: Value = serde_json::from_str(&said.stdout).expect("one JSON object");
    assert_eq!((&object["schema"], &object["standing"]), (&"seamstep/check-all/1".into(), &"off".into()));
    assert_eq!(said.status, 1);
    let answers = object["seams"].as_array().unwrap();
    for at_px in SEAMS_PX {
        let beside = |answer: &&Value| {
            let points = answer["seam"]["points_px"].as_array();
            points.is_some_and(|points| {
                let across = |p: &Value| (p[0].as_f64().unwrap() - at_px).abs() * MM_PER_PX;
                points.iter().all(|p| across(p) < 1.0)
            })
        };
        let answer = answers.iter().find(beside).unwrap_or_else(|| panic!("none at {at_px}: {object}"));
        assert_eq!((&answer["schema"], &answer["verdict"]["result"]), (&"seamstep/check/1".into(), &"off".into()));
        let mean_mm = answer["offset"]["mean_mm"].as_f64().unwrap();
        let u_mm = answer["offset"]["expanded_uncertainty_mm"].as_f64().unwrap();
        assert!((mean_mm - SEAM_JUMP_PX * MM_PER_PX).abs() <= u_mm && u_mm < 0.2, "{mean_mm} ± {u_mm}");
    }
}

#[test]
fn the_table_fits_80_columns_and_says_how_to_ask_for_one() {
    let folder = tempdir().unwrap();
    let photo = two_seams(folder.path());
    let said = all(&photo, &[]);
    assert_eq!((said.status, said.stderr.as_str()), (1, ""));
    assert!(said.stdout.lines().all(|line| line.chars().count() <= COLUMNS), "{}", said.stdout);
    let states: Vec<&str> = said.stdout.lines().filter_map(|line| line.split_once(": ")).map(|(_, s)| s).collect();
    assert!(states.iter().filter(|state| **state == "off").count() >= SEAMS_PX.len(), "{}", said.stdout);
    // What it says to ask for is what was measured.
    let drawing = said.stdout.split("--seam \"").nth(1).and_then(|rest| rest.split('"').next()).expect("a drawing");
    let alone = seamstep(&["check", text(&photo), "--length", SEAM_LENGTH, "--seam", drawing, "--json"]).finding();
    assert_eq!(alone["verdict"]["result"], "off");
}

#[test]
fn one_picture_shows_them_all() {
    let folder = tempdir().unwrap();
    let photo = two_seams(folder.path());
    let drawn = folder.path().join("drawn.png");
    let said = all(&photo, &["--json", "--picture", text(&drawn)]);
    assert_eq!(said.status, 1, "{}", said.stderr);
    let picture = image::open(&drawn).unwrap().to_rgb8();
    assert_eq!(picture.width(), 1170);
    // The colour that frames the number of a seam that is off stands beside both.
    let off = seamstep::report::look::OFF;
    let columns: Vec<u32> = picture.enumerate_pixels().filter(|(.., p)| p.0 == off).map(|(x, ..)| x).collect();
    for at_px in SEAMS_PX {
        let column = at_px / 760.0 * 1170.0;
        let beside = columns.iter().filter(|&&x| (f64::from(x) - column).abs() < 40.0).count();
        assert!(beside > 100, "{beside} pixels beside {column}");
    }
}

#[test]
fn a_photograph_without_one_is_refused_as_ever_and_options_for_one_are_trouble() {
    let folder = tempdir().unwrap();
    let plain = put(folder.path(), "plain.png", &encoded(&RgbImage::new(400, 400), ImageFormat::Png));
    let code = all(&plain, &["--json"]).refused();
    assert_eq!(code, seamstep(&["check", text(&plain), "--length", SEAM_LENGTH, "--json"]).refused());
    let photo = put(folder.path(), "one.png", &encoded(&seam(), ImageFormat::Png));
    for option in [["--seam", "200,10 200,470"], ["--chart", "chart.svg"], ["--report", "page.html"]] {
        all(&photo, &option).is_trouble(&["--all", option[0]]);
    }
}
