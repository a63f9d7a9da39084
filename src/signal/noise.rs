//! What two signals that show the same lines differ by: its covariance over the channels, and how far it is correlated along them.

use super::Signal;
use nalgebra::{Matrix3, Vector3};

/// Degrees of freedom of the t distribution that differences follow: a pin, a knot or an edge laid a little aside is far out and no
/// noise.
const TAILS: f64 = 4.0;
/// The autocorrelation of the noise is summed up to this length, millimetres, or to where it falls below this.
const MOST_CORRELATED_MM: f64 = 12.0;
const LEAST_CORRELATION: f64 = 0.1;
/// Nothing closer than this is independent, millimetres: what differs in a line mostly differs all across it.
pub const LEAST_INDEPENDENT_MM: f64 = 2.0;
/// Lines of two signals always differ by this share of their own square: cloth is not print.
pub const UNLIKE: f64 = 0.02;
/// Variance that is added to every channel (natural logarithm of light): a digit of 8 bits.
const LEAST_VARIANCE: f64 = 1e-6;

/// Noise of the difference of two signals.
#[derive(Clone, Debug)]
pub struct Noise {
    /// Covariance over the channels: the scale matrix of a t distribution.
    pub covariance: Matrix3<f64>,
    /// Samples so far apart are independent, millimetres.
    pub independent_mm: f64,
    /// Takes a difference to one whose squares add up.
    whiten: [[f32; 3]; 3],
    /// And back.
    root: Matrix3<f64>,
}

impl Default for Noise {
    /// White, of variance 1 in every channel.
    fn default() -> Self {
        Self::new(Matrix3::identity(), 1.0)
    }
}

impl Noise {
    /// With this covariance and correlation length.
    pub fn new(covariance: Matrix3<f64>, independent_mm: f64) -> Self {
        let covariance = covariance + Matrix3::identity() * LEAST_VARIANCE;
        let root = covariance.cholesky().map_or_else(Matrix3::identity, |root| root.l());
        let inverse = root.try_inverse().unwrap_or_else(Matrix3::identity);
        let whiten = std::array::from_fn(|r| std::array::from_fn(|c| inverse[(r, c)] as f32));
        Self { covariance, independent_mm, whiten, root }
    }

    /// A whitened difference as it was.
    pub fn coloured(&self, difference: [f32; 3]) -> Vector3<f64> {
        self.root * Vector3::from(difference.map(f64::from))
    }

    /// What a difference weighs: less the less likely a t distribution makes it.
    pub fn weight(&self, difference: &Vector3<f64>) -> f64 {
        weight(self.root.solve_lower_triangular(difference).map_or(0.0, |white| white.norm_squared()))
    }

    /// A signal's values in units of the noise.
    pub fn whitened(&self, value: &[[f32; 3]]) -> Vec<[f32; 3]> {
        let w = &self.whiten;
        let one = |v: &[f32; 3]| {
            [w[0][0] * v[0], w[1][0] * v[0] + w[1][1] * v[1], w[2][0] * v[0] + w[2][1] * v[1] + w[2][2] * v[2]]
        };
        value.iter().map(one).collect()
    }

    /// The noise of differences, from a first idea of it: each weighs by how likely a t distribution makes it. `None` of fewer than
    /// ten.
    ///
    /// # Source
    /// Maximum likelihood of the multivariate t distribution by iterated reweighting: Lange, Little, Taylor, Journal of the American
    /// Statistical Association 84, 1989 (from memory).
    pub fn of(differences: &[Option<Vector3<f64>>], step_mm: f64, first: &Self) -> Option<Self> {
        const ROUNDS: usize = 5;
        let seen: Vec<&Vector3<f64>> = differences.iter().flatten().collect();
        if seen.len() < 10 {
            return None;
        }
        let mut covariance = first.covariance;
        for _ in 0..ROUNDS {
            let inverse = covariance.try_inverse()?;
            let mut sum = Matrix3::zeros();
            for d in &seen {
                sum += *d * d.transpose() * weight((inverse * *d).dot(d));
            }
            covariance = sum / seen.len() as f64 + Matrix3::identity() * LEAST_VARIANCE;
        }
        let independent_mm = independent(differences, &covariance, step_mm)?;
        Some(Self::new(covariance, independent_mm))
    }
}

/// What a difference of this square, in units of the noise, weighs in the maximum likelihood of a t distribution.
fn weight(square: f64) -> f64 {
    (TAILS + 3.0) / (TAILS + square)
}

/// Minus the logarithm of the likelihood of a squared whitened difference, 0 for none.
pub fn loss(square: f32) -> f32 {
    const HALF: f32 = 0.5 * (TAILS as f32 + 3.0);
    HALF * (square * (1.0 / TAILS as f32)).ln_1p()
}

/// The likelihood itself, 1 for no difference.
pub fn likelihood(square: f32) -> f32 {
    // The power of (4 + 3) / 2.
    let base = 1.0 / (1.0 + square * (1.0 / TAILS as f32));
    base * base * base * base.sqrt()
}

/// The length over which differences are independent, millimetres: the sum of their autocorrelation.
fn independent(differences: &[Option<Vector3<f64>>], covariance: &Matrix3<f64>, step_mm: f64) -> Option<f64> {
    let inverse = covariance.try_inverse()?;
    // Far ones count like near ones: their weight is that of the covariance.
    let held = |d: &Vector3<f64>| d * weight((inverse * d).dot(d)).sqrt();
    let held: Vec<Option<Vector3<f64>>> = differences.iter().map(|d| d.as_ref().map(held)).collect();
    let correlation = |lag: usize| -> f64 {
        let pairs = held.iter().zip(&held[lag.min(held.len())..]).filter_map(|(a, b)| Some(((*a)?, (*b)?)));
        let (sum, count) = pairs.fold((0.0, 0.0f64), |(sum, count), (a, b)| (sum + (inverse * a).dot(&b), count + 1.0));
        sum / count.max(1.0)
    };
    let own = correlation(0);
    let most = (MOST_CORRELATED_MM / step_mm).ceil() as usize;
    let shares = (1..most.max(2)).map(|lag| correlation(lag) / own).take_while(|share| *share > LEAST_CORRELATION);
    Some((step_mm * (1.0 + 2.0 * shares.sum::<f64>())).max(LEAST_INDEPENDENT_MM))
}

/// Covariance over the channels of what signals show, around zero.
pub fn energy(signals: &[&Signal]) -> Matrix3<f64> {
    let (mut sum, mut count) = (Matrix3::zeros(), 0.0);
    for (value, weight) in signals {
        for (v, _) in value.iter().zip(weight).filter(|(_, w)| **w > 0.0) {
            let v = Vector3::from(v.map(f64::from));
            sum += v * v.transpose();
            count += 1.0;
        }
    }
    sum / f64::max(count, 1.0)
}
