//! Jumps within a centimetre of the seam, and slips of a centimetre or two: one pin let go. How well are they followed, and
//! does the uncertainty know where they stand? Chance seams with lines every few millimetres, marked by hand, truth first.

#[path = "support/each.rs"]
mod each;
#[path = "support/seams.rs"]
#[expect(dead_code, reason = "cloth without a seam is not measured here")]
mod seams;

use each::each;
use seamstep::conventions::{Runs, wrap};
use seamstep::inspect::{Question, inspect};
use seamstep::render::{OffsetProfile, Scene, Slip, Step};
use seamstep::seam::SeamRequest;
use seamstep::units::PxPoint;

/// The first of the chance seams whose cloth is taken, and how many jumps of each kind.
const FIRST: u64 = 9000;
const JUMPS: u64 = 40;
/// Repeats that give lines close enough to tell where a jump is, millimetres.
const REPEATS_MM: std::ops::Range<f64> = 6.0..20.0;
/// A reading this near to the changing offset is at the jump, millimetres.
const NEAR_MM: f64 = 10.0;
/// Beyond this the partner is another line, and nothing of a jump is tested, repeats.
const MOST_REPEATS: f64 = 0.4;

/// What kind of jump.
#[derive(Clone, Copy)]
enum Kind {
    /// From one level to another within 2 to 10 mm.
    Step,
    /// Up and down again within 10 to 20 mm.
    Slip,
}

/// A chance seam's cloth, camera and things, with a jump; and the stretch over which the offset changes, u, millimetres.
fn scene(kind: Kind, number: u64) -> (Scene, [f64; 2]) {
    let close = |scene: &Scene| scene.seam.cloth.repeat_mm().is_some_and(|mm| REPEATS_MM.contains(&mm));
    let mut scene = (FIRST + 100 * number..).map(seams::seam).find(close).expect("a cloth of close lines");
    // Multiples of the golden ratio fill the ranges evenly.
    let share = |k: u64| ((number + 1) as f64 * (0.618_034 + 0.137 * k as f64)).fract();
    let most_mm = MOST_REPEATS * scene.seam.cloth.repeat_mm().expect("lines");
    let amount_mm = (1.0 + 3.0 * share(0)).min(most_mm) * if number.is_multiple_of(2) { 1.0 } else { -1.0 };
    let at_mm = 50.0 * (share(1) - 0.5);
    let seam = &mut scene.seam;
    // The picture's middle is u = 0, and a straight seam's places are their distances from it.
    (seam.aside_mm, seam.bow_mm, scene.camera.tilt_rad) = (0.0, 0.0, 0.0);
    seam.offset = OffsetProfile::constant(seam.offset.constant_mm.clamp(-most_mm, most_mm) - amount_mm / 2.0);
    let reach_mm = match kind {
        Kind::Step => {
            // A steeper one would fold the cloth over, and the renderer does not do that.
            let over_mm = (2.0 + 8.0 * share(2)).max(amount_mm.abs());
            seam.offset.steps.push(Step { at_mm, amount_mm, over_mm });
            over_mm / 2.0
        }
        Kind::Slip => {
            let half_width_mm = 5.0 + 5.0 * share(2);
            seam.offset.slips.push(Slip { at_mm, amount_mm, half_width_mm });
            half_width_mm
        }
    };
    (scene, [at_mm - reach_mm, at_mm + reach_mm])
}

/// Error and expanded uncertainty of a reading.
type Error = [f64; 2];

/// The readings of one seam: at the jump, and elsewhere. `None` where it was refused.
fn measure(kind: Kind, number: u64) -> Option<[Vec<Error>; 2]> {
    let (scene, changing) = scene(kind, number);
    let (photo, scale, rendered) = seams::photograph(&scene);
    let seam_px = &rendered.truth.seam_px;
    let points_px = vec![seam_px[0], seam_px[seam_px.len() / 2], seam_px[seam_px.len() - 1]];
    let question = Question { scale, seam: SeamRequest { points_px, ..SeamRequest::default() }, ..Question::default() };
    let offset = inspect(&photo, &question).ok()?.offset;
    let repeat_mm = scene.seam.cloth.repeat_mm().expect("lines");
    let camera = &scene.camera;
    let middle = PxPoint::new(f64::from(camera.width_px - 1) / 2.0, f64::from(camera.height_px - 1) / 2.0);
    let mut readings = [Vec::new(), Vec::new()];
    for reading in &offset.readings {
        let ahead = if scene.seam.runs == Runs::Down { reading.at_px.y - middle.y } else { reading.at_px.x - middle.x };
        let u_mm = reading.at_px.distance(middle).copysign(ahead) * camera.mm_per_px;
        let away_mm = (changing[0] - u_mm).max(u_mm - changing[1]);
        let error_mm = wrap(reading.offset_mm - scene.seam.offset.at(u_mm), repeat_mm);
        readings[usize::from(away_mm > NEAR_MM)].push([error_mm, reading.expanded_uncertainty_mm]);
    }
    Some(readings)
}

/// Of many readings: rms and largest error, share inside U, median U.
struct Figures {
    rms_mm: f64,
    median_mm: f64,
    largest_mm: f64,
    inside: f64,
    u_mm: f64,
}

impl Figures {
    fn of<'a>(readings: impl Iterator<Item = &'a Error>) -> Self {
        let readings: Vec<&Error> = readings.collect();
        let count = readings.len() as f64;
        let median = |of: fn(&Error) -> f64| {
            let mut all: Vec<f64> = readings.iter().map(|e| of(e)).collect();
            all.sort_by(f64::total_cmp);
            all[all.len() / 2]
        };
        Self {
            rms_mm: (readings.iter().map(|[e, _]| e * e).sum::<f64>() / count).sqrt(),
            median_mm: median(|[e, _]| e.abs()),
            largest_mm: readings.iter().map(|[e, _]| e.abs()).fold(0.0, f64::max),
            inside: readings.iter().filter(|[e, u]| e.abs() <= *u).count() as f64 / count,
            u_mm: median(|[_, u]| *u),
        }
    }
}

impl std::fmt::Display for Figures {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        let Self { rms_mm, median_mm, largest_mm, inside, u_mm } = self;
        let inside = 100.0 * inside;
        write!(
            f,
            "rms {rms_mm:.3}, median {median_mm:.3}, largest {largest_mm:.2} mm, in U {inside:.1} %, median U {u_mm:.3} mm"
        )
    }
}

/// Figures at the jump and elsewhere, and what they are in words.
fn figures(kind: Kind) -> ([Figures; 2], String) {
    let all: Vec<[Vec<Error>; 2]> = each(JUMPS, |k| measure(kind, k)).into_iter().flatten().collect();
    let [near, far] = [0, 1].map(|k| Figures::of(all.iter().flat_map(|seam| &seam[k])));
    let said = format!("{} of {JUMPS} measured; at the jump: {near}; elsewhere: {far}", all.len());
    assert!(10 * all.len() as u64 >= 8 * JUMPS, "{said}");
    ([near, far], said)
}

#[test]
fn a_step_within_a_centimetre_is_followed() {
    let ([near, far], said) = figures(Kind::Step);
    assert!(near.median_mm < 0.04 && near.u_mm < 0.13 && near.rms_mm < 0.7, "{said}");
    assert!(far.median_mm < 0.02 && far.u_mm < 0.1, "{said}");
    assert!(near.inside > 0.85 && far.inside > 0.94, "{said}");
}

#[test]
fn a_slip_of_a_centimetre_or_two_is_followed() {
    let ([near, far], said) = figures(Kind::Slip);
    // A line that stands alone in a slip may be taken for something that lies on the cloth, and is then not measured. Most readings
    // of a slip stand between two edges that jump differently, and their uncertainty says so.
    assert!(near.median_mm < 0.05 && near.u_mm < 0.16 && near.rms_mm < 0.65, "{said}");
    assert!(far.median_mm < 0.02 && far.u_mm < 0.1, "{said}");
    assert!(near.inside > 0.84 && far.inside > 0.94, "{said}");
}
