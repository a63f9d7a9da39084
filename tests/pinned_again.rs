//! The remedy is done as a person would do it, and the seam is photographed again: is it as good as was said?
//!
//! Render → check → pin again → render → check, over seeded scenes of every kind of fault; the truth is the renderer's.

#[path = "support/each.rs"]
mod each;
#[path = "support/seams.rs"]
#[expect(dead_code, reason = "cloth without a seam is not pinned again")]
mod seams;

use each::each;
use seamstep::finding::Finding;
use seamstep::inspect::{Question, inspect};
use seamstep::remedy::Action;
use seamstep::remedy::cure::Cure;
use seamstep::remedy::fault::Pattern;
use seamstep::render::{Band, OffsetProfile, Repin, Scene, Slip, Step, Truth, Wander};
use seamstep::seam::SeamRequest;
use seamstep::verdict::{Demand, Judgement, Place};

/// Faults, and how many scenes of each.
const FAULTS: [Fault; 9] = [
    Fault::Even,
    Fault::Drift,
    Fault::SteepDrift,
    Fault::Slip,
    Fault::Half,
    Fault::Wander,
    Fault::WrongLine,
    Fault::Flare,
    Fault::OffGrain,
];
const SEEDS: u64 = 6;
/// Chance scenes of this many and further serve no other test.
const FIRST: u64 = 9000;
/// Repeats, millimetres: large enough that what is jumped is known without counting repeats, small enough that several
/// are seen.
const REPEATS_MM: std::ops::Range<f64> = 12.0..22.0;
const TOLERANCE_MM: f64 = 1.5;

#[derive(Clone, Copy, Debug, PartialEq)]
enum Fault {
    Even,
    Drift,
    SteepDrift,
    Slip,
    Half,
    Wander,
    WrongLine,
    Flare,
    OffGrain,
}

/// A number in [low, high) that goes with a seed and a purpose.
fn within(seed: u64, purpose: u64, low: f64, high: f64) -> f64 {
    // SplitMix64's finaliser.
    let mut z = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15).wrapping_add(purpose.wrapping_mul(0xBF58_476D_1CE4_E5B9));
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    low + (high - low) * ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
}

/// A chance seam with this fault and no other.
fn scene(fault: Fault, seed: u64) -> Scene {
    let numbers = (0..).map(|k| FIRST + 1000 * fault as u64 + 40 * seed + k);
    // A card on so small a picture hides a good part of one side.
    let usual = |s: &Scene| {
        s.seam.cards.is_empty()
            && s.seam.zip.is_none()
            && REPEATS_MM.contains(&s.seam.cloth.repeat_mm().expect("lines"))
    };
    let mut scene = numbers.map(seams::seam).find(usual).expect("one such scene in a thousand");
    let seed = scene.seed;
    let sign = if within(seed, 0, 0.0, 1.0) < 0.5 { -1.0 } else { 1.0 };
    let amount = |low, high| sign * within(seed, 1, low, high);
    let seam = &mut scene.seam;
    seam.offset = OffsetProfile::default();
    seam.slope = [0.0; 2];
    seam.drape_mm = seam.drape_mm.min(0.4);
    match fault {
        Fault::Even => seam.offset.constant_mm = amount(2.0, 5.5),
        Fault::Drift => {
            seam.offset.drift_mm_per_100_mm = amount(1.2, 1.9);
            seam.offset.constant_mm = amount(1.4, 2.4);
        }
        Fault::SteepDrift => seam.repeat_factor = [1.0, 1.0 + sign * within(seed, 1, 0.045, 0.055)],
        Fault::Slip => seam.offset.slips.push(Slip {
            at_mm: within(seed, 2, -12.0, 12.0),
            amount_mm: amount(2.4, 4.0),
            half_width_mm: within(seed, 3, 20.0, 26.0),
        }),
        Fault::Half => seam.offset.steps.push(Step {
            at_mm: within(seed, 2, -10.0, 10.0),
            amount_mm: amount(2.4, 3.4),
            over_mm: within(seed, 3, 14.0, 22.0),
        }),
        Fault::Wander => {
            seam.offset.wander = Some(Wander {
                amplitude_mm: amount(1.9, 2.4),
                wavelength_mm: within(seed, 2, 90.0, 120.0),
                phase_rad: within(seed, 3, 0.0, 6.0),
            });
        }
        Fault::WrongLine => {
            // Three colours on one ground: a line that meets its neighbour meets another colour.
            let ground = [206, 196, 176];
            let band = |width_mm, colour| Band { width_mm, colour };
            let step_mm = 3.0 * scene.seam.cloth.thread_mm * within(seed, 2, 8.0, 12.0).round();
            let line = |colour| [band(step_mm * 2.0 / 3.0, ground), band(step_mm / 3.0, colour)];
            scene.seam.cloth.weft = [[160, 62, 40], [38, 92, 98], [52, 48, 70]].into_iter().flat_map(line).collect();
            scene.seam.offset.constant_mm = sign * step_mm;
        }
        Fault::Flare => {
            seam.slope = [0.17, -0.07];
            seam.offset.constant_mm = amount(2.0, 3.5);
        }
        Fault::OffGrain => {
            seam.slope = [0.0, sign * 0.13];
            seam.offset.constant_mm = amount(2.0, 3.5);
        }
    }
    scene
}

/// The seam checked, its place given, as a basted side of nobody's skirt.
fn check(scene: &Scene) -> Option<(Finding, Truth)> {
    let (photo, scale, rendered) = seams::photograph(scene);
    let seam_px = &rendered.truth.seam_px;
    let points_px = vec![seam_px[0], seam_px[seam_px.len() / 2], seam_px[seam_px.len() - 1]];
    let demand = Demand { place: Some(Place::CentreBack), tolerance_mm: Some(TOLERANCE_MM), ..Demand::default() };
    // Whoever has just pinned a seam is sure of its place, however little of it shows.
    let seam = SeamRequest { points_px, insist: true, ..SeamRequest::default() };
    let question = Question { scale, seam, demand, ..Question::default() };
    Some((inspect(&photo, &question).ok()?, rendered.truth))
}

/// The scene after the work.
fn pinned_again(scene: &Scene, cure: &Cure, begins_mm: f64) -> Scene {
    let mut scene = scene.clone();
    let offset = &mut scene.seam.offset;
    if cure.action == Action::RepinStretch {
        offset.repins.push(Repin {
            ends_mm: [cure.from_mm, cure.to_mm].map(|at| at + begins_mm),
            full_mm: cure.full_mm.map(|at| at + begins_mm),
            taken_mm: cure.shift_mm,
        });
    } else {
        offset.constant_mm -= cure.taken_at(-begins_mm);
        offset.drift_mm_per_100_mm -= 100.0 * cure.ease;
    }
    scene
}

/// The least that any shift and ease of at most 2 % leaves of the true offsets between two places, by trying.
fn least_left_mm(truth: &Truth, from_mm: f64, to_mm: f64) -> f64 {
    let seen: Vec<_> = truth.readings.iter().filter(|r| (from_mm..=to_mm).contains(&r.along_mm)).collect();
    let left = |ease: f64| {
        let rest = seen.iter().map(|r| r.offset_mm - ease * r.along_mm);
        let (low, high) = rest.fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
        (high - low) / 2.0
    };
    (-200..=200).map(|k| left(f64::from(k) * 1e-4)).fold(f64::MAX, f64::min)
}

/// What became of one scene.
#[derive(Debug)]
#[expect(dead_code, reason = "all of it is told when a test fails")]
struct Outcome {
    fault: Fault,
    seed: u64,
    action: Action,
    patterns: Vec<Pattern>,
    /// What was wrong, if anything.
    wrong: Option<String>,
    /// How far the second worst is from what was said, and the two uncertainties' root sum of squares.
    miss_mm: Option<[f64; 2]>,
    second: Option<Judgement>,
}

impl Outcome {
    /// Whether the pattern found is that of the fault put in; `None` where it may be told in several ways.
    fn names_its_fault(&self) -> Option<bool> {
        let due = match self.fault {
            Fault::Even => Pattern::EvenShift,
            Fault::Drift | Fault::SteepDrift => Pattern::Drift,
            Fault::Slip => Pattern::Slip,
            Fault::WrongLine => Pattern::WrongLine,
            Fault::Flare => Pattern::FlareNotMirrored,
            Fault::OffGrain => Pattern::OffGrain,
            Fault::Half | Fault::Wander => return None,
        };
        Some(self.patterns.contains(&due))
    }
}

fn outcome(fault: Fault, seed: u64) -> Option<Outcome> {
    let before = scene(fault, seed);
    let (finding, truth) = check(&before)?;
    let remedy = &finding.remedy;
    let mut outcome = Outcome {
        fault,
        seed: before.seed,
        action: remedy.action,
        patterns: remedy.faults.iter().map(|f| f.pattern).collect(),
        wrong: None,
        miss_mm: None,
        second: None,
    };
    if remedy.action == Action::RecutOrAccept {
        let judged = finding.offset.between_lines();
        let left_mm = least_left_mm(&truth, judged[0].along_mm, judged[judged.len() - 1].along_mm);
        if left_mm <= TOLERANCE_MM {
            outcome.wrong = Some(format!("cut again was advised where shift and ease leave {left_mm:.2} mm"));
        }
        return Some(outcome);
    }
    if remedy.worth_unpicking != Some(true) {
        return Some(outcome);
    }
    let cure = remedy.cures.iter().find(|c| c.action == remedy.action).expect("the cure that was chosen");
    let (after, _) = check(&pinned_again(&before, cure, truth.begins_mm))?;
    let worst =
        after.offset.readings.iter().find(|r| r.along_mm == after.offset.worst_at_mm).expect("the worst reading");
    let said_mm = remedy.expected_worst_mm.expect("what is left");
    let u_mm = remedy.expected_uncertainty_mm.expect("how sure").hypot(worst.expanded_uncertainty_mm);
    outcome.miss_mm = Some([worst.offset_mm.abs() - said_mm, u_mm]);
    outcome.second = Some(after.verdict.result);
    if cure.inside == Judgement::Matched && after.verdict.result == Judgement::Off {
        outcome.wrong = Some(format!("said to be within tolerance, {}", after.verdict.reason));
    }
    Some(outcome)
}

#[test]
fn a_seam_pinned_again_as_told_is_as_good_as_was_said() {
    let count = FAULTS.len() as u64 * SEEDS;
    let all: Vec<Outcome> =
        each(count, |k| outcome(FAULTS[(k / SEEDS) as usize], k % SEEDS)).into_iter().flatten().collect();
    assert!(all.len() as u64 >= 9 * count / 10, "{} of {count} could be measured", all.len());
    let said = || all.iter().map(|o| format!("{o:?}\n")).collect::<String>();
    let wrong: Vec<_> = all.iter().filter(|o| o.wrong.is_some()).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
    let misses: Vec<[f64; 2]> = all.iter().filter_map(|o| o.miss_mm).collect();
    assert!(misses.len() as u64 >= count / 2, "only {} were pinned again:\n{}", misses.len(), said());
    let inside = misses.iter().filter(|[miss, u]| miss.abs() <= *u).count() as f64 / misses.len() as f64;
    assert!(inside >= 0.9, "what is left is as was said in {inside:.3} of the scenes:\n{}", said());
    let matched = all.iter().filter(|o| o.second == Some(Judgement::Matched)).count() as f64 / misses.len() as f64;
    assert!(matched >= 0.9, "{matched:.3} of the seams pinned again are matched:\n{}", said());
    let named: Vec<bool> = all.iter().filter(|o| !o.patterns.is_empty()).filter_map(|o| o.names_its_fault()).collect();
    let right = named.iter().filter(|right| **right).count() as f64 / named.len() as f64;
    assert!(
        named.len() as u64 >= 5 * count / 8 && right >= 0.9,
        "the fault is named in {right:.3} of {}:\n{}",
        named.len(),
        said()
    );
}
