//! Plane homographies: from point pairs, and their local behaviour.

use crate::units::{MmPoint, PxPoint};
use nalgebra::{DMatrix, Matrix2, Matrix3, SVector, Vector3};

/// The homography that takes each `from` to its `to` (least squares in the algebraic error), last element 1.
///
/// Needs four pairs or more, no three of the first four on a line; `None` when they do not fix a homography.
///
/// # Source
/// Normalised direct linear transform: Hartley & Zisserman, Multiple View Geometry, 2nd ed. (2004), algorithm 4.2
/// (from memory).
pub fn from_pairs(from: &[[f64; 2]], to: &[[f64; 2]]) -> Option<Matrix3<f64>> {
    let n = from.len().min(to.len());
    if n < 4 {
        return None;
    }
    let (ta, tb) = (normaliser(from)?, normaliser(to)?);
    let mut a = DMatrix::zeros((2 * n).max(9), 9);
    for k in 0..n {
        let (p, q) = (apply(&ta, from[k]), apply(&tb, to[k]));
        let rows = [
            [-p[0], -p[1], -1.0, 0.0, 0.0, 0.0, q[0] * p[0], q[0] * p[1], q[0]],
            [0.0, 0.0, 0.0, -p[0], -p[1], -1.0, q[1] * p[0], q[1] * p[1], q[1]],
        ];
        for (i, row) in rows.iter().enumerate() {
            for (j, &value) in row.iter().enumerate() {
                a[(2 * k + i, j)] = value;
            }
        }
    }
    let svd = a.svd(false, true);
    let v_t = svd.v_t?;
    let order = svd.singular_values;
    let (least, _) = order.argmin();
    let mut sorted: Vec<f64> = order.iter().copied().collect();
    sorted.sort_by(f64::total_cmp);
    if sorted[1] <= 1e-9 * sorted[8] {
        return None;
    }
    let h = Matrix3::from_iterator(v_t.row(least).iter().copied()).transpose();
    // Three points on a line that are none on the other side leave a map that folds the plane.
    if h.determinant().abs() <= 1e-9 * h.norm().powi(3) {
        return None;
    }
    let h = tb.try_inverse()? * h * ta;
    let h = h / h[(2, 2)];
    h.iter().all(|x| x.is_finite()).then_some(h)
}

/// The similarity that brings the points' centroid to 0 and their mean distance from it to √2.
fn normaliser(points: &[[f64; 2]]) -> Option<Matrix3<f64>> {
    let n = points.len() as f64;
    let (cx, cy) = (points.iter().map(|p| p[0]).sum::<f64>() / n, points.iter().map(|p| p[1]).sum::<f64>() / n);
    let mean = points.iter().map(|p| (p[0] - cx).hypot(p[1] - cy)).sum::<f64>() / n;
    let s = std::f64::consts::SQRT_2 / mean;
    s.is_finite().then(|| Matrix3::new(s, 0.0, -s * cx, 0.0, s, -s * cy, 0.0, 0.0, 1.0))
}

/// A point through a homography.
#[inline]
pub fn apply(h: &Matrix3<f64>, p: [f64; 2]) -> [f64; 2] {
    let q = h * Vector3::new(p[0], p[1], 1.0);
    [q.x / q.z, q.y / q.z]
}

/// Derivative of the map at a point: d(to)/d(from).
pub fn jacobian(h: &Matrix3<f64>, p: [f64; 2]) -> Matrix2<f64> {
    let q = h * Vector3::new(p[0], p[1], 1.0);
    let (x, y) = (q.x / q.z, q.y / q.z);
    Matrix2::new(
        (h[(0, 0)] - x * h[(2, 0)]) / q.z,
        (h[(0, 1)] - x * h[(2, 1)]) / q.z,
        (h[(1, 0)] - y * h[(2, 0)]) / q.z,
        (h[(1, 1)] - y * h[(2, 1)]) / q.z,
    )
}

/// By how much less the picture shows at the place of `p` for each of the map's first eight elements (row by row) that grows:
/// minus the derivative. `at` is that place, and there it shows a drawing of this gradient, per unit of `p`.
pub fn sensitivity(h: &Matrix3<f64>, p: [f64; 2], at: [f64; 2], gradient: [f64; 2]) -> Option<SVector<f64, 8>> {
    let jac = jacobian(h, p).try_inverse()?;
    let [gx, gy] = gradient;
    // The gradient where it is seen: units of `p` to one of the picture's, times the gradient in these.
    let w = h[(2, 0)] * p[0] + h[(2, 1)] * p[1] + 1.0;
    let (ux, uy) = ((gx * jac[(0, 0)] + gy * jac[(1, 0)]) / w, (gx * jac[(0, 1)] + gy * jac[(1, 1)]) / w);
    let fall = ux * at[0] + uy * at[1];
    let [x, y] = p;
    Some(SVector::from([-ux * x, -ux * y, -ux, -uy * x, -uy * y, -uy, fall * x, fall * y]))
}

/// Turns and moves the millimetre frame so that at the picture's `middle` it is (0, 0) and its x axis runs to the right.
///
/// Distances on the cloth are unchanged. `mm_to_px` maps the old frame to the picture; so does the result the new.
pub fn upright(mm_to_px: &Matrix3<f64>, middle: PxPoint) -> Option<Matrix3<f64>> {
    let inverse = mm_to_px.try_inverse()?;
    let centre = apply(&inverse, [middle.x, middle.y]);
    let j = jacobian(mm_to_px, centre);
    // The turn nearest to the map: angle of its antisymmetric part (polar decomposition in two dimensions).
    let angle = (j[(1, 0)] - j[(0, 1)]).atan2(j[(0, 0)] + j[(1, 1)]);
    let (sin, cos) = angle.sin_cos();
    let back = Matrix3::new(cos, sin, centre[0], -sin, cos, centre[1], 0.0, 0.0, 1.0);
    let h = mm_to_px * back;
    let h = h / h[(2, 2)];
    h.iter().all(|x| x.is_finite()).then_some(h)
}

/// Millimetres to a pixel at a place of the picture (geometric mean of both directions).
pub fn mm_per_px(mm_to_px: &Matrix3<f64>, at: MmPoint) -> f64 {
    1.0 / jacobian(mm_to_px, [at.x, at.y]).determinant().abs().sqrt()
}

/// Angle between the camera's axis and the plane's normal, radians.
///
/// `focal_px` is the focal length and `centre` the principal point. For an exact homography K [r₁ r₂ t] the normal is
/// r₁ × r₂.
pub fn tilt_rad(mm_to_px: &Matrix3<f64>, focal_px: f64, centre: PxPoint) -> f64 {
    let k = Matrix3::new(focal_px, 0.0, centre.x, 0.0, focal_px, centre.y, 0.0, 0.0, 1.0);
    let Some(k_inverse) = k.try_inverse() else { return 0.0 };
    let m = k_inverse * mm_to_px;
    let normal = m.column(0).cross(&m.column(1));
    (normal.z.abs() / normal.norm()).clamp(0.0, 1.0).acos()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sensitivity_is_that_of_a_map_moved_a_little() {
        let h = Matrix3::new(11.0, 1.5, 300.0, -0.8, 9.0, 200.0, 2e-3, -1e-3, 1.0);
        let (p, gradient) = ([7.0, 12.5], [0.6, -0.3]);
        let back = h.try_inverse().unwrap();
        let shown = |map: &Matrix3<f64>| {
            let drawn = apply(&back, apply(map, p));
            gradient[0] * drawn[0] + gradient[1] * drawn[1]
        };
        let told = sensitivity(&h, p, apply(&h, p), gradient).unwrap();
        for k in 0..8 {
            let (mut more, mut less) = (h, h);
            let little = 1e-6;
            more[(k / 3, k % 3)] += little;
            less[(k / 3, k % 3)] -= little;
            let due = (shown(&less) - shown(&more)) / (2.0 * little);
            assert!((told[k] - due).abs() < 1e-5 * due.abs().max(1e-2), "{k}: {} for {due}", told[k]);
        }
    }

    #[test]
    fn three_points_on_a_line_are_no_homography() {
        let flat = [[0.0, 0.0], [1.0, 0.0], [2.0, 0.0], [0.0, 1.0]];
        let square = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
        assert!(from_pairs(&flat, &square).is_none());
        assert!(from_pairs(&square[..3], &square[..3]).is_none());
        assert!(from_pairs(&[[1.0, 1.0]; 4], &square).is_none());
    }

    #[test]
    fn upright_turns_the_frame_and_keeps_lengths() {
        let (sin, cos) = 0.7f64.sin_cos();
        let h = Matrix3::new(6.0 * cos, -6.0 * sin, 300.0, 6.0 * sin, 6.0 * cos, 200.0, 0.0, 0.0, 1.0);
        let up = upright(&h, PxPoint::new(500.0, 400.0)).unwrap();
        assert!((up - Matrix3::new(6.0, 0.0, 500.0, 0.0, 6.0, 400.0, 0.0, 0.0, 1.0)).norm() < 1e-9);
    }

    #[test]
    fn tilt_of_a_camera_looking_down_at_twenty_degrees() {
        let (sin, cos) = 20f64.to_radians().sin_cos();
        let k = Matrix3::new(1000.0, 0.0, 600.0, 0.0, 1000.0, 450.0, 0.0, 0.0, 1.0);
        let h = k * Matrix3::new(1.0, 0.0, 0.0, 0.0, cos, 0.0, 0.0, sin, 400.0);
        assert!((tilt_rad(&h, 1000.0, PxPoint::new(600.0, 450.0)).to_degrees() - 20.0).abs() < 1e-9);
    }
}
