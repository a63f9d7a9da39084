//! How wrong a plane is, against the renderer's truth.

use seamstep::scale::Plane;
use seamstep::units::{MmPoint, PxPoint};

/// Largest distance in the picture between a card's true corners and those of the square, `side_mm` wide, that fits them
/// best in the plane, pixels.
pub fn worst_corner_px(plane: &Plane, corners_px: [PxPoint; 4], side_mm: f64) -> f64 {
    let half = side_mm / 2.0;
    let mm = corners_px.map(|corner| plane.to_mm(corner));
    let middle = [mm.iter().map(|p| p.x).sum::<f64>() / 4.0, mm.iter().map(|p| p.y).sum::<f64>() / 4.0];
    let due = [[-half, -half], [half, -half], [half, half], [-half, half]];
    let (mut cos, mut sin) = (0.0, 0.0);
    for (p, [x, y]) in mm.iter().zip(due) {
        let (dx, dy) = (p.x - middle[0], p.y - middle[1]);
        cos += dx * x + dy * y;
        sin += dy * x - dx * y;
    }
    let turn = sin.atan2(cos);
    corners_px
        .iter()
        .zip(due)
        .map(|(corner, [x, y])| {
            let square =
                MmPoint::new(middle[0] + x * turn.cos() - y * turn.sin(), middle[1] + x * turn.sin() + y * turn.cos());
            plane.to_px(square).distance(*corner)
        })
        .fold(0.0, f64::max)
}
