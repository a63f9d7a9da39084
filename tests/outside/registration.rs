//! The offset against scikit-image 0.26.0 (phase_cross_correlation, upsampled 1000 times, not normalised).
//!
//! Sign: scikit-image returns the shift that registers the second side onto the first, which is minus the second side's
//! displacement; the figures here are the displacement, as [`seamstep::conventions`] has the offset.

use crate::stripes::{Chance, Stripes, clean, estimate};
use seamstep::conventions::wrap;
use seamstep::signal::correlation;

struct Fixture {
    name: &'static str,
    stripes: Stripes,
    samples: usize,
    true_px: f64,
    /// scikit-image's displacement (computed), as it comes: not wrapped into a repeat.
    library_px: f64,
    /// How near the fit comes, pixels.
    near_px: f64,
}

fn fixtures() -> [Fixture; 4] {
    let stripes = |repeat_px, amplitudes, phases_rad| Stripes { repeat_px, amplitudes, phases_rad };
    [
        Fixture {
            name: "S1",
            stripes: stripes(32.0, &[50.0], &[0.3]),
            samples: 256,
            true_px: 2.37,
            library_px: -13.63,
            near_px: 0.005,
        },
        Fixture {
            name: "S2",
            stripes: stripes(40.0, &[60.0, 20.0, 12.0], &[0.0, 1.1, -0.7]),
            samples: 400,
            true_px: 3.21,
            library_px: -36.79,
            near_px: 0.005,
        },
        Fixture {
            name: "S3",
            stripes: stripes(24.0, &[63.66, 0.0, -21.22, 0.0, 12.73], &[0.0; 5]),
            samples: 288,
            true_px: -1.75,
            library_px: -1.75,
            // Its fifth harmonic is five samples long, and the fit interpolates between samples.
            near_px: 0.025,
        },
        Fixture {
            name: "S4",
            stripes: stripes(37.5, &[45.0, 15.0], &[0.2, -1.0]),
            samples: 300,
            true_px: -4.4,
            library_px: -41.9,
            near_px: 0.01,
        },
    ]
}

#[test]
fn clean_stripes_give_the_true_shift_and_the_librarys() {
    for fixture in fixtures() {
        let mut chance = Chance::new(7);
        let mut side = |displaced_px| clean(&fixture.stripes.profile(fixture.samples, displaced_px), &mut chance);
        let sides = [side(0.0), side(fixture.true_px)];
        let found = estimate(sides, fixture.stripes.repeat_px);
        let said = format!(
            "{}: first {:.4}, fit {:.5}, true {}",
            fixture.name, found.first_px, found.offset_px, fixture.true_px
        );
        assert!((found.first_px - fixture.true_px).abs() < 0.1, "{said}");
        assert!((found.offset_px - fixture.true_px).abs() < fixture.near_px, "{said}");
        if fixture.name != "S1" {
            // The library knows the shift modulo a repeat too, to a thousandth of a pixel.
            let library_px = wrap(fixture.library_px, fixture.stripes.repeat_px);
            assert!((found.offset_px - library_px).abs() < fixture.near_px + 0.001, "{said}, library {library_px}");
        }
    }
}

#[test]
fn a_pure_sinusoid_is_not_half_a_repeat_wrong() {
    // scikit-image maximises the correlation's size and lands half a repeat off (computed: -13.63 = 2.37 - 32/2).
    let [Fixture { stripes, samples, true_px, library_px, .. }, ..] = fixtures();
    assert!((library_px - (true_px - stripes.repeat_px / 2.0)).abs() < 1e-9);
    let stack = |displaced_px: f64| {
        let value: Vec<[f32; 3]> = (0..samples).map(|n| [stripes.at(n as f64 - displaced_px) as f32; 3]).collect();
        (value, vec![1.0; samples])
    };
    let (one, two) = (stack(0.0), stack(true_px));
    let at = |lag: isize| correlation::at(&one, &two, lag).0;
    assert!(at(2) > 0.99 && at(-14) < -0.99, "{} {}", at(2), at(-14));
    let best = (-16..=16).max_by(|&a, &b| at(a).total_cmp(&at(b))).expect("lags");
    assert_eq!(best, 2);
}

#[derive(serde::Deserialize)]
struct Noisy {
    name: String,
    repeat_px: f64,
    true_px: f64,
    harmonic_ml_px: f64,
    skimage_px: f64,
    bound_px: f64,
    first: Vec<f64>,
    second: Vec<f64>,
}

#[test]
fn noisy_stripes_give_the_librarys_shift_within_the_bound() {
    // One noisy profile to a side (numpy 2.4.6, default_rng(99)). References, computed: scikit-image, which correlates
    // all bands, and a maximum-likelihood fit of the stripes' own harmonics (numpy 2.4.6, no library). Both lie within
    // 1.5 Cramér-Rao bounds of each other (Kay 1993, formula from memory), and the tool must of either.
    let fixtures: Vec<Noisy> = serde_json::from_str(include_str!("noisy_stripes.json")).expect("fixtures");
    assert_eq!(fixtures.len(), 3);
    for noisy in fixtures {
        let mut chance = Chance::new(11);
        let mut side = |profile: &[f64]| {
            let around: Vec<f64> = profile.iter().map(|grey| grey - 128.0).collect();
            clean(&around, &mut chance)
        };
        let sides = [side(&noisy.first), side(&noisy.second)];
        let found = estimate(sides, noisy.repeat_px);
        let said = format!(
            "{}: {:.4} +- {:.4}; true {}, scikit-image {:.4}, harmonics {:.4}, bound {:.4}",
            noisy.name,
            found.offset_px,
            found.u_px,
            noisy.true_px,
            noisy.skimage_px,
            noisy.harmonic_ml_px,
            noisy.bound_px
        );
        for reference_px in [noisy.skimage_px, noisy.harmonic_ml_px] {
            assert!((found.offset_px - reference_px).abs() < 1.5 * noisy.bound_px, "{said}");
        }
        assert!((found.offset_px - noisy.true_px).abs() < 3.0 * noisy.bound_px, "{said}");
    }
}
