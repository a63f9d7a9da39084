//! What lies at a place in seam coordinates: cloth of one side or the other, the zip's tape, or the table.

use super::chance;
use super::colour::{Linear, linear, scaled};
use super::grain::Grain;
use super::loom::Loom;
use super::relief::CreaseShade;
use super::scene::{Edges, SeamScene, Zip};
use super::seam::Lines;
use std::f32::consts::TAU;

/// Colour of the table's wood, sRGB.
const TABLE: [u8; 3] = [168, 138, 108];
/// From tooth to tooth of a zip, millimetres (common practice, no source).
const TOOTH_PITCH_MM: f32 = 2.4;

/// Everything that can be seen, without what lies on it.
pub(super) struct Surface<'a> {
    pub(super) loom: Loom,
    pub(super) lines: &'a Lines,
    pub(super) crease: CreaseShade,
    grain: Option<Grain>,
    slope: [f32; 2],
    /// Cosine and sine of each side's turn.
    turn: [[f32; 2]; 2],
    skew: f32,
    bow_per_mm: f32,
    warp_factor: [f32; 2],
    warp_shift_mm: f32,
    half_gap_mm: f32,
    zip: Option<Zip>,
    edges: Edges,
    salt: u32,
}

impl<'a> Surface<'a> {
    /// The surface of a scene; `salt` is its own chance.
    pub(super) fn new(
        seam: &SeamScene,
        loom: Loom,
        lines: &'a Lines,
        grain: Option<Grain>,
        crease: CreaseShade,
        salt: u32,
    ) -> Self {
        Self {
            loom,
            lines,
            crease,
            grain,
            slope: seam.slope.map(|s| s as f32),
            turn: seam.turn_rad.map(|turn| [turn.cos() as f32, turn.sin() as f32]),
            skew: seam.skew as f32,
            bow_per_mm: (seam.weft_bow_mm / 1e4) as f32,
            warp_factor: seam.repeat_factor.map(|f| 1.0 / f as f32),
            warp_shift_mm: seam.warp_shift_mm as f32,
            half_gap_mm: seam.gap_mm() as f32 / 2.0,
            zip: seam.zip,
            edges: seam.edges,
            salt,
        }
    }

    /// The light from (u, v), with the drape's displacement and shade there.
    #[inline]
    pub(super) fn light(&self, u: f32, v: f32, displaced: f32, shade: f32) -> Linear {
        let side = usize::from(v >= 0.0);
        let inside = self.inside_mm(u, v);
        if inside < 0.0 {
            return self.table(u, v, -inside);
        }
        let beyond_fold = v.abs() - self.half_gap_mm;
        if let (Some(zip), true) = (&self.zip, beyond_fold < 0.0) {
            return self.tape(zip, u, v);
        }
        let (meets, along) = self.grain.map_or((u, v), |grain| grain.cloth(u, v));
        let straight = meets - (self.slope[side] + self.skew + self.bow_per_mm * v) * v - displaced;
        let matched = self.lines.cloth_coordinate(side, straight);
        let t = self.grain.map_or(matched, |grain| grain.tangent(matched));
        let w = (along + self.slope[side] * u + 0.6 * displaced) * self.warp_factor[side];
        let [cos, sin] = self.turn[side];
        let (t, w) = if sin == 0.0 { (t, w) } else { (t * cos - w * sin, w * cos + t * sin) };
        let cloth = self.loom.light(side, t, w + [0.0, self.warp_shift_mm][side]);
        // A turned edge rounds off.
        let edge = if inside < 1.4 { 0.72 + 0.28 * (inside / 1.4) } else { 1.0 };
        scaled(cloth, self.crease.gain(side, beyond_fold, u) * shade * edge)
    }

    /// How far inside the garment a place lies, millimetres; negative outside.
    fn inside_mm(&self, u: f32, v: f32) -> f32 {
        let mut inside = f32::INFINITY;
        if let Some(waist) = self.edges.waist_mm {
            inside = inside.min(u - waist as f32);
        }
        if let Some(hem) = self.edges.hem_mm {
            inside = inside.min(hem as f32 - u);
        }
        if let Some(width) = self.edges.side_mm[usize::from(v >= 0.0)] {
            inside = inside.min(width as f32 - v.abs());
        }
        inside
    }

    /// Wood, with the garment's shadow near its edge.
    fn table(&self, u: f32, v: f32, distance_mm: f32) -> Linear {
        let (x, y) = (u * 0.94 + v * 0.34, v * 0.94 - u * 0.34);
        let bend = 3.0 * chance::over(x / 70.0, y / 25.0, self.salt);
        let ring = chance::along(y / 2.6 + bend, 0, self.salt ^ 5);
        let pore = chance::over(x / 9.0, y / 0.35, self.salt ^ 9).min(0.0);
        let shadow = 1.0 - 0.5 * (-distance_mm / 2.2).exp();
        scaled(linear(TABLE), shadow * (1.0 + 0.10 * ring + 0.16 * pore))
    }

    /// The zip: ribbed tape, two rows of teeth that meet in the middle, the folds' shadow on both edges.
    fn tape(&self, zip: &Zip, u: f32, v: f32) -> Linear {
        let depth = self.half_gap_mm - v.abs();
        let shadow = 1.0 - 0.55 * (-depth / 0.9).exp();
        let half_teeth = zip.teeth_mm as f32 / 2.0;
        let side = if v >= 0.0 { 1.0 } else { -1.0 };
        // A tooth belongs to one side, reaches a little over the middle, and stands between two of the other side.
        for (owner, lead) in [(side, if side > 0.0 { 0.0 } else { 0.5 }), (-side, if side > 0.0 { 0.5 } else { 0.0 })] {
            let x = (u / TOOTH_PITCH_MM + lead).rem_euclid(1.0) - 0.5;
            let y = v * owner;
            let slim = if y < 0.5 { 0.24 } else { 0.19 };
            if y > -0.28 * half_teeth && y < half_teeth && x.abs() < slim {
                let round = 1.0 - 0.75 * (x / slim).powi(2) - 0.25 * (y / half_teeth);
                let glint = 0.6 * (-((x + 0.09) / 0.06).powi(2)).exp();
                return scaled(linear(zip.teeth), (0.35 + 0.55 * round + glint) * shadow.max(0.6));
            }
        }
        let cord = if v.abs() < half_teeth + 0.3 { 0.55 } else { 1.0 };
        let rib = 1.0 + 0.16 * ((v / 0.55 + 0.35 * (u / 0.55).sin()) * TAU).sin();
        let fibre = 1.0 + 0.12 * chance::at((u * 5.0).floor() as i32, (v * 5.0).floor() as i32, self.salt ^ 3);
        scaled(linear(zip.tape), shadow * cord * rib * fibre)
    }
}
