//! The repeat against tones of known period: published interpolators of a spectral peak, and the Cramér-Rao bound.

use crate::stripes::{Chance, STEP_MM};
use rustfft::{FftPlanner, num_complex::Complex};
use seamstep::lines::repeat::{Repeat, refine};
use seamstep::signal::repeat::shared;
use std::f64::consts::{PI, TAU};

/// cos or exp of 2π·bin·n/samples + phase.
struct Tone {
    samples: usize,
    /// Periods in the window.
    bin: f64,
    phase_rad: f64,
}

impl Tone {
    fn angle_rad(&self, n: usize) -> f64 {
        TAU * self.bin * n as f64 / self.samples as f64 + self.phase_rad
    }

    fn period(&self) -> f64 {
        self.samples as f64 / self.bin
    }

    /// The tool's own walk to the repeat: the autocorrelation's first peak that bears it out, and what is refined from it.
    fn repeat_of(&self, value: &[[f32; 3]]) -> Option<(f64, Repeat)> {
        let weight = vec![1.0; value.len()];
        // Samples as far apart as puts the period above the shortest that is looked for.
        let step_mm = STEP_MM.max(4.0 / self.period());
        let start = shared(&[&(value.to_vec(), weight.clone())], step_mm)?.samples;
        Some((start, refine(value, &weight, start)))
    }
}

/// The bin of a tone by three bins of its spectrum.
///
/// C. Candan, Analysis and further improvement of fine resolution frequency estimation method from three DFT samples
/// (IEEE Signal Processing Letters, 2013): k + N/π·atan(tan(π/N)·Re[(X₋ − X₊)/(2X − X₋ − X₊)]); formula from memory.
fn candan(mut tone: Vec<Complex<f64>>) -> f64 {
    let n = tone.len();
    FftPlanner::new().plan_fft_forward(n).process(&mut tone);
    let k = (1..n / 2).max_by(|&a, &b| tone[a].norm().total_cmp(&tone[b].norm())).expect("bins");
    let (before, at, after) = (tone[k - 1], tone[k], tone[k + 1]);
    let ratio = ((before - after) / (2.0 * at - before - after)).re;
    let n = n as f64;
    k as f64 + n / PI * ((PI / n).tan() * ratio).atan()
}

#[test]
fn the_published_interpolator_is_exact_on_complex_tones() {
    // The worked three bins and the estimates: numpy 2.4.6 (computed). It is the reference of the tests below.
    let tones =
        [(16, 3.2, 0.0), (64, 10.3, 0.0), (64, 10.3, 0.7), (256, 20.25, 1.0), (256, 6.4, 0.5), (512, 12.8, 0.4)];
    for (samples, bin, phase_rad) in tones {
        let tone = Tone { samples, bin, phase_rad };
        let found = candan((0..samples).map(|n| Complex::from_polar(1.0, tone.angle_rad(n))).collect());
        assert!((found - bin).abs() < 1e-9, "N {samples}, bin {bin}: {found}");
    }
}

#[test]
fn a_real_tones_period_is_refined_to_the_last_digits() {
    // Three published estimates of real tones by numpy 2.4.6 (computed), biased by the tone's mirror image; least squares
    // are not (scipy 1.17.1: the true bin).
    let tones = [
        (Tone { samples: 64, bin: 10.3, phase_rad: 0.7 }, 10.299_065_305),
        (Tone { samples: 256, bin: 20.25, phase_rad: 1.0 }, 20.249_856_309),
        (Tone { samples: 256, bin: 6.4, phase_rad: 0.5 }, 6.397_869_011),
        (Tone { samples: 512, bin: 12.8, phase_rad: 0.4 }, 12.799_740_556),
    ];
    for (tone, due_bin) in tones {
        let real = (0..tone.samples).map(|n| tone.angle_rad(n).cos());
        let estimate = candan(real.clone().map(|x| Complex::new(x, 0.0)).collect());
        assert!((estimate - due_bin).abs() < 1e-8, "{estimate}, due {due_bin}");
        let value: Vec<[f32; 3]> = real.map(|x| [x as f32; 3]).collect();
        let (start, found) = tone.repeat_of(&value).expect("a tone repeats");
        let error_bins = tone.samples as f64 / found.samples - tone.bin;
        let said = format!("N {}, bin {}: start {start:.4}, error {error_bins:e} bins", tone.samples, tone.bin);
        // The autocorrelation's start against the spectrum's.
        assert!((start * estimate / tone.samples as f64 - 1.0).abs() < 0.005, "{said}, interpolated {estimate}");
        assert!(error_bins.abs() < 1e-9, "{said}");
    }
}

/// A noisy tone, how far its frequency may scatter, and what the tool says of it.
struct Noisy {
    tone: Tone,
    sigma: f64,
    /// Published variance of the angular frequency, (rad/sample)².
    bound: f64,
    /// Root mean square error over the bound's standard deviation.
    scatter: [f64; 2],
    /// Stated standard uncertainty over the root mean square error.
    honesty: [f64; 2],
    /// Share of the trials in which the tool, left to itself, says that this is the repeat.
    found: [f64; 2],
}

#[test]
fn a_noisy_tones_period_scatters_little_more_than_it_must() {
    // Real tone of amplitude 1 with all else unknown: var(ω) ≥ 12/(ηN(N²−1)), η = A²/2σ² (Kay 1993, example 3.14, from
    // memory; confirmed by 6000 trials of least squares, numpy 2.4.6, computed).
    //
    // The tool looks for lines of any shape. On the clear tone that costs nothing, and its stated uncertainty is nearly
    // twice too large, because it takes one in four samples to be its own (a yarn is wider than a sample; here it is
    // not). In strong noise the harmonics that are not there follow the noise, and the period scatters 1.5 and 2 times as
    // much as one tone's must, which the stated uncertainty no longer covers in the last case: there, the sides' likeness to
    // themselves (0.14) is far below what is taken for a repeat, and the tool says that there is none.
    let cases = [
        Noisy {
            tone: Tone { samples: 256, bin: 20.25, phase_rad: 0.4 },
            sigma: 0.3,
            bound: 1.287_479_97e-7,
            scatter: [0.92, 1.1],
            honesty: [1.7, 2.1],
            found: [0.99, 1.0],
        },
        Noisy {
            tone: Tone { samples: 128, bin: 6.37, phase_rad: 0.2 },
            sigma: 0.5,
            bound: 2.861_197_58e-6,
            scatter: [0.92, 1.6],
            honesty: [1.0, 2.1],
            found: [0.65, 1.0],
        },
        Noisy {
            tone: Tone { samples: 256, bin: 8.6, phase_rad: 1.1 },
            sigma: 1.0,
            bound: 1.430_533_30e-6,
            scatter: [0.92, 2.2],
            honesty: [0.48, 2.1],
            found: [0.0, 0.01],
        },
    ];
    for Noisy { tone, sigma, bound, scatter, honesty, found } in cases {
        let n = tone.samples as f64;
        assert!((24.0 * sigma * sigma / (n * (n * n - 1.0)) / bound - 1.0).abs() < 1e-8);
        let mut chance = Chance::new(17);
        let trials = 600;
        let (mut off, mut stated, mut seen) = (0.0, 0.0, 0);
        for _ in 0..trials {
            // Each channel's noise is √3 stronger, so that the three hold what one published tone holds.
            let value: Vec<[f32; 3]> = (0..tone.samples)
                .map(|n| [0; 3].map(|_| (tone.angle_rad(n).cos() + 3f64.sqrt() * sigma * chance.normal()) as f32))
                .collect();
            let own = tone.repeat_of(&value);
            seen += usize::from(own.is_some_and(|(_, own)| (own.samples / tone.period() - 1.0).abs() < 0.1));
            let near = refine(&value, &vec![1.0; tone.samples], 1.01 * tone.period());
            off += (TAU / near.samples - TAU / tone.period()).powi(2) / f64::from(trials);
            stated += (TAU * near.u_samples / near.samples.powi(2)).powi(2) / f64::from(trials);
        }
        let ratios = [(off / bound).sqrt(), (stated / off).sqrt(), seen as f64 / f64::from(trials)];
        let said = format!("N {n}, bin {}: scatter, honesty, found: {ratios:.3?}", tone.bin);
        for (ratio, [least, most]) in ratios.into_iter().zip([scatter, honesty, found]) {
            assert!((least..=most).contains(&ratio), "{said}");
        }
    }
}
