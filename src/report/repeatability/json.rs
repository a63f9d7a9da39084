//! One JSON object of the schema [`SCHEMA`]. What cannot be told is `null`, never 0.

use super::phrase;
use crate::repeatability::anova::{Deviation, LEVEL};
use crate::repeatability::{GOOD_PERCENT, POOR_PERCENT, Study};
use crate::report::json::{maybe, number};
use serde_json::{Value, json};

/// The schema's name and version.
pub const SCHEMA: &str = "seamstep/repeatability/1";

/// The study as one JSON object.
pub fn study(study: &Study) -> Value {
    let components = study.components.as_ref();
    let deviation = |d: &Deviation| {
        json!({
            "mm": number(d.value),
            "low_mm": number(d.interval[0]),
            "high_mm": number(d.interval[1]),
            "freedom": maybe(d.freedom),
        })
    };
    let percent = study.percent_of_tolerance();
    let scatter = study.scatter_to_told();
    let rows: Vec<Value> = components
        .iter()
        .flat_map(|c| &c.rows)
        .map(|row| {
            json!({
                "source": row.source,
                "freedom": number(row.freedom),
                "sum_mm2": number(row.sum),
                "mean_mm2": number(row.mean),
                "f": maybe(row.f),
                "p": maybe(row.p),
            })
        })
        .collect();
    let readings: Vec<Value> = study
        .readings
        .iter()
        .map(|r| {
            json!({
                "piece": r.part.piece,
                "place": r.part.place,
                "by": r.by,
                "mean_mm": number(r.mean_mm),
                "standard_uncertainty_mm": number(r.told_mm),
            })
        })
        .collect();
    json!({
        "schema": SCHEMA,
        "answer": study.answer(),
        "reason": phrase::answer(study),
        "doubt": study.doubt(),
        "tolerance_mm": number(study.tolerance_mm),
        "good_percent": GOOD_PERCENT,
        "poor_percent": POOR_PERCENT,
        "level": LEVEL,
        "percent_of_tolerance": percent.map(|p| number(p[0])),
        "percent_of_tolerance_interval": percent.map(|p| [number(p[1]), number(p[2])]),
        "percent_of_variation": maybe(study.percent_of_variation()),
        "classes": maybe(study.classes()),
        "repeatability": components.map(|c| deviation(&c.repeatability)),
        "reproducibility_mm": maybe(components.and_then(|c| c.reproducibility)),
        "gauge": components.map(|c| deviation(&c.gauge)),
        "seams_mm": maybe(components.and_then(|c| c.parts)),
        "interaction_pooled": components.and_then(|c| c.pooled),
        "told_standard_uncertainty_mm": number(study.told_mm()),
        "scatter_to_told": scatter.map(|s| number(s[0])),
        "scatter_to_told_interval": scatter.map(|s| [number(s[1]), number(s[2])]),
        "analysis": rows,
        "seams": study.parts.len(),
        "people": study.people,
        "readings": readings,
        "left_out": study.left_out,
        "unmeasured": study.unmeasured,
        "given_again": study.again,
    })
}
