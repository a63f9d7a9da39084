//! Is the uncertainty told as large as the errors made? Chance seams of every kind, marked by hand, truth first.
//!
//! About 95 of 100 true values should lie within ± U (JCGM 100:2008, 6.2; JCGM 101:2008, 5.5, from memory), and not because U is
//! large everywhere.

#[path = "support/each.rs"]
mod each;
#[path = "support/seams.rs"]
#[expect(dead_code, reason = "cloth without a seam is not measured here")]
mod seams;

use each::each;
use seamstep::conventions::wrap;
use seamstep::inspect::{Question, inspect};
use seamstep::render::offset_at;
use seamstep::seam::SeamRequest;

/// Chance seams that served no fit of the finder and no other test: their first number, and how many.
const FIRST: u64 = 7000;
const SEAMS: u64 = 160;

/// What was measured of one seam, errors wrapped into one repeat.
struct Outcome {
    number: u64,
    error_mm: f64,
    u_mm: f64,
    /// Error and expanded uncertainty of each reading.
    readings: Vec<[f64; 2]>,
    mm_per_px: f64,
}

fn measure(number: u64) -> Option<Outcome> {
    let scene = seams::seam(number);
    let (photo, scale, rendered) = seams::photograph(&scene);
    let truth = &rendered.truth;
    let seam_px = &truth.seam_px;
    let points_px = vec![seam_px[0], seam_px[seam_px.len() / 2], seam_px[seam_px.len() - 1]];
    let question = Question { scale, seam: SeamRequest { points_px, ..SeamRequest::default() }, ..Question::default() };
    let offset = inspect(&photo, &question).ok()?.offset;
    let [repeat_mm, _] = truth.repeat_mm.expect("lines across");
    let readings = offset.readings.iter().map(|reading| {
        let true_mm = offset_at(&truth.readings, reading.at_px).expect("a truth");
        [wrap(reading.offset_mm - true_mm, repeat_mm), reading.expanded_uncertainty_mm]
    });
    Some(Outcome {
        number,
        error_mm: wrap(offset.mean_mm - truth.mean_offset_mm, repeat_mm),
        u_mm: offset.expanded_uncertainty_mm,
        readings: readings.collect(),
        mm_per_px: truth.mm_per_px,
    })
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

#[test]
fn ninety_five_in_a_hundred_truths_lie_within_the_uncertainty() {
    let outcomes: Vec<Outcome> = each(SEAMS, |k| measure(FIRST + k)).into_iter().flatten().collect();
    let count = outcomes.len() as f64;
    let inside = outcomes.iter().filter(|o| o.error_mm.abs() <= o.u_mm).count() as f64 / count;
    let readings: Vec<[f64; 2]> = outcomes.iter().flat_map(|o| o.readings.iter().copied()).collect();
    let inside_locally = readings.iter().filter(|[e, u]| e.abs() <= *u).count() as f64 / readings.len() as f64;
    let u_mm = median(outcomes.iter().map(|o| o.u_mm).collect());
    let error_mm = median(outcomes.iter().map(|o| o.error_mm.abs()).collect());
    let missed: Vec<String> = outcomes
        .iter()
        .filter(|o| o.error_mm.abs() > o.u_mm)
        .map(|o| format!("{}: {:.3} with U {:.3}, {:.2} mm a pixel", o.number, o.error_mm, o.u_mm, o.mm_per_px))
        .collect();
    let said = format!(
        "{count} of {SEAMS} measured; inside U {:.1} % of means and {:.1} % of {} readings; median error {error_mm:.3}, median \
         U {u_mm:.3} mm; outside: {missed:?}",
        100.0 * inside,
        100.0 * inside_locally,
        readings.len()
    );
    assert!(count >= 0.9 * SEAMS as f64, "{said}");
    assert!((0.92..=0.99).contains(&inside), "{said}");
    assert!((0.9..=0.99).contains(&inside_locally), "{said}");
    assert!(u_mm <= 0.08 && error_mm <= 0.02, "{said}");
    // No one factor: the clearest quarter of the seams is told with half of what the doubtful quarter has.
    let mut sizes: Vec<f64> = outcomes.iter().map(|o| o.u_mm).collect();
    sizes.sort_by(f64::total_cmp);
    let quarters = [sizes[sizes.len() / 4], sizes[3 * sizes.len() / 4]];
    assert!(quarters[0] < 0.5 * quarters[1], "{quarters:.4?}; {said}");
}
