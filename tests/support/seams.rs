//! Chance scenes: seams of every kind, and cloth without one, each the same for the same number.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use seamstep::conventions::Runs;
use seamstep::photo::Photo;
use seamstep::render::{
    Band, Basting, Camera, Card, CardFace, Cloth, Crease, Edges, OffsetProfile, Pin, Rendered, Scene, SeamScene,
    ShadowEdge, Slip, Step, Wander, Weave, Zip, render,
};
use seamstep::scale::ScaleRequest;
use seamstep::units::PxPoint;
use std::f64::consts::TAU;

/// The long and the short side of a picture, pixels.
const PICTURE_PX: (u32, u32) = (520, 400);

/// A scene's dice.
pub struct Dice(ChaCha8Rng);

impl Dice {
    /// The dice of a number.
    pub fn new(number: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(number))
    }

    /// A number in [low, high).
    pub fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * f64::from(self.0.next_u32()) / (f64::from(u32::MAX) + 1.0)
    }

    /// True with a chance of `share`.
    pub fn chance(&mut self, share: f64) -> bool {
        self.within(0.0, 1.0) < share
    }

    /// One or minus one.
    pub fn sign(&mut self) -> f64 {
        if self.chance(0.5) { 1.0 } else { -1.0 }
    }

    /// A whole number from 0.
    pub fn whole(&mut self, below: u32) -> u32 {
        self.within(0.0, f64::from(below)) as u32
    }

    /// A yarn's colour.
    pub fn colour(&mut self) -> [u8; 3] {
        let level = self.within(40.0, 225.0);
        [0; 3].map(|_| (level + self.within(-45.0, 45.0)).clamp(15.0, 240.0) as u8)
    }

    /// A colour that can be told from `other`.
    pub fn other_colour(&mut self, other: [u8; 3]) -> [u8; 3] {
        loop {
            let colour = self.colour();
            let apart: f64 = (0..3).map(|c| f64::from(colour[c].abs_diff(other[c]))).sum();
            if apart > 75.0 {
                return colour;
            }
        }
    }

    /// Bands of one repeat on a ground.
    fn bands(&mut self, ground: [u8; 3], thread_mm: f64, repeat_mm: f64) -> Vec<Band> {
        let count = 1 + self.whole(3);
        let part_mm = repeat_mm / f64::from(count);
        let mut bands = Vec::new();
        for _ in 0..count {
            let threads = |mm: f64| (mm / thread_mm).round().max(2.0) * thread_mm;
            let line_mm = threads(part_mm * self.within(0.1, 0.55));
            bands.push(Band { width_mm: threads(part_mm - line_mm), colour: ground });
            bands.push(Band { width_mm: line_mm, colour: self.other_colour(ground) });
        }
        bands
    }

    /// A cloth with lines across the seam, and in half of them along it too.
    pub fn cloth(&mut self) -> Cloth {
        let thread_mm = self.within(0.25, 0.45);
        let ground = self.colour();
        let repeat_mm = 5.0 * self.within(0.0, 2.3).exp();
        let weft = self.bands(ground, thread_mm, repeat_mm);
        let warp = match self.whole(4) {
            0 => weft.clone(),
            1 => {
                let repeat_mm = 5.0 * self.within(0.0, 2.3).exp();
                self.bands(ground, thread_mm, repeat_mm)
            }
            _ => vec![Band { width_mm: thread_mm, colour: ground }],
        };
        let weave = [Weave::Plain, Weave::Twill, Weave::Twill, Weave::Printed][self.whole(4) as usize];
        Cloth { weave, thread_mm, weft, warp, texture: self.within(0.4, 1.4) }
    }

    /// A jump of about `most_mm` at most, and in half of the seams a drift, slip, step or wave with it.
    pub fn offset(&mut self, most_mm: f64) -> OffsetProfile {
        // Small jumps are as frequent as large ones, and every tenth seam is matched.
        let constant_mm = if self.chance(0.1) { 0.0 } else { self.sign() * most_mm * self.within(0.0, 1.0).powi(2) };
        let mut offset = OffsetProfile::constant(constant_mm);
        match self.whole(8) {
            0 => offset.drift_mm_per_100_mm = self.sign() * self.within(0.5, 3.0),
            1 => offset.slips.push(Slip {
                at_mm: self.within(-30.0, 30.0),
                amount_mm: self.sign() * self.within(0.5, 3.0),
                half_width_mm: self.within(14.0, 28.0),
            }),
            2 => offset.steps.push(Step {
                at_mm: self.within(-25.0, 25.0),
                amount_mm: self.sign() * self.within(0.5, 2.0),
                over_mm: self.within(9.0, 20.0),
            }),
            3 => {
                offset.wander = Some(Wander {
                    amplitude_mm: self.within(0.3, 1.5),
                    wavelength_mm: self.within(50.0, 120.0),
                    phase_rad: self.within(0.0, TAU),
                });
            }
            _ => {}
        }
        offset
    }

    /// A camera above the seam, its light, and the scale that goes with it.
    fn camera(&mut self, runs: Runs) -> Camera {
        let (long, short) = PICTURE_PX;
        let size = match (runs, self.chance(0.8)) {
            (Runs::Down, true) | (Runs::Across, false) => (short, long),
            _ => (long, short),
        };
        let mut camera = Camera::new(size.0, size.1, self.within(0.22, 0.32));
        camera.light.unevenness = self.within(0.0, 0.3);
        camera.light.darker_towards_rad = self.within(0.0, TAU);
        camera.light.exposure = self.within(0.6, 1.0);
        camera.light.tint = [self.within(0.9, 1.1), 1.0, self.within(0.85, 1.1)];
        camera.defocus_px = self.within(0.0, 0.9);
        camera.shot_noise = self.within(0.004, 0.03);
        camera.sharpening = self.within(0.0, 0.5);
        camera.jpeg_quality = 70 + self.whole(26) as u8;
        if self.chance(0.25) {
            camera.light.shadow = Some(ShadowEdge {
                distance: self.within(-0.5, 0.5),
                towards_rad: self.within(0.0, TAU),
                depth: self.within(0.2, 0.6),
                softness_px: self.within(1.0, 12.0),
            });
        }
        camera
    }

    fn pins(&mut self) -> Vec<Pin> {
        let count = 1 + self.whole(3);
        (0..count)
            .map(|_| Pin {
                at_mm: self.within(-55.0, 55.0),
                turn_rad: self.within(-0.3, 0.3),
                head: self.colour(),
                head_on_second: self.chance(0.5),
            })
            .collect()
    }

    /// Where the garment ends, in four of ten pictures.
    fn edges(&mut self, across_mm: f64) -> Edges {
        let mut edges = Edges::default();
        if self.chance(0.12) {
            edges.waist_mm = Some(-self.within(35.0, 50.0));
        }
        if self.chance(0.12) {
            edges.hem_mm = Some(self.within(35.0, 50.0));
        }
        if self.chance(0.2) {
            edges.side_mm[self.whole(2) as usize] = Some(across_mm * self.within(0.25, 0.4));
        }
        edges
    }

    /// A card in a corner of the picture, and a camera that may then be tilted.
    fn lay_card(&mut self, seam: &mut SeamScene, camera: &mut Camera) {
        let side_mm = 100.0 * camera.mm_per_px;
        let (width, height) = (f64::from(camera.width_px), f64::from(camera.height_px));
        let (along, across) = if seam.runs == Runs::Down { (height, width) } else { (width, height) };
        let room = |px: f64| px / 2.0 * camera.mm_per_px - 0.85 * side_mm;
        let (u_mm, v_mm) = (self.sign() * room(along) * self.within(0.0, 0.9), self.sign() * room(across));
        seam.cards = vec![Card {
            face: CardFace::Scale { side_mm },
            u_mm,
            v_mm: v_mm - seam.aside_mm,
            turn_rad: self.within(-0.2, 0.2),
        }];
        camera.tilt_rad = self.within(0.0, 0.3);
        camera.tilt_towards_rad = self.within(0.0, TAU);
    }
}

/// A seam of any kind: leaning, curved, off the middle, flared, draped, pinned, basted, zipped, shaded.
pub fn seam(number: u64) -> Scene {
    let mut dice = Dice::new(number);
    let cloth = dice.cloth();
    let runs = if dice.chance(0.7) { Runs::Down } else { Runs::Across };
    let mut camera = dice.camera(runs);
    let across_mm = camera.mm_per_px * f64::from(if runs == Runs::Down { camera.width_px } else { camera.height_px });
    let most_mm = (0.45 * cloth.repeat_mm().expect("lines")).min(6.0);
    let mut seam = SeamScene {
        offset: dice.offset(most_mm),
        runs,
        warp_shift_mm: dice.within(0.0, 20.0),
        aside_mm: across_mm * dice.within(-0.2, 0.2),
        lean_rad: dice.within(-0.16, 0.16),
        bow_mm: dice.within(-4.0, 4.0),
        crease: Crease { depth: dice.within(0.15, 0.75), width_mm: dice.within(0.2, 0.5) },
        drape_mm: if dice.chance(0.4) { dice.within(0.1, 0.9) } else { 0.0 },
        ..SeamScene::new(cloth)
    };
    if dice.chance(0.2) {
        let flare = dice.within(0.02, 0.14);
        seam.slope = [flare, -flare * dice.within(0.6, 1.4)];
    } else if dice.chance(0.5) {
        // Cut a little off the grain, both sides alike.
        seam.slope = [dice.within(-0.05, 0.05); 2];
    }
    if dice.chance(0.15) {
        let gap_mm = dice.within(5.0, 11.0);
        seam.zip =
            Some(Zip { gap_mm, tape: dice.colour(), teeth: [190, 180, 150], teeth_mm: dice.within(0.4, 0.6) * gap_mm });
    }
    if dice.chance(0.25) {
        seam.pins = dice.pins();
    }
    if dice.chance(0.2) {
        let (stitch_mm, gap_mm, aside_mm) = (dice.within(4.0, 9.0), dice.within(3.0, 7.0), dice.within(-1.5, 1.5));
        seam.basting = Some(Basting { colour: dice.colour(), stitch_mm, gap_mm, aside_mm });
    }
    seam.edges = dice.edges(across_mm);
    if dice.chance(0.5) {
        dice.lay_card(&mut seam, &mut camera);
    }
    Scene { seam, camera, seed: number }
}

/// Cloth without any seam, under the same cameras and lights; pins lie on some of it.
pub fn unseamed(number: u64) -> Scene {
    let mut scene = seam(number);
    let seam = &mut scene.seam;
    let mut dice = Dice::new(number ^ 0x5EA1);
    let slope = if dice.chance(0.5) { [dice.within(-0.15, 0.15); 2] } else { [0.0; 2] };
    seam.crease.depth = 0.0;
    seam.offset = OffsetProfile::default();
    seam.slope = slope;
    seam.warp_shift_mm = 0.0;
    seam.zip = None;
    seam.basting = None;
    // Without a seam nothing leans or bends but the lines themselves.
    (seam.bow_mm, seam.lean_rad) = (0.0, 0.0);
    seam.drape_mm = seam.drape_mm.min(0.4);
    scene
}

/// The photograph of a scene and the scale to read it with.
pub fn photograph(scene: &Scene) -> (Photo, ScaleRequest, Rendered) {
    let rendered = render(scene).expect("a scene that can be rendered");
    let scale = if scene.seam.cards.is_empty() {
        let truth = &rendered.truth;
        let ends_px: [PxPoint; 2] = [truth.seam_px[0], truth.seam_px[truth.seam_px.len() - 1]];
        ScaleRequest::Length { ends_px, length_mm: truth.ends_apart_mm }
    } else {
        ScaleRequest::Card
    };
    (Photo::new("seam.jpg", rendered.photo.clone()), scale, rendered)
}
