//! Chance photographs of flat cloth with their truth: stripes and checks in several conditions, no seam in them.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use seamstep::photo::Photo;
use seamstep::render::{
    Band, Camera, Card, CardFace, Cloth, Crease, Light, Scene, SeamScene, ShadowEdge, Srgb, Weave, render,
};
use seamstep::scale::FOCAL_SHARE;
use std::f64::consts::TAU;

/// Yarns that the chance cloths are woven of; each differs plainly from every other.
const YARNS: [Srgb; 7] =
    [[222, 214, 196], [58, 64, 92], [168, 78, 56], [98, 128, 86], [206, 168, 92], [120, 84, 116], [150, 160, 172]];
/// The symbol of the card, millimetres.
const CARD_MM: f64 = 30.0;

/// A chance cloth, photographed.
pub struct ClothScene {
    /// The photograph.
    pub scene: Scene,
    /// One repeat of the lines across, and along: (threads, yarn); a single band is none.
    pub weft: Vec<(u32, usize)>,
    /// And along.
    pub warp: Vec<(u32, usize)>,
    /// Thread spacing, millimetres.
    pub thread_mm: f64,
}

struct Dice(ChaCha8Rng);

impl Dice {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * f64::from(self.0.next_u32()) / f64::from(u32::MAX)
    }

    fn below(&mut self, count: u32) -> u32 {
        self.0.next_u32() % count
    }

    /// True with this chance.
    fn falls(&mut self, chance: f64) -> bool {
        self.between(0.0, 1.0) < chance
    }
}

/// Cloth `number`: the same number gives the same cloth.
pub fn cloth(number: u64) -> ClothScene {
    let mut dice = Dice(ChaCha8Rng::seed_from_u64(0xC107_0000 + number));
    let thread_mm = dice.between(0.25, 0.42);
    let weft = sequence(&mut dice, thread_mm);
    let warp = if dice.falls(0.3) {
        vec![(1, weft[0].1)]
    } else if dice.falls(0.5) {
        weft.clone()
    } else {
        sequence(&mut dice, thread_mm)
    };
    let bands = |threads: &[(u32, usize)]| -> Vec<Band> {
        threads.iter().map(|&(n, yarn)| Band { width_mm: f64::from(n) * thread_mm, colour: YARNS[yarn] }).collect()
    };
    let weave = if dice.falls(0.5) { Weave::Twill } else { Weave::Plain };
    let woven = Cloth { weave, thread_mm, weft: bands(&weft), warp: bands(&warp), texture: 1.0 };
    let mm_per_px = dice.between(0.16, 0.26);
    let (width_px, height_px) = (760, 960);
    let side = |dice: &mut Dice| if dice.falls(0.5) { 1.0 } else { -1.0 };
    let (u_side, v_side) = (side(&mut dice), side(&mut dice));
    let [half_u, half_v] = [f64::from(height_px), f64::from(width_px)].map(|px| 0.5 * px * mm_per_px);
    let card = Card {
        face: CardFace::Scale { side_mm: CARD_MM },
        u_mm: u_side * dice.between(0.1, 1.0) * (0.9 * half_u - 40.0),
        v_mm: v_side * dice.between(0.3, 1.0) * (0.9 * half_v - 40.0),
        turn_rad: dice.between(-0.2, 0.2),
    };
    let light = Light {
        exposure: dice.between(0.7, 0.98),
        tint: [dice.between(0.92, 1.08), 1.0, dice.between(0.88, 1.08)],
        unevenness: dice.between(0.0, 0.3),
        darker_towards_rad: dice.between(0.0, TAU),
        shadow: dice.falls(0.2).then(|| ShadowEdge {
            distance: dice.between(-0.3, 0.3),
            towards_rad: dice.between(0.0, TAU),
            depth: dice.between(0.15, 0.4),
            softness_px: dice.between(8.0, 40.0),
        }),
    };
    let camera = Camera {
        focal_px: FOCAL_SHARE * f64::from(height_px) * dice.between(0.94, 1.8),
        tilt_rad: dice.between(0.0, 0.26),
        tilt_towards_rad: dice.between(0.0, TAU),
        defocus_px: dice.between(0.0, 0.8),
        shot_noise: dice.between(0.005, 0.03),
        read_noise: dice.between(0.001, 0.006),
        jpeg_quality: 80 + dice.below(17) as u8,
        light,
        ..Camera::new(width_px, height_px, mm_per_px)
    };
    let seam = SeamScene {
        skew: if dice.falls(0.3) { 0.0 } else { dice.between(-0.05, 0.05) },
        weft_bow_mm: if dice.falls(0.3) { 0.0 } else { dice.between(-3.0, 3.0) },
        lean_rad: dice.between(-0.12, 0.12),
        drape_mm: if dice.falls(0.5) { 0.0 } else { dice.between(0.0, 0.12) },
        warp_shift_mm: 0.0,
        crease: Crease { depth: 0.0, width_mm: 0.28 },
        cards: vec![card],
        ..SeamScene::new(woven)
    };
    ClothScene { scene: Scene { seam, camera, seed: 0xC107 ^ number }, weft, warp, thread_mm }
}

/// A chance sequence of two to six bands, half of them the same backwards.
fn sequence(dice: &mut Dice, thread_mm: f64) -> Vec<(u32, usize)> {
    let repeat_mm = dice.between(2.2f64, 4.1).exp();
    let lines = 1 + dice.below(3) as usize;
    let mut yarns: Vec<usize> = (0..YARNS.len()).collect();
    for k in (1..yarns.len()).rev() {
        yarns.swap(k, dice.below(k as u32 + 1) as usize);
    }
    let width = |dice: &mut Dice, share: f64| {
        ((share * repeat_mm / thread_mm).round() as u32).max((1.2 / thread_mm).ceil() as u32).max(1) + dice.below(2)
    };
    let mut bands = Vec::new();
    for k in 0..lines {
        let share = dice.between(0.25, 0.7) / lines as f64;
        bands.push((width(dice, share), yarns[0]));
        let share = dice.between(0.1, 0.4) / lines as f64;
        bands.push((width(dice, share), yarns[1 + k]));
    }
    bands
}

/// Whether a repeat is the same read backwards, thread by thread, about some mirror.
pub fn is_balanced(threads: &[(u32, usize)]) -> bool {
    let row: Vec<usize> = threads.iter().flat_map(|&(n, yarn)| std::iter::repeat_n(yarn, n as usize)).collect();
    let n = row.len();
    (0..n).any(|mirror| (0..n).all(|j| row[j] == row[(mirror + n - j) % n]))
}

/// How many threads differ at the best mirror.
pub fn threads_apart(threads: &[(u32, usize)]) -> usize {
    let row: Vec<usize> = threads.iter().flat_map(|&(n, yarn)| std::iter::repeat_n(yarn, n as usize)).collect();
    let n = row.len();
    let apart = |mirror: usize| (0..n).filter(|&j| row[j] != row[(mirror + n - j) % n]).count();
    (0..n).map(apart).min().unwrap_or(0)
}

/// The photograph of a scene.
pub fn photograph(scene: &Scene) -> Photo {
    Photo::new("cloth.jpg", render(scene).expect("a scene that can be").photo)
}

/// The broad check on the cutting table, a little skewed and bowed, the card on it.
pub fn shown() -> Scene {
    let card = Card { face: CardFace::Scale { side_mm: CARD_MM }, u_mm: 62.0, v_mm: 44.0, turn_rad: 0.08 };
    let seam = SeamScene {
        skew: 0.021,
        weft_bow_mm: -1.1,
        lean_rad: -0.03,
        warp_shift_mm: 0.0,
        crease: Crease { depth: 0.0, width_mm: 0.28 },
        cards: vec![card],
        ..SeamScene::new(Cloth::broad_check())
    };
    let camera = Camera {
        tilt_rad: 0.1,
        tilt_towards_rad: 2.0,
        light: Light { unevenness: 0.15, darker_towards_rad: 0.7, ..Light::even() },
        ..Camera::new(900, 1200, 0.19)
    };
    Scene { seam, camera, seed: 36 }
}
