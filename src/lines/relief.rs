//! Light → relief: the lines without the shade. Logarithm of linear light, slow changes along the seam removed.
//!
//! Shade and lighting multiply the cloth's light; in the logarithm they add, and a broad smooth takes them off.

use crate::light;
use crate::smooth::{boxed, half_of};
use crate::strip::Rib;

/// A smooth of this many samples or less is worked out at every sample.
const POOLED_SIGMA: f64 = 12.0;

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

/// The tones of a side's ribs, of which relief is taken.
pub struct Tones {
    ribs: Vec<Tone>,
}

/// The tone of one rib along u.
struct Tone {
    v_mm: f64,
    /// Logarithm of the light.
    log: Vec<[f32; 3]>,
    /// Its mean where the rib shows cloth.
    mean: [f32; 3],
    weight: Vec<f32>,
}

impl Tones {
    /// The tones of ribs.
    pub fn of(ribs: &[Rib]) -> Self {
        let tone = |rib: &Rib| {
            let weight = rib.weight();
            let log: Vec<[f32; 3]> = rib.light.iter().map(|l| l.map(light::tone)).collect();
            let total: f32 = weight.iter().sum();
            let mean =
                std::array::from_fn(|c| log.iter().zip(&weight).map(|(l, w)| l[c] * w).sum::<f32>() / total.max(1.0));
            Tone { v_mm: rib.v_mm, log, mean, weight }
        };
        Self { ribs: ribs.iter().map(tone).collect() }
    }

    /// The relief of every rib; `broad_mm` is the standard deviation of the smooth that is taken off.
    pub fn relief(&self, step_mm: f64, broad_mm: f64) -> Vec<Profile> {
        let relief = |Tone { v_mm, log, mean, weight }: &Tone| {
            let slow = smooth(log, weight, broad_mm / step_mm);
            let without = |k: usize, level: &[f32; 3]| -> [f32; 3] {
                std::array::from_fn(|c| if weight[k] > 0.0 { log[k][c] - level[c] } else { 0.0 })
            };
            let value = (0..log.len()).map(|k| without(k, &slow[k])).collect();
            let tone = (0..log.len()).map(|k| without(k, mean)).collect();
            Profile { v_mm: *v_mm, value, tone, weight: weight.clone() }
        };
        self.ribs.iter().map(relief).collect()
    }
}

/// The relief of every rib; `broad_mm` is the standard deviation of the smooth that is taken off.
pub fn of_ribs(ribs: &[Rib], step_mm: f64, broad_mm: f64) -> Vec<Profile> {
    Tones::of(ribs).relief(step_mm, broad_mm)
}

/// Weighted smooth with an almost Gaussian window (three box passes) of standard deviation `sigma` samples. A broad one is
/// worked out at fewer places and drawn straight between them.
///
/// Where no weight is near, the result is 0.
pub fn smooth(value: &[[f32; 3]], weight: &[f32], sigma: f64) -> Vec<[f32; 3]> {
    let pool = ((sigma / POOLED_SIGMA) as usize).max(1);
    let half = half_of(sigma / pool as f64);
    let sum = |(value, weight): (&[[f32; 3]], &[f32])| {
        let mut sum = [0.0f64; 4];
        for (v, &w) in value.iter().zip(weight) {
            for c in 0..3 {
                sum[c] += f64::from(v[c] * w);
            }
            sum[3] += f64::from(w);
        }
        sum
    };
    let mut data: Vec<[f64; 4]> = value.chunks(pool).zip(weight.chunks(pool)).map(sum).collect();
    for _ in 0..3 {
        data = boxed(&data, half);
    }
    let mean = |d: &[f64; 4]| if d[3] > 1e-9 { [d[0], d[1], d[2]].map(|x| (x / d[3]) as f32) } else { [0.0; 3] };
    if pool == 1 {
        return data.iter().map(mean).collect();
    }
    // Pool j's middle is at sample (j + 1/2) · pool − 1/2.
    let between = |k: usize| {
        let place = ((k as f64 + 0.5) / pool as f64 - 0.5).clamp(0.0, (data.len() - 1) as f64);
        let low = (place as usize).min(data.len().saturating_sub(2));
        let (a, b, f) = (&data[low], &data[(low + 1).min(data.len() - 1)], place - low as f64);
        mean(&std::array::from_fn(|c| a[c] + f * (b[c] - a[c])))
    };
    (0..value.len()).map(between).collect()
}

/// A profile's value and weight at a fractional sample, by the polynomial through the six samples around it; weight 0
/// beside what is not cloth.
///
/// Four samples would not do: at five samples to a wave they put a line two hundredths of a sample aside.
pub fn at(value: &[[f32; 3]], weight: &[f32], place: f64) -> ([f32; 3], f32) {
    if !(place >= 2.0 && place < value.len() as f64 - 3.0) {
        return ([0.0; 3], 0.0);
    }
    let i = place as usize;
    let around: &[f32; 6] = weight[i - 2..i + 4].try_into().expect("six weights");
    if around.iter().product::<f32>() == 0.0 {
        return ([0.0; 3], 0.0);
    }
    (between(&value[i - 2..i + 4], &lagrange((place - i as f64) as f32)), 1.0)
}

/// The polynomial through six samples.
#[inline]
fn between(six: &[[f32; 3]], weights: &[f32; 6]) -> [f32; 3] {
    // Four numbers at a time, of which the last is the next sample's: a processor has no lanes of three.
    let flat: &[f32; 18] = six.as_flattened().try_into().expect("six samples are eighteen numbers");
    let mut sum = [0.0f32; 4];
    for k in 0..5 {
        for c in 0..4 {
            sum[c] += weights[k] * flat[3 * k + c];
        }
    }
    std::array::from_fn(|c| sum[c] + weights[5] * flat[15 + c])
}

/// Sums of profiles that are carried along u before they are added.
pub struct Sums {
    /// R, G, B at each sample.
    pub value: Vec<[f32; 3]>,
    /// How many profiles are seen at each sample.
    pub count: Vec<f32>,
}

impl Sums {
    /// Of nothing yet.
    pub fn new(samples: usize) -> Self {
        Self { value: vec![[0.0; 3]; samples], count: vec![0.0; samples] }
    }

    /// Adds a profile carried by `shift` samples: at each sample k where [`at`] sees k + shift, its value there.
    ///
    /// The weights of the polynomial are the same everywhere, so that a stretch without gaps is gone through in one.
    pub fn add(&mut self, value: &[[f32; 3]], weight: &[f32], shift: f64) {
        let n = value.len();
        let floor = shift.floor();
        let weights = lagrange((shift - floor) as f32);
        // Sample k stands between samples k + whole and the one after; a shift beyond every sample sees none.
        let whole = floor.clamp(-(n as f64) - 3.0, n as f64 + 3.0) as isize;
        let mut from = 0;
        for run in weight.chunk_by(|a, b| (*a > 0.0) == (*b > 0.0)) {
            let (first, end) = (from, from + run.len());
            from = end;
            if run[0] > 0.0 {
                let k = |sample: usize, beyond: isize| (sample as isize - whole + beyond).clamp(0, n as isize) as usize;
                self.add_run(value, k(first, 2)..k(end, -3), whole, &weights);
            }
        }
    }

    /// Adds the samples of `at`, all of which see the six samples around them.
    fn add_run(&mut self, value: &[[f32; 3]], at: std::ops::Range<usize>, whole: isize, weights: &[f32; 6]) {
        if at.is_empty() {
            return;
        }
        let begin = (at.start as isize + whole - 2) as usize;
        let from = value[begin..begin + at.len() + 5].as_flattened();
        let to = self.value[at.clone()].as_flattened_mut();
        let count = to.len();
        let taps: [&[f32]; 6] = std::array::from_fn(|k| &from[3 * k..3 * k + count]);
        for i in 0..count {
            to[i] += weights[0] * taps[0][i]
                + weights[1] * taps[1][i]
                + weights[2] * taps[2][i]
                + weights[3] * taps[3][i]
                + weights[4] * taps[4][i]
                + weights[5] * taps[5][i];
        }
        self.count[at].iter_mut().for_each(|count| *count += 1.0);
    }
}

/// How the lines of a side run: their slope du/dv, which may turn along the seam, as it does where the seam is curved and the
/// grain straight.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Slope {
    /// The slope at [`Self::middle_mm`].
    pub middle: f64,
    /// How much it grows for each millimetre along u.
    pub turn_per_mm: f64,
    /// A place along u, millimetres.
    pub middle_mm: f64,
}

impl Slope {
    /// The same slope everywhere.
    pub fn even(slope: f64) -> Self {
        Self { middle: slope, turn_per_mm: 0.0, middle_mm: 0.0 }
    }

    /// The slope at u.
    pub fn at(&self, u_mm: f64) -> f64 {
        self.middle + self.turn_per_mm * (u_mm - self.middle_mm)
    }

    /// A profile carried along the lines to the seam; its count is 0 where it is not seen.
    pub fn carried(&self, p: &Profile, step_mm: f64) -> Sums {
        let mut sums = Sums::new(p.value.len());
        if self.turn_per_mm == 0.0 {
            sums.add(&p.value, &p.weight, self.middle * p.v_mm / step_mm);
        } else {
            for k in 0..p.value.len() {
                let place = k as f64 + self.at(k as f64 * step_mm) * p.v_mm / step_mm;
                (sums.value[k], sums.count[k]) = at(&p.value, &p.weight, place);
            }
        }
        sums
    }

    /// The mean of profiles carried along the lines to the seam, with the share of them that count.
    pub fn stack(&self, profiles: &[Profile], step_mm: f64) -> (Vec<[f32; 3]>, Vec<f32>) {
        if self.turn_per_mm == 0.0 {
            return stack(profiles, self.middle, 0.0, step_mm);
        }
        let mut sums = Sums::new(profiles.first().map_or(0, |p| p.value.len()));
        for p in profiles {
            let carried = self.carried(p, step_mm);
            for (k, value) in carried.value.iter().enumerate() {
                (0..3).for_each(|c| sums.value[k][c] += value[c]);
                sums.count[k] += carried.count[k];
            }
        }
        let share = 1.0 / profiles.len().max(1) as f32;
        for (value, count) in sums.value.iter_mut().zip(&mut sums.count) {
            *value = value.map(|x| x / count.max(1.0));
            *count *= share;
        }
        (sums.value, sums.count)
    }

    /// The same with weight 0 where too few of the profiles are seen.
    pub fn at_the_seam(&self, profiles: &[Profile], step_mm: f64) -> (Vec<[f32; 3]>, Vec<f32>) {
        let (value, weight) = self.stack(profiles, step_mm);
        let weight = enough(&weight);
        (value, weight)
    }
}

/// How many samples a place between two of them is read from, and how many of these stand before the one before it.
pub const TAPS: usize = 6;
/// See [`TAPS`].
pub const BEFORE: usize = 2;

/// Weights of samples −2 to 3 for a place `f` (0 to 1) behind sample 0: Lagrange's polynomial of the fifth degree.
#[inline]
pub fn lagrange(f: f32) -> [f32; TAPS] {
    let [a, b, c, d, e, g] = [f + 2.0, f + 1.0, f, f - 1.0, f - 2.0, f - 3.0];
    let (ab, cd, eg) = (a * b, c * d, e * g);
    [
        b * cd * eg * (-1.0 / 120.0),
        a * cd * eg * (1.0 / 24.0),
        ab * d * eg * (-1.0 / 12.0),
        ab * c * eg * (1.0 / 12.0),
        ab * cd * g * (-1.0 / 24.0),
        ab * cd * e * (1.0 / 120.0),
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
    let mut sums = Sums::new(n);
    for p in profiles {
        sums.add(&p.value, &p.weight, further_mm(p.v_mm) / step_mm);
    }
    let share = 1.0 / profiles.len().max(1) as f32;
    for (value, count) in sums.value.iter_mut().zip(&mut sums.count) {
        *value = value.map(|x| x / count.max(1.0));
        *count *= share;
    }
    (sums.value, sums.count)
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
    fn a_broad_smooth_of_few_places_is_that_of_all() {
        let value: Vec<[f32; 3]> = (0..1003).map(|k| [(k as f32 * 0.006).sin() + 0.001 * k as f32; 3]).collect();
        let weight: Vec<f32> = (0..1003).map(|k| if (300..420).contains(&k) { 0.0 } else { 1.0 }).collect();
        let half = (((4.0f64 * 90.0 * 90.0 + 1.0).sqrt() - 1.0) / 2.0).round() as usize;
        let with = |(v, &w): (&[f32; 3], &f32)| [f64::from(v[0] * w), 0.0, 0.0, f64::from(w)];
        let mut data: Vec<[f64; 4]> = value.iter().zip(&weight).map(with).collect();
        (0..3).for_each(|_| data = boxed(&data, half));
        let smooth = smooth(&value, &weight, 90.0);
        // Where cloth is seen: elsewhere nobody asks.
        for (k, (few, all)) in smooth.iter().zip(&data).enumerate().filter(|(k, _)| weight[*k] > 0.0) {
            // A window of whole pools is up to a twenty-fifth narrower or wider.
            assert!((f64::from(few[0]) - all[0] / all[3]).abs() < 0.03, "{k}: {} {}", few[0], all[0] / all[3]);
        }
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
            let mut sums = Sums::new(40);
            sums.add(&p.value, &p.weight, shift);
            for k in 0..40 {
                let (v, w) = at(&p.value, &p.weight, k as f64 + shift);
                let (seen, carried) = (sums.count[k], sums.value[k]);
                assert!(
                    seen == w && (0..3).all(|c| (carried[c] - v[c]).abs() < 1e-4),
                    "{shift} {k}: {carried:?} {v:?}"
                );
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
