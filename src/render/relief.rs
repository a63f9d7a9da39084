//! The cloth out of its plane: the fold at the seam and the drape, as shade and as displaced lines.

use super::chance;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::Rng;
use std::f32::consts::TAU;

/// The fold at the seam: a thin dark line, and beside it the ridge that the seam allowance lifts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crease {
    /// Share of the light lost at the bottom of the fold, 0 to 1.
    pub depth: f64,
    /// Width of the dark line (standard deviation of its shade), millimetres.
    pub width_mm: f64,
}

/// Finest step and reach of the crease's table, millimetres.
const STEP_MM: f32 = 0.02;
const REACH_MM: f32 = 12.0;

/// The crease's shade, tabulated over the distance from the fold, for the two sides.
pub(super) struct CreaseShade {
    tables: [Vec<f32>; 2],
    salt: u32,
}

impl CreaseShade {
    /// The shade of a crease; the seam allowance lies under the second side.
    pub(super) fn new(crease: Crease, salt: u32) -> Self {
        let (depth, width) = (crease.depth as f32, crease.width_mm as f32);
        let shade = |side: usize, d: f32| {
            let line = depth * (-0.5 * (d / width).powi(2)).exp();
            let valley = 0.22 * depth * (-d / (3.5 * width)).exp();
            let ridge = [0.07, 0.20][side] * depth * (-0.5 * ((d - 4.2 * width) / (1.7 * width)).powi(2)).exp();
            let allowance = [0.0, -0.05][side] * depth * (1.0 / (1.0 + (-(d - 9.0) / 0.7).exp()) - 1.0);
            -line - valley * (1.0 - depth) + ridge + allowance
        };
        let count = (REACH_MM / STEP_MM) as usize;
        let table = |side| (0..count).map(|k| shade(side, k as f32 * STEP_MM)).collect();
        Self { tables: [table(0), table(1)], salt }
    }

    /// The gain of the light at a distance from the fold (millimetres, not negative) on a side, at u.
    #[inline]
    pub(super) fn gain(&self, side: usize, distance_mm: f32, u_mm: f32) -> f32 {
        let table = &self.tables[side];
        let Some(shade) = table.get((distance_mm * (1.0 / STEP_MM)) as usize) else { return 1.0 };
        // The sewing gathers the cloth a little, unevenly.
        let gather = 1.0 + 0.28 * chance::along(u_mm * 0.35, side as i32, self.salt);
        (1.0 + shade * gather).max(0.02)
    }
}

/// How the cloth drapes: slow waves that bend the lines away from the seam and shade the cloth; the seam holds its
/// own lines, so that at v = 0 nothing is displaced.
pub(super) struct Drape {
    amplitude_mm: f32,
    waves: [[Wave; 4]; 2],
}

#[derive(Clone, Copy)]
struct Wave {
    u_rad_per_mm: f32,
    v_rad_per_mm: f32,
    phase_rad: f32,
}

/// Distance from the seam at which half of the displacement is reached, millimetres.
const HOLD_MM: f32 = 22.0;

impl Drape {
    /// Waves of 60 to 160 mm whose sum displaces by about `amplitude_mm`.
    pub(super) fn new(amplitude_mm: f64, rng: &mut ChaCha8Rng) -> Self {
        let mut uniform = || rng.next_u32() as f32 / u32::MAX as f32;
        let mut wave = || {
            let number = TAU / (60.0 + 100.0 * uniform());
            let direction = TAU * uniform();
            Wave {
                u_rad_per_mm: number * direction.cos(),
                v_rad_per_mm: number * direction.sin(),
                phase_rad: TAU * uniform(),
            }
        };
        let waves = [0, 1].map(|_| [0; 4].map(|_| wave()));
        Self { amplitude_mm: amplitude_mm as f32, waves }
    }

    /// Displacement of the lines along u (millimetres) and gain of the light at (u, v).
    pub(super) fn at(&self, u_mm: f32, v_mm: f32) -> (f32, f32) {
        if self.amplitude_mm == 0.0 {
            return (0.0, 1.0);
        }
        let side = usize::from(v_mm >= 0.0);
        let hold = v_mm * v_mm / (v_mm * v_mm + HOLD_MM * HOLD_MM);
        let swing = |waves: &[Wave; 4], lead: f32| -> f32 {
            waves.iter().map(|w| (w.u_rad_per_mm * u_mm + w.v_rad_per_mm * v_mm + w.phase_rad + lead).sin()).sum()
        };
        let displaced = 0.7 * self.amplitude_mm * hold * swing(&self.waves[side], 0.0);
        let steepness = (self.amplitude_mm * 0.04).min(0.12);
        (displaced, 1.0 + steepness * swing(&self.waves[0], TAU / 4.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::rand_core::SeedableRng;

    #[test]
    fn the_crease_is_a_thin_dark_line_with_a_lighter_ridge_on_the_second_side() {
        let shade = CreaseShade::new(Crease { depth: 0.6, width_mm: 0.3 }, 5);
        let mean = |side: usize, d: f32| (0..400).map(|k| shade.gain(side, d, k as f32)).sum::<f32>() / 400.0;
        assert!((0.25..0.5).contains(&mean(0, 0.0)), "{}", mean(0, 0.0));
        assert!(mean(1, 1.3) > 1.04);
        assert!(mean(0, 0.9) > 0.9, "narrow: {}", mean(0, 0.9));
        assert_eq!(shade.gain(0, 50.0, 3.0), 1.0);
    }

    #[test]
    fn drape_leaves_the_lines_alone_at_the_seam_and_moves_them_beside_it() {
        let drape = Drape::new(2.0, &mut ChaCha8Rng::seed_from_u64(4));
        let largest = |v: f32| (-90..90).map(|u| drape.at(u as f32, v).0.abs()).fold(0.0, f32::max);
        assert_eq!(largest(0.0), 0.0);
        assert!(largest(0.5) < 0.005);
        assert!((0.8..4.5).contains(&largest(50.0)), "{}", largest(50.0));
    }
}
