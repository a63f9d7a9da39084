//! How far the lines jump, as a function of the place along the seam.

use std::f64::consts::{PI, TAU};

/// The offset along the seam: the sum of its parts, millimetres; u is 0 at the seam's anchor (see
/// [`SeamScene`](super::SeamScene)).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OffsetProfile {
    /// The same everywhere, millimetres.
    pub constant_mm: f64,
    /// Growth for every 100 mm of growing u, 0 at u = 0, millimetres.
    pub drift_mm_per_100_mm: f64,
    /// Local jumps: a pin let go.
    pub slips: Vec<Slip>,
    /// Changes from one level to another.
    pub steps: Vec<Step>,
    /// A wandering offset: a careless hand.
    pub wander: Option<Wander>,
    /// Stretches that were unpicked and pinned again: what is taken off the rest.
    pub repins: Vec<Repin>,
}

/// A stretch pinned again: its shift is full over the inner part and runs out evenly to nothing at either end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Repin {
    /// Where the work begins and ends, u, millimetres.
    pub ends_mm: [f64; 2],
    /// Where the shift begins and ends to be full, within the ends, u, millimetres.
    pub full_mm: [f64; 2],
    /// Offset that is taken away there, millimetres.
    pub taken_mm: f64,
}

impl Repin {
    /// What is taken away at u, both in millimetres.
    fn at(&self, u_mm: f64) -> f64 {
        let ([from, to], [full, last]) = (self.ends_mm, self.full_mm);
        if u_mm < from || u_mm > to {
            return 0.0;
        }
        let begin = if full > from { (u_mm - from) / (full - from) } else { 1.0 };
        let end = if to > last { (to - u_mm) / (to - last) } else { 1.0 };
        self.taken_mm * begin.min(end).min(1.0)
    }

    /// The steepest it is, a step of no length aside.
    fn steepest(&self) -> f64 {
        let ([from, to], [full, last]) = (self.ends_mm, self.full_mm);
        let ramp = [full - from, to - last].into_iter().filter(|r| *r > 0.0).fold(f64::INFINITY, f64::min);
        self.taken_mm.abs() / ramp
    }
}

/// A local jump that rises and falls again as a raised cosine.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slip {
    /// Place of the peak, u, millimetres.
    pub at_mm: f64,
    /// Offset at the peak, millimetres.
    pub amount_mm: f64,
    /// Distance from the peak to where nothing is left, millimetres.
    pub half_width_mm: f64,
}

/// A change of level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// Place of the middle of the change, u, millimetres.
    pub at_mm: f64,
    /// Offset beyond it less offset before it, millimetres.
    pub amount_mm: f64,
    /// Length over which it happens, millimetres.
    pub over_mm: f64,
}

/// A slow wave.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wander {
    /// Largest deviation, millimetres.
    pub amplitude_mm: f64,
    /// Length of one wave, millimetres.
    pub wavelength_mm: f64,
    /// Phase at u = 0.
    pub phase_rad: f64,
}

impl OffsetProfile {
    /// The same offset everywhere, millimetres.
    pub fn constant(offset_mm: f64) -> Self {
        Self { constant_mm: offset_mm, ..Self::default() }
    }

    /// The offset at u, both in millimetres; its sign is that of [`crate::conventions`].
    pub fn at(&self, u_mm: f64) -> f64 {
        let mut offset = self.constant_mm + self.drift_mm_per_100_mm * u_mm / 100.0;
        for slip in &self.slips {
            let x = (u_mm - slip.at_mm).abs() / slip.half_width_mm;
            if x < 1.0 {
                offset += slip.amount_mm * 0.5 * (1.0 + (PI * x).cos());
            }
        }
        for step in &self.steps {
            let x = ((u_mm - step.at_mm) / step.over_mm + 0.5).clamp(0.0, 1.0);
            offset += step.amount_mm * x * x * (3.0 - 2.0 * x);
        }
        if let Some(wander) = self.wander {
            offset += wander.amplitude_mm * (TAU * u_mm / wander.wavelength_mm + wander.phase_rad).sin();
        }
        offset - self.repins.iter().map(|repin| repin.at(u_mm)).sum::<f64>()
    }

    /// The largest the offset can be within −reach to +reach, millimetres: an upper bound.
    pub(super) fn largest(&self, reach_mm: f64) -> f64 {
        let slips: f64 = self.slips.iter().map(|s| s.amount_mm.abs()).sum();
        let steps: f64 = self.steps.iter().map(|s| s.amount_mm.abs()).sum();
        let wander = self.wander.map_or(0.0, |w| w.amplitude_mm.abs());
        let repins: f64 = self.repins.iter().map(|r| r.taken_mm.abs()).sum();
        self.constant_mm.abs() + (self.drift_mm_per_100_mm / 100.0).abs() * reach_mm + slips + steps + wander + repins
    }

    /// The steepest the offset can be, millimetres of offset to a millimetre of seam: an upper bound.
    pub(super) fn steepest(&self) -> f64 {
        let slips: f64 = self.slips.iter().map(|s| (s.amount_mm * PI / 2.0 / s.half_width_mm).abs()).sum();
        let steps: f64 = self.steps.iter().map(|s| (s.amount_mm * 1.5 / s.over_mm).abs()).sum();
        let wander = self.wander.map_or(0.0, |w| (w.amplitude_mm * TAU / w.wavelength_mm).abs());
        let repins: f64 = self.repins.iter().map(Repin::steepest).sum();
        (self.drift_mm_per_100_mm / 100.0).abs() + slips + steps + wander + repins
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_add_up_at_their_places() {
        let profile = OffsetProfile {
            constant_mm: 1.0,
            drift_mm_per_100_mm: 2.0,
            slips: vec![Slip { at_mm: 20.0, amount_mm: 3.0, half_width_mm: 10.0 }],
            steps: vec![Step { at_mm: -40.0, amount_mm: -1.5, over_mm: 6.0 }],
            wander: Some(Wander { amplitude_mm: 0.5, wavelength_mm: 80.0, phase_rad: 0.0 }),
            repins: vec![Repin { ends_mm: [100.0, 180.0], full_mm: [120.0, 150.0], taken_mm: 2.0 }],
        };
        assert!((profile.at(-80.0) - (1.0 - 1.6)).abs() < 1e-9);
        assert!((profile.at(0.0) - (1.0 - 1.5)).abs() < 1e-9);
        let repin = profile.repins[0];
        assert_eq!([90.0, 110.0, 130.0, 165.0, 180.0].map(|u| repin.at(u)), [0.0, 1.0, 2.0, 1.0, 0.0]);
        assert!((profile.at(160.0) - (1.0 + 3.2 - 1.5 - 4.0 / 3.0)).abs() < 1e-9);
        assert!((profile.at(20.0) - (1.0 + 0.4 + 3.0 - 1.5 + 0.5)).abs() < 1e-9);
        assert!((profile.at(15.0) - profile.at(25.0) + 0.2).abs() < 1e-9, "a slip is symmetric about its peak");
    }

    #[test]
    fn nowhere_steeper_than_the_bound() {
        let profile = OffsetProfile {
            slips: vec![Slip { at_mm: 0.0, amount_mm: 4.0, half_width_mm: 12.0 }],
            steps: vec![Step { at_mm: 5.0, amount_mm: 2.0, over_mm: 8.0 }],
            ..OffsetProfile::default()
        };
        let slope = |k: i32| (profile.at(f64::from(k) * 0.1 + 0.1) - profile.at(f64::from(k) * 0.1)).abs() / 0.1;
        assert!((-200..200).all(|k| slope(k) <= profile.steepest()));
    }
}
