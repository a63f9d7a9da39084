//! The JSON object of `check`, field by field: what the contract names, what is said beyond it, and nothing else.

use serde_json::{Map, Value};

/// The object at each place: the fields of the contract, and the ones beyond it. `[]` is every item of a list.
const FIELDS: [(&str, &str, &str); 18] = [
    ("", "schema photo scale seam sides offset readings lines verdict remedy notes", "stage seams"),
    ("photo", "file width_px height_px", ""),
    ("scale", "source mm_per_px relative_uncertainty tilt_deg", ""),
    ("seam", "source runs points_px length_mm gap_mm", "confidence moved_mm"),
    ("seam.plainer", "", "points_px aside_mm"),
    ("seams[]", "", "runs points_px confidence measured"),
    ("sides[]", "name repeat_mm repeat_uncertainty_mm slope_deg contrast", "chance_noise excluded_share"),
    (
        "offset",
        "mean_mm expanded_uncertainty_mm coverage_factor worst_mm worst_at_mm drift_mm_per_100_mm modulo_mm",
        "budget effective_freedom",
    ),
    ("offset.budget[]", "", "source u_mm freedom"),
    ("readings[]", "along_mm x_px y_px offset_mm expanded_uncertainty_mm", ""),
    ("lines[]", "number along_mm colour offset_mm expanded_uncertainty_mm state", "width_mm name"),
    ("verdict", "result place tolerance_mm tolerance_source reason stretches", "cure tolerance_file showing"),
    ("verdict.stretches[]", "from_mm to_mm worst_mm", ""),
    (
        "remedy",
        "action worth_unpicking side direction by_mm from_mm to_mm expected_worst_mm stitches minutes visible_from_m why",
        "ease_percent longer_side expected_uncertainty_mm instruction runner_up cures faults cautions",
    ),
    ("remedy.runner_up", "", "action leaves_mm why"),
    ("remedy.faults[]", "", "pattern evidence cause prevention"),
    (
        "remedy.cures[]",
        "",
        "action from_mm to_mm full_from_mm full_to_mm shift_mm ease_percent longer_side step_at_start_mm step_at_end_mm \
         leaves_mm leaves_at_mm expanded_uncertainty_mm inside",
    ),
    ("notes[]", "code text", ""),
];

/// What is there only where there is something to say.
const MAY_BE_ABSENT: [&str; 3] = ["seam.plainer", "verdict.code", "verdict.if_here"];

/// What may be null in a finding with a scale: not every photograph lets it be estimated.
const MAY_BE_NULL: [&str; 26] = [
    "seam.plainer.aside_mm",
    "scale.tilt_deg",
    "seam.gap_mm",
    "sides[].repeat_mm",
    "sides[].repeat_uncertainty_mm",
    "offset.effective_freedom",
    "offset.budget[].freedom",
    "offset.drift_mm_per_100_mm",
    "offset.modulo_mm",
    "verdict.cure",
    "remedy.side",
    "remedy.direction",
    "remedy.by_mm",
    "remedy.from_mm",
    "remedy.to_mm",
    "remedy.expected_worst_mm",
    "remedy.stitches",
    "remedy.minutes",
    "remedy.visible_from_m",
    "remedy.worth_unpicking",
    "verdict.tolerance_file",
    "remedy.ease_percent",
    "remedy.longer_side",
    "remedy.expected_uncertainty_mm",
    "remedy.runner_up",
    "remedy.cures[].longer_side",
];

/// The words a field may hold.
const WORDS: [(&str, &str); 14] = [
    ("verdict.code", "no-seam-there seam-assumed which-line-belongs-to-which"),
    ("verdict.if_here", "matched off"),
    ("scale.source", "card rectangle length repeat none"),
    ("seam.source", "found given assumed"),
    ("seam.runs", "down across"),
    ("sides[].name", "left right below above"),
    ("lines[].state", "matched off unsure"),
    ("verdict.result", "matched off unsure"),
    ("verdict.tolerance_source", "given settings common-practice"),
    ("verdict.showing", "plainly half-hidden hidden"),
    ("remedy.side", "left right below above"),
    ("remedy.longer_side", "left right below above"),
    ("remedy.cures[].inside", "matched off unsure"),
    ("remedy.direction", "up down left right"),
];

/// Asserts that a finding with a scale keeps the contract.
pub fn keeps_the_contract(finding: &Value) {
    walk(finding, "");
    let points = |at: &str| finding.pointer(at).and_then(Value::as_array).expect("a list");
    assert_eq!(points("/sides").len(), 2);
    assert_eq!(finding["offset"]["coverage_factor"].as_f64(), Some(2.0));
    assert!(points("/seam/points_px").len() >= 2);
    for point in points("/seam/points_px") {
        is_inside(finding, &point[0], &point[1]);
    }
    readings_are_dense_and_inside(finding);
    for (number, line) in points("/lines").iter().enumerate() {
        assert_eq!(line["number"].as_u64(), Some(number as u64 + 1), "lines are numbered in order");
        let colour = line["colour"].as_str().expect("a colour");
        let digits = colour.strip_prefix('#').expect("#rrggbb");
        assert!(digits.len() == 6 && digits.chars().all(|c| matches!(c, '0'..='9' | 'a'..='f')), "{colour}");
    }
}

fn readings_are_dense_and_inside(finding: &Value) {
    let readings = finding["readings"].as_array().expect("readings");
    assert!(readings.len() >= 2);
    let along = |reading: &Value| reading["along_mm"].as_f64().expect("a place");
    for pair in readings.windows(2) {
        let step = along(&pair[1]) - along(&pair[0]);
        assert!(step > 0.0 && step <= 5.0 + 1e-6, "{step} mm between two readings");
    }
    let length = finding["seam"]["length_mm"].as_f64().expect("a length");
    let (first, last) = (along(&readings[0]), along(&readings[readings.len() - 1]));
    assert!(first >= -1e-6 && last <= length + 1e-6, "readings from {first} to {last} mm of a seam of {length} mm");
    for reading in readings {
        is_inside(finding, &reading["x_px"], &reading["y_px"]);
        assert!(reading["expanded_uncertainty_mm"].as_f64().is_some_and(|u| u > 0.0), "{reading}");
    }
}

/// Inside the picture, to 2 pixels.
fn is_inside(finding: &Value, x: &Value, y: &Value) {
    for (at, size) in [(x, "width_px"), (y, "height_px")] {
        let (at, size) = (at.as_f64().expect("a place"), finding["photo"][size].as_f64().expect("a size"));
        assert!((-2.0..=size + 1.0).contains(&at), "{at} of {size} pixels");
    }
}

fn walk(value: &Value, place: &str) {
    match value {
        Value::Object(object) => {
            has_its_fields(object, place);
            for (name, value) in object {
                walk(value, &if place.is_empty() { name.clone() } else { format!("{place}.{name}") });
            }
        }
        Value::Array(items) => items.iter().for_each(|item| walk(item, &format!("{place}[]"))),
        Value::Null => assert!(MAY_BE_NULL.contains(&place), "{place} is null"),
        // serde_json reads no number that is not finite, but it reads 1e999 as an error: both are excluded here.
        Value::Number(number) => assert!(number.as_f64().is_some_and(f64::is_finite), "{place}: {number}"),
        Value::String(text) => {
            assert!(!text.is_empty() && !text.contains("NaN") && !text.contains("inf "), "{place}: {text:?}");
            if let Some((_, words)) = WORDS.iter().find(|(at, _)| *at == place) {
                assert!(words.split(' ').any(|word| word == text), "{place}: {text:?}");
            }
        }
        Value::Bool(_) => {}
    }
}

fn has_its_fields(object: &Map<String, Value>, place: &str) {
    let (_, contract, beyond) =
        FIELDS.iter().find(|(at, _, _)| *at == place).unwrap_or_else(|| panic!("an unknown object at {place:?}"));
    let mut due: Vec<&str> = contract.split_whitespace().chain(beyond.split_whitespace()).collect();
    let whole = |name: &str| if place.is_empty() { name.to_owned() } else { format!("{place}.{name}") };
    let always = |name: &&str| !MAY_BE_ABSENT.contains(&whole(name).as_str());
    let mut found: Vec<&str> = object.keys().map(String::as_str).filter(always).collect();
    due.sort_unstable();
    found.sort_unstable();
    assert_eq!(found, due, "the fields at {place:?}");
}

#[test]
#[should_panic(expected = "the fields at \"photo\"")]
fn an_unknown_field_is_noticed() {
    walk(&serde_json::json!({ "file": "a.jpg", "width_px": 4, "height_px": 3, "model": "x" }), "photo");
}

#[test]
#[should_panic(expected = "readings[].offset_mm is null")]
fn a_missing_number_is_noticed() {
    let reading =
        serde_json::json!({ "along_mm": 1, "x_px": 4, "y_px": 3, "offset_mm": null, "expanded_uncertainty_mm": 1 });
    walk(&reading, "readings[]");
}
