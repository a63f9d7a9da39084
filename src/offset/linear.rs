//! One linearisation of the joint fit: the profiles aligned by the present field, and what they say of it.
//!
//! Two kinds of noise are told apart. Ribs of one side differ from their side's mean by rib noise, and that tells
//! slope and bend. The two sides' means differ from each other by side noise: threads are uneven in the same way along
//! a whole side, however many ribs are averaged; that limits the offset. Both covariances are taken over the channels,
//! so that shade, which is common to all channels, weighs little beside colour. Samples that do not fit (pins, thread)
//! lose weight in both. The noise's correlation along the seam scales both.

use super::edges::{Edges, Told};
use super::field::{ACTIVE, Layout, Local, SHAPES, shapes};
use super::means::{Aligned, LANES, LEAST_WEIGHT, Lane, Means, Whiten, mean_of, means, robust};
use super::moments::{Moments, Scatter};
use super::ribs::{Rib, Ribs};
use super::shade::Shade;
use crate::smooth::spread;
use crate::threads;
use nalgebra::{DMatrix, DVector, Matrix3, Vector3};

/// Standard deviation of the smooth that takes a rib's own shade off, millimetres.
const SHADE_MM: f64 = 15.0;
/// Reach of the noise's correlation along the seam that is counted, millimetres.
const CORRELATION_MM: f64 = 4.0;
/// The ribs' correlation is counted up to this factor: beyond it, misfit and not noise is being counted, and the slopes
/// would be left to the prior.
const MOST_WITHIN_FACTOR: f64 = 60.0;
/// A first typical size of the ribs' noise is read in every which block of samples.
const TYPICAL_EVERY: usize = 4;
/// Ribs tell nothing where all their samples weigh less than this.
const LEAST_RIB_WEIGHT: f64 = 100.0;
/// The smallest variance of relief that is believed: rounding to 8 bits.
const LEAST_VARIANCE: f64 = 1e-7;

/// Covariances of the noise over the channels.
#[derive(Clone, Debug)]
pub struct Noise {
    /// Of a rib around its side's mean.
    rib: Matrix3<f64>,
    /// Of the difference of the two sides' means.
    pub sides: Matrix3<f64>,
}

/// One linearisation: normal equations of a Gauss-Newton step on the field's parameters.
pub struct Linear {
    /// Information matrix.
    pub normal: DMatrix<f64>,
    /// Right side: the step solves normal · step = right.
    pub right: DVector<f64>,
    /// The common template.
    pub template: Vec<[f64; 3]>,
    /// The means of both sides, aligned.
    pub means: Vec<Means>,
    /// The noise as met.
    pub noise: Noise,
    /// The ribs of both sides as aligned, their shade taken off.
    pub aligned: [Vec<Aligned>; 2],
    /// The template's slope without its noise, relief per millimetre.
    pub slope: Vec<Vector3<f64>>,
    /// The inverse of the ribs' covariance over the channels, and what it makes of the slope.
    pub whiten: Matrix3<f64>,
    /// See [`Self::whiten`].
    pub steer: Vec<Vector3<f64>>,
}

impl Linear {
    /// Linearises around `theta`; `noise` is what the round before met. `fine`: the sides are nearly aligned, so that their
    /// difference is noise and not displacement, and its spectrum can be read.
    pub fn new(ribs: &Ribs, layout: &Layout, theta: &DVector<f64>, noise: Option<&Noise>, fine: bool) -> Option<Self> {
        let n = ribs.samples;
        let mut aligned = align(ribs, layout, theta);
        let rib_noise = match noise {
            Some(noise) => noise.rib,
            None => first_rib_noise(&aligned, n),
        };
        let whiten_rib = rib_noise.try_inverse()?;
        let whiten = Whiten::new(&whiten_rib);
        let shaded: Vec<[f64; 3]> = means(&aligned, n, &whiten).iter().map(Means::template).collect();
        take_off_shade(&mut aligned, &Shade::new(&shaded, SHADE_MM / ribs.step_mm));
        let means = means(&aligned, n, &whiten);
        let template: Vec<[f64; 3]> = means.iter().map(Means::template).collect();
        let side_noise = side_noise(&means, noise.map(|noise| &noise.sides))?;
        let tells = Edges::new(&means, &template, &side_noise, ribs.step_mm, fine)?;
        let steer: Vec<Vector3<f64>> = tells.slope.iter().map(|slope| whiten_rib * slope).collect();
        let scatter = |side: usize| Scatter::new(side, (&ribs.sides[side], &aligned[side]), &means, &whiten, &steer);
        let scatters: [Scatter; 2] = threads::both(|| scatter(0), || scatter(1)).into();
        let moments = |k: usize| [&scatters[0].moments[k], &scatters[1].moments[k]];
        let within = || {
            let mut within = Equations::new(layout.total());
            for k in 0..n {
                let gain = tells.slope[k].dot(&steer[k]);
                within.add_within(&layout.active(k as f64 * ribs.step_mm), moments(k), gain);
            }
            let factor = within.correlation_factor(ribs.step_mm).min(MOST_WITHIN_FACTOR);
            (within, factor)
        };
        let between = || {
            let mut between = Equations::new(layout.total());
            for (k, told) in tells.at.iter().enumerate() {
                if let Some(Told { t_mm, gain, pull }) = *told {
                    between.add_between(&layout.active(t_mm), moments(k), gain, pull);
                }
            }
            let factor = between.correlation_factor(ribs.step_mm);
            (between, factor)
        };
        let ((within, within_factor), (between, between_factor)) = threads::both(within, between);
        let rib_weight = scatters[0].weight + scatters[1].weight;
        let rib_covariance = scatters[0].square + scatters[1].square;
        if rib_weight < LEAST_RIB_WEIGHT {
            return None;
        }
        let rib = rib_covariance / rib_weight + Matrix3::identity() * LEAST_VARIANCE;
        Some(Self {
            normal: within.normal / within_factor + between.normal / between_factor,
            right: within.right / within_factor + between.right / between_factor,
            template,
            means,
            noise: Noise { rib, sides: side_noise },
            aligned,
            slope: tells.slope,
            whiten: whiten_rib,
            steer,
        })
    }
}

/// Normal equations in the making, with the score of each sample for the noise's correlation.
struct Equations {
    normal: DMatrix<f64>,
    right: DVector<f64>,
    /// Score of one typical direction at each sample, and its variance if the noise were white.
    score: Vec<f64>,
    white: f64,
}

impl Equations {
    fn new(total: usize) -> Self {
        Self { normal: DMatrix::zeros(total, total), right: DVector::zeros(total), score: Vec::new(), white: 0.0 }
    }

    /// What the ribs of one side, around their mean, say of its slope and bends.
    fn add_within(&mut self, (index, hat): &([usize; ACTIVE], [f64; ACTIVE]), moments: [&Moments; 2], gain: f64) {
        let mut score = 0.0;
        for (side, m) in moments.into_iter().enumerate() {
            if m.weight() < LEAST_WEIGHT {
                continue;
            }
            score += m.pull(1);
            self.white += gain * m.around(1, 1);
            for i in 1..=SHAPES {
                for p in Layout::places(side, i - 1) {
                    self.right[index[p]] -= hat[p] * m.pull(i);
                    for j in 1..=SHAPES {
                        for q in Layout::places(side, j - 1) {
                            self.normal[(index[p], index[q])] += gain * hat[p] * hat[q] * m.around(i, j);
                        }
                    }
                }
            }
        }
        self.score.push(score);
    }

    /// What the difference of the two sides' means says of offset, slopes and bends together.
    fn add_between(
        &mut self,
        (index, hat): &([usize; ACTIVE], [f64; ACTIVE]),
        moments: [&Moments; 2],
        gain: f64,
        pull: f64,
    ) {
        let mut contrast = [0.0; ACTIVE];
        for p in Layout::offset_places() {
            contrast[p] = -hat[p];
        }
        for (side, m) in moments.into_iter().enumerate() {
            let sign = if side == 0 { 1.0 } else { -1.0 };
            for shape in 1..=SHAPES {
                for p in Layout::places(side, shape - 1) {
                    contrast[p] = sign * hat[p] * m.mean(shape);
                }
            }
        }
        for p in 0..ACTIVE {
            self.right[index[p]] -= contrast[p] * pull;
            for q in 0..ACTIVE {
                self.normal[(index[p], index[q])] += gain * contrast[p] * contrast[q];
            }
        }
        self.white += gain;
        self.score.push(pull);
    }

    /// How many times larger the variance of the summed score is than white noise would make it.
    fn correlation_factor(&self, step_mm: f64) -> f64 {
        let reach = ((CORRELATION_MM / step_mm).round() as usize).min(self.score.len().saturating_sub(1));
        let mut sum = 0.0;
        for lag in 0..=reach {
            let taper = 1.0 - lag as f64 / (reach + 1) as f64;
            let product: f64 = self.score.iter().zip(&self.score[lag..]).map(|(a, b)| a * b).sum();
            sum += if lag == 0 { product } else { 2.0 * taper * product };
        }
        if self.white > 0.0 { (sum / self.white).max(1.0) } else { 1.0 }
    }
}

/// Every rib carried to the template's coordinate by the present field, side by side.
fn align(ribs: &Ribs, layout: &Layout, theta: &DVector<f64>) -> [Vec<Aligned>; 2] {
    let field = layout.along(theta, ribs.samples, ribs.step_mm);
    let of_side = |side: usize| -> Vec<Aligned> {
        // How far the seam's jump and each shape of one millimetre carry every sample, in samples.
        let lanes = |of: &dyn Fn(&Local) -> f64| -> Vec<Lane> {
            let lane = |part: &[Local]| {
                std::array::from_fn(|i| part.get(i).map_or(0.0, |local| (of(local) / ribs.step_mm) as f32))
            };
            field.chunks(LANES).map(lane).collect()
        };
        let jump = lanes(&|local| local.shift_mm(side, &[0.0; SHAPES]));
        let bends: [Vec<Lane>; SHAPES] = std::array::from_fn(|k| lanes(&|local| local.shape[side][k]));
        let carry = |rib: &Rib| {
            let shapes = shapes(rib.v_mm).map(|s| s as f32);
            let shift = |block: usize| -> Lane {
                std::array::from_fn(|i| (0..SHAPES).fold(jump[block][i], |sum, k| sum + shapes[k] * bends[k][block][i]))
            };
            rib.carried((0..jump.len()).map(shift))
        };
        ribs.sides[side].iter().map(carry).collect()
    };
    threads::both(|| of_side(0), || of_side(1)).into()
}

/// Takes each rib's own shade off it.
fn take_off_shade([one, two]: &mut [Vec<Aligned>; 2], shade: &Shade) {
    let of_side = |ribs: &mut [Aligned]| ribs.iter_mut().for_each(|rib| shade.take_off(rib));
    threads::both(|| of_side(one), || of_side(two));
}

/// Variances of the ribs around their side's plain mean, from their typical (median) size at a part of the samples.
fn first_rib_noise(aligned: &[Vec<Aligned>; 2], n: usize) -> Matrix3<f64> {
    let mut sizes: [Vec<f64>; 3] = Default::default();
    for ribs in aligned {
        for block in (0..n.div_ceil(LANES)).step_by(TYPICAL_EVERY) {
            let (mean, count) = mean_of(ribs, block, |_, seen| *seen);
            for rib in ribs {
                for i in (0..LANES).filter(|&i| rib.seen[block][i] > 0.0 && f64::from(count[i]) >= LEAST_WEIGHT) {
                    for c in 0..3 {
                        sizes[c].push(f64::from((rib.tone[block][c][i] - mean[c][i]).abs()));
                    }
                }
            }
        }
    }
    Matrix3::from_diagonal(&Vector3::from(sizes.map(|s| spread(s.into_iter()).unwrap_or(1.0).powi(2) + LEAST_VARIANCE)))
}

/// Covariance over the channels of the difference of the sides' means, samples that do not fit weighing little.
fn side_noise(means: &[Means], before: Option<&Matrix3<f64>>) -> Option<Matrix3<f64>> {
    let differences: Vec<Vector3<f64>> = means.iter().filter(|m| m.both()).map(Means::difference).collect();
    if differences.len() < 20 {
        return None;
    }
    let whiten = match before {
        Some(noise) => noise.try_inverse()?,
        None => {
            let sizes = |c: usize| spread(differences.iter().map(|d| d[c])).unwrap_or(1.0).powi(2) + LEAST_VARIANCE;
            Matrix3::from_diagonal(&Vector3::from([sizes(0), sizes(1), sizes(2)])).try_inverse()?
        }
    };
    let (mut sum, mut total) = (Matrix3::zeros(), 0.0);
    for d in &differences {
        let weight = robust((whiten * d).dot(d));
        sum += weight * d * d.transpose();
        total += weight;
    }
    Some(sum / total + Matrix3::identity() * LEAST_VARIANCE)
}
