//! The lines one by one: bands of the template that differ from the ground, with their own colour and offset.

use super::fit::Fit;
use super::{LineOffset, Systematic};
use crate::conventions::COVERAGE_FACTOR;
use crate::light;
use crate::lines::Lines;
use crate::lines::relief;
use crate::strip::{LEAST_SHARE, Strips};

/// The narrowest band that is a line, millimetres.
const LEAST_WIDTH_MM: f64 = 0.4;
/// Ribs this near to the seam give a line its colour, millimetres.
const COLOUR_REACH_MM: f64 = 15.0;

/// Finds the lines in the order of u.
pub fn find(fit: &Fit, strips: &Strips, lines: &Lines, system: &Systematic) -> Vec<LineOffset> {
    let step = lines.step_mm;
    let strangeness = strangeness(&fit.template, &fit.information);
    let Some(limit) = threshold(&strangeness) else { return Vec::new() };
    let colours = colours(fit, strips, step);
    let mut found = Vec::new();
    let mut begin = None;
    for k in 0..=strangeness.len() {
        let on = k < strangeness.len() && strangeness[k] > limit;
        match (on, begin) {
            (true, None) => begin = Some(k),
            (false, Some(b)) => {
                begin = None;
                let width_mm = (k - b) as f64 * step;
                // A band that runs out of the picture has no width to tell.
                if b == 0 || k == strangeness.len() || width_mm < LEAST_WIDTH_MM {
                    continue;
                }
                let along_mm = (b + k - 1) as f64 / 2.0 * step;
                let (offset_mm, u) = system.at(&fit.layout.offset_weights(along_mm), along_mm);
                found.push(LineOffset {
                    number: found.len() + 1,
                    along_mm,
                    width_mm,
                    colour: mean_colour(&colours[b + (k - b) / 4..(k - (k - b) / 4).max(b + (k - b) / 4 + 1)]),
                    offset_mm,
                    expanded_uncertainty_mm: COVERAGE_FACTOR * u,
                });
            }
            _ => {}
        }
    }
    found
}

/// How far each sample's relief is from the ground: the relief most of the cloth has.
fn strangeness(template: &[[f64; 3]], information: &[f64]) -> Vec<f64> {
    let known: Vec<usize> = (0..template.len()).filter(|&k| information[k] > 0.0).collect();
    if known.is_empty() {
        return vec![0.0; template.len()];
    }
    // The ground is the sample that lies nearest to the most others.
    let near = |k: usize| {
        known
            .iter()
            .step_by((known.len() / 400).max(1))
            .map(|&j| (-(distance(&template[k], &template[j]) / 0.08).powi(2)).exp())
            .sum::<f64>()
    };
    let ground = known
        .iter()
        .step_by((known.len() / 400).max(1))
        .map(|&k| (k, near(k)))
        .fold((known[0], f64::MIN), |best, next| if next.1 > best.1 { next } else { best })
        .0;
    let ground = template[ground];
    template.iter().map(|t| distance(t, &ground)).collect()
}

fn distance(a: &[f64; 3], b: &[f64; 3]) -> f64 {
    (0..3).map(|c| (a[c] - b[c]).powi(2)).sum::<f64>().sqrt()
}

/// The threshold that parts the values into two groups with the largest variance between them.
///
/// # Source
/// N. Otsu, A threshold selection method from gray-level histograms, IEEE Trans. SMC 9 (1979) 62-66 (from memory).
fn threshold(values: &[f64]) -> Option<f64> {
    let mut sorted: Vec<f64> = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let total: f64 = sorted.iter().sum();
    let n = sorted.len() as f64;
    let (mut below, mut best) = (0.0, (0.0, None));
    for k in 0..sorted.len().saturating_sub(1) {
        below += sorted[k];
        let (count, rest) = ((k + 1) as f64, n - (k + 1) as f64);
        let between = count * rest * (below / count - (total - below) / rest).powi(2);
        if between > best.0 {
            best = (between, Some(0.5 * (below / count + (total - below) / rest)));
        }
    }
    best.1
}

/// Mean linear light of the cloth near the seam, line by line: carried along by the field, both sides together.
fn colours(fit: &Fit, strips: &Strips, step_mm: f64) -> Vec<[f64; 3]> {
    let n = fit.template.len();
    let mut sum = vec![([0.0f64; 3], 0.0f64); n];
    for (side, strip) in strips.sides.iter().enumerate() {
        for rib in strip.ribs.iter().filter(|rib| (1.5..COLOUR_REACH_MM).contains(&rib.v_mm.abs())) {
            let weight: Vec<f32> = rib.share.iter().map(|&s| if s >= LEAST_SHARE { 1.0 } else { 0.0 }).collect();
            for (k, slot) in sum.iter_mut().enumerate() {
                let f = fit.layout.at(&fit.theta, k as f64 * step_mm);
                let place = k as f64 + f.shift_mm(side, rib.v_mm) / step_mm;
                let (value, valid) = relief::at(&rib.light, &weight, place);
                if valid > 0.0 {
                    for c in 0..3 {
                        slot.0[c] += f64::from(value[c]);
                    }
                    slot.1 += 1.0;
                }
            }
        }
    }
    sum.into_iter().map(|(s, count)| s.map(|x| x / count.max(1.0))).collect()
}

fn mean_colour(colours: &[[f64; 3]]) -> [u8; 3] {
    let n = colours.len().max(1) as f64;
    light::to_srgb8(std::array::from_fn(|c| colours.iter().map(|l| l[c]).sum::<f64>() / n))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_threshold_parts_two_groups() {
        let mut values = vec![0.1; 60];
        values.extend(vec![0.9; 20]);
        let t = threshold(&values).unwrap();
        assert!((0.1..0.9).contains(&t));
        assert!(threshold(&[0.5]).is_none());
    }
}
