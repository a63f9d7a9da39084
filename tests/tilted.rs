//! Rendered seams without a card, photographed at an angle: the tilt is read from the cloth and taken out.
#![allow(missing_docs)]

use seamstep::finding::Finding;
use seamstep::inspect::{Question, inspect};
use seamstep::photo::Photo;
use seamstep::render::{Camera, Cloth, OffsetProfile, Rendered, Scene, SeamScene, render};
use seamstep::scale::{ScaleRequest, ScaleSource};
use seamstep::seam::SeamRequest;

/// Focal length of the main camera of a phone, a share of the picture's long side (from memory).
const FOCAL: f64 = 0.74 * 640.0;
const OFFSET_MM: f64 = 1.5;

fn scene(cloth: Cloth, mm_per_px: f64, tilt_deg: f64, towards_rad: f64) -> Scene {
    let camera = Camera {
        tilt_rad: tilt_deg.to_radians(),
        tilt_towards_rad: towards_rad,
        focal_px: FOCAL,
        ..Camera::new(480, 640, mm_per_px)
    };
    let seam = SeamScene { offset: OffsetProfile::constant(OFFSET_MM), lean_rad: 0.04, ..SeamScene::new(cloth) };
    Scene { seam, camera, seed: 31 }
}

fn ask(rendered: &Rendered, scale: ScaleRequest) -> Finding {
    let seam = &rendered.truth.seam_px;
    let last = seam.len() - 1;
    let points_px = [last / 20, last / 2, last - last / 20].map(|k| seam[k]).to_vec();
    let photo = Photo::new("seam.jpg", rendered.photo.clone());
    let question = Question { scale, seam: SeamRequest { points_px, ..SeamRequest::default() }, ..Question::default() };
    inspect(&photo, &question).expect("measured")
}

/// Error of the scale at the middle of the seam, relative.
fn scale_error(finding: &Finding, rendered: &Rendered) -> f64 {
    let middle = rendered.truth.seam_px[rendered.truth.seam_px.len() / 2];
    let plane = &finding.plane;
    plane.mm_per_px_at(plane.to_mm(middle)) / rendered.truth.mm_per_px - 1.0
}

fn told(finding: &Finding) -> Option<f64> {
    let noted = finding.notes.iter().any(|note| note.code == "tilt-from-cloth");
    assert_eq!(noted, finding.plane.tilt_rad.is_some(), "a tilt is said where it is taken out, and only there");
    finding.plane.tilt_rad.map(f64::to_degrees)
}

/// Checks and stripes at tilts that, left in, put the scale out by 2 to 10 % along the seam and lose the repeat.
#[test]
fn the_tilt_is_taken_out_by_repeat_and_by_length() {
    let check = || Cloth::broad_check().with_repeat(18.4);
    let scenes = [
        ("check, towards the hem", scene(check(), 0.24, 20.0, 1.4)),
        ("check, aslant", scene(check(), 0.24, 12.0, 3.9)),
        ("broad check, aside", scene(Cloth::broad_check(), 0.3, 16.0, 0.2)),
        ("stripe, aslant", scene(Cloth::printed_bars(16.0), 0.24, 18.0, 2.2)),
        ("fine stripe, towards the waist", scene(Cloth::fine_stripe(), 0.18, 24.0, -1.3)),
    ];
    let mut errors_mm = Vec::new();
    for (name, scene) in scenes {
        let rendered = render(&scene).expect("rendered");
        let repeat_mm = rendered.truth.repeat_mm.expect("lines")[0];
        let mut scales = vec![ScaleRequest::Repeat { repeat_mm }, ScaleRequest::Auto];
        if let Some(ends_px) = rendered.truth.hundred_mm_px {
            scales.push(ScaleRequest::Length { ends_px, length_mm: 100.0 });
        }
        assert_eq!(scales.len(), 3, "{name}: too short a seam");
        for scale in scales {
            let finding = ask(&rendered, scale);
            let tilt = told(&finding).unwrap_or_else(|| panic!("{name}, {scale:?}: no tilt"));
            let true_tilt = scene.camera.tilt_rad.to_degrees();
            assert!((tilt - true_tilt).abs() < 0.1, "{name}, {scale:?}: {tilt}° for {true_tilt}°");
            let unit = if finding.plane.source == ScaleSource::None { repeat_mm } else { 1.0 };
            let error = finding.offset.mean_mm * unit - OFFSET_MM;
            let error = error - repeat_mm * (error / repeat_mm).round();
            let u_mm = finding.offset.expanded_uncertainty_mm * unit;
            assert!(error.abs() < u_mm, "{name}, {scale:?}: the offset is out by {error} mm with U {u_mm} mm");
            errors_mm.push(error.abs());
            if finding.plane.is_metric() {
                let scale_error = scale_error(&finding, &rendered);
                assert!(scale_error.abs() < 0.004, "{name}, {scale:?}: the scale is out by {scale_error}");
            }
        }
    }
    errors_mm.sort_by(f64::total_cmp);
    let median_mm = errors_mm[errors_mm.len() / 2];
    assert!(median_mm < 0.008 && errors_mm[errors_mm.len() - 1] < 0.02, "{errors_mm:?}");
}

/// A flared seam turns both families of one side against the other's: that is no tilt, and hides none.
#[test]
fn flare_is_no_tilt_and_hides_none() {
    for (tilt_deg, expected) in [(0.0, None), (15.0, Some(15.0))] {
        let mut flared = scene(Cloth::broad_check().with_repeat(18.4), 0.24, tilt_deg, 1.9);
        flared.seam.slope = [0.07, -0.05];
        let rendered = render(&flared).expect("rendered");
        let finding = ask(&rendered, ScaleRequest::Repeat { repeat_mm: 18.4 });
        match (told(&finding), expected) {
            (None, None) => {}
            (Some(tilt), Some(expected)) => assert!((tilt - expected).abs() < 0.1, "{tilt}° for {expected}°"),
            (tilt, _) => panic!("{tilt:?} for {tilt_deg}°"),
        }
    }
}

/// From straight above nothing is taken out, with and without drape; the scale is the plain one.
#[test]
fn a_level_camera_is_left_alone() {
    let cloths = [
        (Cloth::broad_check(), 0.0),
        (Cloth::broad_check().with_repeat(18.4), 0.8),
        (Cloth::tonal_stripe(), 0.0),
        (Cloth::printed_bars(24.0), 0.8),
    ];
    for (cloth, drape_mm) in cloths {
        let mut level = scene(cloth, 0.24, 0.0, 0.0);
        level.seam.drape_mm = drape_mm;
        let rendered = render(&level).expect("rendered");
        let finding = ask(&rendered, ScaleRequest::Repeat { repeat_mm: rendered.truth.repeat_mm.expect("lines")[0] });
        assert_eq!(told(&finding), None);
        assert!(finding.plane.mm_to_px[(2, 0)] == 0.0 && finding.plane.mm_to_px[(2, 1)] == 0.0);
        assert!(scale_error(&finding, &rendered).abs() < 0.002);
    }
}
