//! The face for programs: one JSON object of the schema [`SCHEMA`].
//!
//! Every field of the contract is present; what was not estimated is `null`, never 0. Without a scale every length in
//! millimetres is `null` and stands in repeats of the cloth in a field beside it, named `…_repeats`.

mod remedy;

use crate::ask::Refused;
use crate::colour::word::hex;
use crate::finding::Finding;
use crate::scale::Plane;
use crate::seam::path::Path;
use crate::seam::{SeamInPicture, told_px};
use crate::units::PxPoint;
use serde_json::{Map, Value, json};

/// The schema's name and version.
pub const SCHEMA: &str = "seamstep/check/1";

/// The finding as one JSON object.
pub fn finding(finding: &Finding) -> Value {
    let metric = finding.plane.is_metric();
    let mm = |value: f64| if metric { number(value) } else { Value::Null };
    let maybe_mm = |value: Option<f64>| value.map_or(Value::Null, mm);
    let Finding { photo, plane, seam, offset, verdict, .. } = finding;

    let sides: Vec<Value> = (finding.lines.sides.iter().zip(finding.excluded_share))
        .map(|(side, excluded)| {
            json!({
                "name": side.side.word(),
                "repeat_mm": maybe_mm(side.repeat_mm),
                "repeat_uncertainty_mm": maybe_mm(side.repeat_uncertainty_mm),
                "slope_deg": number(side.slope.atan().to_degrees()),
                "contrast": number(side.contrast),
                "chance_noise": number(side.chance_noise),
                "excluded_share": number(excluded),
            })
        })
        .collect();

    let readings: Vec<Value> = offset
        .readings
        .iter()
        .map(|reading| {
            let mut row = Map::new();
            length(&mut row, "along", reading.along_mm, metric);
            row.insert("x_px".into(), number(reading.at_px.x));
            row.insert("y_px".into(), number(reading.at_px.y));
            length(&mut row, "offset", reading.offset_mm, metric);
            length(&mut row, "expanded_uncertainty", reading.expanded_uncertainty_mm, metric);
            Value::Object(row)
        })
        .collect();

    let lines: Vec<Value> = (offset.lines.iter().zip(&verdict.lines))
        .map(|(line, state)| {
            let mut row = Map::new();
            row.insert("number".into(), json!(line.number));
            length(&mut row, "along", line.along_mm, metric);
            length(&mut row, "width", line.width_mm, metric);
            row.insert("colour".into(), json!(hex(line.colour)));
            row.insert("name".into(), json!(line.name));
            length(&mut row, "offset", line.offset_mm, metric);
            length(&mut row, "expanded_uncertainty", line.expanded_uncertainty_mm, metric);
            row.insert("state".into(), json!(state.word()));
            Value::Object(row)
        })
        .collect();

    let stretches: Vec<Value> = verdict
        .stretches
        .iter()
        .map(|stretch| {
            let mut row = Map::new();
            length(&mut row, "from", stretch.from_mm, metric);
            length(&mut row, "to", stretch.to_mm, metric);
            length(&mut row, "worst", stretch.worst_mm, metric);
            Value::Object(row)
        })
        .collect();

    let mut value = json!({
        "schema": SCHEMA,
        "photo": photo,
        "scale": {
            "source": plane.source,
            "mm_per_px": mm(plane.mm_per_px),
            "relative_uncertainty": mm(plane.relative_uncertainty),
            "tilt_deg": maybe(plane.tilt_rad.map(f64::to_degrees)),
        },
        "seam": {
            "source": seam.source,
            "runs": seam.runs.word(),
            "points_px": path(plane, &seam.path),
            "length_mm": mm(seam.path.length_mm()),
            "gap_mm": maybe_mm(finding.seam.gap_mm),
            "moved_mm": mm(seam.drawn.as_ref().map_or(0.0, |drawn| drawn.moved_mm)),
            "confidence": number(seam.confidence),
        },
        "seams": seams(&seam.in_picture(plane)),
        "sides": sides,
        "offset": offset_object(finding, metric),
        "readings": readings,
        "lines": lines,
        "verdict": {
            "result": verdict.result.word(),
            "place": verdict.place,
            "tolerance_mm": number(verdict.tolerance_mm),
            "tolerance_source": verdict.tolerance_source,
            "tolerance_file": verdict.tolerance_file,
            "showing": verdict.place.custom().showing,
            "reason": verdict.reason,
            "cure": verdict.cure,
            "stretches": stretches,
        },
        "remedy": remedy::object(finding),
        "stage": finding.stage,
        "notes": finding.notes,
    });
    if let Some(plainer) = seam.drawn.as_ref().and_then(|drawn| drawn.plainer.as_ref()) {
        value["seam"]["plainer"] =
            json!({ "points_px": path(plane, &plainer.path), "aside_mm": maybe_mm(plainer.aside_mm) });
    }
    if let Some(code) = verdict.code {
        value["verdict"]["code"] = json!(code);
    }
    if let Some(here) = verdict.if_here {
        value["verdict"]["if_here"] = json!(here.word());
    }
    value
}

/// A refused photograph as one JSON object, with its size where it was read and `seams` where some were seen.
pub fn refusal(file: &str, refused: &Refused) -> Value {
    let Refused { size_px, seams: seen, refusal } = refused;
    let mut value = json!({
        "schema": SCHEMA,
        "photo": { "file": file, "width_px": size_px.map(|s| s[0]), "height_px": size_px.map(|s| s[1]) },
        "refused": { "code": refusal.code.word(), "message": refusal.message, "help": refusal.help },
    });
    if !seen.is_empty() {
        value["seams"] = seams(seen);
    }
    value
}

fn seams(seen: &[SeamInPicture]) -> Value {
    let one = |seam: &SeamInPicture| {
        json!({
            "runs": seam.runs.word(),
            "points_px": points(&seam.points_px),
            "confidence": number(seam.confidence),
            "measured": seam.measured,
        })
    };
    Value::Array(seen.iter().map(one).collect())
}

fn offset_object(finding: &Finding, metric: bool) -> Value {
    let offset = &finding.offset;
    let mut object = Map::new();
    length(&mut object, "mean", offset.mean_mm, metric);
    length(&mut object, "expanded_uncertainty", offset.expanded_uncertainty_mm, metric);
    object.insert("coverage_factor".into(), json!(offset.budget.coverage_factor()));
    object.insert("effective_freedom".into(), maybe(finite(offset.budget.effective_freedom())));
    length(&mut object, "worst", offset.worst_mm, metric);
    length(&mut object, "worst_at", offset.worst_at_mm, metric);
    let drift = if metric { offset.drift_mm_per_100_mm } else { None };
    object.insert("drift_mm_per_100_mm".into(), maybe(drift));
    let modulo = if metric { offset.modulo_mm } else { None };
    object.insert("modulo_mm".into(), maybe(modulo));
    let budget: Vec<Value> = offset
        .budget
        .rows
        .iter()
        .map(|line| {
            let mut row = Map::new();
            row.insert("source".into(), json!(line.source));
            length(&mut row, "u", line.u_mm, metric);
            row.insert("freedom".into(), maybe(finite(line.freedom)));
            Value::Object(row)
        })
        .collect();
    object.insert("budget".into(), Value::Array(budget));
    Value::Object(object)
}

/// `NAME_mm`, and without a scale `NAME_mm: null` with `NAME_repeats` beside it.
fn length(object: &mut Map<String, Value>, name: &str, value: f64, metric: bool) {
    object.insert(format!("{name}_mm"), if metric { number(value) } else { Value::Null });
    if !metric {
        object.insert(format!("{name}_repeats"), number(value));
    }
}

/// A path as points of the picture, `[x, y]` in pixels, in the order of growing u.
pub fn path(plane: &Plane, path: &Path) -> Value {
    points(&told_px(plane, path))
}

fn points(points_px: &[PxPoint]) -> Value {
    Value::Array(points_px.iter().map(|at| json!([number(at.x), number(at.y)])).collect())
}

pub(super) fn maybe(value: Option<f64>) -> Value {
    value.map_or(Value::Null, number)
}

/// A figure that may be infinite, which is null.
fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// A finite number; JSON has no other, and a finding must have none.
pub(crate) fn number(value: f64) -> Value {
    debug_assert!(value.is_finite(), "a finding holds a number that is not finite");
    // Adding zero makes the −0 of IEEE 754 a plain 0.
    serde_json::Number::from_f64(value + 0.0).map_or(Value::Null, Value::Number)
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::problem::{Refusal, RefusalCode};

    /// The fields of the contract and the ones beyond it, of the object at each path.
    const FIELDS: [(&str, &str, &str); 14] = [
        ("", "schema photo scale seam sides offset readings lines verdict remedy notes", "stage seams"),
        ("/photo", "file width_px height_px", ""),
        ("/scale", "source mm_per_px relative_uncertainty tilt_deg", ""),
        ("/seam", "source runs points_px length_mm gap_mm", "confidence moved_mm"),
        ("/sides/1", "name repeat_mm repeat_uncertainty_mm slope_deg contrast", "chance_noise excluded_share"),
        (
            "/offset",
            "mean_mm expanded_uncertainty_mm coverage_factor worst_mm worst_at_mm drift_mm_per_100_mm modulo_mm",
            "budget effective_freedom",
        ),
        ("/readings/3", "along_mm x_px y_px offset_mm expanded_uncertainty_mm", ""),
        ("/lines/2", "number along_mm colour offset_mm expanded_uncertainty_mm state", "width_mm name"),
        ("/verdict", "result place tolerance_mm tolerance_source reason stretches", "cure tolerance_file showing"),
        ("/verdict/stretches/0", "from_mm to_mm worst_mm", ""),
        (
            "/remedy",
            "action worth_unpicking side direction by_mm from_mm to_mm expected_worst_mm stitches minutes \
             visible_from_m why",
            "ease_percent longer_side expected_uncertainty_mm instruction runner_up cures faults cautions",
        ),
        ("/remedy/runner_up", "", "action leaves_mm why"),
        ("/remedy/faults/0", "", "pattern evidence cause prevention"),
        (
            "/remedy/cures/1",
            "",
            "action from_mm to_mm full_from_mm full_to_mm shift_mm ease_percent longer_side step_at_start_mm \
             step_at_end_mm leaves_mm leaves_at_mm expanded_uncertainty_mm inside",
        ),
    ];

    #[test]
    fn the_object_has_exactly_the_known_fields() {
        for recipe in [sample::down(), sample::across()] {
            let value = finding(&recipe.finding());
            for (at, contract, beyond) in FIELDS {
                let mut known: Vec<&str> = contract.split_whitespace().chain(beyond.split_whitespace()).collect();
                let object =
                    value.pointer(at).and_then(Value::as_object).unwrap_or_else(|| panic!("no object at {at}"));
                let mut found: Vec<&str> = object.keys().map(String::as_str).collect();
                known.sort_unstable();
                found.sort_unstable();
                assert_eq!(found, known, "at {at:?}");
            }
        }
    }

    #[test]
    fn values_stand_where_the_contract_puts_them() {
        let value = finding(&sample::down().finding());
        assert_eq!(value["schema"], "seamstep/check/1");
        assert_eq!(value["scale"]["source"], "card");
        assert_eq!(value["seam"]["runs"], "down");
        assert_eq!(value["sides"][0]["name"], "left");
        assert_eq!(value["offset"]["coverage_factor"].as_f64(), Some(2.0));
        assert_eq!(value["verdict"]["place"], "centre-back");
        assert_eq!(value["verdict"]["tolerance_source"], "common-practice");
        assert_eq!(value["remedy"]["action"], "re-pin-stretch");
        assert_eq!(value["remedy"]["side"], "right");
        assert_eq!(value["remedy"]["direction"], "up");
        assert_eq!(value["lines"][0]["colour"], "#a84a2a");
        // atan(0.02) is 1.1458 degrees.
        assert!((value["sides"][1]["slope_deg"].as_f64().unwrap() - 1.1458).abs() < 1e-3);
        let points = value["seam"]["points_px"].as_array().unwrap();
        assert_eq!(points.len(), 21);
        assert!((points[0][0].as_f64().unwrap() - 590.0).abs() < 1e-6);
        assert!((points[20][1].as_f64().unwrap() - 890.0).abs() < 1e-6);
    }

    #[test]
    fn without_a_scale_no_length_is_called_millimetres() {
        fn no_mm(value: &Value, path: &str) {
            match value {
                Value::Object(object) => {
                    for (name, value) in object {
                        let length = name.contains("_mm") || name == "mm_per_px";
                        // The tolerance is the user's, or the table's: it is millimetres whatever the photograph shows.
                        if length && name != "tolerance_mm" {
                            assert!(value.is_null(), "{path}/{name} is {value}");
                        }
                        no_mm(value, &format!("{path}/{name}"));
                    }
                }
                Value::Array(items) => items.iter().for_each(|item| no_mm(item, path)),
                _ => {}
            }
        }
        let value = finding(&sample::unscaled().finding());
        no_mm(&value, "");
        assert!(value["scale"]["tilt_deg"].is_null());
        assert!((value["offset"]["worst_repeats"].as_f64().unwrap() - 3.4 / 15.0).abs() < 0.01);
        assert!(value["offset"]["mean_repeats"].is_number());
        assert!(value["lines"][0]["along_repeats"].is_number());
    }

    #[test]
    fn only_what_was_not_estimated_is_null() {
        fn nulls(value: &Value, path: &str, found: &mut Vec<String>) {
            match value {
                Value::Null => found.push(path.to_owned()),
                Value::Object(object) => object.iter().for_each(|(k, v)| nulls(v, &format!("{path}/{k}"), found)),
                Value::Array(items) => items.iter().for_each(|item| nulls(item, path, found)),
                _ => {}
            }
        }
        let mut found = vec![];
        nulls(&finding(&sample::down().finding()), "", &mut found);
        found.sort();
        found.dedup();
        let eased = ["/remedy/cures/longer_side", "/remedy/ease_percent", "/remedy/longer_side"];
        let due =
            [&["/offset/budget/freedom"][..], &eased, &["/seam/gap_mm", "/verdict/cure", "/verdict/tolerance_file"]];
        assert_eq!(found, due.concat());
    }

    #[test]
    fn a_refusal_has_its_reason_and_no_invented_size() {
        let refused = Refusal::new(RefusalCode::NoLines, "no line crosses", "try another cloth");
        let value = refusal("a.jpg", &refused.clone().into());
        assert_eq!(
            value,
            json!({
                "schema": "seamstep/check/1",
                "photo": { "file": "a.jpg", "width_px": null, "height_px": null },
                "refused": { "code": "no-lines", "message": "no line crosses", "help": "try another cloth" },
            })
        );
        let seam = sample::down().finding().seam;
        let seams = seam.in_picture(&sample::down().finding().plane);
        let value = refusal("a.jpg", &Refused { size_px: Some([40, 30]), seams, refusal: refused });
        assert_eq!(value["photo"]["height_px"], 30);
        assert_eq!(value["seams"][0]["points_px"].as_array().map(Vec::len), Some(21));
        assert_eq!(value["seams"][0]["measured"], true);
    }
}
