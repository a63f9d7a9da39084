//! Could a line belong to another partner? Two colours that are hardly apart leave a doubt of a whole line's distance.
//!
//! With both sides aligned by the fit, the second side is moved on by every lag: where the sides then fit almost as well,
//! the other partner is as good. A lag at which they fit just as well is a repeat of the cloth and no other partner.

use super::means::Means;
use nalgebra::{Matrix3, Vector3};

/// Lags from here on are another partner and not the same line, millimetres.
const NEAREST_MM: f64 = 1.5;
/// Lags up to this share of the seam are tried.
const REACH_SHARE: f64 = 0.35;
/// A lag at which the misfit is less than this many times the fit's own is a repeat of the cloth.
const SAME: f64 = 1.5;
/// A whitened difference is counted up to this square: a pin is no partner.
const MOST_SQUARE: f64 = 60.0;
/// Samples this far apart err independently, millimetres.
const INDEPENDENT_MM: f64 = 1.0;

/// Standard uncertainty that the doubt about the partner lines brings to the offset, millimetres: the distance of every
/// other partner by the root of its chance.
///
/// `noise` is the covariance of the difference of the sides' means.
pub fn doubt_mm(means: &[Means], noise: &Matrix3<f64>, step_mm: f64) -> f64 {
    let Some(whiten) = noise.try_inverse().and_then(|inverse| inverse.cholesky()) else { return 0.0 };
    let whiten = whiten.l().transpose();
    let side = |side: usize| -> Vec<Option<Vector3<f64>>> {
        means.iter().map(|m| m.both().then(|| whiten * Vector3::from(m.side[side]))).collect()
    };
    let (first, second) = (side(0), side(1));
    let reach = (REACH_SHARE * means.len() as f64) as isize;
    let misfit: Vec<Option<f64>> = (-reach..=reach).map(|lag| misfit(&first, &second, lag)).collect();
    let Some(own) = misfit.get(reach as usize).copied().flatten() else { return 0.0 };
    let independent = means.iter().filter(|m| m.both()).count() as f64 * step_mm / INDEPENDENT_MM;
    let mut square = 0.0;
    for k in 1..misfit.len().saturating_sub(1) {
        let lag_mm = (k as f64 - reach as f64) * step_mm;
        let (Some(before), Some(here), Some(after)) = (misfit[k - 1], misfit[k], misfit[k + 1]) else { continue };
        let lowest = here <= before && here < after;
        if lag_mm.abs() < NEAREST_MM || !lowest || here < SAME * own {
            continue;
        }
        // Both misfits are in units of the noise, so that half their difference is the logarithm of the odds.
        let odds = (-0.5 * independent * (here - own) / own.max(1.0)).exp();
        square += lag_mm * lag_mm * odds / (1.0 + odds);
    }
    square.sqrt()
}

/// Mean square of the whitened difference with the second side moved back by `lag` samples; `None` where too little of
/// the two overlaps.
fn misfit(first: &[Option<Vector3<f64>>], second: &[Option<Vector3<f64>>], lag: isize) -> Option<f64> {
    let n = first.len() as isize;
    let (mut sum, mut count) = (0.0, 0usize);
    for k in (-lag).max(0)..(n - lag.max(0)) {
        if let (Some(a), Some(b)) = (first[k as usize], second[(k + lag) as usize]) {
            sum += (a - b).norm_squared().min(MOST_SQUARE);
            count += 1;
        }
    }
    (2 * count > first.len()).then(|| sum / count as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A piece of seam with a line in every `apart_mm`, every other one `weaker` by so much, on both sides.
    fn lines(length_mm: f64, apart_mm: f64, weaker: f64) -> Vec<Means> {
        let step_mm = 0.25;
        (0..(length_mm / step_mm) as usize)
            .map(|k| {
                let (u, noise) = (k as f64 * step_mm, 0.03 * (k as f64 * 1.7).sin());
                let line =
                    |j: i32| (-(u - apart_mm * f64::from(j)).powi(2)).exp() * if j % 2 == 0 { 1.0 } else { weaker };
                let value: f64 = (0..=(length_mm / apart_mm) as i32).map(line).sum();
                Means { side: [[value + noise; 3], [value - noise; 3]], weight: [10.0; 2] }
            })
            .collect()
    }

    #[test]
    fn only_lines_hardly_apart_leave_a_doubt() {
        let noise = Matrix3::identity() * 2e-3;
        assert!(doubt_mm(&lines(120.0, 10.0, 0.3), &noise, 0.25) < 1e-6);
        // Only a short piece leaves a doubt: on 120 mm even such lines are told.
        let doubt = doubt_mm(&lines(16.0, 5.0, 0.905), &noise, 0.25);
        assert!(doubt > 0.5, "{doubt}");
        // Every line alike: the repeat is 10 mm, and there is no other partner.
        assert!(doubt_mm(&lines(120.0, 10.0, 1.0), &noise, 0.25) < 1e-6);
    }
}
