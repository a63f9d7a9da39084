//! A smooth path on the cloth, and the seam coordinates (u, v) that hang on it.

use crate::units::MmPoint;

/// Arc length between the stored points of a path, millimetres (before the last step is made even).
const STEP_MM: f64 = 1.0;

/// A smooth path on the cloth, sampled densely at equal steps.
#[derive(Clone, Debug)]
pub struct Path {
    /// Points in the order of growing u, millimetres.
    pub points: Vec<MmPoint>,
    /// Arc length between neighbouring points, millimetres.
    pub step_mm: f64,
}

impl Path {
    /// The smooth path through two or more different points (a natural cubic spline over the chord length).
    ///
    /// `None` for fewer than two different points or points that are not finite.
    pub fn through(marks: &[MmPoint]) -> Option<Self> {
        let mut knots: Vec<MmPoint> = Vec::new();
        for &p in marks {
            if !(p.x.is_finite() && p.y.is_finite()) {
                return None;
            }
            if knots.last().is_none_or(|&q| q.distance(p) > 1e-6) {
                knots.push(p);
            }
        }
        if knots.len() < 2 {
            return None;
        }
        let mut chord = vec![0.0];
        for pair in knots.windows(2) {
            chord.push(chord[chord.len() - 1] + pair[0].distance(pair[1]));
        }
        let xs = Spline::natural(&chord, &knots.iter().map(|p| p.x).collect::<Vec<_>>());
        let ys = Spline::natural(&chord, &knots.iter().map(|p| p.y).collect::<Vec<_>>());
        let end = chord[chord.len() - 1];
        let fine = ((end / 0.1).ceil() as usize).clamp(64, 200_000);
        let dense: Vec<MmPoint> =
            (0..=fine).map(|k| end * k as f64 / fine as f64).map(|t| MmPoint::new(xs.at(t), ys.at(t))).collect();
        Some(Self::evenly(&dense))
    }

    /// A dense polyline resampled at equal steps of arc length.
    fn evenly(dense: &[MmPoint]) -> Self {
        let mut arc = vec![0.0];
        for pair in dense.windows(2) {
            arc.push(arc[arc.len() - 1] + pair[0].distance(pair[1]));
        }
        let length = arc[arc.len() - 1];
        let steps = ((length / STEP_MM).ceil() as usize).max(1);
        let step_mm = length / steps as f64;
        let mut k = 0;
        let points = (0..=steps)
            .map(|s| {
                let target = step_mm * s as f64;
                while k + 2 < arc.len() && arc[k + 1] < target {
                    k += 1;
                }
                let f = ((target - arc[k]) / (arc[k + 1] - arc[k]).max(1e-12)).clamp(0.0, 1.0);
                let (a, b) = (dense[k], dense[k + 1]);
                MmPoint::new(a.x + f * (b.x - a.x), a.y + f * (b.y - a.y))
            })
            .collect();
        Self { points, step_mm }
    }

    /// Length of the whole path, millimetres.
    pub fn length_mm(&self) -> f64 {
        self.step_mm * (self.points.len() - 1) as f64
    }

    /// The point at arc length u and the unit tangent there (direction of growing u); straight on beyond the ends.
    pub fn at(&self, u_mm: f64) -> (MmPoint, MmPoint) {
        let last = self.points.len() - 1;
        let s = u_mm / self.step_mm;
        let k = (s.floor().max(0.0) as usize).min(last - 1);
        let (a, b) = (self.points[k], self.points[k + 1]);
        let f = s - k as f64;
        // The tangent turns evenly between the middles of neighbouring steps.
        let nearest = (s.round().max(0.0) as usize).min(last);
        let before = self.direction(nearest.saturating_sub(1));
        let after = self.direction(nearest.min(last - 1));
        let g = (s - nearest as f64 + 0.5).clamp(0.0, 1.0);
        let (tx, ty) = (before.x + g * (after.x - before.x), before.y + g * (after.y - before.y));
        let norm = tx.hypot(ty).max(1e-12);
        (MmPoint::new(a.x + f * (b.x - a.x), a.y + f * (b.y - a.y)), MmPoint::new(tx / norm, ty / norm))
    }

    fn direction(&self, k: usize) -> MmPoint {
        let (a, b) = (self.points[k], self.points[k + 1]);
        MmPoint::new((b.x - a.x) / self.step_mm, (b.y - a.y) / self.step_mm)
    }
}

/// A natural cubic spline: second derivative zero at both ends.
struct Spline {
    x: Vec<f64>,
    y: Vec<f64>,
    second: Vec<f64>,
}

impl Spline {
    fn natural(x: &[f64], y: &[f64]) -> Self {
        let n = x.len();
        let (mut second, mut carry) = (vec![0.0; n], vec![0.0; n]);
        for i in 1..n.saturating_sub(1) {
            let (h0, h1) = (x[i] - x[i - 1], x[i + 1] - x[i]);
            let ratio = h0 / (h0 + h1);
            let pivot = ratio * second[i - 1] + 2.0;
            second[i] = (ratio - 1.0) / pivot;
            let bend = (y[i + 1] - y[i]) / h1 - (y[i] - y[i - 1]) / h0;
            carry[i] = (6.0 * bend / (h0 + h1) - ratio * carry[i - 1]) / pivot;
        }
        second[n - 1] = 0.0;
        for i in (0..n - 1).rev() {
            second[i] = second[i] * second[i + 1] + carry[i];
        }
        second[0] = 0.0;
        Self { x: x.to_vec(), y: y.to_vec(), second }
    }

    fn at(&self, t: f64) -> f64 {
        let i = self.x.partition_point(|&x| x <= t).clamp(1, self.x.len() - 1) - 1;
        let h = self.x[i + 1] - self.x[i];
        let (a, b) = ((self.x[i + 1] - t) / h, (t - self.x[i]) / h);
        a * self.y[i]
            + b * self.y[i + 1]
            + ((a.powi(3) - a) * self.second[i] + (b.powi(3) - b) * self.second[i + 1]) * h * h / 6.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_path_is_straight_and_goes_on() {
        let path =
            Path::through(&[MmPoint::new(10.0, 0.0), MmPoint::new(10.0, 50.0), MmPoint::new(10.0, 100.5)]).unwrap();
        assert!((path.length_mm() - 100.5).abs() < 1e-9);
        let (p, t) = path.at(120.0);
        assert!(p.distance(MmPoint::new(10.0, 120.0)) < 1e-9 && t.distance(MmPoint::new(0.0, 1.0)) < 1e-9);
        let (p, _) = path.at(-3.0);
        assert!(p.distance(MmPoint::new(10.0, -3.0)) < 1e-9);
    }

    #[test]
    fn three_marks_on_a_slight_bow_give_the_bow() {
        let bow = |y: f64| MmPoint::new(3.0 * (1.0 - ((y - 90.0) / 90.0).powi(2)), y);
        let path = Path::through(&[bow(0.0), bow(90.0), bow(180.0)]).unwrap();
        for &p in &path.points {
            assert!((p.x - bow(p.y).x).abs() < 0.35, "{p:?}");
        }
    }

    #[test]
    fn one_point_is_no_path() {
        assert!(Path::through(&[MmPoint::new(1.0, 1.0), MmPoint::new(1.0, 1.0)]).is_none());
        assert!(Path::through(&[MmPoint::new(1.0, f64::NAN), MmPoint::new(1.0, 1.0)]).is_none());
    }
}
