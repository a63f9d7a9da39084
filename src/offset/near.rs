//! What the ribs nearest to the seam say against the smooth field: cloth puckers at a stitched edge, and hangs in folds.
//!
//! The field's slope and bends are smooth over centimetres, and the offset is what they come to at the seam. Where the nearest
//! ribs are displaced against the field by more than their noise, the lines bend within less: the offset is carried on as
//! these ribs have it, and what they do from one to the next is doubt about what they do over the last millimetres, which no
//! rib shows.
//!
//! # Source
//! Best linear unbiased prediction of a random effect from its noisy reading: G. K. Robinson, Statistical Science 6, 1991; the
//! variance of a walk grows with the way (both from memory).

use super::field::Layout;
use super::linear::Linear;
use super::means::{LANES, robust};
use super::ribs::Ribs;
use nalgebra::Vector3;

/// Bands of ribs that are looked at, nearest to the seam.
const BANDS: usize = 2;
/// Width of a band of ribs, and length of a block of them along the seam, millimetres.
const BAND_MM: f64 = 3.0;
const BLOCK_MM: f64 = 12.0;
/// A block that is known no better than this tells nothing, millimetres.
const LEAST_KNOWN_MM: f64 = 2.0;
/// Blocks side by side bend alike, by no more than this correlation.
const MOST_ALIKE: f64 = 0.9;

/// What is added to the offset, and its doubt, block by block along the seam.
#[derive(Clone, Debug, Default)]
pub struct Near {
    block_mm: f64,
    /// So many blocks count as one: they bend alike.
    alike: f64,
    /// Correction and its variance, millimetres and square millimetres.
    blocks: Vec<(f64, f64)>,
}

/// Displacement of a block of a band and the variance of its noise.
type Reading = Option<(f64, f64)>;

impl Near {
    /// From the last linearisation.
    pub fn of(linear: &Linear, ribs: &Ribs, layout: &Layout) -> Self {
        let count = ((layout.length_mm() / BLOCK_MM).round() as usize).max(1);
        let sides = [0, 1].map(|side| Side::of(linear, ribs, side, count));
        // What squares stand above their noise's variance by, where that is more than twice what chance makes of it.
        let excess = |squares: &dyn Fn(&Side, usize) -> Reading| -> f64 {
            let all = sides.iter().flat_map(|side| (0..count).filter_map(move |q| squares(side, q)));
            let (sum, chance, total) = all.fold((0.0, 0.0f64, 0.0f64), |(sum, chance, n), (d, noise)| {
                (sum + d * d - noise, chance + 2.0 * noise * noise, n + 1.0)
            });
            if sum > 2.0 * chance.sqrt() { sum / total.max(1.0) } else { 0.0 }
        };
        // Variance of the displacement of the nearest band beyond noise, and of its change to the next band.
        let level = excess(&|side, q| side.bands.first()?[q]);
        let change = excess(&|side, q| {
            let (near, next) = (side.bands.first()?[q]?, side.bands.get(1)?[q]?);
            Some((near.0 - next.0, near.1 + next.1))
        });
        let walk = change / BAND_MM;
        // Of a walk with this correlation from block to block.
        let together = sides.iter().filter_map(|side| side.bands.first()).flat_map(|band| band.windows(2));
        let products = together.filter_map(|pair| Some(pair[0]?.0 * pair[1]?.0));
        let (sum, total) = products.fold((0.0, 0.0f64), |(sum, n), product| (sum + product, n + 1.0));
        let correlation = if level > 0.0 { (sum / total.max(1.0) / level).clamp(0.0, MOST_ALIKE) } else { 0.0 };
        let block = |q: usize| {
            let of_side = |side: &Side| {
                // From the middle of the band to the seam.
                let beyond = walk * (side.nearest_mm + 0.5 * BAND_MM);
                match side.bands.first().and_then(|band| band[q]) {
                    Some((displaced, noise)) if level > 0.0 => {
                        let share = level / (level + noise);
                        (share * displaced, share * noise + beyond)
                    }
                    Some(_) => (0.0, beyond),
                    None => (0.0, level + beyond),
                }
            };
            let [first, second] = sides.each_ref().map(of_side);
            (second.0 - first.0, first.1 + second.1)
        };
        Self {
            block_mm: layout.length_mm() / count as f64,
            alike: (1.0 + correlation) / (1.0 - correlation),
            blocks: (0..count).map(block).collect(),
        }
    }

    /// What is added to the offset at t, and the variance of that.
    pub fn at(&self, t_mm: f64) -> (f64, f64) {
        let place = (t_mm / self.block_mm - 0.5).clamp(0.0, (self.blocks.len() - 1) as f64);
        let k = (place as usize).min(self.blocks.len().saturating_sub(2));
        let f = place - k as f64;
        let (a, b) = (self.blocks[k], self.blocks[(k + 1).min(self.blocks.len() - 1)]);
        (a.0 + f * (b.0 - a.0), a.1 + f * (b.1 - a.1))
    }

    /// The same of the mean over places.
    pub fn over(&self, places: &[f64]) -> (f64, f64) {
        let count = places.len() as f64;
        let (sum, variance) = places.iter().map(|&t| self.at(t)).fold((0.0, 0.0), |s, a| (s.0 + a.0, s.1 + a.1));
        let independent = (self.blocks.len() as f64 / self.alike).max(1.0);
        (sum / count, variance / count / independent)
    }
}

/// How the bands of one side are displaced against the field, nearest first.
struct Side {
    /// Distance of the nearest rib from the seam, millimetres.
    nearest_mm: f64,
    /// By band, then by block.
    bands: Vec<Vec<Reading>>,
}

/// What is pulled along the template's slope, and what a millimetre would pull.
type Pull = (f64, f64);

impl Side {
    fn of(linear: &Linear, ribs: &Ribs, side: usize, count: usize) -> Self {
        let places: Vec<f64> = ribs.sides[side].iter().map(|rib| rib.v_mm.abs()).collect();
        let nearest_mm = places.iter().copied().fold(f64::INFINITY, f64::min);
        let pulls: Vec<Vec<Vec<Pull>>> = (0..BANDS)
            .map(|band| {
                let from_mm = nearest_mm + BAND_MM * band as f64;
                let inside = |r: &usize| (from_mm..from_mm + BAND_MM).contains(&places[*r]);
                (0..places.len()).filter(inside).map(|r| pulls_of(linear, side, r, count)).collect()
            })
            .collect();
        // How far the ribs of one band scatter in a block, in units of what white noise would make them.
        let together = |ribs: &[Vec<Pull>], q: usize| -> Pull {
            ribs.iter().fold((0.0, 0.0), |(pull, gain), rib| (pull + rib[q].0, gain + rib[q].1))
        };
        let (mut square, mut freedom) = (0.0, 0.0f64);
        for ribs in &pulls {
            for q in 0..count {
                let (pull, gain) = together(ribs, q);
                let seen = ribs.iter().filter(|rib| rib[q].1 > 0.0);
                square += seen.clone().map(|rib| rib[q].1 * (rib[q].0 / rib[q].1 - pull / gain).powi(2)).sum::<f64>();
                freedom += (seen.count() as f64 - 1.0).max(0.0);
            }
        }
        let scatter = square / freedom.max(1.0);
        let reading = |(pull, gain): Pull| {
            let noise = scatter / gain;
            // A line that stands further on is read further back.
            (gain > 0.0 && noise < LEAST_KNOWN_MM * LEAST_KNOWN_MM).then(|| (-pull / gain, noise))
        };
        let bands = pulls.iter().map(|ribs| (0..count).map(|q| reading(together(ribs, q))).collect());
        Self { nearest_mm, bands: bands.collect() }
    }
}

/// The pull of one rib in each block.
fn pulls_of(linear: &Linear, side: usize, rib: usize, count: usize) -> Vec<Pull> {
    let rib = &linear.aligned[side][rib];
    let mut pulls = vec![(0.0, 0.0); count];
    for (k, steer) in linear.steer.iter().enumerate() {
        let (block, lane) = (k / LANES, k % LANES);
        if rib.seen[block][lane] > 0.0 && linear.means[k].weight[side] > 0.0 {
            let mean = &linear.means[k].side[side];
            let residual = Vector3::from_fn(|c, _| f64::from(rib.tone[block][c][lane]) - mean[c]);
            let (pull, gain) = &mut pulls[(k * count / linear.steer.len()).min(count - 1)];
            let weight = robust((linear.whiten * residual).dot(&residual));
            *pull += weight * steer.dot(&residual);
            *gain += weight * steer.dot(&linear.slope[k]);
        }
    }
    pulls
}
