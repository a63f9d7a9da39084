//! The decision rule.

use seamstep::conventions::COVERAGE_FACTOR;
use seamstep::verdict::Judgement::{Matched, Off, Unsure};
use seamstep::verdict::judge;
use statrs::distribution::{ContinuousCDF, Normal};

/// Share of a standard normal distribution below z.
fn below(z: f64) -> f64 {
    Normal::standard().cdf(z)
}

/// The probability that what was measured as `y` with standard uncertainty `u` lies within ±`tolerance`.
fn conformance(y: f64, u: f64, tolerance: f64) -> f64 {
    below((tolerance - y) / u) - below((-tolerance - y) / u)
}

#[test]
fn the_guarded_decision_table_is_the_rules_own() {
    // Guarded acceptance and rejection with w = U = 2u, tolerance 3 mm: JCGM 106:2012, clause 8 (rule from memory); the
    // table and its conformance probabilities computed with scipy 1.17.1.
    assert_eq!(COVERAGE_FACTOR, 2.0);
    let table = [
        (0.5, 0.2, Matched, 1.0),
        (2.5, 0.2, Matched, 0.993_790_334_674),
        (2.65, 0.2, Unsure, 0.959_940_843_136),
        (2.9, 0.2, Unsure, 0.691_462_461_274),
        (3.1, 0.2, Unsure, 0.308_537_538_726),
        (3.5, 0.2, Off, 0.006_209_665_326),
        (2.9, 0.02, Matched, 0.999_999_713_348),
        (-2.9, 0.2, Unsure, 0.691_462_461_274),
    ];
    for (offset_mm, u_mm, due, due_conformance) in table {
        for offset_mm in [offset_mm, -offset_mm] {
            assert_eq!(judge(offset_mm, COVERAGE_FACTOR * u_mm, 3.0), due, "{offset_mm} with u {u_mm}");
            let conformance = conformance(offset_mm, u_mm, 3.0);
            assert!((conformance - due_conformance).abs() < 1e-9, "{offset_mm} with u {u_mm}: {conformance}");
        }
    }
}

#[test]
fn a_matched_seam_conforms_and_one_that_is_off_does_not() {
    // With the guard band w = U = 2u the probability of conformance of what is accepted is 97.72 % at least, one-sided
    // (JCGM 106:2012, clause 8, from memory; Φ(2) by scipy 1.17.1, computed). With two sides it is that as long as the other
    // side is far, and 95.45 % at worst, when the guard bands meet.
    let (one_sided, two_sided) = (0.977_249_868, 0.954_499_736);
    let (mut matched, mut off) = (0, 0);
    for k in 1..=300 {
        let u_mm = f64::from(k) * 0.005;
        for j in -100..=100 {
            let offset_mm = f64::from(j) * 0.06;
            let conformance = conformance(offset_mm, u_mm, 3.0);
            let said = format!("{offset_mm} with u {u_mm}: {conformance}");
            match judge(offset_mm, COVERAGE_FACTOR * u_mm, 3.0) {
                Matched => {
                    let least = if COVERAGE_FACTOR * u_mm <= 1.5 { one_sided } else { two_sided };
                    assert!(conformance > least - 1e-9, "{said}");
                    matched += 1;
                }
                Off => {
                    assert!(conformance < 1.0 - one_sided + 1e-9, "{said}");
                    off += 1;
                }
                Unsure => {}
            }
        }
    }
    assert!(matched > 5000 && off > 5000, "{matched} {off}");
}

/// The intervals of measured values from −8 to 8 that the rule accepts, found by asking it.
fn accepted(guard: f64, tolerance: f64) -> Vec<[f64; 2]> {
    let matched = |y: f64| judge(y, guard, tolerance) == Matched;
    let mut changes = Vec::new();
    for k in -800..800 {
        let (mut low, mut high) = (f64::from(k) * 0.01, f64::from(k + 1) * 0.01);
        if matched(low) == matched(high) {
            continue;
        }
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            if matched(middle) == matched(low) { low = middle } else { high = middle }
        }
        changes.push(0.5 * (low + high));
    }
    changes.as_chunks::<2>().0.to_vec()
}

/// Simpson's integral.
fn integral(from: f64, to: f64, f: impl Fn(f64) -> f64) -> f64 {
    let steps = 4000;
    let h = (to - from) / f64::from(steps);
    let weight = |k: i32| if k == 0 || k == steps { 1.0 } else { f64::from(2 + 2 * (k % 2)) };
    (0..=steps).map(|k| weight(k) * f(from + f64::from(k) * h)).sum::<f64>() * h / 3.0
}

/// What the rule risks on a production line.
struct Risk {
    /// Accepted and out of tolerance.
    consumer: f64,
    /// In tolerance and not accepted.
    producer: f64,
    /// Out of tolerance, accepted or not.
    nonconforming: f64,
}

/// The risks of a rule that measures with the standard uncertainty `u` and this guard band; `line` is the density of the
/// true values, nothing beyond `ends`.
fn risk(line: impl Fn(f64) -> f64, ends: [f64; 2], tolerance: f64, u: f64, guard: f64) -> Risk {
    let accepted = accepted(guard, tolerance);
    let chance = |x: f64| accepted.iter().map(|a| below((a[1] - x) / u) - below((a[0] - x) / u)).sum::<f64>();
    let inside = [ends[0].max(-tolerance), ends[1].min(tolerance)];
    let outside = |f: &dyn Fn(f64) -> f64| {
        let below = if ends[0] < -tolerance { integral(ends[0], -tolerance, f) } else { 0.0 };
        below + integral(tolerance, ends[1], f)
    };
    Risk {
        consumer: outside(&|x| line(x) * chance(x)),
        producer: integral(inside[0], inside[1], |x| line(x) * (1.0 - chance(x))),
        nonconforming: outside(&|x| line(x)),
    }
}

#[test]
fn ball_bearings_are_accepted_at_the_published_risk() {
    // JCGM 106:2012, 9.5.4 (read in the library suncal's notebook of it): radial error motion, prior Gamma(4, 1/4 µm), at
    // most 2 µm, measured to 0.25 µm. 4.238 % do not conform; simple acceptance risks 0.8019 %; a guard band of 0.328 µm
    // brings that to 0.1 %. The producer's risks by scipy 1.17.1 (computed).
    let gamma = |x: f64| 256.0 / 6.0 * x.powi(3) * (-4.0 * x).exp();
    let at = |guard: f64| risk(gamma, [0.0, 14.0], 2.0, 0.25, guard);
    let simple = at(0.0);
    assert!((simple.nonconforming - 0.042_380_112).abs() < 1e-8, "{}", simple.nonconforming);
    assert!((simple.consumer - 0.008_019_111_884).abs() < 1e-8, "{}", simple.consumer);
    assert!((simple.producer - 0.017_444_569_230).abs() < 1e-8, "{}", simple.producer);
    let guarded = at(2.0 - 1.671_828_771_556);
    assert!((guarded.consumer - 0.001).abs() < 1e-8, "{}", guarded.consumer);
    assert!((guarded.producer - 0.075_493_876_102).abs() < 1e-8, "{}", guarded.producer);
    // The tool's own guard band of 2u.
    assert!(at(COVERAGE_FACTOR * 0.25).consumer < 0.001);
}

#[test]
fn a_tolerance_to_both_sides_risks_what_the_library_says() {
    // True values normal about 0 with 0.12, tolerance ±0.2, measured to 0.04, simple acceptance: the case from memory, the
    // risks by scipy 1.17.1 (computed).
    let normal = |x: f64| (-0.5 * (x / 0.12).powi(2)).exp() / (0.12 * std::f64::consts::TAU.sqrt());
    let risk = risk(normal, [-1.4, 1.4], 0.2, 0.04, 0.0);
    assert!((risk.consumer - 0.018_942_206_717).abs() < 1e-8, "{}", risk.consumer);
    assert!((risk.producer - 0.037_207_800_178).abs() < 1e-8, "{}", risk.producer);
    assert!((risk.nonconforming - 2.0 * below(-0.2 / 0.12)).abs() < 1e-8, "{}", risk.nonconforming);
}
