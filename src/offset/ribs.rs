//! The ribs of both sides as the fit reads them: smoothed, thinned, and carried along the seam by the field.

use super::means::{Aligned, LANES, Lane};
use crate::lines::relief::{self, Profile};
use crate::threads;

/// A smoothed profile is read at no finer steps than this share of its smooth's width; so many samples are left at least.
const STEP_SHARE: f64 = 0.4;
const LEAST_SAMPLES: usize = 200;
/// No rib is carried further, samples.
const FURTHEST: f32 = 1e6;
/// Added and taken off again, it rounds a number in single precision: 1.5 · 2²³.
const ROUNDING: f32 = 12_582_912.0;

/// What the fit is given: both sides' profiles and the frame.
pub struct Data<'a> {
    /// Profiles of the first and the second side.
    pub sides: [&'a [Profile]; 2],
    /// Distance between samples, millimetres.
    pub step_mm: f64,
    /// Number of samples along u.
    pub samples: usize,
}

impl Data<'_> {
    /// From the first sample to the last, millimetres.
    pub fn length_mm(&self) -> f64 {
        self.step_mm * (self.samples - 1) as f64
    }
}

/// Both sides' ribs at one width of the smooth.
pub struct Ribs {
    /// The ribs of the first and the second side.
    pub sides: [Vec<Rib>; 2],
    /// Distance between samples, millimetres.
    pub step_mm: f64,
    /// Number of samples along u.
    pub samples: usize,
}

impl Ribs {
    /// The profiles smoothed with a standard deviation of `width_mm`, of each every so many samples; 0: as they are.
    pub fn smoothed(data: &Data, width_mm: f64) -> Self {
        let sigma = width_mm / data.step_mm;
        let every = ((STEP_SHARE * sigma) as usize).min(data.samples / LEAST_SAMPLES).max(1);
        let rib = |p: &Profile| {
            if sigma < 0.5 {
                return Rib::new(p.v_mm, &p.tone, &p.weight);
            }
            let smooth = relief::smooth(&p.tone, &p.weight, sigma);
            let tone: Vec<[f32; 3]> = smooth.into_iter().step_by(every).collect();
            Rib::new(p.v_mm, &tone, &p.weight.iter().copied().step_by(every).collect::<Vec<f32>>())
        };
        let of_side = |side: &[Profile]| -> Vec<Rib> { side.iter().map(rib).collect() };
        let [one, two] = data.sides;
        Self {
            sides: threads::both(|| of_side(one), || of_side(two)).into(),
            step_mm: data.step_mm * every as f64,
            samples: data.samples.div_ceil(every),
        }
    }
}

/// A rib's tone, channel by channel, ready to be read between its samples.
pub struct Rib {
    /// Distance from the seam, signed as v, millimetres.
    pub v_mm: f64,
    tone: [Vec<f32>; 3],
    /// 1 where a place between this sample and the next can be read, else 0: all of [`relief::TAPS`] are cloth.
    whole: Vec<f32>,
}

impl Rib {
    /// From the tone of each sample and its weight, 0 where it is no cloth.
    pub fn new(v_mm: f64, tone: &[[f32; 3]], weight: &[f32]) -> Self {
        let mut whole = vec![0.0; tone.len()];
        for (first, taps) in weight.windows(relief::TAPS).enumerate() {
            whole[first + relief::BEFORE] = f32::from(u8::from(taps.iter().all(|&w| w > 0.0)));
        }
        Self { v_mm, tone: std::array::from_fn(|c| tone.iter().map(|t| t[c]).collect()), whole }
    }

    /// The rib read at k + `shift` for each sample k, [`LANES`] to a block; as [`relief::at`] reads it.
    pub fn carried(&self, shift: impl Iterator<Item = Lane>) -> Aligned {
        let n = self.whole.len();
        let blocks = n.div_ceil(LANES);
        let mut aligned = Aligned { tone: Vec::with_capacity(blocks), seen: Vec::with_capacity(blocks) };
        for (block, shift) in shift.take(blocks).enumerate() {
            let from = block * LANES;
            let shift = shift.map(|s| s.clamp(-FURTHEST, FURTHEST));
            let floor = shift.map(|s| (s - 0.5 + ROUNDING) - ROUNDING);
            let mut taps = [[0.0; LANES]; relief::TAPS];
            for i in 0..LANES {
                let weights = relief::lagrange(shift[i] - floor[i]);
                (0..relief::TAPS).for_each(|t| taps[t][i] = weights[t]);
            }
            // The sample before the place that each lane reads.
            let before = |i: usize| (from + i) as isize + floor[i] as isize;
            let (mut tone, mut seen) = ([[0.0; LANES]; 3], [0.0; LANES]);
            let even = floor.iter().all(|f| *f == floor[0]);
            let whole = (before(0) >= relief::BEFORE as isize && from + LANES <= n)
                .then(|| self.whole.get(before(0) as usize..before(0) as usize + LANES + relief::TAPS - relief::BEFORE))
                .flatten();
            if let (true, Some(whole)) = (even, whole) {
                seen.copy_from_slice(&whole[..LANES]);
                let first = before(0) as usize - relief::BEFORE;
                for (out, plane) in tone.iter_mut().zip(&self.tone) {
                    let plane: &[f32; LANES + relief::TAPS - 1] =
                        plane[first..first + LANES + relief::TAPS - 1].try_into().expect("as many as asked for");
                    for (t, taps) in taps.iter().enumerate() {
                        for i in 0..LANES {
                            out[i] += taps[i] * plane[i + t];
                        }
                    }
                    for i in 0..LANES {
                        out[i] *= seen[i];
                    }
                }
            } else {
                for i in 0..LANES.min(n - from) {
                    let Some(before) = usize::try_from(before(i)).ok().filter(|&b| self.whole.get(b) == Some(&1.0))
                    else {
                        continue;
                    };
                    seen[i] = 1.0;
                    for (out, plane) in tone.iter_mut().zip(&self.tone) {
                        let six = &plane[before - relief::BEFORE..][..relief::TAPS];
                        out[i] = six.iter().zip(&taps).map(|(x, taps)| x * taps[i]).sum();
                    }
                }
            }
            aligned.tone.push(tone);
            aligned.seen.push(seen);
        }
        aligned
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rib_is_carried_as_it_is_read_place_by_place() {
        let n = 137;
        let tone: Vec<[f32; 3]> = (0..n).map(|k| [0.3, 0.5, 0.9].map(|w| (k as f32 * w).sin())).collect();
        let weight: Vec<f32> = (0..n).map(|k| f32::from(u8::from(!(50..55).contains(&k)))).collect();
        let rib = Rib::new(3.0, &tone, &weight);
        for (level, growth) in [(0.0, 0.0), (2.3, 0.0), (-4.0, 0.01), (-7.75, -0.05), (30.5, 0.002), (1e9, 0.0)] {
            let shift = |k: usize| level + growth * k as f32;
            let lanes = (0..).map(|block: usize| std::array::from_fn(|i| shift(block * LANES + i)));
            let carried = rib.carried(lanes);
            let mut seen_at_all = false;
            for k in 0..n {
                let place = k as f64 + f64::from(shift(k));
                let ((due, due_seen), (value, seen)) = (relief::at(&tone, &weight, place), carried.at(k));
                // On a sample itself the one before it may be read from, and one more sample need not be cloth.
                assert!(seen == due_seen || place.fract() == 0.0, "{level} {growth} {k}");
                seen_at_all |= seen > 0.0;
                if seen > 0.0 && due_seen > 0.0 {
                    assert!((0..3).all(|c| (value[c] - due[c]).abs() < 2e-5), "{level} {growth} {k}");
                }
            }
            assert!(seen_at_all || level > n as f32);
            assert_eq!(carried.tone.len(), n.div_ceil(LANES));
        }
    }

    #[test]
    fn a_smoothed_rib_is_read_in_larger_steps_that_keep_its_places() {
        let n = 1500;
        let wave = |mm: f64| (mm * 0.4).sin() as f32;
        let profile = Profile {
            v_mm: 5.0,
            value: Vec::new(),
            tone: (0..n).map(|k| [wave(k as f64 * 0.1); 3]).collect(),
            weight: vec![1.0; n],
        };
        let side = [profile];
        let ribs = Ribs::smoothed(&Data { sides: [&side, &side], step_mm: 0.1, samples: n }, 0.8);
        assert!((ribs.step_mm - 0.3).abs() < 1e-12 && ribs.samples == 500);
        let carried = ribs.sides[0][0].carried(std::iter::repeat([0.0; LANES]));
        assert!((30..470).all(|k| (carried.at(k).0[0] - wave(k as f64 * 0.3)).abs() < 0.08));
        let as_it_is = Ribs::smoothed(&Data { sides: [&side, &side], step_mm: 0.1, samples: n }, 0.0);
        assert_eq!((as_it_is.step_mm, as_it_is.samples), (0.1, n));
    }
}
