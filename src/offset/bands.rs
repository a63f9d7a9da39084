//! The lines one by one: bands of the template that differ from the ground, with their own colour and offset.

use super::field::{Local, shapes};
use super::fit::Fit;
use super::sources::Sources;
use super::{LineOffset, RUN_SPACING_MM};
use crate::colour::word::names;
use crate::light;
use crate::lines::Lines;
use crate::lines::relief;
use crate::strip::{Rib, Strips};
use crate::threads;

/// The narrowest band that is a line, millimetres.
const LEAST_WIDTH_MM: f64 = 0.6;
/// The widest band that is a line, repeats.
const WIDEST_REPEATS: f64 = 0.6;
/// Bands whose relief differs by less than this (natural logarithm) are of one colour.
pub const ONE_COLOUR: f64 = 0.12;
/// An edge is at least this share of the strongest one.
const LEAST_EDGE_SHARE: f64 = 0.12;
/// Reach of the difference that finds edges, millimetres.
const EDGE_REACH_MM: f64 = 0.3;
/// Ribs this near to the seam give a line its colour, millimetres.
const COLOUR_REACH_MM: f64 = 25.0;
/// The share of them on which it stands out most.
const PLAINEST_SHARE: f64 = 0.2;

/// A stretch of the template of one colour: samples `from..to`.
#[derive(Clone, Copy, Debug)]
pub struct Band {
    /// Its first sample.
    pub from: usize,
    /// The sample after its last.
    pub to: usize,
    /// Mean relief of its inner half.
    pub relief: [f64; 3],
}

/// Finds the lines in the order of u: every band that is not of the ground's colour.
pub fn find(fit: &Fit, strips: &Strips, lines: &Lines, sources: &Sources) -> Vec<LineOffset> {
    let step = lines.step_mm;
    // Only where both sides are seen is there an offset to tell.
    let both = |k: &usize| fit.seen_on_both[*k];
    let n = fit.template.len();
    let (Some(from), Some(to)) = ((0..n).find(both), (0..n).rfind(both)) else { return Vec::new() };
    let bands = bands(&fit.template[from..=to], step);
    let Some(ground) = ground(&bands) else { return Vec::new() };
    let widest_mm = lines.repeat_mm().map_or(f64::INFINITY, |(repeat, _)| WIDEST_REPEATS * repeat);
    let ribs = carried(fit, strips, step);
    let colours = mean_colours(&ribs);
    let last = bands.len().saturating_sub(1);
    let mut found: Vec<LineOffset> = Vec::new();
    for (k, band) in bands.iter().enumerate() {
        // A band that runs out of the picture has no width to tell.
        // One that fills most of a repeat is ground, whatever shade lies on it.
        let too_wide = (band.to - band.from) as f64 * step > widest_mm;
        if k == 0 || k == last || too_wide || distance(&band.relief, &ground) < ONE_COLOUR {
            continue;
        }
        let along_mm = (2 * from + band.from + band.to - 1) as f64 / 2.0 * step;
        let (offset_mm, budget) = sources.at(&fit.layout.offset_weights(along_mm), along_mm);
        let inner = (band.to - band.from) / 4;
        let local = fit.layout.at(&fit.theta, along_mm);
        let runs_mm = [0, 1].map(|side| {
            let sign = if side == 0 { -1.0 } else { 1.0 };
            std::array::from_fn(|k| local.run_mm(side, &shapes(sign * k as f64 * RUN_SPACING_MM)))
        });
        found.push(LineOffset {
            number: found.len() + 1,
            along_mm,
            width_mm: (band.to - band.from) as f64 * step,
            runs_mm,
            colour: own_colour(&ribs, &colours, from + band.from + inner..from + band.to - inner),
            name: String::new(),
            offset_mm,
            expanded_uncertainty_mm: budget.expanded_mm(),
        });
    }
    let colours: Vec<[u8; 3]> = found.iter().map(|line| line.colour).collect();
    for (line, name) in found.iter_mut().zip(names(&colours)) {
        line.name = name;
    }
    found
}

/// Cuts the template at its edges and joins what is of one colour.
pub fn bands(template: &[[f64; 3]], step_mm: f64) -> Vec<Band> {
    let n = template.len();
    let reach = ((EDGE_REACH_MM / step_mm).round() as usize).max(1);
    let apart: Vec<f64> = (0..n)
        .map(|k| if k < reach || k + reach >= n { 0.0 } else { distance(&template[k + reach], &template[k - reach]) })
        .collect();
    // A sharp edge keeps its ends apart over twice the reach: its middle is where the mean over the reach is highest.
    let edge: Vec<f64> = (0..n)
        .map(|k| {
            let around = &apart[k.saturating_sub(reach)..(k + reach).min(n)];
            around.iter().sum::<f64>() / around.len() as f64
        })
        .collect();
    let least = LEAST_EDGE_SHARE * edge.iter().copied().fold(0.0, f64::max);
    let peak = |k: usize| {
        let around = &edge[k.saturating_sub(reach)..(k + reach + 1).min(n)];
        edge[k] > least.max(ONE_COLOUR / 2.0) && around.iter().all(|&e| e <= edge[k])
    };
    let mut cuts = vec![0];
    cuts.extend((1..n).filter(|&k| peak(k)));
    cuts.push(n);
    cuts.dedup_by(|b, a| ((*b - *a) as f64) * step_mm < LEAST_WIDTH_MM);
    let mut joined: Vec<Band> = Vec::new();
    for pair in cuts.windows(2) {
        let band = Band { from: pair[0], to: pair[1], relief: mean(template, pair[0], pair[1]) };
        match joined.last_mut() {
            Some(before) if distance(&before.relief, &band.relief) < ONE_COLOUR => {
                *before = Band { from: before.from, to: band.to, relief: mean(template, before.from, band.to) };
            }
            _ => joined.push(band),
        }
    }
    joined
}

/// Mean relief of the inner half of a band.
fn mean(template: &[[f64; 3]], from: usize, to: usize) -> [f64; 3] {
    let inner = (to - from) / 4;
    let part = &template[from + inner..(to - inner).max(from + inner + 1)];
    std::array::from_fn(|c| part.iter().map(|t| t[c]).sum::<f64>() / part.len() as f64)
}

/// The relief that most of the cloth has.
pub fn ground(bands: &[Band]) -> Option<[f64; 3]> {
    let share = |band: &Band| -> usize {
        bands.iter().filter(|b| distance(&b.relief, &band.relief) < ONE_COLOUR).map(|b| b.to - b.from).sum()
    };
    bands.iter().max_by_key(|band| share(band)).map(|band| band.relief)
}

/// How far two reliefs are apart.
pub fn distance(a: &[f64; 3], b: &[f64; 3]) -> f64 {
    (0..3).map(|c| (a[c] - b[c]).powi(2)).sum::<f64>().sqrt()
}

/// The light of every rib near the seam, carried along by the field: one row a rib, `None` where it shows no cloth.
fn carried(fit: &Fit, strips: &Strips, step_mm: f64) -> Vec<Vec<Option<[f64; 3]>>> {
    let field = fit.layout.along(&fit.theta, fit.template.len(), step_mm);
    let near = |rib: &&Rib| rib.v_mm.abs() < COLOUR_REACH_MM;
    let of_side = |side: usize| {
        let field = &field;
        let carry = move |rib: &Rib| {
            let (weight, shapes) = (rib.weight(), shapes(rib.v_mm));
            let at = |(k, local): (usize, &Local)| {
                let place = k as f64 + local.shift_mm(side, &shapes) / step_mm;
                let (value, valid) = relief::at(&rib.light, &weight, place);
                (valid > 0.0).then(|| value.map(|x| f64::from(x).max(0.0)))
            };
            field.iter().enumerate().map(at).collect()
        };
        strips.sides[side].ribs.iter().filter(near).map(carry)
    };
    threads::halves(&[0, 1], |sides| sides.iter().flat_map(|&side| of_side(side)).collect())
}

/// The mean light of each rib.
pub fn mean_colours(ribs: &[Vec<Option<[f64; 3]>>]) -> Vec<Option<[f64; 3]>> {
    ribs.iter().map(|rib| mean_colour(rib)).collect()
}

fn mean_colour(cells: &[Option<[f64; 3]>]) -> Option<[f64; 3]> {
    let (mut sum, mut count) = ([0.0; 3], 0.0);
    for cell in cells.iter().flatten() {
        (0..3).for_each(|c| sum[c] += cell[c]);
        count += 1.0;
    }
    (count > 0.0).then(|| sum.map(|s| s / count))
}

/// The line's own colour: its mean light on those ribs where it stands out most from the rib's own mean. In a check the
/// threads that cross it colour it too, and least where it stands out most.
pub fn own_colour(
    ribs: &[Vec<Option<[f64; 3]>>],
    means: &[Option<[f64; 3]>],
    inner: std::ops::Range<usize>,
) -> [u8; 3] {
    let tone = |x: f64| f64::from(light::tone(x as f32));
    let mut seen: Vec<(f64, [f64; 3])> = (ribs.iter().zip(means))
        .filter_map(|(rib, all)| {
            let line = mean_colour(&rib[inner.clone()])?;
            Some((distance(&line.map(tone), &(*all)?.map(tone)), line))
        })
        .collect();
    seen.sort_by(|a, b| b.0.total_cmp(&a.0));
    seen.truncate((seen.len() as f64 * PLAINEST_SHARE).ceil() as usize);
    let count = seen.len().max(1) as f64;
    light::to_srgb8(std::array::from_fn(|c| seen.iter().map(|(_, l)| l[c]).sum::<f64>() / count))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_check_of_two_lines_on_a_ground_is_cut_into_its_bands() {
        // Ground, a dark line of 2 mm, ground, a light line of 1 mm, in every 10 mm.
        let step = 0.1;
        let template: Vec<[f64; 3]> = (0..400)
            .map(|k| match (k as f64 * step) % 10.0 {
                u if (2.0..4.0).contains(&u) => [-0.9, -0.6, -0.2],
                u if (7.0..8.0).contains(&u) => [0.3, 0.3, 0.3],
                _ => [0.1, 0.1, 0.0],
            })
            .collect();
        let bands = bands(&template, step);
        let ground = ground(&bands).unwrap();
        assert!(distance(&ground, &[0.1, 0.1, 0.0]) < 0.02);
        let widths: Vec<f64> = bands
            .iter()
            .filter(|b| distance(&b.relief, &ground) >= ONE_COLOUR)
            .map(|b| (b.to - b.from) as f64 * step)
            .collect();
        assert_eq!(widths.len(), 8, "{bands:?}");
        for (k, width) in widths.iter().enumerate() {
            assert!((width - if k % 2 == 0 { 2.0 } else { 1.0 }).abs() < 0.25, "{widths:?}");
        }
    }

    #[test]
    fn a_plain_template_has_no_lines() {
        assert_eq!(bands(&vec![[0.0; 3]; 100], 0.2).len(), 1);
    }
}
