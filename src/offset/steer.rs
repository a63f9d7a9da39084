//! The template's slope along the seam without the template's noise.
//!
//! What a sample says of the offset is the difference of the sides there times the template's slope. A slope that is
//! noise says nothing and yet counts as if it did: on plain cloth between two broad stripes it held the offset where no
//! edge was. So each frequency of the template is kept by the share that stands above the noise (a Wiener filter; the
//! noise is known from the difference of the sides), and what is left is differentiated in the spectrum, which is exact.

use nalgebra::Vector3;
use rustfft::{FftPlanner, num_complex::Complex};
use std::f64::consts::TAU;

/// A frequency counts when its power over the noise's, averaged over three channels, is more than this; beside it the
/// chance that noise alone is (χ² of three degrees of freedom: a mirrored series has one to a channel).
const ABOVE_NOISE: [(f64, f64); 4] = [(4.0, 7.4e-3), (6.0, 4.4e-4), (9.0, 1.2e-5), (12.0, 7.5e-8)];
/// The lowest of them is taken at which what noise is let through, as slope, is no more than this share of the lines'.
const MOST_NOISE_SHARE: f64 = 0.001;
/// The median of χ² of one degree of freedom, as a share of its mean.
const MEDIAN_SHARE: f64 = 0.455;
/// The noise's spectrum is taken as even over this share of all frequencies.
const EVEN_SHARE: f64 = 1.0 / 24.0;

/// Slopes per millimetre, sample by sample.
pub struct Slopes {
    /// Of the template.
    pub template: Vec<Vector3<f64>>,
    /// Of the noise that the same filter lets through.
    pub noise: Vec<Vector3<f64>>,
}

/// The spectrum of each channel of a mirrored series; of a real one the frequencies from 0 to the highest are enough.
type Spectra = [Vec<Complex<f64>>; 3];

/// Slopes of a template and of its noise, both in whitened channels; the noise is half the difference of the sides,
/// zero where one of them is not seen (`seen` samples show both). Without the filter every frequency is kept.
pub fn slopes(template: &[Vector3<f64>], noise: &[Vector3<f64>], seen: usize, step_mm: f64, filtered: bool) -> Slopes {
    let n = template.len();
    let mut planner = FftPlanner::new();
    let forward = planner.plan_fft_forward(2 * n);
    let inverse = planner.plan_fft_inverse(2 * n);
    // Mirrored at its end, a series has no jump where it wraps. Of two real series one is the real part and one the imaginary
    // of what is transformed: the spectrum's part that is its own mirror conjugated is the first one's.
    let mean = |series: &[Vector3<f64>]| series.iter().sum::<Vector3<f64>>() / n as f64;
    let (level, noise_level) = (mean(template), mean(noise));
    let both: Spectra = std::array::from_fn(|c| {
        let at = |k: usize| Complex::new(template[k][c] - level[c], noise[k][c] - noise_level[c]);
        let mut buffer: Vec<_> = (0..n).chain((0..n).rev()).map(at).collect();
        forward.process(&mut buffer);
        buffer
    });
    let share = if filtered {
        let part = |sign: f64| -> Spectra {
            both.each_ref().map(|s| (0..=n).map(|f| (s[f] + sign * s[(2 * n - f) % (2 * n)].conj()) / 2.0).collect())
        };
        shares(&part(1.0), &part(-1.0), seen)
    } else {
        vec![1.0; n + 1]
    };
    let channels = both.map(|mut buffer| {
        for (f, value) in buffer.iter_mut().enumerate() {
            // The upper half are the negative frequencies; the middle one is its own mirror and has no slope.
            let (index, sign) = if f <= n { (f, 1.0) } else { (2 * n - f, -1.0) };
            let rad_per_mm = if index == n { 0.0 } else { sign * TAU * index as f64 / (2.0 * n as f64 * step_mm) };
            *value *= Complex::new(0.0, rad_per_mm * share[index] / (2.0 * n as f64));
        }
        inverse.process(&mut buffer);
        buffer
    });
    let slope = |of: fn(&Complex<f64>) -> f64| (0..n).map(|k| Vector3::from_fn(|c, _| of(&channels[c][k]))).collect();
    Slopes { template: slope(|value| value.re), noise: slope(|value| value.im) }
}

/// The share that is kept of each frequency from 0 to the highest, from the spectra of the template and of its noise.
fn shares(kept: &Spectra, lost: &Spectra, seen: usize) -> Vec<f64> {
    let n = kept[0].len() - 1;
    let power = |s: &Spectra, c: usize| (0..=n).map(|f| s[c][f].norm_sqr()).collect::<Vec<f64>>();
    let unseen = n as f64 / seen.max(1) as f64;
    // Channels have noise of spectra of their own: compression smooths colour more than lightness.
    let spectrum: [Spectrum; 3] = std::array::from_fn(|c| Spectrum {
        power: power(kept, c),
        floor: even(&power(lost, c), (EVEN_SHARE * n as f64) as usize + 2).iter().map(|p| p * unseen).collect(),
    });
    let above: Vec<f64> = (0..=n).map(|f| spectrum.iter().map(|s| s.above(f)).sum::<f64>() / 3.0).collect();
    let least = least_above(&spectrum, &above);
    above.iter().map(|&above| kept_share(above, least)).collect()
}

/// The share that is kept of a frequency: from `least` times the noise's power on it comes in, and is whole at half as much
/// more. A share that sprang up would leave the fit to and fro between two answers, one with it and one without.
fn kept_share(above: f64, least: f64) -> f64 {
    if above > least { (1.0 - 1.0 / above) * (2.0 * (above / least - 1.0)).min(1.0) } else { 0.0 }
}

/// How many times the noise's power a frequency must have. Clear lines spend their slope on many frequencies and take the
/// few that noise adds; of a faint wave, one frequency of noise high up would have more slope than the wave.
fn least_above(spectrum: &[Spectrum; 3], above: &[f64]) -> f64 {
    let sum = |f: usize, of: &dyn Fn(&Spectrum) -> f64| (f as f64).powi(2) * spectrum.iter().map(of).sum::<f64>();
    let noise: f64 = (0..above.len()).map(|f| sum(f, &|s| s.floor[f])).sum();
    let enough = |&&(least, chance): &&(f64, f64)| {
        let kept = (0..above.len()).filter(|&f| above[f] > least);
        let lines: f64 = kept.map(|f| sum(f, &|s| (s.power[f] - s.floor[f]).max(0.0))).sum();
        chance * least * noise <= MOST_NOISE_SHARE * lines
    };
    ABOVE_NOISE.iter().find(enough).unwrap_or(&ABOVE_NOISE[ABOVE_NOISE.len() - 1]).0
}

/// Power of one channel of the template and of its noise at each frequency.
struct Spectrum {
    power: Vec<f64>,
    floor: Vec<f64>,
}

impl Spectrum {
    /// How many times the noise's the template's power is; 0 where there is neither.
    fn above(&self, f: usize) -> f64 {
        if self.floor[f] > 0.0 {
            self.power[f] / self.floor[f]
        } else if self.power[f] > 0.0 {
            f64::MAX / 4.0
        } else {
            0.0
        }
    }
}

/// The level of a spectrum that scatters: the mean that goes with its median over a window on either side.
fn even(power: &[f64], reach: usize) -> Vec<f64> {
    // Neighbouring windows are alike: one in every quarter of the reach is enough.
    let stride = (reach / 4).max(1);
    let level = |f: usize| {
        let mut around = power[f.saturating_sub(reach)..(f + reach + 1).min(power.len())].to_vec();
        let middle = around.len() / 2;
        *around.select_nth_unstable_by(middle, f64::total_cmp).1 / MEDIAN_SHARE
    };
    let levels: Vec<f64> = (0..power.len()).step_by(stride).map(level).collect();
    (0..power.len()).map(|f| levels[f / stride]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::ChaCha8Rng;
    use rand_chacha::rand_core::{Rng, SeedableRng};

    fn noise(n: usize, size: f64, seed: u64) -> Vec<Vector3<f64>> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut normal = || (0..12).map(|_| f64::from(rng.next_u32()) / f64::from(u32::MAX)).sum::<f64>() - 6.0;
        (0..n).map(|_| Vector3::from_fn(|_, _| size * normal())).collect()
    }

    #[test]
    fn a_line_under_the_noise_keeps_its_slope() {
        // Eight waves of amplitude 1 in noise of 1 of which every sample differs: the noise has the larger slopes by far.
        let (n, step_mm) = (512, 0.2);
        let rad_per_mm = TAU * 8.0 / (n as f64 * step_mm);
        let clean = |k: usize| (rad_per_mm * (k as f64 + 0.5) * step_mm).cos();
        let half = noise(n, 1.0, 1);
        let template: Vec<_> = noise(n, 1.0, 2).iter().enumerate().map(|(k, x)| x.add_scalar(clean(k))).collect();
        let found = slopes(&template, &half, n, step_mm, true);
        let due = |k: usize| -rad_per_mm * (rad_per_mm * (k as f64 + 0.5) * step_mm).sin();
        let error = (0..n).map(|k| found.template[k].add_scalar(-due(k)).norm_squared()).sum::<f64>();
        let size = (0..n).map(|k| 3.0 * due(k) * due(k)).sum::<f64>();
        assert!(error < 0.25 * size, "{} of the slope's power is wrong", error / size);
    }

    #[test]
    fn an_edge_without_noise_is_differentiated() {
        let (n, step_mm) = (400, 0.25);
        let edge = |k: usize| (-((k as f64 - 180.0) / 6.0).powi(2)).exp();
        let template: Vec<_> = (0..n).map(|k| Vector3::new(edge(k), 0.5 * edge(k), 0.0)).collect();
        let found = slopes(&template, &vec![Vector3::zeros(); n], n, step_mm, true);
        for k in [100, 172, 180, 190] {
            let due = -2.0 * (k as f64 - 180.0) / 36.0 * edge(k) / step_mm;
            assert!((found.template[k][0] - due).abs() < 1e-9 && (found.template[k][1] - 0.5 * due).abs() < 1e-9);
        }
    }
}
