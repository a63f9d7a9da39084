//! What the eye sees, and habits of the trade.

use seamstep::remedy::Stage;
use seamstep::remedy::custom::Rules;
use seamstep::remedy::visible::{SEEN_FROM_M_PER_MM, from_m};
use seamstep::verdict::Place;

#[test]
fn a_step_is_seen_from_where_it_subtends_a_minute_of_arc() {
    // Normal acuity, a stroke of 1 minute of arc: ISO 8596 (read at second hand). Distances computed by d/D.
    for (step_mm, due_m) in [(0.5, 1.72), (1.0, 3.44), (1.5875, 5.46), (3.175, 10.91)] {
        let seen_m = from_m(step_mm, 1.0);
        assert!((seen_m - due_m).abs() < 0.01, "{step_mm} mm: {seen_m} m");
    }
    let exact_m = 1e-3 / (1.0f64 / 60.0).to_radians();
    assert!((SEEN_FROM_M_PER_MM / exact_m - 1.0).abs() < 1e-3, "{exact_m}");
}

#[test]
fn tolerances_are_the_trades_fractions_of_an_inch() {
    // 1/8 inch (3 mm) ordinary, 1/16 inch (1.5 mm) good: common practice, no source.
    let inch_mm = 25.4;
    for (place, due_mm) in [(Place::SideSeam, inch_mm / 8.0), (Place::CentreBack, inch_mm / 16.0)] {
        let tolerance_mm = place.custom().tolerance_mm;
        assert!((tolerance_mm / due_mm - 1.0).abs() < 0.06, "{place:?}: {tolerance_mm}");
    }
}

#[test]
fn stitches_and_ease_are_the_trades() {
    let rules = Rules::default();
    // 10 to 12 stitches to the inch sewn (read in several sewing guides).
    let to_the_inch = 25.4 / rules.stitch_mm(Stage::Sewn);
    assert!((10.0..=12.0).contains(&to_the_inch), "{to_the_inch}");
    // Basting 4 to 5 mm (read; guides disagree, 3 to 7 mm).
    assert!((4.0..=5.0).contains(&rules.stitch_mm(Stage::Basted)));
    // A woven side seam takes 1 to 2 % of ease: common practice, no source.
    assert!((1.0..=2.0).contains(&rules.most_ease_percent));
}
