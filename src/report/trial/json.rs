//! One JSON object of the schema [`SCHEMA`]. What was not measured is `null`, never 0.

use crate::colour::word::hex;
use crate::render::Band;
use crate::report::json::{maybe, number};
use crate::trial::figures::{Errors, Figures, SERVED_SHARE, TOLD_SHARE};
use crate::trial::outcome::{Answer, Outcome};
use crate::trial::scenes::phone_distance_mm;
use crate::trial::{Distance, Trial, sweep};
use serde_json::{Value, json};

/// The schema's name and version.
pub const SCHEMA: &str = "seamstep/trial/1";

/// The trial as one JSON object.
pub fn trial(trial: &Trial) -> Value {
    let (request, closeness) = (&trial.request, &trial.closeness);
    let (cloth, conditions) = (&request.cloth, &request.conditions);
    json!({
        "schema": SCHEMA,
        "request": {
            "cloth": {
                "weave": cloth.weave,
                "thread_mm": number(cloth.thread_mm),
                "texture": number(cloth.texture),
                "weft": bands(&cloth.weft),
                "warp": bands(&cloth.warp),
            },
            "repeat_mm": maybe(cloth.repeat_mm()),
            "seam_mm": number(conditions.seam_mm),
            "tilt_deg": number(conditions.tilt_rad.to_degrees()),
            "light": conditions.light,
            "pins": conditions.pins,
            "drape_mm": number(conditions.drape_mm),
            "wander_mm": number(conditions.wander_mm),
            "blur_px": number(conditions.blur_px),
            "noise": number(conditions.noise),
            "most_offset_mm": number(trial.most_offset_mm),
            "seam": if request.seam_drawn { "drawn" } else { "looked-for" },
            "seams": request.seams,
            "seed": request.seed,
            "tolerance_mm": number(closeness.tolerance_mm),
        },
        "told_share": number(TOLD_SHARE),
        "served_share": number(SERVED_SHARE),
        "close_enough": {
            "rule": sweep::rule(closeness.tolerance_mm),
            "at_most_mm_per_px": maybe(closeness.at_most_mm_per_px),
            "too_far_mm_per_px": maybe(closeness.too_far_mm_per_px),
        },
        "distances": trial.distances.iter().map(distance).collect::<Vec<_>>(),
    })
}

fn bands(bands: &[Band]) -> Vec<Value> {
    bands.iter().map(|band| json!({ "width_mm": number(band.width_mm), "colour": hex(band.colour) })).collect()
}

fn distance(distance: &Distance) -> Value {
    let Figures { taken, measured, assumed, refused, mean, readings, smallest_told_mm, room_mm, verdicts } =
        &distance.figures;
    let refused: Vec<Value> =
        refused.iter().map(|(code, count)| json!({ "code": code.word(), "count": count })).collect();
    json!({
        "mm_per_px": number(distance.mm_per_px),
        "phone_distance_mm": number(phone_distance_mm(distance.mm_per_px)),
        "taken": taken,
        "measured": measured,
        "assumed": assumed,
        "refused": refused,
        "mean": errors(mean),
        "readings": errors(readings),
        "smallest_told_mm": maybe(*smallest_told_mm),
        "room_mm": maybe(*room_mm),
        "verdicts": {
            "within": verdicts.within,
            "within_matched": verdicts.within_matched,
            "within_off": verdicts.within_off,
            "out": verdicts.out,
            "out_off": verdicts.out_off,
            "out_matched": verdicts.out_matched,
        },
        "photographs": distance.outcomes.iter().map(outcome).collect::<Vec<_>>(),
    })
}

fn errors(errors: &Option<Errors>) -> Value {
    let Some(e) = errors else { return Value::Null };
    json!({
        "count": e.count,
        "bias_mm": number(e.bias_mm),
        "spread_mm": maybe(e.spread_mm),
        "rms_mm": number(e.rms_mm),
        "median_mm": number(e.median_mm),
        "ninetieth_mm": number(e.ninetieth_mm),
        "worst_mm": number(e.worst_mm),
        "covered_share": number(e.covered_share),
        "median_expanded_mm": number(e.median_expanded_mm),
        "ninetieth_expanded_mm": number(e.ninetieth_expanded_mm),
    })
}

fn outcome(outcome: &Outcome) -> Value {
    let (measured, refused) = match &outcome.answer {
        Answer::Measured(m) => (
            json!({
                "error_mm": number(m.error_mm),
                "expanded_uncertainty_mm": number(m.expanded_uncertainty_mm),
                "coverage_factor": number(m.coverage_factor),
                "room_mm": number(m.room_mm()),
                "seam": m.source,
                "verdict": m.verdict.word(),
            }),
            Value::Null,
        ),
        Answer::Refused(code) => (Value::Null, json!(code.word())),
    };
    json!({
        "number": outcome.number,
        "true_mean_mm": number(outcome.true_mean_mm),
        "measured": measured,
        "refused": refused,
    })
}
