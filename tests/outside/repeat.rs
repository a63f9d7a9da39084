//! The repeat against tones of known period.
//!
//! The published interpolators of a spectral peak (Jacobsen, Candan, Quinn) have no place here: the tool's start is the
//! autocorrelation's first peak and not a spectral bin, and complex tones are no relief. What applies is the figure
//! that least squares reach on real tones (numpy 2.4.6, computed).

use crate::stripes::STEP_MM;
use seamstep::lines::repeat::{autocorrelation, first_peak, refine};

struct Tone {
    samples: usize,
    /// Periods in the window.
    bin: f64,
    phase_rad: f64,
    /// How far the refined period may be out, bins.
    near_bins: f64,
}

#[test]
fn a_real_tones_period_is_refined_from_the_autocorrelation() {
    let tones = [
        Tone { samples: 64, bin: 10.3, phase_rad: 0.7, near_bins: 0.005 },
        Tone { samples: 256, bin: 20.25, phase_rad: 1.0, near_bins: 0.001 },
        // A few periods: each harmonic is fitted by itself, and its mirror image leaks in.
        Tone { samples: 256, bin: 6.4, phase_rad: 0.5, near_bins: 0.025 },
        Tone { samples: 512, bin: 12.8, phase_rad: 0.4, near_bins: 0.02 },
    ];
    for Tone { samples, bin, phase_rad, near_bins } in tones {
        let value: Vec<[f32; 3]> = (0..samples)
            .map(|n| [(std::f64::consts::TAU * bin * n as f64 / samples as f64 + phase_rad).cos() as f32; 3])
            .collect();
        let weight = vec![1.0; samples];
        let period = samples as f64 / bin;
        // Samples as far apart as puts the period above the shortest that is looked for.
        let step_mm = STEP_MM.max(4.0 / period);
        let (start, _) = first_peak(&autocorrelation(&value, &weight), step_mm).expect("a tone repeats");
        let found = refine(&value, &weight, start);
        let error_bins = samples as f64 / found.samples - bin;
        let said = format!(
            "N {samples}, bin {bin}: start {start:.4}, period {:.5} of {period:.5}, error {error_bins:.5} bins",
            found.samples
        );
        assert!(error_bins.abs() < near_bins, "{said}");
        assert!((start / period - 1.0).abs() < 0.05, "{said}");
    }
}
