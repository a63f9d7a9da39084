//! Ribs carried to the template's coordinate, and the robust means of each side's, sample by sample.
//!
//! Samples stand side by side, channel by channel, so that a processor works on several at once; sums of some dozens of
//! values around zero lose nothing that matters in single precision.

use crate::threads;
use nalgebra::{Matrix3, Vector3};

/// A whitened residual of this size has half its weight.
const HALF_WEIGHT: f64 = 3.0;
/// A side's mean needs at least this much weight (ribs).
pub const LEAST_WEIGHT: f64 = 2.0;

/// Samples are worked on so many at a time.
pub const LANES: usize = 16;
/// A value of each of so many samples.
pub type Lane = [f32; LANES];

/// A rib's tone in the template's coordinate, [`LANES`] samples to a block; after the last sample nothing is seen.
#[derive(Clone, Debug)]
pub struct Aligned {
    /// Block by block: R, G, B; 0 where nothing is seen.
    pub tone: Vec<[Lane; 3]>,
    /// 1 where cloth is seen, else 0.
    pub seen: Vec<Lane>,
}

#[cfg(test)]
impl Aligned {
    /// From each sample's tone and whether it is seen (1 or 0).
    pub fn new(samples: impl ExactSizeIterator<Item = ([f32; 3], f32)>) -> Self {
        let blocks = samples.len().div_ceil(LANES);
        let (mut tone, mut seen) = (vec![[[0.0; LANES]; 3]; blocks], vec![[0.0; LANES]; blocks]);
        for (k, (value, weight)) in samples.enumerate() {
            let (block, lane) = (k / LANES, k % LANES);
            for c in 0..3 {
                tone[block][c][lane] = value[c];
            }
            seen[block][lane] = weight;
        }
        Self { tone, seen }
    }

    /// Tone and whether it is seen of sample k.
    pub fn at(&self, k: usize) -> ([f32; 3], f32) {
        let (block, lane) = (k / LANES, k % LANES);
        (self.tone[block].map(|channel| channel[lane]), self.seen[block][lane])
    }
}

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

/// What takes a residual to its weight.
pub struct Whiten {
    /// The inverse covariance's six numbers by [`robust`]'s scale: three on the diagonal, then 01, 02, 12 twice.
    form: [f32; 6],
}

impl Whiten {
    /// From the inverse of the noise's covariance over the channels.
    pub fn new(inverse: &Matrix3<f64>) -> Self {
        let scale = 3.0 * HALF_WEIGHT * HALF_WEIGHT;
        let off = |a: usize, b: usize| (inverse[(a, b)] + inverse[(b, a)]) / scale;
        let on = |a: usize| inverse[(a, a)] / scale;
        Self { form: [on(0), on(1), on(2), off(0, 1), off(0, 2), off(1, 2)].map(|x| x as f32) }
    }

    /// The weights of the residuals `tone` − `mean` where they are seen, as [`robust`] gives them.
    pub fn weights(&self, tone: &[Lane; 3], mean: &[Lane; 3], seen: &Lane) -> Lane {
        let [aa, bb, cc, ab, ac, bc] = self.form;
        std::array::from_fn(|i| {
            let [a, b, c] = [tone[0][i] - mean[0][i], tone[1][i] - mean[1][i], tone[2][i] - mean[2][i]];
            let square = a * (aa * a + ab * b + ac * c) + b * (bb * b + bc * c) + cc * c * c;
            seen[i] / (1.0 + square)
        })
    }
}

/// A block of a side's means, and the weight in each.
pub type BlockMean = ([Lane; 3], Lane);

/// The mean of a block of a side's ribs, each rib weighted by its own tone.
pub fn mean_of(ribs: &[Aligned], block: usize, weight: impl Fn(&[Lane; 3], &Lane) -> Lane) -> BlockMean {
    let (mut sum, mut total) = ([[0.0; LANES]; 3], [0.0; LANES]);
    for rib in ribs {
        let tone = &rib.tone[block];
        let w = weight(tone, &rib.seen[block]);
        for c in 0..3 {
            for i in 0..LANES {
                sum[c][i] += w[i] * tone[c][i];
            }
        }
        for i in 0..LANES {
            total[i] += w[i];
        }
    }
    for channel in &mut sum {
        for i in 0..LANES {
            channel[i] = if total[i] > 0.0 { channel[i] / total[i] } else { 0.0 };
        }
    }
    (sum, total)
}

/// The robust mean of each side at each of `n` samples.
pub fn means(aligned: &[Vec<Aligned>; 2], n: usize, whiten: &Whiten) -> Vec<Means> {
    let of_side = |ribs: &[Aligned]| -> Vec<BlockMean> {
        let of_block = |block: usize| {
            let mut mean = mean_of(ribs, block, |_, seen| *seen);
            for _ in 0..2 {
                let now = mean.0;
                mean = mean_of(ribs, block, |tone, seen| whiten.weights(tone, &now, seen));
            }
            mean
        };
        (0..n.div_ceil(LANES)).map(of_block).collect()
    };
    let sides: [_; 2] = threads::both(|| of_side(&aligned[0]), || of_side(&aligned[1])).into();
    let at = |k: usize| {
        let (block, lane) = (k / LANES, k % LANES);
        let mean = |side: &Vec<BlockMean>| side[block].0.map(|channel| f64::from(channel[lane]));
        let weight = |side: &Vec<BlockMean>| f64::from(side[block].1[lane]);
        Means { side: sides.each_ref().map(mean), weight: sides.each_ref().map(weight) }
    };
    (0..n).map(at).collect()
}
