//! Light → relief: the lines without the shade. Logarithm of linear light, slow changes along the seam removed.
//!
//! Shade and lighting multiply the cloth's light; in the logarithm they add, and a broad smooth takes them off.

use crate::light;
use crate::smooth::boxed;
use crate::strip::Rib;

/// The relief of one rib along u: R, G, B, each around zero.
#[derive(Clone, Debug)]
pub struct Profile {
    /// Distance of the rib from the seam, signed as v, millimetres.
    pub v_mm: f64,
    /// Relief at each sample; 0 where the weight is 0.
    pub value: Vec<[f32; 3]>,
    /// Logarithm of the light around the rib's mean, nothing else taken off; 0 where the weight is 0.
    pub tone: Vec<[f32; 3]>,
    /// 1 where the rib shows cloth, 0 where it does not.
    pub weight: Vec<f32>,
}

/// The relief of every rib; `broad_mm` is the standard deviation of the smooth that is taken off.
pub fn of_ribs(ribs: &[Rib], step_mm: f64, broad_mm: f64) -> Vec<Profile> {
    ribs.iter()
        .map(|rib| {
            let weight = rib.weight();
            let log: Vec<[f32; 3]> = rib.light.iter().map(|l| l.map(light::tone)).collect();
            let slow = smooth(&log, &weight, broad_mm / step_mm);
            let total: f32 = weight.iter().sum();
            let mean: [f32; 3] =
                std::array::from_fn(|c| log.iter().zip(&weight).map(|(l, w)| l[c] * w).sum::<f32>() / total.max(1.0));
            let without = |k: usize, level: &[f32; 3]| -> [f32; 3] {
                std::array::from_fn(|c| if weight[k] > 0.0 { log[k][c] - level[c] } else { 0.0 })
            };
            let value = (0..log.len()).map(|k| without(k, &slow[k])).collect();
            let tone = (0..log.len()).map(|k| without(k, &mean)).collect();
            Profile { v_mm: rib.v_mm, value, tone, weight }
        })
        .collect()
}

/// Weighted smooth with an almost Gaussian window (three box passes) of standard deviation `sigma` samples.
///
/// Where no weight is near, the result is 0.
pub fn smooth(value: &[[f32; 3]], weight: &[f32], sigma: f64) -> Vec<[f32; 3]> {
    // Three boxes of half-width h have variance 3 · ((2h+1)² − 1)/12.
    let half = (((4.0 * sigma * sigma + 1.0).sqrt() - 1.0) / 2.0).round().max(0.0) as usize;
    let mut data: Vec<[f64; 4]> = value
        .iter()
        .zip(weight)
        .map(|(v, &w)| {
            let w = f64::from(w);
            [f64::from(v[0]) * w, f64::from(v[1]) * w, f64::from(v[2]) * w, w]
        })
        .collect();
    for _ in 0..3 {
        data = boxed(&data, half);
    }
    data.iter()
        .map(|d| if d[3] > 1e-9 { [d[0] / d[3], d[1] / d[3], d[2] / d[3]].map(|x| x as f32) } else { [0.0; 3] })
        .collect()
}

/// A profile's value and weight at a fractional sample, by the polynomial through the six samples around it; weight 0
/// beside what is not cloth.
///
/// Four samples would not do: at five samples to a wave they put a line two hundredths of a sample aside.
pub fn at(value: &[[f32; 3]], weight: &[f32], place: f64) -> ([f32; 3], f32) {
    let k = place.floor();
    if !(k >= 2.0 && k + 3.0 < value.len() as f64) {
        return ([0.0; 3], 0.0);
    }
    let i = k as usize;
    if weight[i - 2..i + 4].contains(&0.0) {
        return ([0.0; 3], 0.0);
    }
    (between(&value[i - 2..i + 4], &lagrange((place - k) as f32)), 1.0)
}

/// The polynomial through six samples.
#[inline]
fn between(six: &[[f32; 3]], weights: &[f32; 6]) -> [f32; 3] {
    let mut sum = [0.0f32; 3];
    for (wk, v) in weights.iter().zip(six) {
        for c in 0..3 {
            sum[c] += wk * v[c];
        }
    }
    sum
}

/// A profile carried by `shift` samples: each sample k where [`at`] sees k + shift, with its value there. The weights of the
/// polynomial are worked out once.
fn carried(p: &Profile, shift: f64) -> impl Iterator<Item = (usize, [f32; 3])> {
    let n = p.value.len();
    let whole = shift.floor();
    let weights = lagrange((shift - whole) as f32);
    // Sample k stands between samples k + whole and the one after; a shift beyond every sample sees none.
    let whole = whole.clamp(-(n as f64) - 3.0, n as f64 + 3.0) as isize;
    let first = (2 - whole).max(0) as usize;
    let end = (n as isize - 3 - whole).clamp(first as isize, (n as isize).max(first as isize)) as usize;
    let hidden = |i: usize| p.weight[i] == 0.0;
    // How many of the six samples are hidden, but for the last one.
    let begin = (first as isize + whole - 2).max(0) as usize;
    let mut gone = if first < end { (begin..begin + 5).filter(|&i| hidden(i)).count() } else { 0 };
    (first..end).filter_map(move |k| {
        let at = (k as isize + whole - 2) as usize;
        gone += usize::from(hidden(at + 5));
        let seen = gone == 0;
        gone -= usize::from(hidden(at));
        seen.then(|| (k, between(&p.value[at..at + 6], &weights)))
    })
}

/// Weights of samples −2 to 3 for a place `f` (0 to 1) behind sample 0: Lagrange's polynomial of the fifth degree.
fn lagrange(f: f32) -> [f32; 6] {
    let [a, b, c, d, e, g] = [f + 2.0, f + 1.0, f, f - 1.0, f - 2.0, f - 3.0];
    [
        -b * c * d * e * g / 120.0,
        a * c * d * e * g / 24.0,
        -a * b * d * e * g / 12.0,
        a * b * c * e * g / 12.0,
        -a * b * c * d * g / 24.0,
        a * b * c * d * e / 120.0,
    ]
}

/// The share of the profiles that a sample of their mean needs to count.
pub const LEAST_STACKED: f32 = 0.25;

/// The weights of a stack, 0 where too few of its profiles are seen.
pub fn enough(weight: &[f32]) -> Vec<f32> {
    weight.iter().map(|&w| if w >= LEAST_STACKED { w } else { 0.0 }).collect()
}

/// The mean of the profiles, each carried along `slope` (du/dv) to the distance `to_v_mm`, with the share of them that
/// count there.
pub fn stack(profiles: &[Profile], slope: f64, to_v_mm: f64, step_mm: f64) -> (Vec<[f32; 3]>, Vec<f32>) {
    stack_along(profiles, |v_mm| slope * (v_mm - to_v_mm), step_mm)
}

/// The mean of the profiles where the lines stand `further_mm(v)` further along u, with the share of them that count.
pub fn stack_along(profiles: &[Profile], further_mm: impl Fn(f64) -> f64, step_mm: f64) -> (Vec<[f32; 3]>, Vec<f32>) {
    let n = profiles.first().map_or(0, |p| p.value.len());
    let mut sum = vec![[0.0f64; 3]; n];
    let mut total = vec![0.0f64; n];
    for p in profiles {
        let shift = further_mm(p.v_mm) / step_mm;
        for (k, v) in carried(p, shift) {
            for c in 0..3 {
                sum[k][c] += f64::from(v[c]);
            }
            total[k] += 1.0;
        }
    }
    let most = profiles.len().max(1) as f64;
    let mean = sum.iter().zip(&total).map(|(s, &t)| s.map(|x| (x / t.max(1.0)) as f32)).collect();
    (mean, total.iter().map(|&t| (t / most) as f32).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn smoothing_keeps_a_constant_and_has_the_asked_width() {
        let n = 401;
        let flat = smooth(&vec![[2.5; 3]; n], &vec![1.0; n], 9.0);
        assert!(flat.iter().all(|v| (v[1] - 2.5).abs() < 1e-5));
        let mut spike = vec![[0.0; 3]; n];
        spike[200] = [1.0; 3];
        let spread = smooth(&spike, &vec![1.0; n], 9.0);
        let (mut mass, mut second) = (0.0, 0.0);
        for (k, v) in spread.iter().enumerate() {
            mass += f64::from(v[0]);
            second += f64::from(v[0]) * (k as f64 - 200.0).powi(2);
        }
        assert!((mass - 1.0).abs() < 1e-4 && ((second / mass).sqrt() - 9.0).abs() < 0.5);
    }

    #[test]
    fn a_wave_of_five_samples_is_read_between_them() {
        let wave = |x: f64| (x * 1.3).sin();
        let value: Vec<[f32; 3]> = (0..60).map(|k| [wave(f64::from(k)) as f32; 3]).collect();
        for place in [20.1, 25.5, 31.875] {
            let (v, w) = at(&value, &[1.0; 60], place);
            assert!(w > 0.0 && (f64::from(v[1]) - wave(place)).abs() < 0.02, "{} for {}", v[1], wave(place));
        }
    }

    #[test]
    fn a_profile_is_carried_as_its_samples_are_read_one_by_one() {
        let value: Vec<[f32; 3]> = (0..40).map(|k| [(k as f32 * 0.7).sin(), k as f32, 1.0]).collect();
        let mut weight = vec![1.0; 40];
        weight[0] = 0.0;
        weight[17] = 0.0;
        let p = Profile { v_mm: 0.0, tone: Vec::new(), value, weight };
        for shift in [-1e9, -60.0, -40.3, -3.25, -0.5, 0.0, 0.75, 2.0, 11.4, 36.9, 40.0, 1e9] {
            let mut seen = vec![None; 40];
            carried(&p, shift).for_each(|(k, v)| seen[k] = Some(v));
            for (k, seen) in seen.into_iter().enumerate() {
                let (v, w) = at(&p.value, &p.weight, k as f64 + shift);
                assert_eq!(seen.is_some(), w > 0.0, "{shift} {k}");
                assert!(seen.is_none_or(|s| (0..3).all(|c| (s[c] - v[c]).abs() < 1e-4)), "{shift} {k}: {seen:?} {v:?}");
            }
        }
    }

    #[test]
    fn what_is_not_cloth_does_not_leak_into_the_smooth() {
        let mut value = vec![[1.0; 3]; 300];
        let mut weight = vec![1.0; 300];
        for k in 100..150 {
            value[k] = [50.0; 3];
            weight[k] = 0.0;
        }
        assert!(smooth(&value, &weight, 20.0).iter().all(|v| (v[0] - 1.0).abs() < 1e-4));
    }
}
