//! `seamstep compare`: the rendered waistcoats side by side, photographs, and what cannot be compared.

use super::run::{seamstep, text};
use seamstep::compare::welch::{Mean, difference};
use serde_json::Value;
use std::collections::BTreeSet;
use tempfile::tempdir;

fn fields(value: &Value) -> BTreeSet<&str> {
    value.as_object().unwrap().keys().map(String::as_str).collect()
}

#[test]
fn the_bought_waistcoat_beside_the_handmade_one() {
    let folder = tempdir().unwrap();
    let [page, picture] = ["compared.html", "strips.png"].map(|name| folder.path().join(name));
    let files = ["reports/waistcoat/bought.toml", "reports/waistcoat/handmade.toml"];
    let said = seamstep(&[
        "compare",
        files[0],
        files[1],
        "--json",
        "--names",
        "Bought,Handmade",
        "--report",
        text(&page),
        "--picture",
        text(&picture),
    ]);
    assert_eq!(said.status, 1, "{}", said.stderr);
    let object: Value = serde_json::from_str(&said.stdout).unwrap();
    let known = ["schema", "standing", "level", "best_first", "pieces", "places", "overall"];
    assert_eq!(fields(&object), known.into());
    assert_eq!(fields(&object["pieces"][0]), ["name", "standing", "all"].into());
    assert_eq!(fields(&object["places"][0]), ["place", "name", "seams", "differences"].into());
    let difference = &object["places"][0]["differences"][0];
    let known = ["pieces", "size_difference_mm", "expanded_uncertainty_mm", "t", "freedom", "p", "p_adjusted", "told"];
    assert_eq!(fields(difference), known.into());
    assert_eq!(object["best_first"], serde_json::json!(["Handmade", "Bought"]));

    // The sizes of the mean jumps as they were rendered (src/demo/waistcoat.rs): constant offsets, the drift turns about the
    // seam's middle. The handmade right side has a slip, the centre front wanders.
    let due = [("Centre back", 2.6, 0.3), ("Left side", 5.4, 0.8), ("Welt pocket", 7.2, 2.4)];
    for (name, bought_mm, handmade_mm) in due {
        let place = object["places"].as_array().unwrap().iter().find(|place| place["name"] == name).unwrap();
        for (seam, due_mm) in place["seams"].as_array().unwrap().iter().zip([bought_mm, handmade_mm]) {
            let lengths = &seam["measured"]["lengths"];
            let [mean, expanded] =
                ["mean_mm", "mean_expanded_uncertainty_mm"].map(|field| lengths[field].as_f64().unwrap());
            assert!((mean.abs() - due_mm).abs() <= expanded, "{name}: {mean} for {due_mm}");
        }
        let told = &place["differences"][0];
        let by = told["size_difference_mm"].as_f64().unwrap();
        let expanded = told["expanded_uncertainty_mm"].as_f64().unwrap();
        assert!((by - (bought_mm - handmade_mm)).abs() <= expanded && told["told"] == true, "{name}: {told}");
    }
    let html = std::fs::read_to_string(page).unwrap();
    assert!(html.contains("Bought beside Handmade") && html.matches("<img").count() == 5 && html.contains("<svg"));
    // Two strips of 44 mm at 6 pixels to a millimetre, with 30 pixels around each.
    assert_eq!(image::image_dimensions(picture).unwrap().0, 3 * 30 + 2 * 264);
}

#[test]
fn what_cannot_be_measured_stands_beside_without_figures_and_the_worst_wins() {
    let said = seamstep(&["compare", "fixtures/pin-02.jpg", "fixtures/along-00.jpg", "--place", "hem"]);
    assert_eq!(said.status, 4, "{}{}", said.stdout, said.stderr);
    assert!(said.stdout.starts_with("Only pin-02 was measured"), "{}", said.stdout);
    assert!(
        said.stdout.contains("along-00: refused.") && said.stdout.contains("nothing can be tested"),
        "{}",
        said.stdout
    );
    assert!(said.stdout.lines().all(|line| line.chars().count() <= 80), "{}", said.stdout);
    let missing = seamstep(&["compare", "fixtures/pin-02.jpg", "no such.jpg"]);
    assert_eq!(missing.status, 2, "{}", missing.stderr);
    assert!(missing.stdout.contains("no such: trouble."), "{}", missing.stdout);
    seamstep(&["compare", "fixtures/pin-02.jpg", "none.toml"]).is_trouble(&["none.toml"]);
    seamstep(&["compare", "a.jpg", "b.jpg", "--names", "one"]).is_trouble(&["--names"]);
    seamstep(&["compare", "a.jpg", "b.jpg", "--report", "a.txt"]).is_trouble(&[".html"]);
    assert_eq!(seamstep(&["compare", "a.jpg"]).status, 2);
}

#[test]
fn welchs_test_is_scipys() {
    // scipy 1.17.1, stats.ttest_ind(a, b, equal_var=False): statistic, pvalue and df of these samples (computed).
    let samples: [([f64; 5], [f64; 6], [f64; 3]); 2] = [
        (
            [2.61, 5.39, 3.95, 7.18, 0.70],
            [0.30, 0.81, 1.36, 2.41, 0.22, 0.90],
            [2.5509262268299975, 0.05422689386170216, 4.701588265201571],
        ),
        (
            [1.0, 1.2, 0.9, 1.1, 1.05],
            [1.01, 1.4, 0.7, 1.2, 1.1, 0.95],
            [-0.09179850920431577, 0.9293041139581444, 7.369036163142611],
        ),
    ];
    for (one, other, [t, p, freedom]) in samples {
        let found = difference(Mean::of(&one).unwrap(), Mean::of(&other).unwrap()).unwrap();
        assert!((found.t - t).abs() < 1e-9 && (found.p - p).abs() < 1e-9, "{found:?}");
        assert!((found.freedom - freedom).abs() < 1e-9, "{found:?}");
    }
}
