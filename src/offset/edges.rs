//! What the difference of the sides' means says of the offset: the template's slope without its noise ([`super::steer`])
//! times the difference, each edge one reading.

use super::means::{Means, robust};
use super::steer;
use crate::smooth::boxed;
use nalgebra::{Matrix3, Vector3};

/// The template's slope tells nothing where its square, averaged this far to either side, is below this many times its
/// noise's, millimetres.
const DOUBT_MM: f64 = 0.75;
const DOUBTED: f64 = 2.0;
/// Samples this near to each other are of one edge, millimetres.
const EDGE_MM: f64 = 3.0;

/// What one sample says of the offset.
#[derive(Clone, Copy)]
pub struct Told {
    /// Of which place along the seam: an edge is one reading, however many samples it spans. Two flanks of an edge that is
    /// blurred otherwise on one side than on the other would else tell how the offset changes between them, and that
    /// would be carried on to where no edge is.
    pub t_mm: f64,
    /// Weighted square of the template's slope.
    pub gain: f64,
    /// Its product with the difference of the sides.
    pub pull: f64,
}

/// What the difference of the sides' means says of the offset, sample by sample.
pub struct Edges {
    /// `None` where a side is not seen.
    pub at: Vec<Option<Told>>,
    /// The template's slope without its noise, relief per millimetre.
    pub slope: Vec<Vector3<f64>>,
}

impl Edges {
    /// From the sides' means and their template; `noise` is the covariance of the sides' difference. `fine`: the sides are
    /// nearly aligned, so that their difference is noise and not displacement, and its spectrum can be read.
    pub fn new(means: &[Means], template: &[[f64; 3]], noise: &Matrix3<f64>, step_mm: f64, fine: bool) -> Option<Self> {
        let whiten = noise.try_inverse()?.cholesky()?.l().transpose();
        let whitened: Vec<Vector3<f64>> = template.iter().map(|t| whiten * Vector3::from(*t)).collect();
        let seen: Vec<bool> = means.iter().map(Means::both).collect();
        let difference: Vec<Vector3<f64>> = means.iter().map(|m| whiten * m.difference()).collect();
        let half: Vec<Vector3<f64>> =
            difference.iter().zip(&seen).map(|(d, &s)| if s { d / 2.0 } else { Vector3::zeros() }).collect();
        let count = seen.iter().filter(|&&s| s).count();
        let slopes = steer::slopes(&whitened, &half, count, step_mm, fine);
        let (mut doubt, mut total) = (0.0, 0.0);
        for k in (0..means.len()).filter(|&k| seen[k]) {
            let weight = robust(difference[k].norm_squared());
            doubt += weight * slopes.noise[k].norm_squared();
            total += weight;
        }
        let least = DOUBTED * doubt / f64::max(total, 1.0);
        let place = |k: usize| k as f64 * step_mm;
        let gain = |k: usize| if seen[k] { slopes.template[k].norm_squared() } else { 0.0 };
        let sums: Vec<[f64; 3]> =
            (0..means.len()).map(|k| [gain(k), gain(k) * place(k), f64::from(u8::from(seen[k]))]).collect();
        let around = boxed(&sums, (DOUBT_MM / step_mm).round() as usize);
        let edge = boxed(&sums, (EDGE_MM / step_mm).round() as usize);
        let at = (0..means.len())
            .map(|k| {
                let [sum, _, count] = around[k];
                // A slope that could be noise says nothing of the offset.
                let trust = if sum > 0.0 { (1.0 - least * count / sum).max(0.0) } else { 0.0 };
                let weight = trust * robust(difference[k].norm_squared());
                let t_mm = if edge[k][0] > 0.0 { edge[k][1] / edge[k][0] } else { place(k) };
                let pull = weight * slopes.template[k].dot(&difference[k]);
                seen[k].then(|| Told { t_mm, gain: weight * gain(k), pull })
            })
            .collect();
        let unwhiten = whiten.try_inverse()?;
        Some(Self { at, slope: slopes.template.iter().map(|s| unwhiten * s).collect() })
    }
}
