//! The comparison for programs: one object of the schema [`SCHEMA`]. What was not measured is `null`, never 0.

use crate::compare::{Comparison, Difference, LEVEL};
use crate::report::json::{maybe, number};
use serde_json::{Value, json};

/// The schema's name and version.
pub const SCHEMA: &str = "seamstep/compare/1";

/// The comparison as one JSON object.
pub fn comparison(comparison: &Comparison) -> Value {
    let pieces: Vec<Value> = comparison
        .pieces
        .iter()
        .map(|piece| {
            let all = piece.all.map(|all| {
                json!({
                    "seams": all.seams,
                    "size_mm": number(all.size_mm),
                    "size_expanded_uncertainty_mm": number(all.size_expanded_mm),
                    "worst_mm": number(all.worst_mm),
                    "worst_expanded_uncertainty_mm": number(all.worst_expanded_mm),
                    "worst_seam": piece.given.seams[all.worst_seam].name,
                    "within": all.within,
                    "visible_from_m": maybe(all.visible_from_m),
                })
            });
            json!({ "name": piece.given.name, "standing": piece.given.standing(), "all": all })
        })
        .collect();
    let places: Vec<Value> = comparison
        .places
        .iter()
        .map(|place| {
            let seams: Vec<Value> = (place.joint.seams.iter().zip(&comparison.pieces))
                .map(|(seam, piece)| match seam.map(|k| &piece.given.seams[k]) {
                    Some(seam) => json!({
                        "piece": piece.given.name,
                        "name": seam.name,
                        "photo": seam.record.subject.file,
                        "standing": seam.record.standing,
                        "measured": seam.record.measured,
                        "instead": seam.record.instead,
                    }),
                    None => Value::Null,
                })
                .collect();
            json!({
                "place": place.joint.place,
                "name": place.joint.name,
                "seams": seams,
                "differences": differences(comparison, &place.differences),
            })
        })
        .collect();
    let best: Vec<&str> = comparison.best_first().iter().map(|&k| comparison.pieces[k].given.name.as_str()).collect();
    json!({
        "schema": SCHEMA,
        "standing": comparison.standing(),
        "level": LEVEL,
        "best_first": best,
        "pieces": pieces,
        "places": places,
        "overall": differences(comparison, &comparison.overall),
    })
}

fn differences(comparison: &Comparison, list: &[Difference]) -> Vec<Value> {
    list.iter()
        .map(|difference| {
            let welch = &difference.welch;
            json!({
                "pieces": difference.pieces.map(|k| &comparison.pieces[k].given.name),
                "size_difference_mm": number(welch.value),
                "expanded_uncertainty_mm": number(welch.expanded()),
                "t": number(welch.t),
                "freedom": maybe(Some(welch.freedom).filter(|f| f.is_finite())),
                "p": number(welch.p),
                "p_adjusted": number(difference.p_adjusted),
                "told": difference.is_told(),
            })
        })
        .collect()
}
