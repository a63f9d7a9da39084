//! The repeat of the lines along the seam, refined by least squares from where [`crate::signal::repeat`] found it: a windowed
//! spectral peak is biased by a hundredth of a bin, so a sum of harmonics is fitted.

use crate::signal::pooled;
use nalgebra::DMatrix;
use rustfft::{FftPlanner, num_complex::Complex};

/// Neighbouring samples that are alike: threads and pixels are wider than one.
const ALIKE: f64 = 4.0;
/// Samples to a wave of the highest harmonic while the repeat is looked for.
const POOLED_WAVE: f64 = 4.0;
/// Harmonics used in the fit at the most.
const MOST_HARMONICS: usize = 8;

/// A repeat as measured on one side.
#[derive(Clone, Copy, Debug)]
pub struct Repeat {
    /// Length of one repeat, samples.
    pub samples: f64,
    /// Its standard uncertainty, samples.
    pub u_samples: f64,
}

/// How strongly a side's lines return, by how often: what a person may look at.
#[derive(Clone, Debug, Default)]
pub struct Spectrum {
    /// Distance between the values, times to a millimetre of seam; the first stands at 0.
    pub step_per_mm: f64,
    /// Amplitude over all channels, as a share of the strongest.
    pub share: Vec<f64>,
}

/// The repeat near `start` samples that leaves the least squares of a sum of its harmonics.
pub fn refine(value: &[[f32; 3]], weight: &[f32], start: f64) -> Repeat {
    let harmonics = ((start / 4.0) as usize).clamp(1, MOST_HARMONICS);
    let span = value.len() as f64;
    // The main lobe of the fundamental is a repeat²/span wide; the harmonics narrow the valley by their number.
    let lobe = start * start / span / harmonics as f64;
    let cost = |repeat: f64| unexplained(value, weight, repeat, harmonics);
    let reach = 6.0 * lobe;
    // The search needs only a few samples to a wave of the highest harmonic.
    let pool = ((start / harmonics as f64 / POOLED_WAVE) as usize).max(1);
    let few = pooled(value, weight, pool);
    let rough = |repeat: f64| unexplained(&few.0, &few.1, repeat / pool as f64, harmonics);
    let coarse = (0..=48).map(|k| start - reach + reach * f64::from(k) / 24.0).filter(|&p| p > 3.0);
    let Some((mut best, _)) = coarse.map(|p| (p, rough(p))).min_by(|a, b| a.1.total_cmp(&b.1)) else {
        return Repeat { samples: start, u_samples: start };
    };
    let mut width = reach / 24.0;
    // A parabola is wrong by the square of its width: the last is of 1/16384 of a lobe.
    for _ in 0..7 {
        let (low, mid, high) = (cost(best - width), cost(best), cost(best + width));
        let bend = low - 2.0 * mid + high;
        if bend > 0.0 {
            best += (0.5 * width * (low - high) / bend).clamp(-width, width);
        }
        width *= 0.25;
    }
    let h = 0.1 * lobe;
    let bend = (cost(best - h) - 2.0 * cost(best) + cost(best + h)) / (h * h);
    // The cost is a sum of squares: half its curvature over the variance of a sample is the information. Neighbouring
    // samples are alike, so only a share of them count.
    let samples = (3 * weight.iter().filter(|&&w| w > 0.0).count()).max(1) as f64;
    let variance = cost(best) / samples;
    let u_samples = if bend > 0.0 && variance > 0.0 { (2.0 * variance * ALIKE / bend).sqrt() } else { lobe };
    Repeat { samples: best, u_samples }
}

/// Sum of squares that a sum of harmonics of this repeat leaves unexplained: all harmonics and the mean fitted together.
fn unexplained(value: &[[f32; 3]], weight: &[f32], repeat: f64, harmonics: usize) -> f64 {
    let size = 2 * harmonics + 1;
    let mut normal = DMatrix::<f64>::zeros(size, size);
    let mut right = DMatrix::<f64>::zeros(size, 3);
    let mut total = 0.0;
    let mut row = vec![1.0; size];
    let turn = Complex::from_polar(1.0, std::f64::consts::TAU / repeat);
    let mut fundamental = Complex::new(1.0, 0.0);
    for (v, &w) in value.iter().zip(weight) {
        if w > 0.0 {
            let mut phasor = fundamental;
            for h in 0..harmonics {
                row[2 * h + 1] = phasor.re;
                row[2 * h + 2] = phasor.im;
                phasor *= fundamental;
            }
            for a in 0..size {
                for b in 0..=a {
                    normal[(a, b)] += row[a] * row[b];
                }
                for c in 0..3 {
                    right[(a, c)] += row[a] * f64::from(v[c]);
                }
            }
            total += v.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>();
        }
        fundamental *= turn;
    }
    normal.fill_upper_triangle_with_lower_triangle();
    match normal.cholesky() {
        Some(root) => (total - right.component_mul(&root.solve(&right)).sum()).max(0.0),
        None => total,
    }
}

/// The power spectrum over all channels up to half the sampling rate, of as many samples as the next power of two.
pub(super) fn power(value: &[[f32; 3]], weight: &[f32]) -> Vec<f64> {
    let size = value.len().next_power_of_two();
    let forward = FftPlanner::new().plan_fft_forward(size);
    let mut power = vec![0.0; size / 2];
    for c in 0..3 {
        let mut buffer = vec![Complex::new(0.0, 0.0); size];
        for (slot, (v, &w)) in buffer.iter_mut().zip(value.iter().zip(weight)) {
            if w > 0.0 {
                slot.re = f64::from(v[c]);
            }
        }
        forward.process(&mut buffer);
        for (p, b) in power.iter_mut().zip(&buffer) {
            *p += b.norm_sqr();
        }
    }
    power
}

/// The spectrum of a relief with samples `step_mm` apart, up to one line to a millimetre.
pub fn spectrum(value: &[[f32; 3]], weight: &[f32], step_mm: f64) -> Spectrum {
    let step_per_mm = 1.0 / (value.len().next_power_of_two() as f64 * step_mm);
    let mut share: Vec<f64> = power(value, weight).iter().map(|p| p.sqrt()).collect();
    share.truncate((1.0 / step_per_mm).ceil() as usize + 1);
    let strongest = share.iter().copied().fold(0.0, f64::max);
    share.iter_mut().for_each(|s| *s = if strongest > 0.0 { *s / strongest } else { 0.0 });
    Spectrum { step_per_mm, share }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stripes(n: usize, repeat: f64, noise: f32) -> (Vec<[f32; 3]>, Vec<f32>) {
        let mut state = 12345u32;
        let value = (0..n)
            .map(|k| {
                let phase = (k as f64 / repeat).fract();
                let line = if phase < 0.2 { 1.0 } else { -0.25 };
                std::array::from_fn(|_| {
                    state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    line + noise * ((state >> 8) as f32 / 8_388_608.0 - 1.0)
                })
            })
            .collect();
        (value, vec![1.0; n])
    }

    #[test]
    fn a_repeat_is_refined_within_its_uncertainty() {
        for repeat in [37.3, 81.7, 230.4] {
            let (value, weight) = stripes(1100, repeat, 0.3);
            let fitted = refine(&value, &weight, 1.01 * repeat);
            let error = (fitted.samples - repeat).abs();
            assert!(error < 3.0 * fitted.u_samples && error < 0.003 * repeat, "{repeat}: {fitted:?}");
        }
    }

    #[test]
    fn the_spectrum_stands_highest_where_the_repeat_is() {
        let (value, weight) = stripes(1100, 60.0, 0.1);
        let value: Vec<[f32; 3]> = value.iter().map(|v| v.map(|x| x - 0.01)).collect();
        let spectrum = spectrum(&value, &weight, 0.2);
        let highest =
            (0..spectrum.share.len()).max_by(|&a, &b| spectrum.share[a].total_cmp(&spectrum.share[b])).unwrap();
        // 60 samples of 0.2 mm: 12 mm, once in each.
        assert!((highest as f64 * spectrum.step_per_mm - 1.0 / 12.0).abs() < spectrum.step_per_mm);
        assert!(spectrum.share[highest] == 1.0 && spectrum.share.iter().all(|s| (0.0..=1.0).contains(s)));
        assert!(((spectrum.share.len() - 1) as f64 * spectrum.step_per_mm - 1.0).abs() < spectrum.step_per_mm);
    }
}
