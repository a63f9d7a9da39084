//! Seams that are drawn: taken where they show, doubted where the cloth runs on, believed on the user's word.

#![expect(clippy::print_stdout, reason = "the figures are for whoever asks for them with --nocapture")]

#[path = "support/away.rs"]
mod away;
#[path = "support/each.rs"]
mod each;
#[path = "support/seams.rs"]
#[expect(dead_code, reason = "cloth without a seam is not drawn on here")]
mod seams;

use away::away_px;
use each::each;
use seamstep::finding::Finding;
use seamstep::inspect::{Question, inspect};
use seamstep::photo::{self, Limits};
use seamstep::render::{OffsetProfile, Scene};
use seamstep::scale;
use seamstep::seam::{self, SeamRequest};
use seamstep::units::PxPoint;
use seamstep::verdict::{Demand, Judgement, UnsureCode};
use std::path::Path;

/// Numbers of the scenes: none of them served to find the weights.
const FIRST: u64 = 970_000;
const SEAMS: u64 = 60;

/// Points of a polyline, moved aside by so many pixels.
fn points(truth: &[PxPoint], parts: &[f64], aside_px: impl Fn(f64) -> f64) -> Vec<PxPoint> {
    let last = truth.len() - 1;
    let (a, b) = (truth[0], truth[last]);
    let length = a.distance(b);
    let across = [(b.y - a.y) / length, (a.x - b.x) / length];
    (parts.iter())
        .map(|&part| {
            let (p, by) = (truth[(part * last as f64).round() as usize], aside_px(part));
            PxPoint::new(p.x + by * across[0], p.y + by * across[1])
        })
        .collect()
}

/// Median distance of the seam that was taken from the true one, and how far it was moved at most, millimetres.
fn taken(scene: &Scene, parts: &[f64], aside_mm: impl Fn(f64) -> f64) -> Option<(f64, f64)> {
    let (photo, scale, rendered) = seams::photograph(scene);
    let (truth, mm_per_px) = (&rendered.truth.seam_px, rendered.truth.mm_per_px);
    let points_px = points(truth, parts, |part| aside_mm(part) / mm_per_px);
    let plane = scale::read(&photo, &scale).ok()?;
    let seam = seam::place(&photo, &plane, &SeamRequest { points_px, ..SeamRequest::default() }).ok()?;
    let mut away: Vec<f64> = seam.path.points.iter().map(|&p| away_px(truth, plane.to_px(p)) * mm_per_px).collect();
    away.sort_by(f64::total_cmp);
    Some((away[away.len() / 2], seam.drawn.as_ref()?.moved_mm))
}

/// Whether the crease or the jump of a chance seam can be seen, and it has no gap.
fn shows(scene: &Scene) -> bool {
    let seam = &scene.seam;
    seam.zip.is_none() && (seam.crease.depth > 0.4 || seam.offset.constant_mm.abs() > 1.5)
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

#[test]
fn a_drawing_two_to_five_millimetres_off_is_drawn_to_the_seam() {
    let taken = each(SEAMS, |k| {
        let scene = seams::seam(FIRST + k);
        let side = if k % 2 == 0 { 1.0 } else { -1.0 };
        let aside_mm = side * (2.0 + 3.0 * (k as f64 * 0.618).fract());
        shows(&scene).then(|| taken(&scene, &[0.05, 0.5, 0.95], |_| aside_mm)).flatten()
    });
    let taken: Vec<(f64, f64)> = taken.into_iter().flatten().collect();
    let near = taken.iter().filter(|(away, _)| *away < 0.5).count();
    let away = median(taken.iter().map(|t| t.0).collect());
    println!("{} drawn aside: {away:.3} mm in the median, {near} within half a millimetre", taken.len());
    assert!(taken.len() >= 25 && away < 0.2, "{} seams, {away} mm in the median", taken.len());
    assert!(5 * near >= 4 * taken.len(), "{near} of {} within half a millimetre", taken.len());
}

#[test]
fn three_points_on_a_curve_are_drawn_to_it() {
    let taken = each(SEAMS, |k| {
        let mut scene = seams::seam(FIRST + k);
        let side = if k % 2 == 0 { 1.0 } else { -1.0 };
        (scene.seam.bow_mm, scene.seam.lean_rad) = (side * (6.0 + 10.0 * (k as f64 * 0.618).fract()), 0.0);
        shows(&scene).then(|| taken(&scene, &[0.02, 0.5, 0.98], |_| 0.0)).flatten()
    });
    let away: Vec<f64> = taken.into_iter().flatten().map(|t| t.0).collect();
    let (count, away) = (away.len(), median(away));
    println!("{count} curves: {away:.3} mm in the median");
    assert!(count >= 25 && away < 0.2, "{count} curves, {away} mm in the median");
}

/// What is said of a drawing so far aside of a chance seam.
fn said(number: u64, aside_mm: f64, insist: bool) -> Option<(Finding, f64)> {
    let scene = seams::seam(number);
    let (photo, scale, rendered) = seams::photograph(&scene);
    let (truth, mm_per_px) = (&rendered.truth.seam_px, rendered.truth.mm_per_px);
    let points_px = points(truth, &[0.05, 0.5, 0.95], |_| aside_mm / mm_per_px);
    let demand = Demand { tolerance_mm: Some(1.5), ..Demand::default() };
    let seam = SeamRequest { points_px, insist, ..SeamRequest::default() };
    let finding = inspect(&photo, &Question { scale, seam, demand, ..Question::default() }).ok()?;
    let path = &finding.seam.path.points;
    let away = median(path.iter().map(|&p| away_px(truth, finding.plane.to_px(p)) * mm_per_px).collect());
    Some((finding, away))
}

#[test]
fn a_right_drawing_is_hardly_ever_doubted() {
    let doubted = each(SEAMS, |k| Some(said(FIRST + 1000 + k, 0.0, false)?.0.verdict.code.is_some()));
    let doubted: Vec<bool> = doubted.into_iter().flatten().collect();
    let count = doubted.iter().filter(|d| **d).count();
    println!("{count} of {} right drawings doubted", doubted.len());
    assert!(doubted.len() >= 40 && 20 * count <= doubted.len(), "{count} of {} right drawings doubted", doubted.len());
}

#[test]
fn a_drawing_where_there_is_no_seam_gets_no_sure_answer() {
    let answers = each(SEAMS, |k| {
        let side = if k % 2 == 0 { 1.0 } else { -1.0 };
        said(FIRST + 2000 + k, side * (12.0 + 13.0 * (k as f64 * 0.618).fract()), false)
    });
    let elsewhere: Vec<&Finding> = answers.iter().flatten().filter(|a| a.1 > 3.0).map(|a| &a.0).collect();
    let sure = elsewhere.iter().filter(|f| f.verdict.result != Judgement::Unsure).count();
    let told = elsewhere.iter().filter(|f| f.verdict.code == Some(UnsureCode::NoSeamThere)).count();
    println!("{} wrong places: {sure} sure, {told} told to be none", elsewhere.len());
    assert!(elsewhere.len() >= 35, "{}", elsewhere.len());
    assert!(25 * sure <= elsewhere.len(), "{sure} of {} sure and wrong", elsewhere.len());
    assert!(10 * told >= 8 * elsewhere.len(), "{told} of {} told", elsewhere.len());
}

/// The rendered seam of `fixtures/flat-01.jpg` stands near x = 395 of 900 px and jumps by 2.1 mm; the cloth runs on at x = 605.
#[test]
fn on_the_users_word_a_seam_is_where_it_was_drawn() {
    let file = Path::new("fixtures/flat-01.jpg");
    let photo = photo::read(file, &Limits::default()).expect("a fixture");
    let points_px = vec![PxPoint::new(612.0, 20.0), PxPoint::new(598.0, 1180.0)];
    let ask = |insist: bool| {
        let seam = SeamRequest { points_px: points_px.clone(), insist, ..SeamRequest::default() };
        inspect(&photo, &Question { seam, ..Question::default() }).expect("a finding")
    };
    let doubted = ask(false);
    assert_eq!((doubted.verdict.result, doubted.verdict.code), (Judgement::Unsure, Some(UnsureCode::NoSeamThere)));
    assert!(
        doubted.verdict.reason.contains("a plainer seam runs 35.") && doubted.verdict.reason.contains("to the left")
    );
    let plainer = doubted.seam.drawn.and_then(|drawn| drawn.plainer).expect("a plainer seam");
    let middle = doubted.plane.to_px(plainer.path.points[plainer.path.points.len() / 2]);
    assert!((middle.x - 395.0).abs() < 8.0, "{middle:?}");
    let insisted = ask(true);
    assert_eq!((insisted.verdict.result, insisted.verdict.code), (Judgement::Matched, None));
    assert!(insisted.notes.iter().any(|note| note.code == "on-your-word"));
    for &p in &insisted.seam.path.points {
        assert!(away_px(&points_px, insisted.plane.to_px(p)) < 0.5, "{p:?}");
    }
}

/// Lines that meet at 24 degrees show the place by themselves: better than a hand draws, and as well as told.
#[test]
fn where_lines_meet_at_an_angle_they_tell_the_place() {
    let told = each(16, |k| {
        let mut scene = seams::seam(FIRST + 3000 + k);
        scene.seam.slope = [0.21, -0.21];
        scene.seam.offset = OffsetProfile::default();
        scene.seam.zip = None;
        let (photo, scale, rendered) = seams::photograph(&scene);
        let (truth, mm_per_px) = (&rendered.truth.seam_px, rendered.truth.mm_per_px);
        let points_px = points(truth, &[0.05, 0.5, 0.95], |_| 1.0 / mm_per_px);
        let plane = scale::read(&photo, &scale).ok()?;
        let seam = seam::place(&photo, &plane, &SeamRequest { points_px, ..SeamRequest::default() }).ok()?;
        let path = &seam.path.points;
        Some((seam.u_across_mm, median(path.iter().map(|&p| away_px(truth, plane.to_px(p)) * mm_per_px).collect())))
    });
    let told: Vec<(f64, f64)> = told.into_iter().flatten().collect();
    let inside = told.iter().filter(|(u_mm, away_mm)| *away_mm <= 2.0 * u_mm).count();
    println!("chevrons: u across and distance {told:.2?} mm, {inside} of {} inside", told.len());
    assert!(told.len() >= 10 && 10 * inside >= 9 * told.len(), "{told:.2?}");
    assert!(median(told.iter().map(|t| t.1).collect()) < 0.1, "{told:.2?}");
}
