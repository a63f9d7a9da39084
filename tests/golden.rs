//! Three annotated pictures, kept in `fixtures/golden` at the width of a phone so that they can be looked at.
//!
//! `cargo test --release --test golden -- --ignored` writes them anew; the other test holds that the pictures drawn today
//! are those, but for differences that an eye does not see.

use image::imageops::{self, FilterType};
use image::{ImageReader, RgbImage};
use seamstep::inspect::{Question, inspect};
use seamstep::photo::{self, Photo};
use seamstep::report;
use seamstep::seam::SeamRequest;
use seamstep::units::PxPoint;
use std::path::{Path, PathBuf};

/// A slip marked with its move, a seam that runs across, and one without a scale.
const KEPT: [&str; 3] = ["profile-01", "band-01", "nocard-02"];
/// Width at which they are kept, pixels: a phone's.
const PHONE_PX: u32 = 390;
/// The largest difference of a channel, and the mean one, that pass: a stroke that moves by a tenth of a pixel.
const MOST: u8 = 40;
const MOST_MEAN: f64 = 0.4;

fn root(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures").join(name)
}

/// The true seam: what is kept is the drawing, not the search for the seam.
fn seam_px(name: &str) -> Vec<PxPoint> {
    let text = std::fs::read_to_string(root("truth.json")).expect("the truth");
    let truth: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let points = truth[name]["seam_px"].as_array().expect("a seam");
    let at = |k: usize| PxPoint::new(points[k][0].as_f64().expect("x"), points[k][1].as_f64().expect("y"));
    [0, points.len() / 2, points.len() - 1].map(at).to_vec()
}

/// The picture of a fixture as a phone shows it, as the bytes of a JPEG.
fn drawn(name: &str) -> Vec<u8> {
    let photo: Photo = photo::read(&root(&format!("{name}.jpg")), &photo::Limits::default()).expect("a photograph");
    let seam = SeamRequest { points_px: seam_px(name), ..SeamRequest::default() };
    let finding = inspect(&photo, &Question { seam, ..Question::default() }).expect("a finding");
    let picture = report::picture::annotate(&photo.pixels, &finding);
    let height = picture.height() * PHONE_PX / picture.width();
    report::jpeg(&imageops::resize(&picture, PHONE_PX, height, FilterType::Triangle)).expect("a JPEG")
}

fn kept(name: &str) -> PathBuf {
    root("golden").join(format!("{name}.jpg"))
}

/// The largest and the mean difference of a channel.
fn differences(one: &RgbImage, two: &RgbImage) -> (u8, f64) {
    assert_eq!(one.dimensions(), two.dimensions());
    let apart: Vec<u8> = one.as_raw().iter().zip(two.as_raw()).map(|(a, b)| a.abs_diff(*b)).collect();
    let mean = apart.iter().map(|&d| f64::from(d)).sum::<f64>() / apart.len() as f64;
    (apart.into_iter().max().unwrap_or(0), mean)
}

#[test]
#[ignore = "writes the kept pictures anew"]
fn write() {
    for name in KEPT {
        std::fs::write(kept(name), drawn(name)).expect("a file");
    }
}

#[test]
fn the_pictures_are_the_kept_ones() {
    for name in KEPT {
        let before = ImageReader::open(kept(name)).expect("a kept picture").decode().expect("a picture").into_rgb8();
        let now = image::load_from_memory(&drawn(name)).expect("a picture").into_rgb8();
        let (most, mean) = differences(&now, &before);
        assert!(most <= MOST && mean <= MOST_MEAN, "{name}: differs by {most} at most, {mean:.2} in the mean");
    }
}

#[test]
fn a_picture_without_its_drawing_would_be_told() {
    let before = ImageReader::open(kept(KEPT[0])).expect("a kept picture").decode().expect("a picture").into_rgb8();
    let mut wiped = before.clone();
    // A label of one jump is gone: 60 × 14 pixels of paper where it stood.
    for (x, y) in (300..390).flat_map(|x| (150..200).map(move |y| (x, y))) {
        wiped.put_pixel(x, y, image::Rgb([255; 3]));
    }
    assert!(differences(&wiped, &before).0 > MOST);
}
