//! Rendered seams of known offset through the whole walk: every cloth and kind of offset, marked by hand and found.

#[path = "support/each.rs"]
mod each;

use each::each;
use seamstep::conventions::Runs;
use seamstep::inspect::{Question, inspect};
use seamstep::photo::Photo;
use seamstep::problem::{Problem, RefusalCode};
use seamstep::render::{
    Basting, Camera, Card, CardFace, Cloth, Crease, OffsetProfile, Pin, Rendered, Scene, SeamScene, Slip, Step, Wander,
    Zip, offset_at, render,
};
use seamstep::scale::ScaleSource;
use seamstep::seam::{SeamRequest, SeamSource};
use seamstep::units::PxPoint;

/// Scenes in the set: six cloths by four rounds.
const SCENES: u64 = 24;

/// The cloth of a scene and a picture in which it shows a few repeats: name, cloth, millimetres to a pixel.
fn cloth(k: u64) -> (&'static str, Cloth, f64) {
    match k % 6 {
        0 => ("broad check", Cloth::broad_check(), 0.25),
        1 => ("fine stripe", Cloth::fine_stripe(), 0.16),
        2 => ("tonal stripe", Cloth::tonal_stripe(), 0.2),
        3 => ("equal lightness", Cloth::equal_lightness_lines(), 0.25),
        4 => ("printed bars", Cloth::printed_bars(24.0), 0.22),
        _ => ("small check", Cloth::broad_check().with_repeat(18.4), 0.2),
    }
}

/// One scene of the set: what it holds, in words, and itself.
fn scene(k: u64) -> (String, Scene) {
    let (name, cloth, mm_per_px) = cloth(k);
    let repeat_mm = cloth.repeat_mm().expect("a cloth with lines");
    // An offset that stays within a third of the repeat, so that wrapping is not what is tested here.
    let most_mm = (0.3 * repeat_mm).min(2.5);
    let round = k / 6;
    let kind = (k + round) % 5;
    let constant_mm = most_mm * if k.is_multiple_of(2) { 0.4 } else { -0.4 };
    let mut offset = OffsetProfile::constant(constant_mm);
    let kind_name = match kind {
        0 => "constant",
        1 => {
            offset.drift_mm_per_100_mm = 0.5 * most_mm;
            "drift"
        }
        2 => {
            offset.slips.push(Slip { at_mm: 8.0, amount_mm: 0.6 * most_mm, half_width_mm: 18.0 });
            "slip"
        }
        3 => {
            offset.steps.push(Step { at_mm: -5.0, amount_mm: -0.6 * most_mm, over_mm: 14.0 });
            "step"
        }
        _ => {
            offset.wander = Some(Wander { amplitude_mm: 0.3 * most_mm, wavelength_mm: 70.0, phase_rad: 0.4 });
            "wander"
        }
    };
    let runs = if k % 3 == 1 { Runs::Across } else { Runs::Down };
    let mut holds = vec![name, kind_name, runs.word()];
    let mut seam = SeamScene {
        offset,
        runs,
        lean_rad: 0.02 * (k % 5) as f64 - 0.04,
        bow_mm: 0.5 * (k % 4) as f64,
        ..SeamScene::new(cloth)
    };
    match round {
        0 => {}
        1 => {
            let pin = |at_mm: f64, turn_rad: f64| Pin { at_mm, turn_rad, head: [190, 46, 70], head_on_second: true };
            seam.pins = vec![pin(-30.0, 0.12), pin(28.0, -0.1)];
            seam.basting = Some(Basting { colour: [236, 232, 220], stitch_mm: 7.0, gap_mm: 5.0, aside_mm: 0.6 });
            holds.extend(["pins", "basting"]);
        }
        2 => {
            seam.drape_mm = 0.5;
            holds.push("drape");
            if k.is_multiple_of(2) {
                seam.slope = [0.05, -0.06];
                holds.push("flare");
            }
        }
        _ => {
            if k.is_multiple_of(2) {
                seam.zip = Some(Zip { gap_mm: 8.0, tape: [40, 44, 60], teeth: [190, 180, 150], teeth_mm: 4.0 });
                holds.push("zip");
            }
        }
    }
    // A card of 100 px, near the picture's edge.
    let (side_mm, reach_mm) = (100.0 * mm_per_px, 240.0 * mm_per_px);
    let v_mm = reach_mm - 0.8 * side_mm - 30.0 * mm_per_px;
    seam.cards = vec![Card { face: CardFace::Scale { side_mm }, u_mm: -6.0, v_mm, turn_rad: 0.05 }];
    let size = if runs == Runs::Down { (480, 640) } else { (640, 480) };
    let camera = Camera {
        tilt_rad: 0.05 * (k % 5) as f64,
        tilt_towards_rad: 0.7 * k as f64,
        ..Camera::new(size.0, size.1, mm_per_px)
    };
    (holds.join(", "), Scene { seam, camera, seed: 1000 + k })
}

fn photo(rendered: &Rendered) -> Photo {
    Photo::new("seam.jpg", rendered.photo.clone())
}

/// The true seam at three places.
fn marked(rendered: &Rendered) -> SeamRequest {
    let seam = &rendered.truth.seam_px;
    let last = seam.len() - 1;
    SeamRequest {
        points_px: [last / 20, last / 2, last - last / 20].map(|k| seam[k]).to_vec(),
        ..SeamRequest::default()
    }
}

/// How one measurement compares with its truth.
struct Outcome {
    holds: String,
    card_read: bool,
    source: SeamSource,
    /// Largest distance of the path from the true seam, millimetres.
    away_mm: f64,
    error_mm: f64,
    u_mm: f64,
    /// Median absolute error of the readings, millimetres.
    local_mm: f64,
}

fn measure(holds: &str, rendered: &Rendered, seam: SeamRequest) -> Result<Outcome, Problem> {
    let finding = inspect(&photo(rendered), &Question { seam, ..Question::default() })?;
    let readings = &finding.offset.readings;
    // The truth of the stretch that was measured.
    let truths: Vec<f64> =
        readings.iter().map(|r| offset_at(&rendered.truth.readings, r.at_px).expect("readings")).collect();
    let mean_mm = truths.iter().sum::<f64>() / truths.len() as f64;
    let mut errors: Vec<f64> = readings.iter().zip(&truths).map(|(r, t)| (r.offset_mm - t).abs()).collect();
    errors.sort_by(f64::total_cmp);
    let away = |p: PxPoint| rendered.truth.seam_px.iter().map(|s| s.distance(p)).fold(f64::INFINITY, f64::min);
    Ok(Outcome {
        holds: holds.to_owned(),
        card_read: finding.plane.source == ScaleSource::Card,
        source: finding.seam.source,
        away_mm: readings.iter().map(|r| away(r.at_px)).fold(0.0, f64::max) * rendered.truth.mm_per_px,
        error_mm: finding.offset.mean_mm - mean_mm,
        u_mm: finding.offset.expanded_uncertainty_mm,
        local_mm: errors[errors.len() / 2],
    })
}

/// An error larger than this is a mistake and no spread, millimetres.
const MISTAKEN_MM: f64 = 0.5;

/// What a way of placing the seam gave over the whole set.
struct Tally {
    asked: usize,
    refused: Vec<String>,
    no_card: Vec<String>,
    /// Measured in millimetres, the largest error first.
    outcomes: Vec<Outcome>,
}

impl Tally {
    fn of(answers: Vec<(String, Result<Outcome, Problem>)>) -> Self {
        let mut tally = Tally { asked: answers.len(), refused: Vec::new(), no_card: Vec::new(), outcomes: Vec::new() };
        for (holds, answer) in answers {
            match answer {
                Err(problem) => tally.refused.push(format!("{holds}: {problem}")),
                Ok(outcome) if !outcome.card_read => tally.no_card.push(holds),
                Ok(outcome) => tally.outcomes.push(outcome),
            }
        }
        tally.outcomes.sort_by(|a, b| b.error_mm.abs().total_cmp(&a.error_mm.abs()));
        tally
    }

    /// Those that are out by more than half a millimetre: a partner was mistaken, or the seam.
    fn mistaken(&self) -> usize {
        self.outcomes.iter().filter(|o| o.error_mm.abs() > MISTAKEN_MM).count()
    }

    /// Mean absolute error of the others.
    fn mean_error_mm(&self) -> f64 {
        let others = self.outcomes.iter().filter(|o| o.error_mm.abs() <= MISTAKEN_MM);
        others.map(|o| o.error_mm.abs()).sum::<f64>() / (self.outcomes.len() - self.mistaken()) as f64
    }

    fn median_local_mm(&self) -> f64 {
        let mut local: Vec<f64> = self.outcomes.iter().map(|o| o.local_mm).collect();
        local.sort_by(f64::total_cmp);
        local[local.len() / 2]
    }

    fn covered_share(&self) -> f64 {
        self.outcomes.iter().filter(|o| o.error_mm.abs() <= o.u_mm).count() as f64 / self.outcomes.len() as f64
    }

    /// Scenes whose seam was called found and lies further away than this.
    fn astray(&self, most_mm: f64) -> usize {
        self.outcomes.iter().filter(|o| o.source == SeamSource::Found && o.away_mm > most_mm).count()
    }

    fn say(&self) -> String {
        let line = |o: &Outcome| {
            format!(
                "\n  {}: error {:.3} mm, U {:.3}, local {:.3}, {:?} {:.1} mm away",
                o.holds, o.error_mm, o.u_mm, o.local_mm, o.source, o.away_mm
            )
        };
        format!(
            "{} of {} answered, {} mistaken, mean error of the others {:.4} mm, median local {:.4} mm, {:.0} % covered\n  refused: {:?}\n  no card: \
             {:?}{}",
            self.outcomes.len(),
            self.asked,
            self.mistaken(),
            self.mean_error_mm(),
            self.median_local_mm(),
            100.0 * self.covered_share(),
            self.refused,
            self.no_card,
            self.outcomes.iter().map(line).collect::<String>()
        )
    }
}

/// Every scene with its seam marked, or every other one with its seam to be found.
fn tally(mark: bool) -> Tally {
    let count = if mark { SCENES } else { SCENES / 2 };
    Tally::of(each(count, |k| {
        let (holds, scene) = scene(if mark { k } else { 2 * k + k / 3 % 2 });
        let rendered = render(&scene).expect("rendered");
        let request = if mark { marked(&rendered) } else { SeamRequest::default() };
        let answer = measure(&holds, &rendered, request);
        (holds, answer)
    }))
}

#[test]
fn marked_seams_are_measured_to_a_tenth_of_a_millimetre() {
    let tally = tally(true);
    let said = tally.say();
    // Not reached yet: one card is not read, and one tonal stripe is three repeats off.
    assert!(tally.outcomes.len() >= 23, "{said}");
    assert!(tally.refused.is_empty(), "{said}");
    assert!(tally.mistaken() <= 1, "{said}");
    assert!(tally.mean_error_mm() < 0.05, "{said}");
    assert!(tally.median_local_mm() < 0.06, "{said}");
    assert!(tally.covered_share() >= 0.7, "{said}");
}

#[test]
fn found_seams_are_measured_too() {
    let tally = tally(false);
    let said = tally.say();
    // Not reached yet: 2 of 12 are called found more than 4 mm from the seam at one end, 1 of them with the wrong jump,
    // and little more than half of the means lie within their uncertainty.
    assert!(tally.outcomes.len() >= 12, "{said}");
    assert!(tally.mistaken() <= 1 && tally.astray(4.0) <= 2, "{said}");
    assert!(tally.mean_error_mm() < 0.1, "{said}");
    assert!(tally.median_local_mm() < 0.1, "{said}");
    assert!(tally.covered_share() >= 0.5, "{said}");
}

#[test]
fn cloth_without_lines_across_is_refused_for_what_it_is() {
    let refusal = |cloth: Cloth, seed: u64| {
        let rendered = render(&Scene { seam: SeamScene::new(cloth), camera: Camera::new(360, 480, 0.22), seed });
        let rendered = rendered.expect("rendered");
        match inspect(&photo(&rendered), &Question { seam: marked(&rendered), ..Question::default() }) {
            Err(Problem::Refused(refusal)) => refusal.code,
            other => panic!("not refused: {:?}", other.map(|finding| finding.offset.mean_mm)),
        }
    };
    for seed in [1, 2] {
        assert_eq!(refusal(Cloth::plain_cloth(), seed), RefusalCode::NoLines);
        // Which of the two is said depends on how many of its lines stand in the strips.
        let code = refusal(Cloth::lines_along_only(), seed);
        assert!(matches!(code, RefusalCode::LinesAlongOnly | RefusalCode::NoLines), "{code:?}");
    }
}

#[test]
fn cloth_without_a_seam_is_seldom_given_one() {
    let answers = each(10, |k| {
        let (name, cloth, mm_per_px) = cloth(k);
        // No offset, no crease, the lines along in step: nothing of a seam is left.
        let crease = Crease { depth: 0.0, ..SeamScene::new(cloth.clone()).crease };
        let seam = SeamScene { crease, warp_shift_mm: 0.0, drape_mm: 0.3, ..SeamScene::new(cloth) };
        let rendered =
            render(&Scene { seam, camera: Camera::new(360, 480, mm_per_px), seed: 70 + k }).expect("rendered");
        let plane = seamstep::scale::read(&photo(&rendered), &seamstep::scale::ScaleRequest::Auto).expect("a plane");
        let seam = seamstep::seam::place(&photo(&rendered), &plane, &SeamRequest::default());
        (name, seam.map(|seam| (seam.source, seam.confidence)).map_err(|problem| problem.to_string()))
    });
    let found = answers.iter().filter(|(_, a)| matches!(a, Ok((SeamSource::Found, _)))).count();
    // None should be; the broad check, whose bars along the seam look like one, still is.
    assert!(found <= 2, "{answers:?}");
    assert!(answers.iter().all(|(name, a)| *name == "broad check" || !matches!(a, Ok((SeamSource::Found, _)))));
}
