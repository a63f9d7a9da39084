//! The remedy as an object: what to do, every cure that was weighed, what comes next best, what went wrong.

use super::{maybe, number};
use crate::finding::Finding;
use crate::remedy::cure::Cure;
use serde_json::{Value, json};

/// The remedy of a finding; lengths are null without a scale.
pub(super) fn object(finding: &Finding) -> Value {
    let remedy = &finding.remedy;
    let maybe_mm = |value: Option<f64>| maybe(value.filter(|_| finding.plane.is_metric()));
    let faults: Vec<Value> = remedy
        .faults
        .iter()
        .map(|fault| {
            json!({
                "pattern": fault.pattern.word(),
                "evidence": fault.evidence,
                "cause": fault.cause,
                "prevention": fault.prevention,
            })
        })
        .collect();
    json!({
        "action": remedy.action.word(),
        "worth_unpicking": remedy.worth_unpicking,
        "side": remedy.side,
        "direction": remedy.direction,
        "by_mm": maybe_mm(remedy.by_mm),
        "from_mm": maybe_mm(remedy.from_mm),
        "to_mm": maybe_mm(remedy.to_mm),
        "ease_percent": maybe(remedy.ease_percent),
        "longer_side": remedy.longer_side,
        "expected_worst_mm": maybe_mm(remedy.expected_worst_mm),
        "expected_uncertainty_mm": maybe_mm(remedy.expected_uncertainty_mm),
        "stitches": remedy.stitches,
        "minutes": maybe(remedy.minutes),
        "visible_from_m": maybe_mm(remedy.visible_from_m),
        "why": remedy.why,
        "instruction": remedy.instruction,
        "runner_up": remedy.runner_up.as_ref().map(|second| json!({
            "action": second.cure.action.word(),
            "leaves_mm": number(second.cure.leaves_mm),
            "why": second.why,
        })),
        "cures": remedy.cures.iter().map(|cure| weighed(cure, finding)).collect::<Vec<_>>(),
        "faults": faults,
        "cautions": remedy.cautions,
    })
}

/// One cure; the shift is what is taken off the offset, signed as an offset, full between `full_from_mm` and
/// `full_to_mm`, and running out evenly from there to `from_mm` and `to_mm`.
fn weighed(cure: &Cure, finding: &Finding) -> Value {
    let [full_from_mm, full_to_mm] = cure.full_mm;
    let [start_mm, end_mm] = cure.ends_mm(finding.seam.length_mm());
    json!({
        "action": cure.action.word(),
        "from_mm": number(cure.from_mm),
        "to_mm": number(cure.to_mm),
        "full_from_mm": number(full_from_mm),
        "full_to_mm": number(full_to_mm),
        "shift_mm": number(cure.shift_mm),
        "ease_percent": number(100.0 * cure.ease.abs()),
        "longer_side": cure.longer(finding.seam.runs),
        "step_at_start_mm": number(start_mm),
        "step_at_end_mm": number(end_mm),
        "leaves_mm": number(cure.leaves_mm),
        "leaves_at_mm": number(cure.leaves_at_mm),
        "expanded_uncertainty_mm": number(cure.expanded_uncertainty_mm),
        "inside": cure.inside.word(),
    })
}
