//! `seamstep trial`: the same bytes on any number of threads, the JSON's fields, and what cannot be tried.

use super::run::{Said, fixture, holds, seamstep, text};
use serde_json::Value;
use std::collections::BTreeSet;
use tempfile::tempdir;

/// A quick trial on the command line.
fn quick(more: &[&str]) -> Said {
    let few = ["trial", "--seams", "3", "--mm-per-px", "0.35,0.3", "--length", "90", "--repeat", "14", "--seam-drawn"];
    seamstep(&[&few[..], more].concat())
}

#[test]
fn any_number_of_threads_gives_the_same_bytes() {
    let folder = tempdir().expect("a folder");
    let [one, two] = ["1", "2"].map(|threads| {
        let charts = folder.path().join(threads);
        let said = quick(&["--json", "--threads", threads, "--charts", text(&charts)]);
        assert_eq!(said.status, 0, "{}", said.stderr);
        holds(&charts, &["distances.svg", "errors.svg"]);
        let files = ["distances.svg", "errors.svg"].map(|name| std::fs::read(charts.join(name)).expect("a chart"));
        (said.stdout, files)
    });
    assert_eq!(one, two);
    let other = quick(&["--json", "--seed", "2"]).stdout;
    assert_ne!(one.0, other, "another seed is another trial");
    let object: Value = serde_json::from_str(&one.0).expect("one JSON object");
    keeps_the_contract(&object);
    let nearest_first: Vec<f64> =
        object["distances"].as_array().expect("distances").iter().filter_map(|d| d["mm_per_px"].as_f64()).collect();
    assert_eq!(nearest_first, [0.3, 0.35]);
}

#[track_caller]
fn has(object: &Value, due: &[&str]) {
    let found: BTreeSet<&str> = object.as_object().expect("an object").keys().map(String::as_str).collect();
    assert_eq!(found, due.iter().copied().collect::<BTreeSet<_>>());
}

fn keeps_the_contract(object: &Value) {
    assert_eq!(object["schema"], "seamstep/trial/1");
    has(object, &["schema", "request", "told_share", "served_share", "close_enough", "distances"]);
    has(&object["close_enough"], &["rule", "at_most_mm_per_px", "too_far_mm_per_px"]);
    has(
        &object["request"],
        &[
            "cloth",
            "repeat_mm",
            "seam_mm",
            "tilt_deg",
            "light",
            "pins",
            "drape_mm",
            "wander_mm",
            "blur_px",
            "noise",
            "most_offset_mm",
            "seam",
            "seams",
            "seed",
            "tolerance_mm",
        ],
    );
    for distance in object["distances"].as_array().expect("distances") {
        has(
            distance,
            &[
                "mm_per_px",
                "phone_distance_mm",
                "taken",
                "measured",
                "assumed",
                "refused",
                "mean",
                "readings",
                "smallest_told_mm",
                "room_mm",
                "verdicts",
                "photographs",
            ],
        );
        for errors in [&distance["mean"], &distance["readings"]].into_iter().filter(|e| !e.is_null()) {
            has(
                errors,
                &[
                    "count",
                    "bias_mm",
                    "spread_mm",
                    "rms_mm",
                    "median_mm",
                    "ninetieth_mm",
                    "worst_mm",
                    "covered_share",
                    "median_expanded_mm",
                    "ninetieth_expanded_mm",
                ],
            );
        }
        let photographs = distance["photographs"].as_array().expect("photographs");
        assert_eq!(photographs.len() as u64, distance["taken"].as_u64().expect("a count"));
        for photograph in photographs {
            has(photograph, &["number", "true_mean_mm", "measured", "refused"]);
            assert_ne!(photograph["measured"].is_null(), photograph["refused"].is_null());
            if let Some(measured) = photograph["measured"].as_object() {
                // Student's t where the degrees of freedom are few, and never less than the normal distribution's factor.
                assert!(measured["coverage_factor"].as_f64().expect("a factor") >= 2.0, "{measured:?}");
            }
        }
    }
}

#[test]
fn the_text_begins_with_the_count_and_fits_eighty_columns() {
    let cloth = fixture("broad-check.json");
    let said = seamstep(&["trial", "--cloth", &cloth, "--seams", "2", "--mm-per-px", "0.35", "--length", "100"]);
    assert_eq!((said.status, said.stderr.as_str()), (0, ""), "{}", said.stdout);
    assert!(said.stdout.starts_with("Of 2 photographs of seams like this"), "{}", said.stdout);
    assert!(said.stdout.contains("repeat of 36.8 mm"), "{}", said.stdout);
    for line in said.stdout.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
}

#[test]
fn what_cannot_be_tried_is_trouble() {
    let folder = tempdir().expect("a folder");
    let knit = folder.path().join("knit.json");
    std::fs::write(&knit, r#"{"weave": "knit", "thread_mm": 0.4, "weft": []}"#).expect("a file");
    let thin = folder.path().join("thin.json");
    let one_band = r##"{"weave": "plain", "thread_mm": 1e-9, "weft": [{"width_mm": 1e300, "colour": "#000000"}]}"##;
    std::fs::write(&thin, one_band).expect("a file");
    let (knit, thin) = (text(&knit), text(&thin));
    let cases: [(&[&str], &str); 30] = [
        (&["--repeat", "0"], "--repeat"),
        (&["--repeat", "-3"], "--repeat"),
        (&["--repeat", "NaN"], "--repeat"),
        (&["--repeat", "inf"], "--repeat"),
        (&["--repeat", "20", "--line", "15,9"], "--line"),
        (&["--line", "-1"], "--line"),
        (&["--line", "NaN"], "--line"),
        (&["--colours", "blue"], "#rrggbb"),
        (&["--mm-per-px", "0"], "--mm-per-px"),
        (&["--mm-per-px", "NaN"], "--mm-per-px"),
        (&["--mm-per-px", "0.1,-0.1"], "--mm-per-px"),
        (&["--mm-per-px", "0.01"], "megapixels"),
        (&["--mm-per-px", ""], "--mm-per-px"),
        (&["--length", "1e9"], "--length"),
        (&["--length", "0"], "--length"),
        (&["--tilt", "90"], "--tilt"),
        (&["--tilt", "NaN"], "--tilt"),
        (&["--light", "gloomy"], "--light"),
        (&["--pins", "1000000000"], "--pins"),
        (&["--drape", "-1"], "--drape"),
        (&["--wander", "inf"], "--wander"),
        (&["--blur", "1e6"], "--blur"),
        (&["--tolerance", "-1"], "--tolerance"),
        (&["--seams", "0"], "--seams"),
        (&["--seams", "18446744073709551615"], "--seams"),
        (&["--threads", "0"], "--threads"),
        (&["--cloth", "not-there.json"], "not-there.json"),
        (&["--cloth", knit], "knit"),
        (&["--cloth", thin], "thread"),
        (&["--cloth", thin, "--repeat", "20"], "cannot be used with"),
    ];
    for (arguments, word) in cases {
        let said = seamstep(&[&["trial"], arguments].concat());
        assert_eq!((said.status, said.stdout.as_str()), (2, ""), "{arguments:?}: {}", said.stderr);
        assert!(said.stderr.starts_with("error: ") && said.stderr.contains(word), "{arguments:?}: {}", said.stderr);
    }
    let file = folder.path().join("file");
    std::fs::write(&file, b"mine").expect("a file");
    quick(&["--charts", text(&file.join("charts"))]).is_trouble(&["--charts"]);
}
