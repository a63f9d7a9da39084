//! Renders a photograph of a seam whose offset is known: for the demonstration, for tests and for trials.
//!
//! [`Scene`] → [`Rendered`]. The cloth is woven thread by thread and cut in two along the seam's course; its two sides
//! are displaced against each other by the wanted offset and shaded by fold and drape; pins, thread and cards are laid
//! on it; a camera of known place looks at it through a real lens onto a noisy sensor; and the truth is written down
//! beside the picture. The same scene gives the same bytes.
//!
//! Where a line stands: the line that would stand at m in a matched seam stands, at distance v from the seam, at
//! u = m − δ(m)/2 + slope₁·v on the first side and at u = m + δ(m)/2 + slope₂·v on the second; the cloth's own skew and bow add to both slopes.
//! On a side that is turned about the seam δ is the same at every v, so that both families of lines are carried with it;
//! the slope of the lines across is the turn's tangent, where δ is constant. With a zip, v is counted
//! from the middle of the gap, and the lines of both sides are carried on to it. δ is the offset of [`OffsetProfile`]
//! and what the sides' different repeats add; the truth at u is δ(u).

mod chance;
mod colour;

mod profile;

mod seam;

mod grain;

mod cloth;

mod loom;

mod relief;

mod surface;

mod sheet;

mod things;

mod props;

mod card;

mod patch;

mod camera;

mod messenger;

mod develop;

mod scene;

mod truth;

pub use camera::{Camera, Light, ShadowEdge};
pub use card::{Card, CardFace};
pub use cloth::{Band, Cloth, Weave};
pub use colour::Srgb;
pub use messenger::Messenger;
pub use patch::Patch;
pub use profile::{OffsetProfile, Repin, Slip, Step, Wander};
pub use props::{Prop, PropKind};
pub use relief::Crease;
pub use scene::{Edges, Scene, SeamScene, Zip};
pub use things::{Basting, Pin};
pub use truth::{TrueReading, Truth, offset_at, reading_at};

use crate::problem::Problem;
use crate::units::{MmPoint, PxPoint};
use card::LaidCard;
use grain::Grain;
use image::RgbImage;
use loom::Loom;
use patch::LaidPatch;
use props::LaidProp;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use relief::{CreaseShade, Drape};
use seam::{Course, Lines};
use sheet::Sheet;
use surface::Surface;
use things::{LaidPin, LaidStitch};

/// A photograph with its truth.
#[derive(Clone, Debug)]
pub struct Rendered {
    /// The pixels of [`Rendered::jpeg`], decoded.
    pub photo: RgbImage,
    /// The file.
    pub jpeg: Vec<u8>,
    /// What is true of it.
    pub truth: Truth,
}

/// Millimetres of cloth woven beyond the picture's corners: room for offsets, slopes and drape.
const MARGIN_MM: f64 = 30.0;

/// The photograph of a scene.
///
/// # Errors
/// [`Problem::Usage`] where a figure of the scene cannot be (a picture without pixels, an offset that folds the cloth
/// over itself, a camera that sees the horizon, a seam outside the picture, a card's text too long for a symbol).
pub fn render(scene: &Scene) -> Result<Rendered, Problem> {
    scene.check()?;
    let (seam, camera) = (&scene.seam, &scene.camera);
    let mut rng = ChaCha8Rng::seed_from_u64(scene.seed);
    let projection = camera.projection();
    let course = Course::new(seam.runs, seam.aside_mm, seam.lean_rad, seam.bow_mm);
    let reach_mm = reach(scene, &course)?;
    let grain = seam.straight_grain.then(|| Grain::new(seam.bow_mm));
    let slant = seam.skew.abs()
        + seam.weft_bow_mm.abs() * reach_mm / 1e4
        + grain.map_or(0.0, |grain| f64::from(grain.steepest(reach_mm as f32)));
    let steepest_slope = seam.slope[0].abs().max(seam.slope[1].abs()) + slant;
    let lines = Lines::new(&seam.offset, seam.repeat_factor, reach_mm * (1.0 + steepest_slope));
    let salts = [rng.next_u32(), rng.next_u32()];
    let narrowest = seam.repeat_factor[0].min(seam.repeat_factor[1]);
    // A turned side is seen along its diagonals.
    let turned = seam.turn_rad.iter().map(|turn| turn.cos() + turn.sin().abs()).fold(1.0, f64::max);
    let woven_mm = turned * (reach_mm * (1.0 + steepest_slope) + seam.offset.largest(reach_mm)) / narrowest
        + seam.warp_shift_mm.abs();
    let loom = Loom::new(&seam.cloth, woven_mm, salts);
    let crease = CreaseShade::new(seam.crease, rng.next_u32());
    let drape = Drape::new(seam.drape_mm, &mut rng);
    let surface = Surface::new(seam, loom, &lines, grain, crease, rng.next_u32());

    let mut sheet = Sheet::expose(&surface, &course, &drape, camera, seam.cloth.thread_mm, rng.next_u32());
    let salt = rng.next_u32();
    if let Some(basting) = &seam.basting {
        let (from, to) = (seam.edges.waist_mm.unwrap_or(-reach_mm), seam.edges.hem_mm.unwrap_or(reach_mm));
        for stitch in LaidStitch::all(basting, &course, from.max(-reach_mm), to.min(reach_mm), salt) {
            sheet.lay(&stitch, projection);
        }
    }
    let cards: Vec<LaidCard> =
        seam.cards.iter().map(|card| LaidCard::new(card, &course, camera.mm_per_px)).collect::<Result<_, _>>()?;
    cards.iter().for_each(|card| sheet.lay(card, projection));
    seam.props.iter().for_each(|prop| sheet.lay(&LaidProp::new(prop, &course), projection));
    seam.patches.iter().for_each(|patch| sheet.lay(&LaidPatch::new(patch, &course), projection));
    seam.pins.iter().for_each(|pin| sheet.lay(&LaidPin::new(pin, &course), projection));

    let truth = Truth::of(scene, &course, &lines, &cards, reach_mm)?;
    let (photo, jpeg) = develop::develop(sheet, camera, &mut rng)?;
    Ok(Rendered { photo, jpeg, truth })
}

/// The largest |u| and |v| in the picture, with a margin, millimetres.
fn reach(scene: &Scene, course: &Course) -> Result<f64, Problem> {
    let projection = scene.camera.projection();
    let (right, bottom) = (f64::from(scene.camera.width_px), f64::from(scene.camera.height_px));
    let corner = |(x, y): (f64, f64)| -> Option<f64> {
        let p: MmPoint = projection.to_mm(PxPoint::new(x, y))?;
        let (u, v) = course.coordinates(p);
        Some(u.abs().max(v.abs()))
    };
    let corners = [(-2.0, -2.0), (right, -2.0), (-2.0, bottom), (right, bottom)].map(corner);
    let reach = corners.into_iter().try_fold(0.0, |reach: f64, corner| corner.map(|c| reach.max(c)));
    reach.filter(|&reach| reach < 6000.0).map(|reach| reach + MARGIN_MM).ok_or_else(|| {
        Problem::usage("this scene cannot be rendered: the camera sees the horizon", "tilt the camera less")
    })
}

#[cfg(test)]
mod tests;
