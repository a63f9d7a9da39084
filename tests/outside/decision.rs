//! The decision rule.

use seamstep::conventions::COVERAGE_FACTOR;
use seamstep::verdict::Judgement::{Matched, Off, Unsure};
use seamstep::verdict::judge;

#[test]
fn the_guarded_decision_table_is_the_rules_own() {
    // Guarded acceptance and rejection with w = U = 2u, tolerance 3 mm: JCGM 106:2012, clause 8 (rule from memory); the
    // table computed with scipy 1.17.1 beside the conformance probabilities, which are not needed here.
    assert_eq!(COVERAGE_FACTOR, 2.0);
    let table = [
        (0.5, 0.2, Matched),
        (2.5, 0.2, Matched),
        (2.65, 0.2, Unsure),
        (2.9, 0.2, Unsure),
        (3.1, 0.2, Unsure),
        (3.5, 0.2, Off),
        (2.9, 0.02, Matched),
        (-2.9, 0.2, Unsure),
    ];
    for (offset_mm, u_mm, due) in table {
        assert_eq!(judge(offset_mm, COVERAGE_FACTOR * u_mm, 3.0), due, "{offset_mm} with u {u_mm}");
        assert_eq!(judge(-offset_mm, COVERAGE_FACTOR * u_mm, 3.0), due, "{} with u {u_mm}", -offset_mm);
    }
}
