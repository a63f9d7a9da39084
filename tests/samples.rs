//! Ten answers as a person reads them, kept in `reports/samples` so that they can be read as prose.
//!
//! `cargo test --release --test samples -- --ignored` writes them anew; the other test holds that they are what the tool
//! says today, numbers to a tenth.

#[path = "support/each.rs"]
mod each;

use each::each;
use seamstep::digits::Unit;
use seamstep::inspect::{Question, inspect};
use seamstep::photo::Photo;
use seamstep::remedy::Stage;
use seamstep::render::{
    Band, Basting, Camera, Card, CardFace, Cloth, OffsetProfile, Scene, SeamScene, Slip, Weave, render,
};
use seamstep::report;
use seamstep::seam::SeamRequest;
use seamstep::verdict::{Demand, Place};
use std::path::PathBuf;

/// One sample: its name, what is rendered, and what is asked.
struct Sample {
    name: &'static str,
    scene: Scene,
    place: Place,
    stage: Stage,
    unit: Unit,
}

/// A skirt's cloth in two colours on cream, and one in three.
fn cloth(lines: &[[u8; 3]]) -> Cloth {
    let band = |width_mm, colour| Band { width_mm, colour };
    let ground = [226, 216, 192];
    let weft = lines.iter().flat_map(|&colour| [band(7.2, ground), band(4.0, colour)]).collect();
    Cloth { weave: Weave::Printed, thread_mm: 0.4, weft, warp: vec![band(0.4, ground)], texture: 0.8 }
}

const RUST: [u8; 3] = [168, 66, 38];
const BLUE: [u8; 3] = [52, 88, 160];
const GREEN: [u8; 3] = [52, 110, 66];

fn samples() -> Vec<Sample> {
    let sample = |name, place, stage, change: &dyn Fn(&mut SeamScene)| {
        let card = Card { face: CardFace::Scale { side_mm: 30.0 }, u_mm: -40.0, v_mm: 36.0, turn_rad: 0.06 };
        let mut seam = SeamScene { cards: vec![card], ..SeamScene::new(cloth(&[RUST, BLUE])) };
        if stage == Stage::Basted {
            seam.basting = Some(Basting { colour: [244, 240, 228], stitch_mm: 6.0, gap_mm: 4.0, aside_mm: 0.5 });
        }
        change(&mut seam);
        let camera = Camera { tilt_rad: 0.06, tilt_towards_rad: 0.8, ..Camera::new(720, 1040, 0.17) };
        Sample { name, scene: Scene { seam, camera, seed: 4 }, place, stage, unit: Unit::Millimetre }
    };
    let shift = |mm| OffsetProfile::constant(mm);
    vec![
        sample("01-matched", Place::CentreBack, Stage::Basted, &|s| s.offset = shift(0.4)),
        sample("02-even-shift", Place::CentreBack, Stage::Basted, &|s| s.offset = shift(2.4)),
        sample("03-drift", Place::CentreFront, Stage::Sewn, &|s| s.offset.drift_mm_per_100_mm = -2.6),
        sample("04-slip", Place::Zip, Stage::Sewn, &|s| {
            s.offset.slips.push(Slip { at_mm: 12.0, amount_mm: 3.2, half_width_mm: 30.0 });
        }),
        sample("05-wrong-line", Place::SideSeam, Stage::Basted, &|s| {
            s.cloth = cloth(&[RUST, BLUE, GREEN]);
            s.offset = shift(11.2);
        }),
        sample("06-flare", Place::SideSeam, Stage::Sewn, &|s| {
            s.slope = [0.19, -0.08];
            s.offset = shift(-5.0);
        }),
        sample("07-off-grain", Place::Pocket, Stage::Basted, &|s| {
            s.slope = [0.0, 0.12];
            s.offset = shift(2.2);
        }),
        sample("08-cut-again", Place::Collar, Stage::Sewn, &|s| s.repeat_factor = [1.0, 1.05]),
        Sample {
            unit: Unit::Sixteenth,
            ..sample("09-finished-inches", Place::Waistband, Stage::Finished, &|s| s.offset = shift(4.2))
        },
        sample("10-no-scale", Place::CentreBack, Stage::Basted, &|s| {
            s.cards.clear();
            s.offset = shift(1.8);
        }),
    ]
}

fn folder() -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/reports/samples"))
}

fn said(sample: &Sample) -> String {
    let rendered = render(&sample.scene).expect("a scene that can be rendered");
    let photo = Photo::new(format!("{}.jpg", sample.name), rendered.photo);
    let seam_px = &rendered.truth.seam_px;
    let points_px = vec![seam_px[0], seam_px[seam_px.len() / 2], seam_px[seam_px.len() - 1]];
    let demand = Demand { place: Some(sample.place), unit: sample.unit, ..Demand::default() };
    let question = Question {
        demand,
        stage: sample.stage,
        seam: SeamRequest { points_px, ..SeamRequest::default() },
        ..Question::default()
    };
    report::text::finding(&inspect(&photo, &question).expect("an answer"), false)
}

fn all() -> Vec<(&'static str, String)> {
    let samples = samples();
    each(samples.len() as u64, |k| (samples[k as usize].name, said(&samples[k as usize])))
}

#[test]
#[ignore = "writes the samples anew"]
fn write() {
    std::fs::create_dir_all(folder()).expect("a folder");
    for (name, text) in all() {
        std::fs::write(folder().join(format!("{name}.txt")), text).expect("a file");
    }
}

/// Whether two words are the same, or numbers nearer than a tenth, or than a twentieth of their size.
fn same(one: &str, two: &str) -> bool {
    let number = |word: &str| {
        let bare = word.trim_matches(|c: char| !c.is_ascii_digit() && c != '−' && c != '+');
        bare.replace('−', "-").parse::<f64>().ok()
    };
    match (number(one), number(two)) {
        (Some(a), Some(b)) => (a - b).abs() <= 0.1 + 0.05 * a.abs(),
        _ => one == two,
    }
}

#[test]
fn the_samples_are_what_the_tool_says() {
    for (name, text) in all() {
        let kept = std::fs::read_to_string(folder().join(format!("{name}.txt"))).expect("a sample");
        let [now, before] = [&text, &kept].map(|t| t.split_whitespace().collect::<Vec<_>>());
        let differs = now.iter().zip(&before).find(|(a, b)| !same(a, b));
        assert!(differs.is_none() && now.len() == before.len(), "{name}: {differs:?}\n{text}\n--- kept:\n{kept}");
    }
}
