//! Every fixture photograph, its seam not given: the contract of the JSON, the truth, and a text of 80 columns.

use super::contract::keeps_the_contract;
use super::run::{Said, fixture, seamstep};
use serde_json::Value;

/// Largest error of the mean offset, millimetres.
const NEAR_MM: f64 = 0.3;
/// Most columns of a line of text.
const COLUMNS: usize = 80;

fn truth() -> Value {
    let text = std::fs::read_to_string(fixture("truth.json")).expect("the truth");
    serde_json::from_str(&text).expect("JSON")
}

/// Checks a fixture with the scale its family has: the card, 100 mm on a tape, or the cloth's repeat.
fn check(name: &str, truth: &Value, more: &str) -> Said {
    let photo = fixture(&format!("{name}.jpg"));
    let mut arguments = vec!["check".to_owned(), photo, more.to_owned(), "--tolerance".into(), "1.5".into()];
    if truth["tag"] == "tape" {
        let ends = &truth["length_px"];
        arguments
            .extend(["--length".into(), format!("{},{},{},{},100", ends[0][0], ends[0][1], ends[1][0], ends[1][1])]);
    } else if truth["card_mm"].as_f64().unwrap_or_default() == 0.0 {
        arguments.extend(["--repeat".into(), truth["fabric_repeat_mm"].to_string()]);
    }
    seamstep(&arguments)
}

fn is_measured(name: &str) {
    let truth = truth();
    let truth = &truth[name];
    let said = check(name, truth, "--json");
    let spoken = check(name, truth, "--explain");
    assert_eq!(said.status, spoken.status, "one answer in both faces");
    fits(&said.stderr);
    fits(&spoken.stdout);
    if truth["refuse"] == true {
        let code = said.refused();
        assert!(spoken.stdout.lines().count() >= 2, "{code}: {}", spoken.stdout);
        return;
    }
    if truth["either"] == true && said.status == 4 {
        said.refused();
        return;
    }
    let finding = said.finding();
    keeps_the_contract(&finding);
    assert!(spoken.stdout.contains("Where the uncertainty of the mean comes from"), "{}", spoken.stdout);
    for line in finding["offset"]["budget"].as_array().expect("a budget") {
        let first = line["source"].as_str().expect("a source").split_whitespace().next().expect("a word");
        assert!(spoken.stdout.contains(first), "{line} is not in the text");
    }
    let Some(due_mm) = truth["offset_mean_mm"].as_f64() else { return };
    let repeat_mm = truth["repeat_mm"][0].as_f64().expect("a repeat");
    let mean_mm = finding["offset"]["mean_mm"].as_f64().expect("a mean");
    let error_mm = (mean_mm - due_mm + repeat_mm / 2.0).rem_euclid(repeat_mm) - repeat_mm / 2.0;
    assert!(error_mm.abs() <= NEAR_MM, "{mean_mm} mm instead of {due_mm} mm");
}

fn fits(text: &str) {
    for line in text.lines() {
        assert!(line.chars().count() <= COLUMNS, "{} columns: {line}", line.chars().count());
    }
}

/// One test a photograph, so that they run side by side and fail by name.
macro_rules! fixtures {
    ($($test:ident $name:literal,)*) => {
        const NAMES: &[&str] = &[$($name),*];
        $(#[test] fn $test() { is_measured($name); })*
    };
}

fixtures! {
    along_00 "along-00", band_01 "band-01", big_00 "big-00", blur_00 "blur-00", close_02 "close-02",
    ends_00 "ends-00", flare_00 "flare-00", flat_01 "flat-01", hue_01 "hue-01", light_01 "light-01",
    nocard_02 "nocard-02", pin_02 "pin-02", plain_02 "plain-02", profile_01 "profile-01", table_02 "table-02",
    tape_02 "tape-02", tilt_00 "tilt-00", tonal_01 "tonal-01", turn_00 "turn-00", turn_01 "turn-01",
    turn_02 "turn-02", wide_01 "wide-01", zip_01 "zip-01",
}

#[test]
fn a_refusal_tells_where_the_seam_was_taken_to_be() {
    let truth = truth();
    let said = check("along-00", &truth["along-00"], "--json");
    assert_eq!(said.refused(), "lines-along-only");
    let object = said.object();
    let seams = object["seams"].as_array().expect("places where a seam may be");
    assert_eq!(seams.iter().filter(|seam| seam["measured"] == true).count(), 1);
    assert!(seams.iter().all(|seam| seam["points_px"].as_array().is_some_and(|points| points.len() >= 2)));
}

#[test]
fn no_fixture_is_forgotten() {
    let truth = truth();
    let mut due: Vec<&str> = truth.as_object().expect("fixtures").keys().map(String::as_str).collect();
    due.sort_unstable();
    assert_eq!(NAMES, due);
}
