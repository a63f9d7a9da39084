//! What the ribs of a side, around their mean, say at each sample: sums over the ribs of the field's shapes.

use super::field::{SHAPES, shapes};
use super::means::{Aligned, LANES, Lane, Means, Whiten};
use super::ribs::Rib;
use nalgebra::{Matrix3, Vector3};

/// One and the field's shapes.
const TERMS: usize = 1 + SHAPES;

/// Sums over a side's ribs at one sample, φ₀ = 1 and φ₁… the field's shapes: Σ w φᵢ φⱼ, and Σ w φᵢ s with s the residual
/// along the template's slope.
#[derive(Clone, Copy, Default)]
pub struct Moments {
    w: [[f64; TERMS]; TERMS],
    s: [f64; TERMS],
}

impl Moments {
    /// Σ w, the weight of the ribs.
    pub fn weight(&self) -> f64 {
        self.w[0][0]
    }

    /// The weighted mean of φᵢ, i ≥ 1; of no ribs 0.
    pub fn mean(&self, i: usize) -> f64 {
        self.w[i][0] / self.w[0][0].max(1e-9)
    }

    /// Σ w φᵢ φⱼ around the weighted means of φᵢ and φⱼ, i and j ≥ 1.
    pub fn around(&self, i: usize, j: usize) -> f64 {
        self.w[i.max(j)][i.min(j)] - self.w[i][0] * self.w[j][0] / self.w[0][0]
    }

    /// Σ w φᵢ s around the weighted means.
    pub fn pull(&self, i: usize) -> f64 {
        self.s[i] - self.w[i][0] * self.s[0] / self.w[0][0]
    }
}

/// The moments of one side, and how its ribs scatter.
pub struct Scatter {
    /// At each sample.
    pub moments: Vec<Moments>,
    /// Σ w r rᵀ over all samples and ribs, r the residual from the side's mean.
    pub square: Matrix3<f64>,
    /// Σ w.
    pub weight: f64,
}

impl Scatter {
    /// Of a side's ribs around its means; `steer` is what takes a residual at each sample to its part along the template's
    /// slope.
    pub fn new(
        side: usize,
        (places, ribs): (&[Rib], &[Aligned]),
        means: &[Means],
        whiten: &Whiten,
        steer: &[Vector3<f64>],
    ) -> Self {
        let terms: Vec<[f32; TERMS]> = places.iter().map(|rib| with_constant(rib.v_mm)).collect();
        let mut moments = vec![Moments::default(); means.len()];
        // xx, yy, zz, xy, xz, yz, and the weight.
        let mut sums = [0.0f64; 7];
        for (block, moments) in moments.chunks_mut(LANES).enumerate() {
            let from = block * LANES;
            let lanes = |of: &dyn Fn(usize) -> f64| -> Lane {
                std::array::from_fn(|i| if i < moments.len() { of(from + i) as f32 } else { 0.0 })
            };
            let mean = std::array::from_fn(|c| lanes(&|k| means[k].side[side][c]));
            let steer: [Lane; 3] = std::array::from_fn(|c| lanes(&|k| steer[k][c]));
            let mut w = [[[0.0f32; LANES]; TERMS]; TERMS];
            let mut s = [[0.0f32; LANES]; TERMS];
            let mut squares = [[0.0f32; LANES]; 7];
            for (rib, terms) in ribs.iter().zip(&terms) {
                let tone = &rib.tone[block];
                let weight = whiten.weights(tone, &mean, &rib.seen[block]);
                let mut along = [0.0; LANES];
                for i in 0..LANES {
                    let r = [tone[0][i] - mean[0][i], tone[1][i] - mean[1][i], tone[2][i] - mean[2][i]];
                    along[i] = weight[i] * (steer[0][i] * r[0] + steer[1][i] * r[1] + steer[2][i] * r[2]);
                    let [x, y, z] = r.map(|r| weight[i] * r);
                    squares[0][i] += x * r[0];
                    squares[1][i] += y * r[1];
                    squares[2][i] += z * r[2];
                    squares[3][i] += x * r[1];
                    squares[4][i] += x * r[2];
                    squares[5][i] += y * r[2];
                    squares[6][i] += weight[i];
                }
                for a in 0..TERMS {
                    for i in 0..LANES {
                        s[a][i] += terms[a] * along[i];
                    }
                    for b in 0..=a {
                        let product = terms[a] * terms[b];
                        for i in 0..LANES {
                            w[a][b][i] += product * weight[i];
                        }
                    }
                }
            }
            for (sum, lanes) in sums.iter_mut().zip(&squares) {
                *sum += lanes.iter().map(|&x| f64::from(x)).sum::<f64>();
            }
            for (i, moments) in moments.iter_mut().enumerate() {
                for a in 0..TERMS {
                    moments.s[a] = f64::from(s[a][i]);
                    for b in 0..=a {
                        moments.w[a][b] = f64::from(w[a][b][i]);
                    }
                }
            }
        }
        let [xx, yy, zz, xy, xz, yz, weight] = sums;
        Self { moments, square: Matrix3::new(xx, xy, xz, xy, yy, yz, xz, yz, zz), weight }
    }
}

/// One and the field's shapes at distance v.
fn with_constant(v_mm: f64) -> [f32; TERMS] {
    let shapes = shapes(v_mm);
    std::array::from_fn(|k| if k == 0 { 1.0 } else { shapes[k - 1] as f32 })
}

#[cfg(test)]
mod tests {
    use super::super::means::robust;
    use super::*;

    #[test]
    fn the_sums_are_those_of_the_ribs_one_by_one() {
        let n = 37;
        let places: Vec<Rib> = (0..5).map(|k| Rib::new(2.0 + 3.0 * f64::from(k), &[], &[])).collect();
        let sample = |rib: usize, k: usize| {
            let wave = |c: usize| ((rib * 7 + k * 3 + c) as f32 * 0.37).sin() * 0.1;
            ([0, 1, 2].map(wave), if (rib + k).is_multiple_of(6) { 0.0 } else { 1.0 })
        };
        let ribs: Vec<Aligned> = (0..5).map(|rib| Aligned::new((0..n).map(|k| sample(rib, k)))).collect();
        let mut means = vec![Means::default(); n];
        means.iter_mut().for_each(|m| m.side[1] = [0.01, -0.02, 0.03]);
        let inverse = Matrix3::new(90.0, 5.0, 0.0, 5.0, 70.0, -8.0, 0.0, -8.0, 110.0);
        let steer = vec![Vector3::new(3.0, -1.0, 2.0); n];
        let scatter = Scatter::new(1, (&places, &ribs), &means, &Whiten::new(&inverse), &steer);
        let (mut weight_of_all, mut square) = (0.0, Matrix3::zeros());
        for k in 0..n {
            let (mut w, mut wv, mut wvv, mut ws, mut wvs) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for (rib, p) in places.iter().enumerate() {
                let (tone, seen) = sample(rib, k);
                let r = Vector3::from_fn(|c, _| f64::from(tone[c]) - means[k].side[1][c]);
                let weight = f64::from(seen) * robust((inverse * r).dot(&r));
                w += weight;
                wv += weight * p.v_mm;
                wvv += weight * p.v_mm * p.v_mm;
                ws += weight * steer[k].dot(&r);
                wvs += weight * p.v_mm * steer[k].dot(&r);
                square += weight * r * r.transpose();
            }
            weight_of_all += w;
            let m = &scatter.moments[k];
            assert!((m.weight() - w).abs() < 1e-5 && (m.mean(1) - wv / w).abs() < 1e-4);
            assert!(
                (m.around(1, 1) - (wvv - wv * wv / w)).abs() < 1e-2 && (m.pull(1) - (wvs - wv * ws / w)).abs() < 1e-4
            );
        }
        assert!((scatter.weight - weight_of_all).abs() < 1e-3 && (scatter.square - square).norm() < 1e-5);
    }
}
