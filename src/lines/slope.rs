//! The slope of the lines on one side, and which ribs show them.

use super::relief::{self, Profile, Sums};
use std::ops::RangeInclusive;

/// Steepest slope looked for, du/dv: about 20 degrees.
pub const STEEPEST: f64 = 0.36;
/// Step of the search, and how many of them each way.
const STEP: f64 = 0.012;
const EACH_WAY: i32 = (STEEPEST / STEP) as i32;
/// How many steps from a slope that is known roughly the best is looked for.
const NEAR: i32 = 5;
/// Samples are pooled up to this length for the search, millimetres, and so many are left at least.
const POOLED_MM: f64 = 0.36;
const LEAST_POOLED: usize = 100;
/// A rib shows the side's lines when its likeness to the stack reaches this share of the median rib's.
const LEAST_LIKENESS_SHARE: f64 = 0.45;

/// The slope along which the ribs agree best: their stack has the most energy.
pub fn steepest_agreement(profiles: &[Profile], step_mm: f64) -> f64 {
    agreement_among(-EACH_WAY..=EACH_WAY, profiles, step_mm)
}

/// The same near a slope that is known roughly, from more or other ribs of the side.
pub fn agreement_near(slope: f64, profiles: &[Profile], step_mm: f64) -> f64 {
    let middle = (slope / STEP).round() as i32;
    agreement_among((middle - NEAR).max(-EACH_WAY)..=(middle + NEAR).min(EACH_WAY), profiles, step_mm)
}

/// The best slope of so many steps, refined between them.
fn agreement_among(steps: RangeInclusive<i32>, profiles: &[Profile], step_mm: f64) -> f64 {
    if profiles.len() < 2 {
        return 0.0;
    }
    // The same stretch for every slope: where the steepest still sees all ribs, or the middle half.
    let widest_mm = profiles.iter().map(|p| p.v_mm.abs()).fold(0.0, f64::max);
    let ends = ((STEEPEST * widest_mm / step_mm) as usize).min(profiles[0].value.len() / 4);
    // Carried to their middle, the ribs' mean keeps its phase whatever the slope.
    let middle_mm = profiles.iter().map(|p| p.v_mm).sum::<f64>() / profiles.len() as f64;
    let energy_of = |profiles: &[Profile], count: usize, slope: f64| {
        let (value, weight) = relief::stack(profiles, slope, middle_mm, step_mm * count as f64);
        let ends = ends / count;
        let (mut sum, mut total) = (0.0, 0.0);
        for (v, &w) in value[ends..value.len() - ends].iter().zip(&weight[ends..]) {
            if w >= relief::LEAST_STACKED {
                sum += v.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>();
                total += 1.0;
            }
        }
        if total > 0.0 { sum / total } else { 0.0 }
    };
    // The search needs no finer samples than its steps move the outermost rib by.
    let pool = ((POOLED_MM / step_mm) as usize).clamp(1, (profiles[0].value.len() / LEAST_POOLED).max(1));
    let coarse: Vec<Profile> = profiles.iter().map(|p| pooled(p, pool)).collect();
    let best = steps
        .map(|k| f64::from(k) * STEP)
        .map(|s| (s, energy_of(&coarse, pool, s)))
        .fold((0.0, f64::MIN), |best, next| if next.1 > best.1 { next } else { best });
    let energy = |slope: f64| energy_of(profiles, 1, slope);
    let mut slope = best.0;
    let mut width = STEP;
    // Narrower steps than these would read the noise of the energy, not its curve.
    for _ in 0..3 {
        let (a, b, c) = (energy(slope - width), energy(slope), energy(slope + width));
        let bend = a - 2.0 * b + c;
        if bend < 0.0 {
            slope += (0.5 * width * (a - c) / bend).clamp(-width, width);
        }
        width *= 0.5;
    }
    slope
}

/// A profile of the means of `count` samples each, seen where all of them are.
fn pooled(p: &Profile, count: usize) -> Profile {
    let (value, weight) = relief::pooled(&p.value, &p.weight, count);
    Profile { v_mm: p.v_mm, value, tone: Vec::new(), weight }
}

/// The ribs that show the side's lines. Those that do not are dropped: what is nearer to the seam than a run of
/// dropped ribs is not cloth of this side either.
pub fn agreeing(profiles: Vec<Profile>, slope: f64, step_mm: f64) -> Vec<Profile> {
    let (value, weight) = relief::stack(&profiles, slope, 0.0, step_mm);
    let likeness: Vec<f64> = profiles.iter().map(|p| likeness(p, &value, &weight, slope, step_mm)).collect();
    let mut sorted = likeness.clone();
    sorted.sort_by(f64::total_cmp);
    let median = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
    let good = |k: usize| likeness[k] >= LEAST_LIKENESS_SHARE * median;
    // Within the first third, the cloth begins after the last pair of ribs that do not show the lines.
    let near = (profiles.len() / 3).max(1);
    let begin = (1..near).rev().find(|&k| !good(k) && !good(k - 1)).map_or(0, |k| k + 1);
    profiles.into_iter().enumerate().filter(|&(k, _)| k >= begin && good(k)).map(|(_, p)| p).collect()
}

fn likeness(p: &Profile, value: &[[f32; 3]], weight: &[f32], slope: f64, step_mm: f64) -> f64 {
    let mut carried = Sums::new(p.value.len());
    carried.add(&p.value, &p.weight, slope * p.v_mm / step_mm);
    let (mut cross, mut own, mut other) = (0.0, 0.0, 0.0);
    for k in (0..value.len()).filter(|&k| weight[k] >= relief::LEAST_STACKED && carried.count[k] > 0.0) {
        for c in 0..3 {
            let (a, b) = (f64::from(carried.value[k][c]), f64::from(value[k][c]));
            cross += a * b;
            own += a * a;
            other += b * b;
        }
    }
    if own > 0.0 && other > 0.0 { cross / (own * other).sqrt() } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strip::RIB_MM;

    fn slanted(slope: f64, bad: std::ops::Range<usize>) -> Vec<Profile> {
        let step = 0.2;
        (0..40)
            .map(|r| {
                let v_mm = (r as f64 + 0.5) * RIB_MM;
                let value = (0..800)
                    .map(|k| {
                        let t = k as f64 * step - slope * v_mm;
                        let x = if bad.contains(&r) {
                            (k as f32 * 0.31).sin()
                        } else {
                            (t / 12.0 * std::f64::consts::TAU).sin() as f32
                        };
                        [x, 0.5 * x, -x]
                    })
                    .collect();
                Profile { v_mm, tone: Vec::new(), value, weight: vec![1.0; 800] }
            })
            .collect()
    }

    #[test]
    fn the_slope_is_found() {
        for slope in [-0.21, -0.013, 0.0, 0.14] {
            let found = steepest_agreement(&slanted(slope, 0..0), 0.2);
            assert!((found - slope).abs() < 1e-3, "{slope} {found}");
        }
    }

    #[test]
    fn tape_beside_the_seam_is_dropped() {
        let kept = agreeing(slanted(0.05, 0..6), 0.05, 0.2);
        assert!((kept[0].v_mm - 6.5 * RIB_MM).abs() < 1e-9 && kept.len() == 34);
    }
}
