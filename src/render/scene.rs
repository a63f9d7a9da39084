//! What is photographed: the seam, how it was sewn, and what lies on it.

use super::camera::Camera;
use super::card::Card;
use super::cloth::Cloth;
use super::colour::Srgb;
use super::patch::Patch;
use super::profile::OffsetProfile;
use super::props::Prop;
use super::relief::Crease;
use super::things::{Basting, Pin};
use crate::conventions::Runs;
use crate::problem::Problem;

/// A seam and the camera above it.
#[derive(Clone, Debug)]
pub struct Scene {
    /// The seam.
    pub seam: SeamScene,
    /// The camera.
    pub camera: Camera,
    /// Everything that chance decides: yarns, fibres, drape, noise. The same seed gives the same bytes.
    pub seed: u64,
}

/// A seam in a cloth, and what lies on it.
///
/// Places are seam coordinates of [`crate::conventions`] with u = 0 at the seam's anchor: the point of the seam nearest
/// to the middle of the picture when it neither leans nor bends.
#[derive(Clone, Debug)]
pub struct SeamScene {
    /// The cloth of both sides.
    pub cloth: Cloth,
    /// How the seam runs.
    pub runs: Runs,
    /// What each side's repeat is multiplied with (stretched or shrunk cloth); first side first. Sides that differ add
    /// their difference to the offset, which then grows along the seam from 0 at u = 0.
    pub repeat_factor: [f64; 2],
    /// How far the lines jump.
    pub offset: OffsetProfile,
    /// Slope of the lines, du/dv, first side first.
    pub slope: [f64; 2],
    /// How far each side's cloth is turned about the seam, first side first: the lines across then have the slope
    /// du/dv = tan(turn), their repeat along the seam is drawn out by 1/cos(turn), and the lines along the seam cross it
    /// too. Equal turns are a cut on the bias, opposite ones a chevron; turns of other sizes have no lines that meet. A
    /// turned side has no slope beside its turn, and only with a [`Self::warp_shift_mm`] of 0 do both families of a bias cut
    /// jump by the offset.
    pub turn_rad: [f64; 2],
    /// Skew of the cloth: how far the lines across slant, du/dv, while those along the seam do not.
    pub skew: f64,
    /// Bow of the cloth: how much further along u the lines across stand at 100 mm from the seam, millimetres.
    pub weft_bow_mm: f64,
    /// How far the second side's lines along the seam are out of step with the first side's, millimetres.
    pub warp_shift_mm: f64,
    /// Distance of the anchor from the picture's middle, towards growing v, millimetres.
    pub aside_mm: f64,
    /// How far the seam leans, clockwise.
    pub lean_rad: f64,
    /// How far the seam has curved aside (towards growing v) at 100 mm from its anchor, millimetres.
    pub bow_mm: f64,
    /// Whether the lines stay straight and parallel while the seam bows through them, as where a hip's curve is cut into
    /// the cloth; else they stand square to the seam everywhere, as where a straight seam is bent in its plane.
    pub straight_grain: bool,
    /// The zip between the folds; `None` where the sides touch.
    pub zip: Option<Zip>,
    /// The fold.
    pub crease: Crease,
    /// Basting along the seam.
    pub basting: Option<Basting>,
    /// Pins across the seam.
    pub pins: Vec<Pin>,
    /// How far the drape displaces the lines beside the seam, millimetres.
    pub drape_mm: f64,
    /// Where the garment ends.
    pub edges: Edges,
    /// Cards that lie on the cloth.
    pub cards: Vec<Card>,
    /// Other things that lie on it, over the cards.
    pub props: Vec<Prop>,
    /// What lies over the cards.
    pub patches: Vec<Patch>,
}

/// A closed zip in the gap between two folds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Zip {
    /// Distance between the folds, millimetres.
    pub gap_mm: f64,
    /// Colour of the tape.
    pub tape: Srgb,
    /// Colour of the teeth.
    pub teeth: Srgb,
    /// Width of the row of teeth, millimetres.
    pub teeth_mm: f64,
}

/// Where the garment ends inside the picture; beyond lies the table. `None`: it does not end there.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Edges {
    /// Smallest u that is cloth (a waist), millimetres.
    pub waist_mm: Option<f64>,
    /// Largest u that is cloth (a hem), millimetres.
    pub hem_mm: Option<f64>,
    /// Width of each side from the seam, first side first, millimetres.
    pub side_mm: [Option<f64>; 2],
}

impl SeamScene {
    /// A matched, straight, well-pressed seam that runs down the middle.
    pub fn new(cloth: Cloth) -> Self {
        Self {
            cloth,
            runs: Runs::Down,
            repeat_factor: [1.0; 2],
            offset: OffsetProfile::default(),
            slope: [0.0; 2],
            turn_rad: [0.0; 2],
            skew: 0.0,
            weft_bow_mm: 0.0,
            warp_shift_mm: 6.5,
            aside_mm: 0.0,
            lean_rad: 0.0,
            bow_mm: 0.0,
            straight_grain: false,
            zip: None,
            crease: Crease { depth: 0.55, width_mm: 0.28 },
            basting: None,
            pins: Vec::new(),
            drape_mm: 0.0,
            edges: Edges::default(),
            cards: Vec::new(),
            props: Vec::new(),
            patches: Vec::new(),
        }
    }

    /// The gap between the folds, millimetres; 0 where the sides touch.
    pub(super) fn gap_mm(&self) -> f64 {
        self.zip.map_or(0.0, |zip| zip.gap_mm)
    }
}

/// Largest picture, pixels: its linear light and one copy take 600 MB.
const LARGEST_PICTURE_PX: u64 = 25_000_000;

impl Scene {
    /// Whether the scene can exist.
    ///
    /// # Errors
    /// [`Problem::Usage`] with the figure that cannot be, and what can.
    pub(super) fn check(&self) -> Result<(), Problem> {
        let (seam, camera) = (&self.seam, &self.camera);
        let pixels = u64::from(camera.width_px) * u64::from(camera.height_px);
        let (sent_px, again) = camera
            .messenger
            .map_or((pixels, 100), |m| (m.size_px(camera).map(u64::from).iter().product(), m.jpeg_quality));
        let reach_mm = camera.mm_per_px * f64::from(camera.width_px.max(camera.height_px));
        let steepest = seam.offset.steepest() + 2.0 * (seam.repeat_factor[1] - seam.repeat_factor[0]).abs();
        let within = |x: f64, low: f64, high: f64| (low..=high).contains(&x);
        let all = |xs: &[f64], low: f64, high: f64| xs.iter().all(|&x| within(x, low, high));
        let bands_fit =
            |bands: &[super::Band]| !bands.is_empty() && bands.iter().all(|b| within(b.width_mm, 0.01, 1e3));
        let turn = seam.turn_rad[0].abs();
        let light = &camera.light;
        let shadow =
            light.shadow.unwrap_or(super::ShadowEdge { distance: 0.0, towards_rad: 0.0, depth: 0.0, softness_px: 1.0 });
        let places = seam.pins.iter().flat_map(|p| [p.at_mm, p.turn_rad]);
        let places = places.chain(seam.cards.iter().flat_map(|c| [c.u_mm, c.v_mm, c.turn_rad]));
        let props = &seam.props;
        let places = places.chain(props.iter().flat_map(|p| [p.u_mm, p.v_mm, p.turn_rad]));
        let places = places.chain(seam.patches.iter().flat_map(|p| [p.u_mm, p.v_mm, p.turn_rad, p.lift_mm]));
        let sizes: Vec<f64> = seam.patches.iter().flat_map(|p| p.half_mm).collect();
        let edges = [seam.edges.waist_mm, seam.edges.hem_mm, seam.edges.side_mm[0], seam.edges.side_mm[1]];
        let places: Vec<f64> = places.chain(edges.into_iter().flatten()).chain([seam.warp_shift_mm]).collect();
        let facts = [
            (pixels > 0 && pixels.max(sent_px) <= LARGEST_PICTURE_PX, "picture", "1 to 25 million pixels"),
            (camera.messenger.is_none_or(|m| within(m.enlarged, 1.0, 4.0)), "messenger's enlargement", "1 to 4 times"),
            (camera.width_px.max(camera.height_px) < 65_536, "picture", "sides below 65 536 px, the most a JPEG holds"),
            (within(camera.mm_per_px, 0.005, 5.0), "camera's scale", "0.005 to 5 mm to a pixel"),
            (within(reach_mm, 0.0, 4000.0), "field of view", "at most 4 m of cloth"),
            (
                within(camera.focal_px, 0.3 * f64::from(camera.width_px), 1e6),
                "focal length",
                "0.3 picture widths or more",
            ),
            (within(camera.tilt_rad, 0.0, 1.05), "camera's tilt", "0 to 60 degrees"),
            (all(&[camera.tilt_towards_rad, camera.motion_rad], -1e3, 1e3), "camera's direction", "finite angles"),
            (within(camera.barrel, -0.2, 0.2), "lens distortion", "-0.2 to 0.2 at the corner"),
            (all(&[camera.defocus_px, camera.motion_px], 0.0, 60.0), "blur", "0 to 60 px"),
            (all(&[camera.shot_noise, camera.read_noise], 0.0, 0.5), "sensor noise", "0 to 0.5"),
            (within(camera.sharpening, 0.0, 3.0), "sharpening", "0 to 3"),
            (all(&[camera.jpeg_quality, again].map(f64::from), 1.0, 100.0), "JPEG quality", "1 to 100"),
            (within(light.exposure, 0.0, 100.0) && all(&light.tint, 0.0, 10.0), "exposure", "gains of 0 to 100"),
            (all(&[light.unevenness, shadow.depth], 0.0, 0.9), "light", "0 to 0.9 of it taken away"),
            (all(&[light.darker_towards_rad, shadow.towards_rad], -1e3, 1e3), "light's direction", "finite angles"),
            (
                within(shadow.distance, -10.0, 10.0) && within(shadow.softness_px, 0.01, 1e4),
                "shadow",
                "an edge near the picture",
            ),
            (within(seam.cloth.thread_mm, 0.05, 5.0), "thread spacing", "0.05 to 5 mm"),
            (within(seam.cloth.texture, 0.0, 2.0), "texture", "0 to 2"),
            (
                bands_fit(&seam.cloth.weft) && bands_fit(&seam.cloth.warp),
                "cloth's bands",
                "one or more, 0.01 to 1000 mm wide",
            ),
            (all(&seam.repeat_factor, 0.5, 2.0), "repeat factor", "0.5 to 2"),
            (all(&seam.slope, -1.0, 1.0), "slope of the lines", "-1 to 1"),
            (
                turn == seam.turn_rad[1].abs() && within(turn, 0.0, 1.2) && (turn == 0.0 || seam.slope == [0.0; 2]),
                "turn of the cloth",
                "-1.2 to 1.2, of the same size on both sides, where the slopes are 0",
            ),
            (within(seam.skew, -0.5, 0.5), "skew", "-0.5 to 0.5"),
            (
                within(seam.weft_bow_mm * reach_mm / 1e4, -0.25, 0.25),
                "bow of the lines across",
                "lines that slant by less than a half at the picture's edge",
            ),
            (
                within(seam.aside_mm, -1e3, 1e3) && within(seam.lean_rad, -1.0, 1.0),
                "seam's place",
                "a seam that crosses the picture",
            ),
            (
                within(seam.bow_mm.abs() * reach_mm, 0.0, 4000.0),
                "seam's bow",
                "a gentle curve: -10 to 10 mm at 100 mm in a picture of 400 mm",
            ),
            (within(seam.gap_mm(), 0.0, 60.0), "gap", "0 to 60 mm"),
            (
                within(seam.crease.depth, 0.0, 1.0) && within(seam.crease.width_mm, 0.02, 3.0),
                "crease",
                "depth 0 to 1, width 0.02 to 3 mm",
            ),
            (within(seam.drape_mm, 0.0, 10.0), "drape", "0 to 10 mm"),
            (
                within(seam.offset.at(0.0), -500.0, 500.0) && within(seam.offset.largest(0.0), 0.0, 500.0),
                "offset",
                "-500 to 500 mm",
            ),
            (props.iter().all(|p| all(&[p.length_mm, p.width_mm], 0.1, 1e3)), "size of a prop", "0.1 to 1000 mm"),
            (all(&sizes, 0.01, 1e3), "size of a patch", "0.01 to 1000 mm"),
            (
                all(&places, -1e4, 1e4),
                "place of a pin, a card, a prop, a patch or an edge",
                "finite lengths and angles",
            ),
            (
                within(steepest, 0.0, 1.8),
                "change of the offset",
                "less than 1.8 mm in a millimetre, or the cloth would fold over",
            ),
        ];
        match facts.iter().find(|(holds, _, _)| !holds) {
            None => Ok(()),
            Some((_, what, possible)) => Err(Problem::usage(
                format!("this scene cannot be rendered: its {what} is out of range"),
                format!("possible: {possible}"),
            )),
        }
    }
}
