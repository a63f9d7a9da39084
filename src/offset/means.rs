//! The robust means of each side's aligned ribs, sample by sample.

use nalgebra::{Matrix3, Vector3};

/// A whitened residual of this size has half its weight.
const HALF_WEIGHT: f64 = 3.0;
/// A side's mean needs at least this much weight (ribs).
pub const LEAST_WEIGHT: f64 = 2.0;

/// A rib's aligned relief, with weight 0 where there is none.
pub type Aligned = Vec<([f32; 3], f32)>;

/// Both sides' means at one sample.
#[derive(Clone, Copy, Debug, Default)]
pub struct Means {
    /// Mean relief of the first and the second side.
    pub side: [[f64; 3]; 2],
    /// The weight of the ribs in it.
    pub weight: [f64; 2],
}

impl Means {
    /// Whether both sides are seen.
    pub fn both(&self) -> bool {
        self.weight.iter().all(|&w| w >= LEAST_WEIGHT)
    }

    /// First side minus second side.
    pub fn difference(&self) -> Vector3<f64> {
        Vector3::from_fn(|c, _| self.side[0][c] - self.side[1][c])
    }

    /// The template: the mean of both sides, or the one that is seen.
    pub fn template(&self) -> [f64; 3] {
        let share = if self.both() || self.weight[0] == self.weight[1] {
            0.5
        } else if self.weight[0] > self.weight[1] {
            1.0
        } else {
            0.0
        };
        std::array::from_fn(|c| share * self.side[0][c] + (1.0 - share) * self.side[1][c])
    }
}

/// The weight of a sample whose squared whitened residual over three channels is this.
pub fn robust(square: f64) -> f64 {
    1.0 / (1.0 + square / (3.0 * HALF_WEIGHT * HALF_WEIGHT))
}

/// The robust mean of each side at each sample.
pub fn means(aligned: &[Vec<Aligned>; 2], n: usize, whiten: &Matrix3<f64>) -> Vec<Means> {
    (0..n)
        .map(|k| {
            let mut means = Means::default();
            for (side, ribs) in aligned.iter().enumerate() {
                let (mut mean, mut total) = mean_at(ribs, k, |_| 1.0);
                for _ in 0..2 {
                    let now = mean;
                    (mean, total) = mean_at(ribs, k, |value| {
                        let r = Vector3::from_fn(|c, _| f64::from(value[c]) - now[c]);
                        robust((whiten * r).dot(&r))
                    });
                }
                means.side[side] = mean;
                means.weight[side] = total;
            }
            means
        })
        .collect()
}

/// The mean of a side's ribs at sample k and its weight, each rib weighted by its own relief.
pub fn mean_at(ribs: &[Aligned], k: usize, weight: impl Fn(&[f32; 3]) -> f64) -> ([f64; 3], f64) {
    let (mut sum, mut total) = ([0.0; 3], 0.0);
    for rib in ribs {
        let (value, valid) = rib[k];
        if valid > 0.0 {
            let w = weight(&value);
            for c in 0..3 {
                sum[c] += w * f64::from(value[c]);
            }
            total += w;
        }
    }
    (sum.map(|s| if total > 0.0 { s / total } else { 0.0 }), total)
}
