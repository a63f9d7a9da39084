//! Room 4: [`Photo`] + [`Plane`] + [`Seam`] → [`Strips`], the two sides resampled into seam coordinates.
//!
//! Each side is cut into ribs: narrow bands parallel to the seam. A rib's profile is the mean colour of the cloth
//! along u, in linear light, read straight from the photograph at its own resolution with one interpolation. What is
//! not cloth is left out: the card, what lies outside the picture, and whatever else lies on the cloth ([`mask`]).

pub mod read;

pub mod grid;

pub mod medians;

pub mod frame;

pub mod weave;

pub mod recur;

pub mod foreign;

pub mod mask;

use crate::conventions::Side;
use crate::photo::Photo;
use crate::problem::{Refusal, RefusalCode};
use crate::scale::Plane;
use crate::seam::Seam;
use crate::threads;
use read::Cut;

/// Width of a rib, millimetres.
pub const RIB_MM: f64 = 0.6;
/// The strips begin and end at these distances from the seam, millimetres: nearer, the ridge bends the lines and the
/// picture's blur mixes both sides.
pub const NEAREST_MM: f64 = 1.5;
const REACH_MM: f64 = 36.0;
/// Pixels are read one by one where they are larger than half of this on the cloth, else means of them up to this size, millimetres:
/// threads, the camera's blur and its noise leave nothing to see below.
const MOST_STEP_MM: f64 = 0.18;
/// A rib's sample counts when at least this share of it is cloth.
const LEAST_SHARE: f32 = 0.7;
/// The narrowest strip of cloth beside the seam that is measured, millimetres.
const LEAST_WIDTH_MM: f64 = 6.0;

/// Both sides of the seam in seam coordinates.
#[derive(Clone, Debug)]
pub struct Strips {
    /// Distance between samples along u, millimetres.
    pub step_mm: f64,
    /// Number of samples along u; sample k stands at u = k · step.
    pub samples: usize,
    /// First side, second side.
    pub sides: [Strip; 2],
}

/// One side of the seam.
#[derive(Clone, Debug)]
pub struct Strip {
    /// Which side.
    pub side: Side,
    /// Its ribs, nearest to the seam first.
    pub ribs: Vec<Rib>,
    /// Share of the strip within the picture that was left out, 0 to 1.
    pub excluded_share: f64,
}

/// A narrow band parallel to the seam.
#[derive(Clone, Debug)]
pub struct Rib {
    /// Distance of its middle from the seam, signed as v, millimetres.
    pub v_mm: f64,
    /// Mean linear light along u; meaningless where `share` is 0.
    pub light: Vec<[f32; 3]>,
    /// Share of the rib that is cloth at each sample, 0 to 1.
    pub share: Vec<f32>,
    /// How many of its samples lie within the picture, each counted by its share.
    pub pictured: f64,
}

impl Rib {
    /// 1 at each sample that counts as cloth, 0 at the others.
    pub fn weight(&self) -> Vec<f32> {
        self.share.iter().map(|&s| if s >= LEAST_SHARE { 1.0 } else { 0.0 }).collect()
    }
}

/// Resamples both sides of the seam.
///
/// # Errors
/// `no-cloth` when less than 6 mm of cloth lies beside the seam on one side.
pub fn cut(photo: &Photo, plane: &Plane, seam: &Seam) -> Result<Strips, Refusal> {
    let px_mm = plane.mm_per_px_at(seam.at(seam.length_mm() / 2.0, 0.0));
    let light = photo.light(MOST_STEP_MM / px_mm);
    let step_mm = px_mm * light.block() as f64;
    let samples = (seam.length_mm() / step_mm).floor() as usize + 1;
    let places = ((RIB_MM / step_mm).round() as usize).clamp(1, 6);
    let ribs = ((REACH_MM - NEAREST_MM) / RIB_MM) as usize;
    let sides = seam.runs.sides();
    let cut_side = |sign: f64| -> Vec<Rib> {
        let middles_mm: Vec<f64> = (0..ribs).map(|r| sign * (NEAREST_MM + (r as f64 + 0.5) * RIB_MM)).collect();
        let cut = Cut { middles_mm: &middles_mm, width_mm: RIB_MM, step_mm, samples, places };
        read::ribs(light, plane, |u_mm| seam.across(u_mm), cut)
    };
    let (mut first, mut second) = threads::both(|| cut_side(-1.0), || cut_side(1.0));
    mask::leave_out([&mut first, &mut second], step_mm);
    let strip = |side: Side, mut ribs: Vec<Rib>| {
        let (mut cloth, mut pictured) = (0.0f64, 0.0f64);
        for rib in &ribs {
            cloth += rib.share.iter().map(|&s| f64::from(s)).sum::<f64>();
            pictured += rib.pictured;
        }
        let excluded_share = if pictured > 0.0 { 1.0 - cloth / pictured } else { 1.0 };
        ribs.retain(|rib| rib.share.iter().filter(|&&s| s >= LEAST_SHARE).count() * 4 >= rib.share.len());
        Strip { side, ribs, excluded_share }
    };
    let strips = Strips { step_mm, samples, sides: [strip(sides[0], first), strip(sides[1], second)] };
    for strip in &strips.sides {
        let width = strip.ribs.len() as f64 * RIB_MM;
        if width < LEAST_WIDTH_MM {
            return Err(Refusal::new(
                RefusalCode::NoCloth,
                format!("only {width:.0} mm of cloth are seen on the {}", strip.side.noun()),
                "photograph the seam with at least 30 mm of cloth on both sides, and nothing lying on it there",
            ));
        }
    }
    Ok(strips)
}
