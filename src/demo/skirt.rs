//! One rendered seam: a skirt's centre back, basted, in a broad check; one pin has let go.
//!
//! The scene is the project's own ([`crate::render`]), the check is the same corridor a photograph walks, and what was
//! put into the scene is told beside what was measured.

use crate::inspect::{Question, inspect};
use crate::photo::{self, Photo};
use crate::problem::Problem;
use crate::render::{
    Basting, Camera, Card, CardFace, Cloth, Light, OffsetProfile, Pin, Rendered, Scene, SeamScene, Slip, render,
};
use crate::report;
use crate::verdict::{Demand, Place};
use std::path::Path;

/// The seed of the demo's scene.
const SEED: u64 = 20;

/// Renders the demo's scene.
///
/// # Errors
/// As [`render`]; the scene is fixed, so none is expected.
pub fn photograph() -> Result<Rendered, Problem> {
    let pin = |at_mm: f64, turn_rad: f64, head: [u8; 3]| Pin { at_mm, turn_rad, head, head_on_second: true };
    let seam = SeamScene {
        offset: OffsetProfile {
            constant_mm: 0.3,
            slips: vec![Slip { at_mm: 18.0, amount_mm: 2.6, half_width_mm: 26.0 }],
            ..OffsetProfile::default()
        },
        lean_rad: 0.03,
        bow_mm: 1.5,
        basting: Some(Basting { colour: [228, 222, 205], stitch_mm: 7.0, gap_mm: 5.0, aside_mm: 0.6 }),
        pins: vec![pin(-62.0, 0.12, [196, 52, 60]), pin(66.0, -0.1, [236, 208, 84])],
        drape_mm: 0.4,
        cards: vec![Card { face: CardFace::Scale { side_mm: 30.0 }, u_mm: -20.0, v_mm: 38.0, turn_rad: 0.1 }],
        ..SeamScene::new(Cloth::broad_check())
    };
    let camera = Camera {
        tilt_rad: 0.16,
        tilt_towards_rad: 1.2,
        light: Light { unevenness: 0.18, darker_towards_rad: 0.7, ..Light::even() },
        ..Camera::new(1200, 1600, 0.11)
    };
    render(&Scene { seam, camera, seed: SEED })
}

/// Renders, checks, writes four files into `folder` and returns what a person should read.
///
/// # Errors
/// [`Problem::Io`] when the folder cannot be made or written to.
pub fn run(folder: &Path) -> Result<String, Problem> {
    std::fs::create_dir_all(folder).map_err(|e| {
        Problem::io(format!("cannot make the folder {}: {e}", folder.display()), "give another folder with --folder")
    })?;
    let rendered = photograph()?;
    let name = "centre-back.jpg";
    let pixels = photo::decode::decode(&rendered.jpeg, &photo::Limits::default())?;
    let photo = Photo::new(name, pixels);
    let demand = Demand { place: Some(Place::CentreBack), ..Demand::default() };
    let finding = inspect(&photo, &Question { demand, ..Question::default() })?;
    let picture = report::picture::annotate(&photo.pixels, &finding);
    let page = report::html::page(&photo.pixels, &finding)?;
    let object = format!("{:#}\n", report::json::finding(&finding));
    report::write_whole(&folder.join(name), &rendered.jpeg)?;
    report::write_whole(&folder.join("picture.jpg"), &report::jpeg(&picture)?)?;
    report::write_whole(&folder.join("report.html"), page.as_bytes())?;
    report::write_whole(&folder.join("finding.json"), object.as_bytes())?;
    Ok(format!(
        "{}\n\
         The truth of this rendered seam: the lines jump {:.2} mm at most and {:.2} mm on\n\
         average.\n\
         In {}:\n\
         the photograph ({name}), picture.jpg, report.html, finding.json.\n",
        report::text::finding(&finding, false),
        rendered.truth.largest_offset_mm,
        rendered.truth.mean_offset_mm,
        folder.display()
    ))
}
