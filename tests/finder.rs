//! The finder on chance scenes: seams found where they are or honestly not found, nothing found where there is none,
//! and a confidence that means what it says.

#![expect(clippy::print_stdout, reason = "the figures are for whoever asks for them with --nocapture")]

#[path = "support/each.rs"]
mod each;
#[path = "support/seams.rs"]
mod seams;

use each::each;
use image::RgbImage;
use seamstep::finding::Finding;
use seamstep::inspect::{Question, inspect};
use seamstep::photo::Photo;
use seamstep::problem::Problem;
use seamstep::render::{Camera, Cloth, OffsetProfile, Rendered, Scene, SeamScene, render};
use seamstep::scale::{self, Plane, ScaleRequest};
use seamstep::seam::{self, Seam, SeamRequest, SeamSource};
use seamstep::units::PxPoint;
use seamstep::verdict::{Demand, Judgement, UnsureCode};
use std::sync::OnceLock;

/// Numbers of the scenes: none of them served to find the finder's weights.
const FIRST_SEAM: u64 = 900_000;
const SEAMS: u64 = 200;
const FIRST_UNSEAMED: u64 = 950_000;
const UNSEAMED: u64 = 50;
/// A path within this of the seam is right, and one further than the other is wrong, millimetres (median distance).
const RIGHT_MM: f64 = 1.5;
const WRONG_MM: f64 = 4.0;

/// What the finder said of one scene.
struct Answer {
    number: u64,
    seamed: bool,
    /// `None` where it was refused.
    said: Option<(SeamSource, f64)>,
    /// Median distance of the path from the true seam, millimetres; infinite where there is none.
    away_mm: f64,
    /// The gap between the folds, the seam marked by hand; `None` where it was not asked for.
    gap: Option<Gap>,
}

/// A gap between the folds of a seam, millimetres; `None` where there is none.
#[derive(Clone, Copy)]
struct Gap {
    true_mm: Option<f64>,
    told_mm: Option<f64>,
}

impl Answer {
    fn found(&self) -> bool {
        matches!(self.said, Some((SeamSource::Found, _)))
    }
}

/// Median distance of a path from the true seam, millimetres.
fn away_mm(rendered: &Rendered, plane: &Plane, seam: &Seam) -> f64 {
    let truth = &rendered.truth;
    let nearest = |p| truth.seam_px.iter().map(|s| s.distance(plane.to_px(p))).fold(f64::INFINITY, f64::min);
    let mut away: Vec<f64> = seam.path.points.iter().map(|&p| nearest(p) * truth.mm_per_px).collect();
    away.sort_by(f64::total_cmp);
    away[away.len() / 2]
}

fn ask(number: u64, seamed: bool) -> Answer {
    let scene = if seamed { seams::seam(number) } else { seams::unseamed(number) };
    let (photo, request, rendered) = seams::photograph(&scene);
    let plane = match scale::read(&photo, &request) {
        Ok(plane) => plane,
        Err(Problem::Refused(_)) => return Answer { number, seamed, said: None, away_mm: f64::INFINITY, gap: None },
        Err(problem) => panic!("scene {number}: {problem}"),
    };
    // Every zip, and every fifth of the other seams.
    let gap = (seamed && (scene.seam.zip.is_some() || number.is_multiple_of(5)))
        .then(|| gap(&photo, &plane, &scene, &rendered));
    let gap = gap.flatten();
    match seam::place(&photo, &plane, &SeamRequest::default()) {
        Ok(seam) => {
            let away_mm = if seamed { away_mm(&rendered, &plane, &seam) } else { f64::INFINITY };
            Answer { number, seamed, said: Some((seam.source, seam.confidence)), away_mm, gap }
        }
        Err(Problem::Refused(_)) => Answer { number, seamed, said: None, away_mm: f64::INFINITY, gap },
        Err(problem) => panic!("scene {number}: {problem}"),
    }
}

/// What is said of the gap where the seam is marked by hand; `None` where the marks were refused.
fn gap(photo: &Photo, plane: &Plane, scene: &Scene, rendered: &Rendered) -> Option<Gap> {
    let (truth, last) = (&rendered.truth.seam_px, rendered.truth.seam_px.len() - 1);
    let points_px = [last / 20, last / 4, last / 2, 3 * last / 4, last - last / 20].map(|k| truth[k]).to_vec();
    let told_mm = seam::place(photo, plane, &SeamRequest { points_px, ..SeamRequest::default() }).ok()?.gap_mm;
    Some(Gap { true_mm: scene.seam.zip.as_ref().map(|zip| zip.gap_mm), told_mm })
}

/// All scenes, asked once.
fn answers() -> &'static [Answer] {
    static ANSWERS: OnceLock<Vec<Answer>> = OnceLock::new();
    ANSWERS.get_or_init(|| {
        each(SEAMS + UNSEAMED, |k| match k.checked_sub(SEAMS) {
            None => ask(FIRST_SEAM + k, true),
            Some(k) => ask(FIRST_UNSEAMED + k, false),
        })
    })
}

/// The numbers of the scenes that fulfil a condition.
fn numbers(condition: impl Fn(&Answer) -> bool) -> Vec<u64> {
    answers().iter().filter(|a| condition(a)).map(|a| a.number).collect()
}

#[test]
fn seams_are_found_or_honestly_not_found() {
    let found = numbers(|a| a.seamed && a.found());
    let right = numbers(|a| a.seamed && a.found() && a.away_mm <= RIGHT_MM);
    let wrong = numbers(|a| a.seamed && a.found() && a.away_mm > WRONG_MM);
    let said = format!("{} found, {} right; wrong: {wrong:?}", found.len(), right.len());
    println!("{said}");
    assert!(found.len() >= 130, "{said}");
    assert!(right.len() * 100 >= 97 * found.len(), "{said}");
    assert!(wrong.len() <= 2, "{said}");
}

#[test]
fn cloth_without_a_seam_is_never_given_one() {
    let found = numbers(|a| !a.seamed && a.found());
    assert!(found.is_empty(), "a seam was found where there is none: {found:?}");
}

/// Of the places reported with confidence p, about p are right: in every band of confidence, the share that is right
/// lies within twice the binomial standard deviation (and a scene's worth) of the mean confidence.
#[test]
fn the_confidence_means_what_it_says() {
    for (low, high) in [(0.2, 0.5), (0.5, 0.8), (0.8, 0.95), (0.95, 1.01)] {
        let band: Vec<(f64, bool)> = answers()
            .iter()
            .filter_map(|a| Some((a.said?.1, a.away_mm <= RIGHT_MM)))
            .filter(|(confidence, _)| (low..high).contains(confidence))
            .collect();
        if band.is_empty() {
            continue;
        }
        let n = band.len() as f64;
        let mean = band.iter().map(|b| b.0).sum::<f64>() / n;
        let right = band.iter().filter(|b| b.1).count() as f64 / n;
        let slack = 2.0 * (mean * (1.0 - mean) / n).sqrt() + 1.0 / n;
        assert!((right - mean).abs() <= slack, "said {mean:.2}, right {right:.2} of {n} between {low} and {high}");
    }
}

/// Asked with a tolerance that takes in every jump of the scenes but slips, as far as their repeats allow: beyond half of one a
/// tolerance accepts everything.
#[test]
fn an_assumed_seam_is_matched_only_where_its_lines_show_that_it_is_there() {
    let assumed: Vec<&Answer> = answers().iter().filter(|a| matches!(a.said, Some((SeamSource::Assumed, _)))).collect();
    let matched = each(assumed.len() as u64, |k| {
        let Answer { number, seamed, .. } = *assumed[k as usize];
        let scene = if seamed { seams::seam(number) } else { seams::unseamed(number) };
        let (photo, scale, _) = seams::photograph(&scene);
        let tolerance_mm = scene.seam.cloth.repeat_mm().map_or(3.0, |repeat_mm| f64::min(3.0, 0.48 * repeat_mm));
        let demand = Demand { tolerance_mm: Some(tolerance_mm), ..Demand::default() };
        let finding = inspect(&photo, &Question { scale, demand, ..Question::default() });
        finding.is_ok_and(|Finding { verdict, .. }| {
            // Unsure for its place alone, it is told what it is if the seam is there.
            let told = verdict.if_here.is_some_and(|here| here != Judgement::Unsure);
            assert_eq!(told, verdict.code == Some(UnsureCode::Assumed), "{number}: {verdict:?}");
            verdict.result == Judgement::Matched
        })
    });
    let matched: Vec<&Answer> = assumed.iter().zip(matched).filter(|(_, matched)| *matched).map(|(a, _)| *a).collect();
    let elsewhere: Vec<u64> = matched.iter().filter(|a| a.away_mm > WRONG_MM).map(|a| a.number).collect();
    let right = matched.iter().filter(|a| a.away_mm <= RIGHT_MM).count();
    let said = format!("{} assumed, {} matched, {right} right; elsewhere {elsewhere:?}", assumed.len(), matched.len());
    assert!(matched.len() >= 5 && elsewhere.is_empty() && 10 * right >= 9 * matched.len(), "{said}");
}

/// Two pictures of one seam side by side, the second moved down by the jump so that its lines go on from the first's:
/// seams at 200 and 550 px of 700.
#[test]
fn of_two_seams_the_nearer_to_the_middle_is_taken_and_the_other_is_named() {
    let mm_per_px = 0.25;
    let seam = SeamScene { offset: OffsetProfile::constant(2.5), ..SeamScene::new(Cloth::printed_bars(16.0)) };
    let rendered = render(&Scene { seam, camera: Camera::new(400, 520, mm_per_px), seed: 7 }).expect("rendered");
    let pixels = RgbImage::from_fn(700, 500, |x, y| {
        *if x < 400 { rendered.photo.get_pixel(x, y + 10) } else { rendered.photo.get_pixel(x - 350, y) }
    });
    let photo = Photo::new("two.jpg", pixels);
    let length = ScaleRequest::Length {
        ends_px: [PxPoint::new(100.0, 60.0), PxPoint::new(100.0, 460.0)],
        length_mm: 400.0 * mm_per_px,
    };
    let plane = scale::read(&photo, &length).expect("a plane");
    let seam = seam::place(&photo, &plane, &SeamRequest::default()).expect("a seam");
    assert_eq!(seam.source, SeamSource::Found);
    let note = seam.notes.iter().find(|note| note.code == "several-seams").expect("a note");
    assert!(note.text.contains("--seam"), "{}", note.text);
    let middle = plane.to_px(seam.at(seam.length_mm() / 2.0, 0.0));
    assert!((middle.x - 200.0).abs() * mm_per_px < RIGHT_MM, "{middle:?}: {}", note.text);
}

/// The gap between the folds is within this of the truth, millimetres.
const GAP_MM: f64 = 0.7;

#[test]
fn the_gap_over_a_zip_is_measured_and_nowhere_else_is_one() {
    let (mut zips, mut seen, mut right, mut nowhere) = (0, 0, 0, Vec::new());
    for (number, gap) in answers().iter().filter_map(|a| Some((a.number, a.gap?))) {
        match (gap.true_mm, gap.told_mm) {
            (Some(true_mm), told_mm) => {
                zips += 1;
                seen += u32::from(told_mm.is_some());
                right += u32::from(told_mm.is_some_and(|told_mm| (told_mm - true_mm).abs() <= GAP_MM));
            }
            (None, Some(told_mm)) => nowhere.push((number, told_mm)),
            (None, None) => {}
        }
    }
    assert!(zips >= 20 && nowhere.is_empty(), "{zips} zips; a gap where there is none: {nowhere:?}");
    assert!(10 * seen >= 9 * zips && 20 * right >= 19 * seen, "{zips} zips, {seen} seen, {right} right");
}
