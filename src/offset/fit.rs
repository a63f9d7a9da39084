//! The joint fit: one template, displaced on every rib of both sides.
//!
//! Every rib's relief is modelled as one common template T, carried along by the field of [`super::field`]:
//! p(u) ≈ T(u − D). The template is eliminated where it stands (each sample's mean over the ribs), so that Gauss-Newton
//! works on the field alone. Channels are whitened by the residuals' covariance, so that shade, which is common to all
//! channels, weighs little beside colour; single samples that do not fit (pins, thread) lose their weight. How freely
//! the field varies is chosen by the evidence (marginal likelihood), and the noise is scaled by its real correlation
//! along the seam.

use super::field::{ACTIVE, Freedom, Layout, Local};
use crate::lines::relief::{self, Profile};
use nalgebra::{DMatrix, DVector, Matrix3, Vector3};

/// Widths of the smooth that the fit begins with, millimetres: from coarse, for its reach, to none.
const COARSE_TO_FINE_MM: [f64; 4] = [1.6, 0.8, 0.35, 0.0];
/// Rounds of Gauss-Newton at each width.
const ROUNDS: usize = 4;
/// Random walks tried for the offset, mm per √mm.
const WALKS: [f64; 6] = [0.001, 0.006, 0.02, 0.06, 0.16, 0.4];
/// Jitters tried, millimetres.
const JITTERS_MM: [f64; 5] = [0.002, 0.01, 0.03, 0.08, 0.2];
/// Freedoms of slope and bow tried.
const DRAPES: [f64; 4] = [0.03, 0.3, 1.0, 3.0];
/// A whitened residual of this size has half its weight.
const HALF_WEIGHT: f64 = 3.0;
/// Standard deviation of the smooth that takes a rib's own shade off, millimetres.
const SHADE_MM: f64 = 15.0;
/// Reach of the residuals' correlation along the seam that is counted, millimetres.
const CORRELATION_MM: f64 = 4.0;

/// The field as fitted.
#[derive(Clone, Debug)]
pub struct Fit {
    /// Where the parameters stand.
    pub layout: Layout,
    /// The parameters.
    pub theta: DVector<f64>,
    /// Their covariance.
    pub covariance: DMatrix<f64>,
    /// The common template, one sample a step of t.
    pub template: Vec<[f64; 3]>,
    /// Information on the offset at each sample of t (1/mm², the noise's correlation allowed for).
    pub information: Vec<f64>,
    /// The variance of the residuals is this many times what white noise of their size would bring to the offset.
    pub correlation_factor: f64,
    /// The freedom that the data chose.
    pub freedom: Freedom,
    /// Weight left after the robust weighting, as a share of all samples.
    pub kept_share: f64,
}

/// What the fit reads: both sides' profiles and the frame.
pub struct Data<'a> {
    /// Profiles of the first and the second side.
    pub sides: [&'a [Profile]; 2],
    /// Distance between samples, millimetres.
    pub step_mm: f64,
    /// Number of samples along u.
    pub samples: usize,
}

/// One linearisation of the fit.
struct Linear {
    normal: DMatrix<f64>,
    right: DVector<f64>,
    template: Vec<[f64; 3]>,
    information: Vec<f64>,
    score: Vec<f64>,
    noise: Matrix3<f64>,
    kept_share: f64,
}

/// Fits the field from a first offset and the sides' slopes; `None` when the data do not fix it.
pub fn joint(data: &Data, first_offset_mm: f64, slopes: [f64; 2]) -> Option<Fit> {
    let length_mm = data.step_mm * (data.samples - 1) as f64;
    let layout = Layout::new(length_mm);
    let mut theta = layout.constant(first_offset_mm, slopes);
    let mut freedom = Freedom { walk: 0.06, drape: 0.3, jitter_mm: 0.02 };
    let mut factor = 6.0;
    let mut noise = None;
    let mut last = None;
    for width_mm in COARSE_TO_FINE_MM {
        let smoothed: [Vec<Profile>; 2] = data.sides.map(|side| smoothed(side, width_mm / data.step_mm));
        let view = Data { sides: [&smoothed[0], &smoothed[1]], ..*data };
        let rounds = if width_mm == 0.0 { 3 * ROUNDS } else { ROUNDS };
        noise = None;
        for round in 0..rounds {
            let linear = linearise(&view, &layout, &theta, noise.as_ref())?;
            noise = Some(linear.noise);
            if round >= 1 {
                factor = correlation_factor(&linear, data.step_mm);
            }
            let fine = width_mm == 0.0 && round >= ROUNDS - 1;
            let tails = fine.then_some(&theta);
            if fine && round % ROUNDS == ROUNDS - 1 && round + 1 < rounds {
                freedom = best_freedom(&layout, &linear, &theta, slopes, factor, freedom)?;
            }
            let (precision, centre) = layout.prior(freedom, slopes, tails);
            let step = (&linear.normal / factor + &precision)
                .cholesky()?
                .solve(&(&linear.right / factor + &precision * (centre - &theta)));
            theta += limited(step, 0.6 * width_mm.max(0.5));
            if !theta.iter().all(|x| x.is_finite()) {
                return None;
            }
            last = Some(linear);
        }
    }
    let linear = last?;
    noise?;
    let (precision, _) = layout.prior(freedom, slopes, Some(&theta));
    let covariance = (&linear.normal / factor + precision).cholesky()?.inverse();
    let information = linear.information.iter().map(|i| i / factor).collect();
    Some(Fit {
        layout,
        theta,
        covariance,
        template: linear.template,
        information,
        correlation_factor: factor,
        freedom,
        kept_share: linear.kept_share,
    })
}

/// A step whose largest part is no longer than `most` (millimetres for δ; slopes and bows are smaller anyway).
fn limited(step: DVector<f64>, most: f64) -> DVector<f64> {
    let largest = step.amax();
    if largest > most { step * (most / largest) } else { step }
}

fn smoothed(side: &[Profile], sigma_samples: f64) -> Vec<Profile> {
    if sigma_samples < 0.5 {
        return side.to_vec();
    }
    side.iter()
        .map(|p| Profile { tone: relief::smooth(&p.tone, &p.weight, sigma_samples), ..p.clone() })
        .collect()
}

/// Moments of the ribs of both sides at one t: Σ w vᵐ and Σ w vᵐ s, side by side.
#[derive(Default, Clone, Copy)]
struct Moments {
    w: [[f64; 5]; 2],
    s: [[f64; 3]; 2],
}

fn linearise(data: &Data, layout: &Layout, theta: &DVector<f64>, noise: Option<&Matrix3<f64>>) -> Option<Linear> {
    let n = data.samples;
    let ribs: Vec<(usize, &Profile)> =
        data.sides.iter().enumerate().flat_map(|(s, side)| side.iter().map(move |p| (s, p))).collect();
    // Aligned reliefs, rib by rib.
    let mut aligned: Vec<Vec<([f32; 3], f32)>> = Vec::with_capacity(ribs.len());
    let field: Vec<Local> = (0..n).map(|k| layout.at(theta, k as f64 * data.step_mm)).collect();
    for &(side, p) in &ribs {
        aligned.push(
            field
                .iter()
                .enumerate()
                .map(|(k, f)| {
                    relief::at(&p.tone, &p.weight, k as f64 + f.shift_mm(side, p.v_mm) / data.step_mm)
                })
                .collect(),
        );
    }
    let whiten = match noise {
        Some(noise) => noise.try_inverse()?,
        None => first_noise(&aligned, n).try_inverse()?,
    };
    let shaded = template_of(&aligned, n, &whiten);
    take_off_shade(&mut aligned, &shaded, SHADE_MM / data.step_mm);
    let template = template_of(&aligned, n, &whiten);
    let mut normal = DMatrix::zeros(layout.total(), layout.total());
    let mut right = DVector::zeros(layout.total());
    let (mut information, mut score) = (vec![0.0; n], vec![0.0; n]);
    let mut covariance = Matrix3::zeros();
    let (mut weight_sum, mut count) = (0.0, 0.0);
    for k in 0..n {
        let (before, after) = (template[k.saturating_sub(1)], template[(k + 1).min(n - 1)]);
        let spread = if k == 0 || k == n - 1 { 1.0 } else { 2.0 };
        let slope = Vector3::from_fn(|c, _| (after[c] - before[c]) / (spread * data.step_mm));
        let steer = whiten * slope;
        let gain = slope.dot(&steer);
        let mut m = Moments::default();
        for (r, &(side, p)) in ribs.iter().enumerate() {
            let (value, valid) = aligned[r][k];
            if valid == 0.0 {
                continue;
            }
            let residual = Vector3::from_fn(|c, _| f64::from(value[c]) - template[k][c]);
            let weight = robust((whiten * residual).dot(&residual));
            covariance += weight * residual * residual.transpose();
            weight_sum += weight;
            count += 1.0;
            let s = steer.dot(&residual);
            let mut power = weight;
            for order in 0..5 {
                m.w[side][order] += power;
                if order < 3 {
                    m.s[side][order] += power * s;
                }
                power *= p.v_mm;
            }
        }
        let (wl, wr) = (m.w[0][0], m.w[1][0]);
        if wl < 2.0 || wr < 2.0 {
            // One side alone cannot say where the offset is, and its template would follow only itself.
            continue;
        }
        information[k] = gain * wl * wr / (wl + wr);
        score[k] = (m.s[0][0] * wr - m.s[1][0] * wl) / (wl + wr);
        accumulate(&mut normal, &mut right, layout, k as f64 * data.step_mm, &m, gain);
    }
    if count < 100.0 || weight_sum <= 0.0 {
        return None;
    }
    let noise = covariance / weight_sum + Matrix3::identity() * 1e-7;
    Some(Linear { normal, right, template, information, score, noise, kept_share: weight_sum / count })
}

/// Takes each rib's slow difference from the template off it: light and drape that only this rib has.
///
/// The difference is smoothed, not the rib, so that lines near the ends of the seam keep their shape.
fn take_off_shade(aligned: &mut [Vec<([f32; 3], f32)>], template: &[[f64; 3]], sigma_samples: f64) {
    for rib in aligned {
        let difference: Vec<[f32; 3]> = rib
            .iter()
            .zip(template)
            .map(|((value, _), t)| std::array::from_fn(|c| value[c] - t[c] as f32))
            .collect();
        let weight: Vec<f32> = rib.iter().map(|(_, w)| *w).collect();
        let shade = relief::smooth(&difference, &weight, sigma_samples);
        for ((value, _), s) in rib.iter_mut().zip(&shade) {
            for c in 0..3 {
                value[c] -= s[c];
            }
        }
    }
}

/// The weight of a sample whose squared whitened residual over three channels is this.
fn robust(square: f64) -> f64 {
    1.0 / (1.0 + square / (3.0 * HALF_WEIGHT * HALF_WEIGHT))
}

/// Covariance of the channels' residuals around the plain mean, from their typical (median) size.
fn first_noise(aligned: &[Vec<([f32; 3], f32)>], n: usize) -> Matrix3<f64> {
    let mut sizes: [Vec<f64>; 3] = Default::default();
    for k in 0..n {
        let (mean, count) = mean_at(aligned, k, |_| 1.0);
        if count < 2.0 {
            continue;
        }
        for rib in aligned.iter().filter(|rib| rib[k].1 > 0.0) {
            for c in 0..3 {
                sizes[c].push((f64::from(rib[k].0[c]) - mean[c]).abs());
            }
        }
    }
    let variance = sizes.map(|mut s| {
        let middle = s.len() / 2;
        if s.is_empty() { 1.0 } else { (1.4826 * *s.select_nth_unstable_by(middle, f64::total_cmp).1).powi(2) + 1e-7 }
    });
    Matrix3::from_diagonal(&Vector3::from(variance))
}

fn mean_at(aligned: &[Vec<([f32; 3], f32)>], k: usize, weight: impl Fn(&[f32; 3]) -> f64) -> ([f64; 3], f64) {
    let (mut sum, mut total) = ([0.0; 3], 0.0);
    for rib in aligned {
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

/// The template: at each sample the robust mean over the ribs.
fn template_of(aligned: &[Vec<([f32; 3], f32)>], n: usize, whiten: &Matrix3<f64>) -> Vec<[f64; 3]> {
    (0..n)
        .map(|k| {
            let (mut mean, _) = mean_at(aligned, k, |_| 1.0);
            for _ in 0..2 {
                let now = mean;
                let weight = |value: &[f32; 3]| {
                    let r = Vector3::from_fn(|c, _| f64::from(value[c]) - now[c]);
                    robust((whiten * r).dot(&r))
                };
                mean = mean_at(aligned, k, weight).0;
            }
            mean
        })
        .collect()
}

/// Adds one sample's share to the normal equations: the ribs' directions with their weighted mean taken off, which
/// eliminates the template.
fn accumulate(
    normal: &mut DMatrix<f64>,
    right: &mut DVector<f64>,
    layout: &Layout,
    t_mm: f64,
    m: &Moments,
    gain: f64,
) {
    let (index, hat) = layout.active(t_mm);
    // Side, power of v and factor of each active parameter; δ belongs to both sides.
    let part = |p: usize, side: usize| -> Option<(usize, f64)> {
        match p / 2 {
            0 | 5 => Some((0, if side == 0 { -0.5 } else { 0.5 })),
            1 | 2 => (p / 2 - 1 == side).then_some((1, 1.0)),
            _ => (p / 2 - 3 == side).then_some((2, 1.0)),
        }
    };
    let total = m.w[0][0] + m.w[1][0];
    let (mut mean, mut pull) = ([0.0; ACTIVE], [0.0; ACTIVE]);
    let all: f64 = m.s[0][0] + m.s[1][0];
    for p in 0..ACTIVE {
        for side in 0..2 {
            if let Some((order, factor)) = part(p, side) {
                mean[p] += factor * m.w[side][order];
                pull[p] += factor * m.s[side][order];
            }
        }
    }
    for p in 0..ACTIVE {
        right[index[p]] -= hat[p] * (pull[p] - mean[p] * all / total);
        for q in 0..ACTIVE {
            let mut both = 0.0;
            for side in 0..2 {
                if let (Some((i, fi)), Some((j, fj))) = (part(p, side), part(q, side)) {
                    both += fi * fj * m.w[side][i + j];
                }
            }
            normal[(index[p], index[q])] += gain * hat[p] * hat[q] * (both - mean[p] * mean[q] / total);
        }
    }
}

/// How many times larger the variance of the offset's score is than white noise would make it.
fn correlation_factor(linear: &Linear, step_mm: f64) -> f64 {
    let reach = (CORRELATION_MM / step_mm).round() as usize;
    let white: f64 = linear.information.iter().sum();
    let score = &linear.score;
    let mut sum = 0.0;
    for lag in 0..=reach.min(score.len().saturating_sub(1)) {
        let taper = 1.0 - lag as f64 / (reach + 1) as f64;
        let product: f64 = score.iter().zip(&score[lag..]).map(|(a, b)| a * b).sum();
        sum += if lag == 0 { product } else { 2.0 * taper * product };
    }
    if white > 0.0 { (sum / white).max(1.0) } else { 1.0 }
}

/// The freedom with the largest marginal likelihood of the linearised model, searched one part after the other.
fn best_freedom(
    layout: &Layout,
    linear: &Linear,
    theta: &DVector<f64>,
    slopes: [f64; 2],
    factor: f64,
    start: Freedom,
) -> Option<Freedom> {
    let normal = &linear.normal / factor;
    let pull = &normal * theta + &linear.right / factor;
    let evidence = |freedom: Freedom| -> Option<f64> {
        let (precision, centre) = layout.prior(freedom, slopes, None);
        let prior_root = precision.clone().cholesky()?;
        let posterior = (&normal + &precision).cholesky()?;
        let b = &pull + &precision * &centre;
        let log_determinant = |l: &DMatrix<f64>| 2.0 * l.diagonal().iter().map(|x| x.ln()).sum::<f64>();
        Some(
            0.5 * (log_determinant(prior_root.l_dirty()) - log_determinant(posterior.l_dirty()))
                + 0.5 * b.dot(&posterior.solve(&b))
                - 0.5 * centre.dot(&(&precision * &centre)),
        )
    };
    let best = |candidates: Vec<Freedom>| {
        candidates
            .into_iter()
            .filter_map(|freedom| Some((evidence(freedom)?, freedom)))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, freedom)| freedom)
    };
    let mut freedom = start;
    for _ in 0..2 {
        freedom = best(DRAPES.iter().map(|&drape| Freedom { drape, ..freedom }).collect())?;
        let pairs = WALKS.iter().flat_map(|&walk| JITTERS_MM.iter().map(move |&jitter_mm| (walk, jitter_mm)));
        freedom = best(pairs.map(|(walk, jitter_mm)| Freedom { walk, jitter_mm, ..freedom }).collect())?;
    }
    Some(freedom)
}
