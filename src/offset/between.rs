//! Between two edges of lines nothing shows the offset: where it differs from one to the other, it may be either all the way, or
//! anything between.

use super::{Reading, sources};

/// An edge of a line.
#[derive(Clone, Copy, Debug)]
pub struct Edge {
    /// Where it meets the seam, u.
    pub along_mm: f64,
    /// The offset there.
    pub offset_mm: f64,
}

/// Widens the uncertainty of readings between edges, which stand in the order of u; and says what that makes of the standard
/// uncertainty of their mean: between two edges all are out one way.
///
/// The offset is taken to be uniform between what it is at the two edges half of the way from one to the other, and to be that of an
/// edge at it: a variance of Δ²/12 times 4 x (1 − x).
///
/// # Source
/// The variance of a uniform distribution: JCGM 100:2008, 4.3.7.
pub fn widen(readings: &mut [Reading], edges: &[Edge]) -> f64 {
    let count = readings.len() as f64;
    let mut gaps = vec![0.0; edges.len()];
    for reading in readings {
        let after = edges.partition_point(|edge| edge.along_mm <= reading.along_mm);
        let (Some(before), Some(next)) = (after.checked_sub(1).and_then(|k| edges.get(k)), edges.get(after)) else {
            continue;
        };
        let x = (reading.along_mm - before.along_mm) / (next.along_mm - before.along_mm).max(f64::MIN_POSITIVE);
        let u_mm = (next.offset_mm - before.offset_mm).abs() * (x * (1.0 - x) / 3.0).sqrt();
        gaps[after] += u_mm / count;
        if 2.0 * u_mm > reading.expanded_uncertainty_mm {
            reading.chief_source = sources::BETWEEN;
        }
        reading.expanded_uncertainty_mm = reading.expanded_uncertainty_mm.hypot(2.0 * u_mm);
    }
    gaps.iter().map(|u_mm| u_mm * u_mm).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::PxPoint;

    #[test]
    fn only_between_edges_that_differ_is_there_more_doubt() {
        let reading = |along_mm| Reading {
            along_mm,
            at_px: PxPoint::new(0.0, 0.0),
            offset_mm: 0.0,
            expanded_uncertainty_mm: 0.1,
            chief_source: sources::PIXELS,
        };
        let mut readings = [5.0, 10.0, 15.0, 20.0, 25.0].map(reading);
        let edge = |along_mm, offset_mm| Edge { along_mm, offset_mm };
        let of_mean = widen(&mut readings, &[edge(10.0, 0.0), edge(20.0, 2.4), edge(30.0, 2.4)]);
        let u = readings.map(|r| r.expanded_uncertainty_mm);
        assert_eq!([u[0], u[1], u[3], u[4]], [0.1; 4]);
        assert!((of_mean - 2.4 / 12f64.sqrt() / 5.0).abs() < 1e-9, "{of_mean}");
        // Uniform over 2.4 mm: 0.69 mm.
        assert!((u[2] - 0.1f64.hypot(2.0 * 2.4 / 12f64.sqrt())).abs() < 1e-9, "{u:?}");
    }
}
