//! Closed-form stripes as the two sides' profiles, and the tool's own estimate of the offset between them.

use nalgebra::DVector;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use seamstep::conventions::wrap;
use seamstep::lines::relief::{Profile, Slope};
use seamstep::offset::course::Course;
use seamstep::offset::fit::{self, Widths};
use seamstep::offset::ribs::Data;
use seamstep::signal::alignment::Alignment;

/// Millimetres that a pixel of the published figures is taken to show.
pub const STEP_MM: f64 = 0.25;
/// Relief to a grey level: the logarithm's slope at the published mean of 128.
const RELIEF_PER_GREY: f64 = 1.0 / 128.0;
/// Distance between places over which an offset is averaged, millimetres.
const PLACE_MM: f64 = 2.5;

/// s(n) = Σ A_k cos(2πkn/P + φ_k): grey levels around the mean, n and P in pixels.
pub struct Stripes {
    pub repeat_px: f64,
    pub amplitudes: &'static [f64],
    pub phases_rad: &'static [f64],
}

impl Stripes {
    pub fn at(&self, n_px: f64) -> f64 {
        let terms = self.amplitudes.iter().zip(self.phases_rad).enumerate();
        terms
            .map(|(k, (a, phase))| a * (std::f64::consts::TAU * (k + 1) as f64 * n_px / self.repeat_px + phase).cos())
            .sum()
    }

    /// One side's profile, displaced, grey levels.
    pub fn profile(&self, samples: usize, displaced_px: f64) -> Vec<f64> {
        (0..samples).map(|n| self.at(n as f64 - displaced_px)).collect()
    }

    /// One side whose mean over ribs and channels has white noise of `sigma` grey levels: a channel's noise is √3, and a
    /// rib's by the root of their number, stronger.
    pub fn noisy(&self, samples: usize, displaced_px: f64, sigma: f64, chance: &mut Chance) -> Vec<Profile> {
        side(&self.profile(samples, displaced_px), sigma * (3.0 * AT_SEAM_MM.len() as f64).sqrt(), chance)
    }

    /// The Cramér-Rao bound of the displacement of two noisy sides of one unknown shape, standard deviation, pixels:
    /// var ≥ 2σ²/(N·mean(s'²)) (Kay 1993, formula from memory).
    pub fn bound_px(&self, samples: usize, sigma: f64) -> f64 {
        let steepness = self.amplitudes.iter().enumerate().map(|(k, a)| {
            let slope = std::f64::consts::TAU * (k + 1) as f64 * a / self.repeat_px;
            0.5 * slope * slope
        });
        (2.0 * sigma * sigma / (samples as f64 * steepness.sum::<f64>())).sqrt()
    }
}

/// Normal numbers of a seed.
pub struct Chance(ChaCha8Rng);

impl Chance {
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    fn share(&mut self) -> f64 {
        (f64::from(self.0.next_u32()) + 0.5) / (f64::from(u32::MAX) + 1.0)
    }

    /// One of mean 0 and standard deviation 1 (Box and Muller's transform, from memory).
    pub fn normal(&mut self) -> f64 {
        (-2.0 * self.share().ln()).sqrt() * (std::f64::consts::TAU * self.share()).cos()
    }
}

/// Ribs of a side, all at the seam: where the slope is not what is tested, but the offset.
const AT_SEAM_MM: [f64; 6] = [0.001, 0.002, 0.003, 0.004, 0.005, 0.006];
/// Noise that only keeps the fit's covariances from being nothing, grey levels.
const TINY: f64 = 0.02;

/// One side of this profile, each rib and channel with noise of its own.
fn side(profile: &[f64], rib_sigma: f64, chance: &mut Chance) -> Vec<Profile> {
    ribs(&AT_SEAM_MM, profile.len(), |_, n| [0; 3].map(|_| profile[n] + rib_sigma * chance.normal()))
}

/// One side of this profile as good as without noise of its own.
pub fn clean(profile: &[f64], chance: &mut Chance) -> Vec<Profile> {
    side(profile, TINY, chance)
}

/// The ribs of one side at these distances from the seam; `grey(rib, n)` gives the three channels at sample n.
pub fn ribs(v_mm: &[f64], samples: usize, mut grey: impl FnMut(usize, usize) -> [f64; 3]) -> Vec<Profile> {
    v_mm.iter()
        .enumerate()
        .map(|(rib, &v_mm)| {
            let value: Vec<[f32; 3]> =
                (0..samples).map(|n| grey(rib, n).map(|g| (g * RELIEF_PER_GREY) as f32)).collect();
            Profile { v_mm, tone: value.clone(), value, weight: vec![1.0; samples] }
        })
        .collect()
}

/// What the tool says of two sides, pixels: where the second stands less where the first stands.
pub struct Estimate {
    /// The alignment's one lag: the nearest peak of the real correlation.
    pub first_px: f64,
    /// The joint fit's mean offset.
    pub offset_px: f64,
    /// Its standard uncertainty.
    pub u_px: f64,
}

/// The tool's own walk from profiles to the mean offset: the alignment, then the joint fit.
pub fn estimate(sides: [Vec<Profile>; 2], repeat_px: f64) -> Estimate {
    let samples = sides[0][0].value.len();
    let slope = Slope::default();
    let stacks = sides.each_ref().map(|profiles| slope.stack(profiles, STEP_MM));
    let alignment =
        Alignment::returning(&stacks[0], &stacks[1], repeat_px, STEP_MM).expect("stripes lie on one another");
    let data = Data { sides: [&sides[0], &sides[1]], step_mm: STEP_MM, samples };
    let fit = fit::joint(&Widths::of(&data), &Course::along(&alignment), [slope; 2]).expect("stripes fix the offset");
    let length_mm = STEP_MM * (samples - 1) as f64;
    let count = (length_mm / PLACE_MM).ceil() as usize + 1;
    let mut weights = DVector::zeros(fit.layout.offset_knots());
    for k in 0..count {
        weights += fit.layout.offset_weights(length_mm * k as f64 / (count - 1) as f64) / count as f64;
    }
    Estimate {
        first_px: wrap(alignment.whole_mm / STEP_MM, repeat_px),
        // As the tool tells it: of all that differ by whole repeats the nearest to zero.
        offset_px: wrap(weights.dot(&fit.offset()) / STEP_MM, repeat_px),
        u_px: weights.dot(&(&fit.covariance * &weights)).sqrt() / STEP_MM,
    }
}
