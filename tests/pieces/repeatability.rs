//! `seamstep repeatability`: three seams, photographed twice or three times by two people.

use super::run::{Said, seamstep, text};
use seamstep::render::{Camera, Card, CardFace, Cloth, OffsetProfile, Scene, SeamScene, render};
use serde_json::Value;
use std::path::{Path, PathBuf};
use tempfile::tempdir;

/// The seams' true offsets, millimetres.
const SEAMS_MM: [f64; 3] = [0.2, 1.4, -2.1];

/// Photographs of three seams, each by two people twice: the second person holds the camera askew. Returns the list's file.
fn photographs(folder: &Path) -> PathBuf {
    let mut list = String::from("photo,piece,place,by\n");
    std::thread::scope(|scope| {
        for (k, constant_mm) in SEAMS_MM.into_iter().enumerate() {
            for (who, tilt_rad) in [("Ann", 0.02), ("Bo", 0.2)] {
                for again in 0..2 {
                    let name = format!("{k}-{who}-{again}.jpg");
                    list += &format!("{name},shirt {k},centre-back,{who}\n");
                    let file = folder.join(name);
                    scope.spawn(move || {
                        let seam = SeamScene {
                            offset: OffsetProfile { constant_mm, ..OffsetProfile::default() },
                            cards: vec![Card {
                                face: CardFace::Scale { side_mm: 30.0 },
                                u_mm: -5.0,
                                v_mm: 28.0,
                                turn_rad: 0.1,
                            }],
                            ..SeamScene::new(Cloth::fine_stripe().with_repeat(9.0))
                        };
                        let tilt_towards_rad = f64::from(again) * 2.0 + constant_mm;
                        let camera = Camera { tilt_rad, tilt_towards_rad, ..Camera::new(680, 560, 0.17) };
                        // The same seam: the same cloth, so the same seed; the sensor's noise is part of it too, and so
                        // it is the camera's place that differs from photograph to photograph.
                        let rendered = render(&Scene { seam, camera, seed: 77 + k as u64 }).unwrap();
                        std::fs::write(file, rendered.jpeg).unwrap();
                    });
                }
            }
        }
    });
    let file = folder.join("list.csv");
    std::fs::write(&file, list).unwrap();
    file
}

const FIELDS: [&str; 27] = [
    "schema",
    "answer",
    "reason",
    "tolerance_mm",
    "good_percent",
    "poor_percent",
    "level",
    "percent_of_tolerance",
    "percent_of_tolerance_interval",
    "percent_of_variation",
    "classes",
    "repeatability",
    "reproducibility_mm",
    "gauge",
    "seams_mm",
    "interaction_pooled",
    "told_standard_uncertainty_mm",
    "analysis",
    "seams",
    "people",
    "readings",
    "left_out",
    "unmeasured",
    "given_again",
    "doubt",
    "scatter_to_told",
    "scatter_to_told_interval",
];

#[test]
fn a_good_way_of_photographing_is_told_and_three_faces_agree() {
    let folder = tempdir().unwrap();
    let list = photographs(folder.path());
    let page = folder.path().join("study.html");
    let said = seamstep(&["repeatability", text(&list), "--json", "--report", text(&page)]);
    assert_eq!(said.status, 0, "{}{}", said.stdout, said.stderr);
    let study: Value = serde_json::from_str(&said.stdout).unwrap();
    let mut fields: Vec<&str> = study.as_object().unwrap().keys().map(String::as_str).collect();
    let mut known = FIELDS.to_vec();
    fields.sort_unstable();
    known.sort_unstable();
    assert_eq!(fields, known);
    assert_eq!((study["schema"].as_str(), study["answer"].as_str()), (Some("seamstep/repeatability/1"), Some("good")));
    assert_eq!((study["seams"].as_u64(), study["people"].as_array().unwrap().len()), (Some(3), 2));
    assert_eq!(study["readings"].as_array().unwrap().len(), 12);
    // The seams differ by their true offsets: 1.77 mm of standard deviation, and much more than any photograph errs.
    let mean = SEAMS_MM.iter().sum::<f64>() / 3.0;
    let deviation = (SEAMS_MM.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 2.0).sqrt();
    let found = study["seams_mm"].as_f64().unwrap();
    assert!((found / deviation - 1.0).abs() < 0.05, "{found} for {deviation}");
    assert!(study["gauge"]["mm"].as_f64().unwrap() < 0.05 && study["gauge"]["mm"].as_f64().unwrap() > 0.0);

    let page = std::fs::read_to_string(page).unwrap();
    assert!(page.contains("GOOD ENOUGH") && page.contains("<svg") && page.contains("Analysis of variance"));

    // The lines that lot writes of the same list say the same; given twice, each photograph counts once.
    let lines = folder.path().join("lines.jsonl");
    let lot = seamstep(&["lot", "--manifest", text(&list), "--out", text(&lines)]);
    assert!(lines.exists(), "{}{}", lot.stdout, lot.stderr);
    let twice = seamstep(&["repeatability", text(&lines), text(&lines), "--json"]);
    let of_lines: Value = serde_json::from_str(&twice.stdout).unwrap();
    for field in ["gauge", "repeatability", "reproducibility_mm", "seams_mm", "people", "answer"] {
        assert_eq!(of_lines[field], study[field], "{field}");
    }
    assert_eq!((&study["given_again"], &of_lines["given_again"]), (&Value::from(0), &Value::from(12)));

    // Nothing is too small a tolerance to be answered, and for its page to be drawn.
    let none =
        seamstep(&["repeatability", text(&lines), "--tolerance", "0", "--report", text(&folder.path().join("0.html"))]);
    assert_eq!(none.status, 3, "{}{}", none.stdout, none.stderr);
    assert!(none.stdout.starts_with("CANNOT TELL: a tolerance of nothing"), "{}", none.stdout);

    // A tolerance of a twentieth asks too much of the same photographs.
    let fine = seamstep(&["repeatability", text(&lines), "--tolerance", "0.02"]);
    assert!([1, 3].contains(&fine.status) && !fine.stdout.starts_with("GOOD"), "{}", fine.stdout);
    assert!(fine.stdout.lines().all(|line| line.chars().count() <= 80), "{}", fine.stdout);
}

#[test]
fn too_little_is_told_as_such() {
    let folder = tempdir().unwrap();
    let list = folder.path().join("list.csv");
    std::fs::write(&list, "photo,piece\nnone.jpg,a\n").unwrap();
    let Said { status, stdout, stderr } = seamstep(&["repeatability", text(&list)]);
    assert_eq!((status, stdout.as_str()), (4, ""));
    assert!(stderr.contains("none.jpg") && stderr.contains("nothing to compare"), "{stderr}");

    let fixture = std::fs::canonicalize("fixtures/flat-01.jpg").unwrap();
    std::fs::write(&list, format!("photo,piece\n{},a\n", text(&fixture))).unwrap();
    let once = seamstep(&["repeatability", text(&list)]);
    assert_eq!(once.status, 3, "{}{}", once.stdout, once.stderr);
    assert!(once.stdout.starts_with("CANNOT TELL: no seam was photographed twice"), "{}", once.stdout);

    seamstep(&["repeatability", "no such list.csv"]).is_trouble(&["no such list.csv"]);
    let lines = folder.path().join("lines.jsonl");
    std::fs::write(&lines, "{\"file\": 1}\n").unwrap();
    seamstep(&["repeatability", text(&lines)]).is_trouble(&["line 1"]);
    seamstep(&["repeatability", text(&list), "--tolerance", "-1"]).is_trouble(&["tolerance"]);
}
