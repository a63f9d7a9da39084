//! The trial: its figures against the truth it sewed. `tests/cli/trial.rs` has its command line.

use seamstep::problem::RefusalCode;
use seamstep::render::Cloth;
use seamstep::trial::cloth_file::Lines;
use seamstep::trial::{Conditions, Trial, TrialRequest};

/// A flat, matched cloth under a level camera, its seam drawn: nothing but noise is left to be wrong.
fn plain() -> TrialRequest {
    let lines = Lines { repeat_mm: Some(16.0), widths_mm: vec![3.0, 2.0], ..Lines::default() };
    let conditions =
        Conditions { seam_mm: 100.0, tilt_rad: 0.0, drape_mm: 0.0, wander_mm: 0.0, ..Conditions::default() };
    let mut request = TrialRequest::new(lines.cloth().expect("a cloth"));
    request.conditions = conditions;
    request.seam_drawn = true;
    request.seams = 10;
    request.mm_per_px = vec![0.2, 0.35];
    request
}

fn tried(request: &TrialRequest) -> Trial {
    seamstep::trial::run(request, |_| ()).expect("a trial")
}

#[test]
fn flat_sharp_seams_are_measured_without_bias_and_inside_their_uncertainty() {
    let trial = tried(&plain());
    let [near, far] = [0, 1].map(|k| &trial.distances[k].figures);
    let figures = near;
    assert_eq!((figures.taken, figures.measured), (10, 10), "{:?}", figures.refused);
    let mean = figures.mean.expect("measured");
    // Four standard errors of ten, and 2 µm for what is not chance.
    let most_mm = 4.0 * mean.spread_mm.expect("ten") / 10f64.sqrt() + 0.002;
    assert!(mean.bias_mm.abs() < most_mm, "{mean:?}");
    assert!(mean.worst_mm < 0.06, "{mean:?}");
    // One in twenty may lie outside: two of ten do so with a chance of 9 %, three with 1 %.
    assert!(mean.covered_share >= 0.8, "{mean:?}");
    assert!(figures.smallest_told_mm.expect("measured") < 0.15);
    // Offsets out to twice the tolerance were sewn, and no verdict is wrong.
    let v = figures.verdicts;
    assert!(v.within >= 4 && v.out >= 4, "{v:?}");
    assert_eq!((v.within_off, v.out_matched), (0, 0));
    assert_eq!(trial.closeness.at_most_mm_per_px, Some(0.35));

    // Further away it is not better, and not called so. Ten seams tell a spread to a quarter.
    let further = far.mean.expect("measured");
    assert!(further.rms_mm > 0.6 * mean.rms_mm, "{further:?} {mean:?}");
    assert!(further.median_expanded_mm > 1.3 * mean.median_expanded_mm, "{further:?} {mean:?}");
}

#[test]
fn noise_does_not_make_it_better() {
    let at = |noise: f64| {
        let mut request = TrialRequest { mm_per_px: vec![0.3], seams: 24, ..plain() };
        request.conditions.noise = noise;
        tried(&request).distances[0].figures.mean.expect("measured")
    };
    let [quiet, noisy] = [0.0, 0.15].map(at);
    assert!(noisy.rms_mm > 0.8 * quiet.rms_mm, "{noisy:?} {quiet:?}");
    // Noise hardly shows in U, whose floor is a tenth of a pixel.
    assert!(noisy.median_expanded_mm > 0.95 * quiet.median_expanded_mm, "{noisy:?} {quiet:?}");
}

#[test]
fn cloth_without_lines_is_refused_and_counted() {
    let request = TrialRequest { cloth: Cloth::plain_cloth(), seams: 3, mm_per_px: vec![0.3], ..plain() };
    let trial = tried(&request);
    let figures = &trial.distances[0].figures;
    assert_eq!((figures.taken, figures.measured), (3, 0));
    assert_eq!(figures.refused, [(RefusalCode::NoLines, 3)]);
    assert_eq!((figures.mean, figures.room_mm, figures.smallest_told_mm), (None, None, None));
    assert_eq!(trial.closeness.too_far_mm_per_px, Some(0.3));
    let said = seamstep::report::trial::text::trial(&trial).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("nothing was measured") && said.contains("no-lines"), "{said}");
    assert!(seamstep::report::trial::chart::errors_svg(&trial).is_ok());
}
