//! One JSON object of the schema [`SCHEMA`]. What was not measured is `null`, never 0.

use crate::cloth::balance::Told;
use crate::cloth::distortion::Ratio;
use crate::cloth::family::Family;
use crate::cloth::{FlatCloth, Selvedge};
use crate::colour::word::hex;
use crate::conventions::COVERAGE_FACTOR;
use crate::problem::Refusal;
use crate::report::json::{maybe, number};
use serde_json::{Value, json};

/// The schema's name and version.
pub const SCHEMA: &str = "seamstep/cloth/1";

/// The flat cloth as one JSON object.
pub fn cloth(cloth: &FlatCloth) -> Value {
    let plane = &cloth.plane;
    let metric = plane.is_metric();
    let [a, b] = cloth.patch_px;
    let skew = cloth.skew.as_ref().map(|(skew, told_by)| {
        let mut object = ratio(skew, true);
        object["angle_deg"] = number(skew.angle_rad().to_degrees());
        object["against"] = json!(match told_by {
            Selvedge::Given => "selvedge-given",
            Selvedge::FromLines => "lines-along",
        });
        object
    });
    let cutting = cloth.cutting.as_ref().map(|cutting| {
        json!({
            "repeat_mm": maybe(cutting.repeat_mm),
            "pieces": cutting.pieces,
            "lengths_mm": number(cutting.lengths_mm),
            "total_mm": number(cutting.total_mm),
            "extra_mm": number(cutting.extra_mm),
        })
    });
    json!({
        "schema": SCHEMA,
        "photo": { "file": cloth.photo.file, "width_px": cloth.photo.width_px, "height_px": cloth.photo.height_px },
        "scale": {
            "source": plane.source,
            "mm_per_px": if metric { number(plane.mm_per_px) } else { Value::Null },
            "relative_uncertainty": if metric { number(plane.relative_uncertainty) } else { Value::Null },
            "tilt_deg": maybe(plane.tilt_rad.map(f64::to_degrees)),
        },
        "warp": cloth.warp,
        "patch_px": [[number(a.x), number(a.y)], [number(b.x), number(b.y)]],
        "coverage_factor": COVERAGE_FACTOR,
        "lengthwise": cloth.lengthwise.as_ref().map(|of| family(cloth, of)),
        "crosswise": cloth.crosswise.as_ref().map(|of| family(cloth, of)),
        "lines": {
            "across": lines(cloth.lengthwise.as_ref(), cloth.plain[0]),
            "along": lines(cloth.crosswise.as_ref(), cloth.plain[1]),
        },
        "skew": skew,
        "bow": cloth.bow.as_ref().map(|bow| ratio(bow, metric)),
        "laying": {
            "both_ways_up": word(cloth.laying.both_ways_up),
            "left_and_right": word(cloth.laying.left_and_right),
        },
        "cutting": cutting,
        "notes": cloth.notes,
    })
}

/// A refused photograph as one JSON object; its size is not told.
pub fn refusal(file: &str, refusal: &Refusal) -> Value {
    json!({
        "schema": SCHEMA,
        "photo": { "file": file, "width_px": null, "height_px": null },
        "refused": { "code": refusal.code.word(), "message": refusal.message, "help": refusal.help },
    })
}

/// Whether lines are seen to run one way, are surely not there, or were not recognised.
fn lines(family: Option<&Family>, plain: bool) -> &'static str {
    match family {
        Some(_) => "seen",
        None if plain => "none",
        None => "not-recognised",
    }
}

fn word(told: Told) -> &'static str {
    match told {
        Told::Yes => "yes",
        Told::No => "no",
        Told::CannotTell => "cannot-tell",
    }
}

fn ratio(ratio: &Ratio, metric: bool) -> Value {
    let mm = |value: f64| if metric { number(value) } else { Value::Null };
    json!({
        "distance_mm": mm(ratio.distance_mm),
        "over_mm": mm(ratio.over_mm),
        "percent": number(ratio.percent),
        "expanded_uncertainty_percent": number(ratio.expanded_uncertainty_percent),
    })
}

fn family(cloth: &FlatCloth, family: &Family) -> Value {
    let metric = cloth.plane.is_metric();
    let mm = |value: f64| if metric { number(value) } else { Value::Null };
    let repeat = cloth.repeat_mm(family);
    let whole_mm = family.repeat_mm.map(|(repeat_mm, _)| repeat_mm);
    let bands = family.bands.iter().map(|band| {
        json!({
            "number": band.number,
            "from_mm": mm(band.from_mm),
            "width_mm": mm(band.width_mm),
            "expanded_uncertainty_mm": mm(cloth.expanded_width_mm(family, band)),
            "share": maybe(whole_mm.map(|whole_mm| band.width_mm / whole_mm)),
            "ground": band.is_ground,
            "colour": hex(band.colour),
            "name": band.name,
        })
    });
    json!({
        "repeat_mm": maybe(repeat.map(|r| r.0)),
        "expanded_uncertainty_mm": maybe(repeat.map(|r| r.1)),
        "repeats_seen": maybe(family.repeats_seen()),
        "contrast": number(family.contrast),
        "bands": bands.collect::<Vec<_>>(),
        "balanced": family.balance.map(|balance| word(balance.same)),
        "mirrors_about": family.mirrors(),
        "notch": family.notch.map(|k| family.bands[k].number),
    })
}
