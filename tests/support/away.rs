//! How far places are from a true seam.

use seamstep::units::PxPoint;

/// Distance of a point from a polyline.
pub fn away_px(truth: &[PxPoint], p: PxPoint) -> f64 {
    let from = |pair: &[PxPoint]| {
        let (dx, dy) = (pair[1].x - pair[0].x, pair[1].y - pair[0].y);
        let along = ((p.x - pair[0].x) * dx + (p.y - pair[0].y) * dy) / (dx * dx + dy * dy).max(1e-12);
        let along = along.clamp(0.0, 1.0);
        p.distance(PxPoint::new(pair[0].x + along * dx, pair[0].y + along * dy))
    };
    truth.windows(2).map(from).fold(f64::INFINITY, f64::min)
}
