//! Reads ribs from the photograph.

use super::Rib;
use crate::photo::Light;
use crate::scale::Plane;
use crate::seam::Across;
use crate::units::PxPoint;
use nalgebra::Vector3;

/// Which ribs are read.
#[derive(Clone, Copy, Debug)]
pub struct Cut<'a> {
    /// Distances of their middles from the seam, signed as v, millimetres.
    pub middles_mm: &'a [f64],
    /// Their width, millimetres.
    pub width_mm: f64,
    /// Distance between samples along u, millimetres; sample k stands at u = k · step.
    pub step_mm: f64,
    /// Number of samples along u.
    pub samples: usize,
    /// Places across a rib whose mean a sample is.
    pub places: usize,
}

/// Reads ribs of which `across` says where they are crossed at each u (millimetres).
pub fn ribs(light: Light<'_>, plane: &Plane, across: impl Fn(f64) -> Across, cut: Cut<'_>) -> Vec<Rib> {
    let covered = plane.covered();
    let rib =
        |&v_mm: &f64| Rib { v_mm, light: vec![[0.0; 3]; cut.samples], share: vec![0.0; cut.samples], pictured: 0.0 };
    let mut ribs: Vec<Rib> = cut.middles_mm.iter().map(rib).collect();
    let aside_mm: Vec<f64> =
        (0..cut.places).map(|k| cut.width_mm * ((k as f64 + 0.5) / cut.places as f64 - 0.5)).collect();
    for k in 0..cut.samples {
        let Across { point, v } = across(k as f64 * cut.step_mm);
        // In homogeneous coordinates of the picture a straight line is gone along evenly.
        let first = plane.mm_to_px * Vector3::new(point.x, point.y, 1.0);
        let step = plane.mm_to_px * Vector3::new(v.x, v.y, 0.0);
        for rib in &mut ribs {
            let (mut sum, mut seen, mut pictured) = ([0.0f32; 3], 0u32, 0u32);
            for aside_mm in &aside_mm {
                let [x, y, depth] = (first + (rib.v_mm + aside_mm) * step).into();
                let p = PxPoint::new(x / depth, y / depth);
                let Some(light) = light.at(p.x, p.y) else { continue };
                pictured += 1;
                if !covered.holds(p) {
                    (0..3).for_each(|c| sum[c] += light[c]);
                    seen += 1;
                }
            }
            rib.pictured += f64::from(pictured) / cut.places as f64;
            rib.light[k] = sum.map(|s| s / seen.max(1) as f32);
            rib.share[k] = seen as f32 / cut.places as f32;
        }
    }
    ribs
}
