//! The scenes: a kind of difficulty and a seed give one photograph with one card, read once.

use crate::plane_error::worst_corner_px;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use seamstep::photo::Photo;
use seamstep::render::{Camera, Card, CardFace, Cloth, Edges, Light, Patch, Scene, SeamScene, ShadowEdge, render};
use seamstep::scale::{ScaleRequest, ScaleSource, read};

/// What makes the card hard to read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Modules of 4 to 8 px, tilted up to 30°, blur of up to 0.35 module, half of the scenes in a half shadow.
    Plain,
    /// The same with a hard shadow's edge on the card in every scene.
    Shadowed,
    /// Modules of 2.8 to 4 px, sharp.
    Small,
    /// Blur of 0.35 to 0.5 module.
    Soft,
    /// The card lies over the edge of the cloth and over other cloth.
    Edge,
    /// A corner with a finder pattern is covered.
    FinderCovered,
    /// The corner without a finder pattern, or a side, is covered.
    PartCovered,
    /// Ink blots, or a crease across.
    Blotted,
    /// The picture's edge cuts the card off.
    CutOff,
}

impl Kind {
    pub const ALL: [Kind; 9] = [
        Kind::Plain,
        Kind::Shadowed,
        Kind::Small,
        Kind::Soft,
        Kind::Edge,
        Kind::FinderCovered,
        Kind::PartCovered,
        Kind::Blotted,
        Kind::CutOff,
    ];
}

/// What became of one photograph.
#[derive(Clone, Copy, Debug)]
pub enum Outcome {
    /// The card gave the scale.
    Read {
        /// Relative error of the scale in the middle of the picture.
        error: f64,
        /// What the plane states, standard uncertainty.
        relative_uncertainty: f64,
        /// The part of it that comes from the fit.
        fit_uncertainty: f64,
        /// Worst corner of the card.
        corner_px: f64,
    },
    /// It did not.
    Unread {
        /// Whether a damaged card was mentioned.
        said: bool,
    },
}

/// Modules of the printed card's symbol along a side.
const MODULES: f64 = 25.0;
const WIDTH_PX: u32 = 520;
const HEIGHT_PX: u32 = 600;

/// The scene of a kind and a seed, and the side of its card, millimetres.
pub fn scene(kind: Kind, seed: u64) -> (Scene, f64) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed * 64 + kind as u64);
    let mut within = |low: f64, high: f64| low + (high - low) * rng.random::<f64>();
    let side_mm = [20, 30, 30, 40][seed as usize % 4];
    let module_px = if kind == Kind::Small { within(2.8, 4.0) } else { within(4.0, 8.0) };
    let (low, high) = match kind {
        Kind::Soft => (0.35, 0.5),
        Kind::Small => (0.0, 0.0),
        _ => (0.0, 0.35),
    };
    let blur_px = module_px * within(low, high);
    let mm_per_px = f64::from(side_mm) / MODULES / module_px;
    let cloth = match seed % 3 {
        0 => Cloth::broad_check(),
        1 => Cloth::fine_stripe(),
        _ => Cloth::printed_bars(within(8.0, 30.0)),
    };
    let half = f64::from(side_mm) / 2.0;
    // The card lies beside the seam, somewhere along it, whole in the picture.
    let (width_mm, height_mm) = (f64::from(WIDTH_PX) * mm_per_px, f64::from(HEIGHT_PX) * mm_per_px);
    let turn_rad = within(-0.5, 0.5) + if seed.is_multiple_of(5) { std::f64::consts::FRAC_PI_2 } else { 0.0 };
    let room = half * (turn_rad.cos().abs() + turn_rad.sin().abs()) + 5.0 * f64::from(side_mm) / MODULES;
    let v_mm = (width_mm / 2.0 - 1.15 * room).max(0.0) * within(0.2, 1.0);
    let u_mm = (height_mm / 2.0 - 1.15 * room).max(0.0) * within(-1.0, 1.0);
    let mut seam = SeamScene {
        cards: vec![Card { face: CardFace::Printed { side_mm, printed_at: 1.0 }, u_mm, v_mm, turn_rad }],
        ..SeamScene::new(cloth)
    };
    let mut camera = Camera {
        tilt_rad: within(0.0, 30.0).to_radians(),
        tilt_towards_rad: within(0.0, std::f64::consts::TAU),
        defocus_px: (blur_px * blur_px - 0.25).max(0.0).sqrt(),
        sharpening: [0.0, 0.4][seed as usize % 2],
        jpeg_quality: [92, 80][seed as usize / 2 % 2],
        ..Camera::new(WIDTH_PX, HEIGHT_PX, mm_per_px)
    };
    // A seam that runs down has v to the right and u downward.
    let on_card = |x: f64, y: f64| {
        let (cos, sin) = (turn_rad.cos(), turn_rad.sin());
        (v_mm + half * (x * cos - y * sin), u_mm + half * (x * sin + y * cos))
    };
    let half_diagonal_px = f64::from(WIDTH_PX).hypot(f64::from(HEIGHT_PX)) / 2.0;
    if kind == Kind::Shadowed || kind == Kind::Plain && seed.is_multiple_of(2) {
        let towards_rad = within(0.0, std::f64::consts::TAU);
        let (x, y) = on_card(within(-0.5, 0.5), within(-0.5, 0.5));
        let distance = (x * towards_rad.cos() + y * towards_rad.sin()) / mm_per_px / half_diagonal_px;
        let shadow = ShadowEdge { distance, towards_rad, depth: within(0.4, 0.75), softness_px: within(1.0, 10.0) };
        camera.light = Light { shadow: Some(shadow), ..Light::even() };
    }
    let patch = |x: f64, y: f64, half_mm: [f64; 2], turn: f64, round: bool, colour: [u8; 3], lift_mm: f64| {
        let (v_mm, u_mm) = on_card(x, y);
        Patch { u_mm, v_mm, half_mm, turn_rad: turn_rad + turn, round, colour, lift_mm }
    };
    let colours = [[206, 160, 138], [52, 60, 84], [206, 193, 168], [30, 28, 30]];
    let colour = colours[seed as usize % 4];
    match kind {
        Kind::Edge => {
            seam.edges =
                Edges { side_mm: [None, Some((v_mm + half * within(-0.8, 0.8)).max(2.0))], ..Edges::default() };
        }
        Kind::FinderCovered => {
            let (x, y) = [(-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0)][seed as usize % 3];
            let size = half * within(0.35, 0.6);
            seam.patches.push(patch(x, y, [size, size], within(-0.3, 0.3), seed.is_multiple_of(2), colour, 0.6));
        }
        Kind::PartCovered if seed.is_multiple_of(2) => {
            let size = half * within(0.4, 0.8);
            seam.patches.push(patch(1.0, 1.0, [size, size], within(-0.3, 0.3), seed.is_multiple_of(4), colour, 0.6));
        }
        Kind::PartCovered => {
            let size = half * within(0.2, 0.45);
            seam.patches.push(patch(within(-0.2, 0.2), 1.0, [size, size], within(-0.3, 0.3), true, colour, 0.6));
        }
        Kind::Blotted if seed.is_multiple_of(2) => {
            for _ in 0..3 {
                let (x, y) = (within(-0.8, 0.8), within(-0.8, 0.8));
                let size = half * within(0.08, 0.22);
                seam.patches.push(patch(x, y, [size, size * 0.8], 0.0, true, [24, 24, 40], 0.0));
            }
        }
        Kind::Blotted => {
            let size = f64::from(side_mm) / MODULES * within(0.3, 0.7);
            seam.patches.push(patch(
                0.0,
                within(-0.8, 0.8),
                [2.0 * half, size],
                within(-0.8, 0.8),
                false,
                [120; 3],
                0.0,
            ));
        }
        Kind::CutOff => {
            // The card's right or lower part lies beyond the picture.
            let lost = within(0.05, 0.35) * f64::from(side_mm);
            let reach = half * (turn_rad.cos().abs() + turn_rad.sin().abs());
            let card = &mut seam.cards[0];
            if seed.is_multiple_of(2) {
                card.v_mm = width_mm / 2.0 - reach + lost;
            } else {
                card.u_mm = (height_mm / 2.0 - reach + lost) * [1.0, -1.0][seed as usize / 2 % 2];
            }
            camera.tilt_rad = within(0.0, 10.0).to_radians();
        }
        _ => {}
    }
    (Scene { seam, camera, seed: 1000 + seed }, f64::from(side_mm))
}

/// Renders and reads one scene.
pub fn trial(kind: Kind, seed: u64) -> Outcome {
    let (scene, side_mm) = scene(kind, seed);
    let rendered = render(&scene).expect("rendered");
    let photo = Photo::new("card.jpg", rendered.photo);
    let plane = read(&photo, &ScaleRequest::Auto).expect("a plane");
    if plane.source != ScaleSource::Card {
        return Outcome::Unread { said: plane.notes.iter().any(|note| note.code.starts_with("card-")) };
    }
    // A tilt shortens one direction by its cosine: the scale in the middle is the mean of both directions.
    let truth = scene.camera.mm_per_px / scene.camera.tilt_rad.cos().sqrt();
    let printed = 0.1 / 3f64.sqrt() / side_mm;
    Outcome::Read {
        error: plane.mm_per_px / truth - 1.0,
        relative_uncertainty: plane.relative_uncertainty,
        fit_uncertainty: (plane.relative_uncertainty.powi(2) - printed.powi(2) - 0.0008f64.powi(2)).max(0.0).sqrt(),
        corner_px: worst_corner_px(&plane, rendered.truth.cards_px[0], side_mm),
    }
}
