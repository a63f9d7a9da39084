//! The horizon that is left in the straightened picture, by robust least squares over what the ribs saw.

use super::ribs::Sighting;
use crate::smooth::{biweight, spread};
use nalgebra::{Matrix2, SMatrix, SVector, Vector2};

/// Parameters: the horizon (2), then slope and spacing of the first family, slope and spacing of the second, and the turn
/// of one side of the seam against the other.
const PARAMETERS: usize = 7;
/// Rounds of the weights: the first few forgive more.
const ROUNDS: usize = 12;
const FORGIVING: usize = 5;
/// Least scatter of the cloth itself, slope or relative spacing.
const LEAST_SCATTER: f64 = 0.002;
/// Cells of the picture, a side, within which the cloth's own waves are taken to be one.
const CELLS: usize = 4;
/// The sides are fitted with a turn of their own where the slopes scatter by more than this, and it brings the scatter
/// down to this share.
const FLARED_SCATTER: f64 = 0.012;
const FLARED_SHARE: f64 = 0.7;
/// Places at which the seam may cut the picture, as shares of its half length.
const CUTS: [f64; 7] = [-0.45, -0.3, -0.15, 0.0, 0.15, 0.3, 0.45];
/// Prior standard deviation of every parameter (times half the picture's length for the horizon): keeps what nothing
/// tells at zero.
const PRIOR: f64 = 0.5;

/// What the ribs of one family saw.
pub struct Family {
    /// Direction of the lines in the straightened plane, radians.
    pub along_rad: f64,
    /// Slopes of the lines.
    pub slopes: Vec<Sighting>,
    /// Logarithms of their spacing over the family's own.
    pub spacings: Vec<Sighting>,
}

/// What is left to straighten.
pub struct Left {
    /// Horizon in the straightened plane, per unit.
    pub horizon: [f64; 2],
    /// Its covariance.
    pub covariance: Matrix2<f64>,
    /// What to add to each family's direction, radians.
    pub turn_rad: [f64; 2],
    /// Scatter of the slopes and of the spacings about the fit.
    pub scatter: [f64; 2],
    /// Share of the sightings that agree with the fit.
    pub agreeing: f64,
    /// Share of the picture in which each family's lines are seen.
    pub spread: [f64; 2],
    /// Number of slopes of each family that agree with the fit.
    pub slopes: [f64; 2],
}

struct Row {
    derivative: SVector<f64, PARAMETERS>,
    value: f64,
    variance: f64,
    kind: usize,
    cell: usize,
    /// Place in the plane, in half lengths of the picture.
    place: [f64; 2],
}

/// The parameter that is the turn of one side.
const FLARE: usize = 6;

/// Fits the horizon; `reach` is half the picture's length in plane units. `None` where there is nothing to fit.
///
/// In a family's frame, lines y = const of a plane whose horizon is left at p x + q y = 1 are seen with the slope −p y and
/// with a spacing of 1 − p x − 2 q y of their own, to first order. Where the two sides of a seam meet at an angle (flare),
/// both families of one side are turned against the other: a cut down or across the picture is looked for.
pub fn fit(families: &[Family], reach: f64) -> Option<Left> {
    let mut rows = rows(families, reach);
    let plain = solve(&rows, reach)?;
    if plain.scatter[0] <= FLARED_SCATTER {
        return Some(plain);
    }
    let mut best: Option<Left> = None;
    for axis in 0..2 {
        for cut in CUTS {
            for row in rows.iter_mut().filter(|row| row.kind == 0) {
                row.derivative[FLARE] = if row.place[axis] > cut { 0.5 } else { -0.5 };
            }
            let Some(cut) = solve(&rows, reach) else { continue };
            if best.as_ref().is_none_or(|b| cut.scatter[0] < b.scatter[0]) {
                best = Some(cut);
            }
        }
    }
    Some(best.filter(|b| b.scatter[0] < FLARED_SHARE * plain.scatter[0]).unwrap_or(plain))
}

fn solve(rows: &[Row], reach: f64) -> Option<Left> {
    if rows.len() < 4 * PARAMETERS {
        return None;
    }
    let mut theta = SVector::<f64, PARAMETERS>::zeros();
    let mut scatter = [0.05f64; 2];
    let mut found = None;
    for round in 0..ROUNDS {
        let weight = |row: &Row| -> f64 {
            let variance = row.variance + scatter[row.kind].powi(2);
            let z2 = (row.value - row.derivative.dot(&theta)).powi(2) / variance;
            let trust = if round < FORGIVING { 1.0 / (1.0 + z2 / 4.0) } else { biweight(z2) };
            trust / variance
        };
        let mut normal = SMatrix::<f64, PARAMETERS, PARAMETERS>::identity() / (PRIOR * PRIOR);
        let mut right = SVector::<f64, PARAMETERS>::zeros();
        for row in rows {
            let w = weight(row);
            normal += w * row.derivative * row.derivative.transpose();
            right += w * row.value * row.derivative;
        }
        let inverse = normal.try_inverse()?;
        theta = inverse * right;
        let residual = |row: &Row| row.value - row.derivative.dot(&theta);
        for kind in 0..2 {
            let of_kind = rows.iter().filter(|r| r.kind == kind);
            scatter[kind] = spread(of_kind.map(residual)).unwrap_or(LEAST_SCATTER).max(LEAST_SCATTER);
        }
        // Neighbours err together: the scores of a cell count as one.
        let cells = 4 * CELLS * CELLS;
        let mut scores = vec![SVector::<f64, PARAMETERS>::zeros(); cells];
        let (mut agreeing, mut slopes) = (0.0, [0.0; 2]);
        for row in rows {
            let variance = row.variance + scatter[row.kind].powi(2);
            let z2 = residual(row).powi(2) / variance;
            scores[row.cell] += biweight(z2) / variance * residual(row) * row.derivative;
            if z2 < 9.0 {
                agreeing += 1.0;
                slopes[row.cell / (2 * CELLS * CELLS)] += if row.kind == 0 { 1.0 } else { 0.0 };
            }
        }
        let used = scores.iter().filter(|s| s.norm() > 0.0).count() as f64;
        let mut middle = SMatrix::<f64, PARAMETERS, PARAMETERS>::zeros();
        scores.iter().for_each(|s| middle += s * s.transpose());
        let covariance = inverse * middle * inverse * (used / (used - PARAMETERS as f64).max(1.0)) + inverse;
        found = Some(Left {
            horizon: [theta[0] / reach, theta[1] / reach],
            covariance: covariance.fixed_view::<2, 2>(0, 0) / (reach * reach),
            turn_rad: [theta[2], theta[4]],
            scatter,
            agreeing: agreeing / rows.len() as f64,
            slopes,
            spread: [0, 1].map(|family| {
                let cells = 2 * family * CELLS * CELLS;
                let seen = scores[cells..cells + CELLS * CELLS].iter().filter(|s| s.norm() > 0.0).count();
                seen as f64 / (CELLS * CELLS) as f64
            }),
        });
    }
    found
}

fn rows(families: &[Family], reach: f64) -> Vec<Row> {
    let mut rows = Vec::new();
    for (k, family) in families.iter().enumerate() {
        let (sin, cos) = family.along_rad.sin_cos();
        // p and q of the family's frame from the plane's.
        let (p, q) = (Vector2::new(cos, sin), Vector2::new(-sin, cos));
        for (kind, sightings) in [&family.slopes, &family.spacings].into_iter().enumerate() {
            for s in sightings {
                let (x, y) = (s.x / reach, s.y / reach);
                let of_horizon = if kind == 0 { -y * p } else { -x * p - 2.0 * y * q };
                let mut derivative = SVector::<f64, PARAMETERS>::zeros();
                derivative[0] = of_horizon.x;
                derivative[1] = of_horizon.y;
                derivative[2 + 2 * k + kind] = 1.0;
                let cell = |c: f64| ((((c + 1.0) / 2.0) * CELLS as f64).max(0.0) as usize).min(CELLS - 1);
                let cell = (2 * k + kind) * CELLS * CELLS + cell(x) * CELLS + cell(y);
                let place = [x * cos - y * sin, x * sin + y * cos];
                rows.push(Row { derivative, value: s.value, variance: s.variance, kind, cell, place });
            }
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What a family along `along_rad` shows of a horizon, every 40 units of a plane that reaches 300.
    fn family(along_rad: f64, horizon: [f64; 2], flare: f64) -> Family {
        let (sin, cos) = along_rad.sin_cos();
        let p = horizon[0] * cos + horizon[1] * sin;
        let q = horizon[1] * cos - horizon[0] * sin;
        let places = (-7..=7).flat_map(|i| (-7..=7).map(move |j| (40.0 * f64::from(i), 40.0 * f64::from(j))));
        let sighting = |x: f64, y: f64, value: f64| Sighting { x, y, value, variance: 1e-8 };
        let slopes = places.clone().map(|(x, y)| {
            let side = if x * cos - y * sin > 10.0 { 0.5 } else { -0.5 };
            sighting(x, y, -p * y + flare * side)
        });
        let spacings = places.map(|(x, y)| sighting(x, y, -p * x - 2.0 * q * y));
        Family { along_rad, slopes: slopes.collect(), spacings: spacings.collect() }
    }

    #[test]
    fn the_horizon_comes_back_through_strangers_and_flare() {
        let horizon = [1.5e-4, -0.8e-4];
        for flare in [0.0, 0.12] {
            let mut families = [0.1, 1.7].map(|along| family(along, horizon, flare));
            families[0].slopes.iter_mut().step_by(9).for_each(|s| s.value += 0.3);
            families[1].spacings.iter_mut().step_by(7).for_each(|s| s.value -= 0.4);
            let left = fit(&families, 300.0).unwrap();
            let off = (left.horizon[0] - horizon[0]).hypot(left.horizon[1] - horizon[1]);
            assert!(off < 2e-6, "{flare}: {:?}", left.horizon);
            let sd = left.covariance[(0, 0)].sqrt() * 300.0;
            assert!(sd < 3e-3 && left.agreeing > 0.8, "{flare}: {sd} {}", left.agreeing);
        }
    }

    #[test]
    fn one_direction_alone_leaves_the_other_component_open() {
        let mut stripes = family(0.0, [0.0, 2e-4], 0.0);
        stripes.spacings.clear();
        let left = fit(&[stripes], 300.0).unwrap();
        let sd = |k: usize| left.covariance[(k, k)].sqrt() * 300.0;
        assert!(sd(0) < 0.01 && sd(1) > 0.2, "{} {}", sd(0), sd(1));
        assert!(fit(&[], 300.0).is_none());
    }
}
