//! The repeat of the lines along the seam: found in the spectrum, refined by least squares.
//!
//! The power spectrum (rustfft) of the stacked relief gives the autocorrelation; its first high peak is the repeat,
//! whatever the share of the fundamental. The peak is only a start: a windowed spectral peak is biased by a hundredth
//! of a bin, so the repeat is refined by a harmonic least-squares fit.

use super::align::as_good;
use super::relief::pooled;
use crate::smooth::median;
use nalgebra::DMatrix;
use rustfft::{FftPlanner, num_complex::Complex};

/// Shortest repeat looked for, millimetres.
pub const LEAST_MM: f64 = 2.0;
/// A repeat must be seen at least this many times.
const LEAST_SEEN: f64 = 1.3;
/// Autocorrelation of the stack with itself a repeat further on: below it, there is no repeat.
const LEAST_LIKENESS: f64 = 0.4;
/// A lag may be the repeat when its autocorrelation reaches this share of the highest.
const HIGH_SHARE: f64 = 0.6;
/// It is held against later ones of up to so many times its length: more lines of one shape and other colours are rare.
const MOST_TIMES: f64 = 4.2;
/// Or this share of a later one's, where no piece of the lines is seen at both or noise hides single pieces.
const FIRST_PEAK_SHARE: f64 = 0.85;
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

/// The autocorrelation of a relief with itself, summed over channels, for lags 0..n, each normalised by the energy of
/// the overlapping parts. Gaps (weight 0) do not count.
pub fn autocorrelation(value: &[[f32; 3]], weight: &[f32]) -> Vec<f64> {
    let n = value.len();
    let size = (2 * n).next_power_of_two();
    let mut planner = FftPlanner::new();
    let (forward, inverse) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
    let transform = |f: &dyn Fn(usize) -> f64| {
        let mut buffer = vec![Complex::new(0.0, 0.0); size];
        for (k, slot) in buffer.iter_mut().enumerate().take(n) {
            slot.re = f(k);
        }
        forward.process(&mut buffer);
        buffer
    };
    let mut cross = vec![Complex::new(0.0, 0.0); size];
    let mut energy = vec![Complex::new(0.0, 0.0); size];
    let mask = transform(&|k| if weight[k] > 0.0 { 1.0 } else { 0.0 });
    for c in 0..3 {
        let x = transform(&|k| if weight[k] > 0.0 { f64::from(value[k][c]) } else { 0.0 });
        let square = transform(&|k| if weight[k] > 0.0 { f64::from(value[k][c]).powi(2) } else { 0.0 });
        for k in 0..size {
            cross[k] += x[k] * x[k].conj();
            energy[k] += square[k].conj() * mask[k];
        }
    }
    inverse.process(&mut cross);
    inverse.process(&mut energy);
    (0..n)
        .map(|lag| {
            let ahead = energy[lag].re;
            let behind = energy[(size - lag) % size].re;
            let norm = (ahead.max(0.0) * behind.max(0.0)).sqrt();
            if norm > 1e-9 * energy[0].re { cross[lag].re / norm } else { 0.0 }
        })
        .collect()
}

/// Where the first peak of an autocorrelation that is a repeat stands, samples, with its height; `None` when nothing repeats.
///
/// `unlike` tells how unlike each piece of the lines is to what stands a lag (samples) further on: the repeat is the first
/// lag at which they are as like as at any later one of a few times its length, over the pieces seen at both. Where no
/// piece is, or noise hides the lines of single pieces, heights decide.
pub fn first_peak(likeness: &[f64], step_mm: f64, unlike: impl Fn(f64) -> Vec<Option<f64>>) -> Option<(f64, f64)> {
    let from = ((LEAST_MM / step_mm).ceil() as usize).max(4);
    let to = (likeness.len() as f64 / LEAST_SEEN) as usize;
    let peaks = (from..to.min(likeness.len().saturating_sub(1)))
        .filter(|&k| likeness[k] >= likeness[k - 1] && likeness[k] > likeness[k + 1]);
    let highest = peaks.clone().map(|k| likeness[k]).fold(0.0, f64::max);
    if highest < LEAST_LIKENESS {
        return None;
    }
    let high: Vec<(usize, Vec<Option<f64>>)> =
        peaks.filter(|&k| likeness[k] >= HIGH_SHARE * highest).map(|k| (k, unlike(k as f64))).collect();
    let is_repeat = |k: usize| {
        let near = |(later, _): &&(usize, Vec<Option<f64>>)| *later as f64 <= MOST_TIMES * high[k].0 as f64;
        high[k + 1..].iter().take_while(near).all(|(later, pieces)| {
            let both = || high[k].1.iter().zip(pieces).filter_map(|(a, b)| Some([(*a)?, (*b)?]));
            let middle = |of: usize| median(both().map(|pair| pair[of]).collect());
            match (middle(0), middle(1)) {
                (Some(one), Some(other)) if 1.0 - other >= LEAST_LIKENESS => as_good(one, other),
                _ => likeness[high[k].0] >= FIRST_PEAK_SHARE * likeness[*later],
            }
        })
    };
    let k = (0..high.len()).find(|&k| is_repeat(k)).map(|k| high[k].0)?;
    let (a, b, c) = (likeness[k - 1], likeness[k], likeness[k + 1]);
    let shift = 0.5 * (a - c) / (a - 2.0 * b + c);
    Some((k as f64 + if shift.abs() <= 1.0 { shift } else { 0.0 }, b))
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
    fn a_repeat_is_found_and_refined_within_its_uncertainty() {
        for repeat in [37.3, 81.7, 230.4] {
            let (value, weight) = stripes(1100, repeat, 0.3);
            let (start, _) = first_peak(&autocorrelation(&value, &weight), 0.16, |_| Vec::new()).unwrap();
            let fitted = refine(&value, &weight, start);
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

    #[test]
    fn noise_has_no_repeat() {
        let (value, weight) = stripes(1100, 1e9, 1.0);
        let value: Vec<[f32; 3]> = value.iter().map(|v| v.map(|x| x - 1.0)).collect();
        assert!(first_peak(&autocorrelation(&value, &weight), 0.16, |_| Vec::new()).is_none());
    }
}
