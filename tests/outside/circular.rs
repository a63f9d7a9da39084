//! Angles that wrap: the offset's convention against published circular statistics.

use seamstep::conventions::wrap;
use std::f64::consts::TAU;

/// A circular mean in the wrap's own terms: the angle about which the wrapped deviations' sines cancel.
///
/// Found by bisection on [`wrap`] alone, from the two sides of `near_deg`, which must be within 60° of the mean.
fn mean_deg(angles_deg: &[f64], near_deg: f64) -> f64 {
    let pull = |about_deg: f64| -> f64 {
        angles_deg.iter().map(|angle_deg| wrap(angle_deg - about_deg, 360.0).to_radians().sin()).sum()
    };
    let (mut low_deg, mut high_deg) = (near_deg - 60.0, near_deg + 60.0);
    assert!(pull(low_deg) > 0.0 && pull(high_deg) < 0.0, "the mean is not near {near_deg}");
    for _ in 0..60 {
        let middle_deg = 0.5 * (low_deg + high_deg);
        if pull(middle_deg) > 0.0 { low_deg = middle_deg } else { high_deg = middle_deg }
    }
    wrap(0.5 * (low_deg + high_deg), 360.0)
}

#[test]
fn wrapped_angles_average_to_the_published_mean() {
    // Mardia & Jupp, Directional Statistics (2000), example 1.1, printed as 51 (read in public test files); 51.0502 by
    // scipy.stats.circmean.
    let published_deg = [43.0, 45.0, 52.0, 61.0, 75.0, 88.0, 88.0, 279.0, 357.0];
    let mean = mean_deg(&published_deg, 60.0);
    assert!((mean - 51.0502).abs() < 5e-5, "{mean}");
    // scipy's own test of circmean (read).
    let mean = mean_deg(&[355.0, 5.0, 2.0, 359.0, 10.0, 350.0], 10.0);
    assert!((mean - 0.167_690_146).abs() < 5e-9, "{mean}");
    // Computed: two pairs across the wrap.
    let mean = mean_deg(&[350.0, 10.0], 20.0);
    assert!(mean.abs() < 1e-9, "{mean}");
    let mean = mean_deg(&[178.0, -179.0, 176.0, -177.0], 190.0);
    assert!((mean - 179.5).abs() < 1e-9, "{mean}");
}

#[test]
fn wrapping_is_the_angle_of_the_phasor() {
    // Computed: atan2 of sine and cosine names the same branch, at any period, but at its ends.
    for period_mm in [0.8, 10.0, 37.5] {
        for step in -400..=400 {
            let value_mm = f64::from(step) * 0.0617 * period_mm;
            let phasor_mm =
                (TAU * value_mm / period_mm).sin().atan2((TAU * value_mm / period_mm).cos()) / TAU * period_mm;
            let wrapped_mm = wrap(value_mm, period_mm);
            assert!((wrapped_mm - phasor_mm).abs() < 1e-9 * period_mm, "{value_mm} in {period_mm}: {wrapped_mm}");
        }
    }
}
