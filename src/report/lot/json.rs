//! One JSON object of the schema [`SCHEMA`]. What was not measured is `null`, never 0.

use crate::lot::counts::Counts;
use crate::lot::{Line, Lot, SCHEMA};
use crate::record::Standing;
use crate::report::json::{maybe, number};
use serde_json::{Map, Value, json};

/// The lot as one JSON object; the photographs themselves are in the lines.
pub fn lot(lot: &Lot) -> Value {
    json!({ "schema": SCHEMA, "summary": summary(lot) })
}

fn summary(lot: &Lot) -> Value {
    let file = |k: usize| &lot.lines[k].record.subject.file;
    let pieces = lot.pieces.iter().map(|piece| {
        json!({
            "piece": piece.name,
            "standing": piece.standing,
            "photographs": piece.photographs,
            "off_at": piece.off_at,
        })
    });
    let refused = lot.refused.iter().map(|refused| {
        json!({
            "code": refused.code,
            "message": refused.first.message,
            "help": refused.first.help,
            "files": refused.lines.iter().map(|&k| file(k)).collect::<Vec<_>>(),
        })
    });
    let places = lot.places.iter().map(|place| {
        json!({
            "place": place.place,
            "photographs": counts(&place.photographs),
            "off_so_far_share": maybe(place.off_so_far),
        })
    });
    let course = lot.course.as_ref().map(|course| {
        let stretch = course.longest.map(|stretch| {
            json!({
                "from": file(course.points[stretch.first].line),
                "to": file(course.points[stretch.last].line),
                "photographs": stretch.points,
                "side": if stretch.above { "above" } else { "below" },
            })
        });
        json!({
            "order": if course.by_time { "taken" } else { "name" },
            "photographs": course.points.len(),
            "median_mm": number(course.median_mm),
            "longest_on_one_side": stretch,
            "is_a_shift": course.shift().is_some(),
        })
    });
    let keeping = lot.keeping.iter().map(|keeping| {
        json!({
            "place": keeping.place,
            "tolerance_mm": number(keeping.tolerance_mm),
            "photographs": keeping.capability.count,
            "mean_mm": number(keeping.capability.mean),
            "deviation_mm": number(keeping.capability.deviation),
            "cp": keeping.capability.cp,
            "cpk": keeping.capability.cpk,
            "beyond_share": number(keeping.capability.beyond),
        })
    });
    let sample = lot.sample.as_ref().map(|sample| {
        json!({
            "plan": sample.plan,
            "lot_size_is_said": sample.size_is_said,
            "seen": sample.seen,
            "outcome": sample.outcome,
            "failing_if_untold_are_good": sample.outcome.failing,
            "failing_if_untold_are_bad": sample.outcome.failing + sample.outcome.untold,
        })
    });
    json!({
        "acceptance": sample,
        "capability": keeping.collect::<Vec<_>>(),
        "standing": lot.standing(),
        "photographs": counts(&lot.photographs),
        "pieces": counts(&lot.piece_counts),
        "without_a_piece": lot.nameless,
        "by_piece": pieces.collect::<Vec<_>>(),
        "worst": lot.worst.iter().map(|&k| worst(&lot.lines[k])).collect::<Vec<_>>(),
        "not_judged": refused.collect::<Vec<_>>(),
        "places": places.collect::<Vec<_>>(),
        "course": course,
        "twice": {
            "repeated_lines": lot.twice.repeated,
            "doubles": lot.twice.doubles.iter().map(|d| json!({ "file": d.file, "same_as": d.same_as })).collect::<Vec<_>>(),
            "namesakes": lot.twice.namesakes,
        },
    })
}

fn counts(counts: &Counts) -> Value {
    let each = Standing::ALL.map(|standing| (standing.word().to_owned(), json!(counts.get(standing))));
    let mut object: Map<String, Value> = each.into_iter().collect();
    object.insert("all".into(), json!(counts.total()));
    Value::Object(object)
}

fn worst(line: &Line) -> Value {
    let subject = &line.record.subject;
    let measured = line.record.measured.as_ref();
    let lengths = measured.and_then(|measured| measured.lengths);
    json!({
        "file": subject.file,
        "piece": subject.piece,
        "place": subject.place,
        "standing": line.record.standing,
        "worst_mm": maybe(lengths.map(|l| l.worst_mm)),
        "worst_expanded_uncertainty_mm": maybe(lengths.map(|l| l.worst_expanded_uncertainty_mm)),
        "tolerance_mm": maybe(measured.map(|m| m.tolerance_mm)),
        "action": measured.map(|m| m.action),
    })
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_lot_has_every_field() {
        for (kind, made) in sample::every_kind() {
            let object = lot(&made);
            assert_eq!(object["schema"], "seamstep/lot/1");
            let summary = object["summary"].as_object().unwrap();
            let names: BTreeSet<&str> = summary.keys().map(String::as_str).collect();
            let due = "acceptance by_piece capability course not_judged photographs pieces places standing twice \
                       without_a_piece worst";
            assert_eq!(names, due.split_whitespace().collect(), "{kind}");
            assert_eq!(summary["acceptance"].is_null(), made.sample.is_none(), "{kind}");
            let all = &summary["photographs"];
            let sum: u64 = Standing::ALL.iter().filter_map(|standing| all[standing.word()].as_u64()).sum();
            assert_eq!(Some(sum), all["all"].as_u64(), "{kind}");
        }
        let summary = &lot(&sample::delivery())["summary"];
        assert_eq!((&summary["worst"][0]["worst_mm"], &summary["worst"][0]["piece"]), (&json!(4.8), &json!("7")));
        let unscaled = summary["worst"].as_array().unwrap().iter().find(|w| w["file"] == "lot/8_zip.jpg").unwrap();
        assert!(unscaled["worst_mm"].is_null(), "{unscaled}");
        assert_eq!(summary["twice"]["doubles"][0]["file"], "lot/9_zip.jpg");
    }
}
