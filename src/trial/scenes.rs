//! The seams that are tried: seam `number` of a request is the same at every distance.

use super::{Conditions, TrialRequest};
use crate::card::USUAL_SIDE_MM;
use crate::render::{
    Band, Camera, Card, CardFace, Cloth, Crease, Light, OffsetProfile, Pin, Scene, SeamScene, ShadowEdge, Wander,
};
use crate::scale::FOCAL_SHARE;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use std::f64::consts::TAU;

/// The light, in plain words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum Lighting {
    /// Daylight from all sides
    Even,
    /// From one side: a third darker at one end of the picture
    Uneven,
    /// The edge of a hard shadow lies across the picture
    Shadow,
    /// A lamp in the evening: yellow, little light, a noisy and softer picture
    Dim,
}

impl Lighting {
    /// The word, as it is typed.
    pub fn word(self) -> &'static str {
        match self {
            Lighting::Even => "even",
            Lighting::Uneven => "uneven",
            Lighting::Shadow => "shadow",
            Lighting::Dim => "dim",
        }
    }
}

/// Pixels along the long side of a 12-megapixel photograph, which most phones take (common practice, no source). The
/// rendered picture is a part cut out of one.
pub const PHONE_PX: f64 = 4000.0;
/// Width of the picture across the seam: the strips to both sides, and the card beside one of them, millimetres.
const ACROSS_MM: f64 = 130.0;
/// The seam stands this far from the picture's middle, away from the card, millimetres.
const ASIDE_MM: f64 = 12.0;
/// Half the width of the card's paper: the symbol, its quiet zone of four modules of 25, and a rim, as share of the
/// symbol's side and millimetres.
const CARD_HALF_SHARE: f64 = 0.5 + 4.0 / 25.0;
const CARD_RIM_MM: f64 = 2.0;
/// A leaning, bent seam takes the card with it, millimetres.
const LEAN_MM: f64 = 3.0;
/// Offsets go up to this many tolerances, and to this share of the repeat: beyond half of it the partner would be
/// another line.
const MOST_TOLERANCES: f64 = 2.0;
const MOST_REPEATS: f64 = 0.35;
/// A point drawn by a user is out by up to this much across the seam, millimetres.
pub(super) const DRAWN_MM: f64 = 0.5;

/// Width and height of the picture at a distance, pixels.
fn size_px(conditions: &Conditions, mm_per_px: f64) -> [f64; 2] {
    [ACROSS_MM, conditions.seam_mm].map(|mm| (mm / mm_per_px).round().max(1.0))
}

/// Pixels of a photograph at this distance.
pub(super) fn pixels(conditions: &Conditions, mm_per_px: f64) -> f64 {
    size_px(conditions, mm_per_px).iter().product()
}

/// How far above the cloth a phone of 12 megapixels (a main camera of [`FOCAL_SHARE`]) sees this many millimetres to a
/// pixel, millimetres.
pub fn phone_distance_mm(mm_per_px: f64) -> f64 {
    FOCAL_SHARE * PHONE_PX * mm_per_px
}

/// The largest offset that is sewn, millimetres.
pub(super) fn most_offset_mm(request: &TrialRequest) -> f64 {
    let wanted = MOST_TOLERANCES * request.tolerance_mm().clamp(0.05, 20.0);
    let most = request.cloth.repeat_mm().map_or(wanted, |repeat| wanted.min(MOST_REPEATS * repeat));
    (most - request.conditions.wander_mm).max(0.0)
}

/// The dice of a seam; `use_` keeps the scene's chances and the drawn points' apart.
pub(super) fn dice(request: &TrialRequest, number: usize, use_: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(request.seed);
    rng.set_stream(2 * number as u64 + use_);
    rng
}

/// Seam `number` photographed at a distance.
pub fn scene(request: &TrialRequest, number: usize, mm_per_px: f64) -> Scene {
    let conditions = &request.conditions;
    let mut rng = dice(request, number, 0);
    let mut within = |low: f64, high: f64| low + (high - low) * rng.random::<f64>();
    let most_mm = most_offset_mm(request);
    // One seam in each of as many equal steps as there are seams: no offset is left out.
    let constant_mm = most_mm * (2.0 * (number as f64 + within(0.0, 1.0)) / request.seams as f64 - 1.0);
    let wander =
        Wander { amplitude_mm: conditions.wander_mm, wavelength_mm: within(70.0, 140.0), phase_rad: within(0.0, TAU) };
    let mut seam = SeamScene {
        offset: OffsetProfile { constant_mm, wander: Some(wander), ..OffsetProfile::default() },
        warp_shift_mm: within(0.0, 20.0),
        aside_mm: -ASIDE_MM,
        lean_rad: within(-0.05, 0.05),
        bow_mm: within(-1.5, 1.5),
        crease: Crease { depth: within(0.35, 0.7), width_mm: within(0.22, 0.4) },
        drape_mm: conditions.drape_mm,
        ..SeamScene::new(begun(&request.cloth, within(0.0, 1.0)))
    };
    let turn_rad = within(-0.15, 0.15);
    let card = lay_card(conditions, mm_per_px, turn_rad, within(-1.0, 1.0));
    seam.cards = vec![card];
    let step_mm = conditions.seam_mm / conditions.pins.max(1) as f64;
    seam.pins = (0..conditions.pins)
        .map(|k| Pin {
            at_mm: (k as f64 + within(0.2, 0.8)) * step_mm - conditions.seam_mm / 2.0,
            turn_rad: within(-0.2, 0.2),
            head: [[196, 52, 60], [236, 208, 84], [232, 230, 226]][k % 3],
            head_on_second: within(0.0, 1.0) < 0.5,
        })
        .collect();
    let direction_rad = within(0.0, TAU);
    let tilt_towards_rad = within(0.0, TAU);
    let distance = within(-0.4, 0.4);
    let exposure = within(0.75, 0.95);
    let [width_px, height_px] = size_px(conditions, mm_per_px).map(|px| px as u32);
    let camera = Camera {
        focal_px: FOCAL_SHARE * PHONE_PX.max(f64::from(width_px.max(height_px))),
        tilt_rad: conditions.tilt_rad,
        tilt_towards_rad,
        defocus_px: conditions.blur_px,
        shot_noise: conditions.noise,
        sharpening: 0.2,
        ..Camera::new(width_px, height_px, mm_per_px)
    };
    let even = Light { exposure, ..Light::even() };
    let camera = match conditions.light {
        Lighting::Even => Camera { light: even, ..camera },
        Lighting::Uneven => {
            Camera { light: Light { unevenness: 0.33, darker_towards_rad: direction_rad, ..even }, ..camera }
        }
        Lighting::Shadow => {
            let edge = ShadowEdge {
                distance,
                towards_rad: direction_rad,
                depth: 0.5,
                softness_px: (0.8 / mm_per_px).max(1.0),
            };
            Camera { light: Light { shadow: Some(edge), ..even }, ..camera }
        }
        Lighting::Dim => Camera {
            light: Light {
                exposure: 0.55 * exposure,
                tint: [1.12, 1.0, 0.72],
                unevenness: 0.2,
                darker_towards_rad: direction_rad,
                shadow: None,
            },
            shot_noise: (3.0 * conditions.noise).min(0.5),
            read_noise: 0.006,
            defocus_px: conditions.blur_px.hypot(0.6),
            jpeg_quality: 85,
            ..camera
        },
    };
    Scene { seam, camera, seed: request.seed.wrapping_add(number as u64) }
}

/// The cloth with its lines begun at another place of the repeat: at `share` of it.
fn begun(cloth: &Cloth, share: f64) -> Cloth {
    let turned = |bands: &[Band]| {
        let mut left_mm = share * bands.iter().map(|band| band.width_mm).sum::<f64>();
        let at = bands.iter().position(|band| {
            left_mm -= band.width_mm;
            left_mm < 0.0
        });
        let Some(at) = at else { return bands.to_vec() };
        // The band in which it begins is cut in two; a cut off too thin to weave stays with its other half.
        let (end_mm, band) = (-left_mm, bands[at]);
        let start_mm = band.width_mm - end_mm;
        let cut = bands.len() > 1 && start_mm > LEAST_BAND_MM && end_mm > LEAST_BAND_MM;
        let [first, last] =
            if cut { [end_mm, start_mm].map(|width_mm| vec![Band { width_mm, ..band }]) } else { [vec![band], vec![]] };
        [&first, &bands[at + 1..], &bands[..at], &last].concat()
    };
    Cloth { weft: turned(&cloth.weft), warp: cloth.warp.clone(), ..*cloth }
}

/// Narrowest band that the renderer takes, with a margin, millimetres.
const LEAST_BAND_MM: f64 = 0.02;

/// The printed scale card beside the second side, as far from the seam as the picture allows; `share` places it along.
fn lay_card(conditions: &Conditions, mm_per_px: f64, turn_rad: f64, share: f64) -> Card {
    let side_mm = f64::from(USUAL_SIDE_MM);
    let half_mm = (CARD_HALF_SHARE * side_mm + CARD_RIM_MM) * (turn_rad.abs().sin() + turn_rad.cos());
    // What stands nearer to a tilted camera is seen larger: the picture's edge cuts off more cloth there.
    let edge_mm = ACROSS_MM / 2.0;
    let tilt = conditions.tilt_rad;
    let nearness = tilt.cos() + edge_mm / phone_distance_mm(mm_per_px) * tilt.sin();
    let edge_mm = edge_mm / nearness.max(1.0) + ASIDE_MM;
    let v_mm = (edge_mm - half_mm - LEAN_MM).max(half_mm + 2.0);
    let room_mm = (conditions.seam_mm / 2.0 / nearness.max(1.0) - half_mm - 3.0).max(0.0);
    Card { face: CardFace::Printed { side_mm: USUAL_SIDE_MM, printed_at: 1.0 }, u_mm: share * room_mm, v_mm, turn_rad }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_number_is_the_same_seam_at_every_distance() {
        let request = TrialRequest::new(Cloth::fine_stripe());
        let [near, far] = [0.1, 0.3].map(|mm_per_px| scene(&request, 3, mm_per_px));
        assert_eq!(near.seam.offset, far.seam.offset);
        assert_eq!(near.seam.cloth, far.seam.cloth);
        assert_eq!(near.seed, far.seed);
        assert_ne!(near.seam.offset, scene(&request, 4, 0.1).seam.offset);
    }

    #[test]
    fn offsets_are_spread_over_their_whole_range() {
        let request = TrialRequest { seams: 8, ..TrialRequest::new(Cloth::broad_check()) };
        let most_mm = most_offset_mm(&request);
        assert!((most_mm - 2.7).abs() < 1e-9, "twice the tolerance less the wander: {most_mm}");
        for number in 0..8 {
            let offset_mm = scene(&request, number, 0.2).seam.offset.constant_mm;
            let step = (offset_mm / most_mm + 1.0) * 4.0;
            assert!((number as f64..number as f64 + 1.0).contains(&step), "{number}: {offset_mm}");
        }
        // A fine stripe must not jump to its neighbour.
        assert!((most_offset_mm(&TrialRequest::new(Cloth::fine_stripe())) - (0.35 * 5.0 - 0.3)).abs() < 1e-9);
    }

    #[test]
    fn a_cloth_begun_elsewhere_has_the_same_repeat_and_order() {
        let cloth = Cloth::broad_check();
        for share in [0.0, 0.1, 0.5, 0.77, 0.999] {
            let turned = begun(&cloth, share);
            assert!((turned.repeat_mm().unwrap() - cloth.repeat_mm().unwrap()).abs() < 1e-9);
            // What stood at the share of the repeat stands first.
            let colour_at = |bands: &[Band], mut mm: f64| {
                bands
                    .iter()
                    .find(|band| {
                        mm -= band.width_mm;
                        mm < 0.0
                    })
                    .map(|band| band.colour)
            };
            let place_mm = share * cloth.repeat_mm().unwrap();
            assert_eq!(colour_at(&turned.weft, 0.001), colour_at(&cloth.weft, place_mm + 0.001), "{share}");
        }
    }

    #[test]
    fn the_whole_card_is_in_the_picture() {
        for (tilt_deg, mm_per_px) in [(0.0, 0.1), (8.0, 0.1), (8.0, 0.3), (20.0, 0.2)] {
            let mut request = TrialRequest::new(Cloth::fine_stripe());
            request.conditions.tilt_rad = f64::to_radians(tilt_deg);
            for number in 0..request.seams {
                let mut scene = scene(&request, number, mm_per_px);
                // Only the geometry is wanted: the same view in few pixels is quickly made.
                let (camera, coarse) = (&mut scene.camera, 1.0 / mm_per_px);
                camera.width_px = (f64::from(camera.width_px) / coarse) as u32;
                camera.height_px = (f64::from(camera.height_px) / coarse) as u32;
                camera.focal_px /= coarse;
                camera.mm_per_px *= coarse;
                let (right, bottom) = (f64::from(camera.width_px) - 0.5, f64::from(camera.height_px) - 0.5);
                let corners = crate::render::render(&scene).unwrap().truth.cards_px[0];
                for p in corners {
                    // The quiet zone of four modules, less what the reader does without.
                    let inside = (3.0..right - 3.0).contains(&p.x) && (3.0..bottom - 3.0).contains(&p.y);
                    assert!(inside, "seam {number}, {tilt_deg} degrees, {mm_per_px} mm to a pixel: {corners:?}");
                }
            }
        }
    }

    #[test]
    fn a_phone_thirty_centimetres_away_sees_a_tenth_of_a_millimetre() {
        assert!((phone_distance_mm(0.1) - 296.0).abs() < 1e-9);
    }
}
