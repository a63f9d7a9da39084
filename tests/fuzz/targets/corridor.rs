//! Pixels → the whole corridor, or the flat cloth, and every report: the picture is stripes, a check, noise or the bytes
//! themselves; scale, seam, tolerance, stage and rules come from the bytes too.
#![no_main]

use image::{Rgb, RgbImage};
use libfuzzer_sys::arbitrary::{Result, Unstructured};
use libfuzzer_sys::{Corpus, fuzz_target};
use seamstep::cloth::{self, ClothRequest};
use seamstep::conventions::Runs;
use seamstep::digits::Unit;
use seamstep::inspect::{Question, inspect};
use seamstep::photo::Photo;
use seamstep::problem::Problem;
use seamstep::remedy::Stage;
use seamstep::remedy::custom::Rules;
use seamstep::report;
use seamstep::scale::ScaleRequest;
use seamstep::seam::SeamRequest;
use seamstep::units::PxPoint;
use seamstep::verdict::{Demand, Place};
use std::f64::consts::TAU;

/// Most points of a seam.
const MOST_POINTS: u8 = 7;
/// The most cloth that a picture's long side shows where the seam is looked for, millimetres: the search takes time and memory
/// with the area (17 s and 1.1 GB on 800 by 600 mm), which is known.
const MOST_MM: f64 = 250.0;

fuzz_target!(|bytes: &[u8]| -> Corpus {
    let Ok(asked) = Asked::of(&mut Unstructured::new(bytes)) else { return Corpus::Reject };
    if asked.long_side_mm() > MOST_MM && (asked.flat || asked.question.seam.points_px.is_empty()) {
        return Corpus::Reject;
    }
    let outcome = match asked.flat {
        true => flat(&asked),
        false => seam(&asked),
    };
    if let Err(problem) = outcome {
        assert!(!problem.to_string().is_empty() && problem.help().len() > 10, "{problem}");
    }
    Corpus::Keep
});

fn seam(asked: &Asked) -> std::result::Result<(), Problem> {
    let finding = inspect(&asked.photo, &asked.question)?;
    // A number that is not finite stops the JSON (an assertion of its own).
    finite(&report::json::finding(&finding).to_string());
    finite(&report::text::finding(&finding, false));
    finite(&report::text::finding(&finding, true));
    if asked.drawn {
        report::html::page(&asked.photo.pixels, &finding)?;
        report::picture::annotate(&asked.photo.pixels, &finding);
        report::chart::all_pixels(&finding)?;
    }
    Ok(())
}

fn flat(asked: &Asked) -> std::result::Result<(), Problem> {
    let points = &asked.question.seam.points_px;
    let two = |from: usize| Some([*points.get(from)?, *points.get(from + 1)?]);
    let request = ClothRequest {
        scale: asked.question.scale,
        warp: asked.question.seam.runs.unwrap_or(Runs::Down),
        selvedge_px: two(0),
        patch_px: two(2),
        pieces_mm: points.iter().map(|p| 10.0 * p.x).collect(),
        unit: asked.question.demand.unit,
    };
    let flat = cloth::measure(&asked.photo, &request)?;
    finite(&report::cloth::json::cloth(&flat).to_string());
    finite(&report::cloth::text::cloth(&flat));
    if asked.drawn {
        report::cloth::html::page(&asked.photo, &flat)?;
    }
    Ok(())
}

/// No number that is none stands in what is said.
fn finite(said: &str) {
    let words = said.split(|c: char| !c.is_alphanumeric());
    assert!(words.into_iter().all(|word| word != "NaN" && word != "inf"), "{said}");
}

/// A photograph, and what is asked about it.
struct Asked {
    photo: Photo,
    question: Question,
    flat: bool,
    drawn: bool,
}

impl Asked {
    /// About how much cloth the long side of the picture shows, as far as marks tell it, millimetres.
    fn long_side_mm(&self) -> f64 {
        let long_px = f64::from(self.photo.width_px().max(self.photo.height_px()));
        let (px, mm) = match self.question.scale {
            ScaleRequest::Length { ends_px: [a, b], length_mm } => (a.distance(b), length_mm),
            ScaleRequest::Rectangle { corners_px: [a, b, _, d], width_mm, height_mm } => {
                (a.distance(b).min(a.distance(d)), width_mm.max(height_mm))
            }
            _ => return 0.0,
        };
        long_px * mm / px
    }

    fn of(u: &mut Unstructured<'_>) -> Result<Self> {
        let flags: u8 = u.arbitrary()?;
        let size = [64 + u32::from(u.arbitrary::<u8>()? / 2), 64 + u32::from(u.arbitrary::<u8>()? / 2)];
        let scale = scale(u, size)?;
        let count = u.arbitrary::<u8>()? % (MOST_POINTS + 1);
        let points_px = (0..count).map(|_| point(u, size)).collect::<Result<_>>()?;
        let runs = [None, Some(Runs::Down), Some(Runs::Across)][usize::from(u.arbitrary::<u8>()? % 3)];
        let demand = Demand {
            place: [None, Some(Place::CentreBack), Some(Place::Hem), Some(Place::Zip)][usize::from(flags >> 2 & 3)],
            tolerance_mm: if flags & 16 > 0 { Some(length(u)?) } else { None },
            unit: if flags & 32 > 0 { Unit::Sixteenth } else { Unit::Millimetre },
            ..Demand::default()
        };
        let stage = [Stage::Basted, Stage::Sewn, Stage::Finished][usize::from(u.arbitrary::<u8>()? % 3)];
        let mut rules = Rules::default();
        if flags & 64 > 0 {
            rules.most_ease_percent = length(u)?;
            // What the settings refuse never comes as far as a photograph.
            if rules.check().is_err() {
                rules = Rules::default();
            }
        }
        let photo = Photo::new("a photograph", picture(u, size)?);
        let question = Question { scale, seam: SeamRequest { points_px, runs, ..SeamRequest::default() }, demand, stage, rules };
        Ok(Self { photo, question, flat: flags & 3 == 3, drawn: flags & 128 > 0 })
    }
}

/// A length in steps of a 32nd of a millimetre; one in eight is any number at all.
fn length(u: &mut Unstructured<'_>) -> Result<f64> {
    let steps: u16 = u.arbitrary()?;
    if steps % 8 == 7 { u.arbitrary() } else { Ok(f64::from(steps) / 32.0) }
}

/// A point in the picture or just outside it; one in sixteen is anywhere.
fn point(u: &mut Unstructured<'_>, [width, height]: [u32; 2]) -> Result<PxPoint> {
    let mut one = |size: u32| -> Result<f64> {
        let steps: u16 = u.arbitrary()?;
        if steps % 16 == 15 {
            let any: f64 = u.arbitrary()?;
            return Ok(if any.is_finite() { any } else { 0.0 });
        }
        Ok((f64::from(steps) / 65_000.0 * 1.02 - 0.01) * f64::from(size))
    };
    Ok(PxPoint::new(one(width)?, one(height)?))
}

fn scale(u: &mut Unstructured<'_>, size: [u32; 2]) -> Result<ScaleRequest> {
    Ok(match u.arbitrary::<u8>()? % 8 {
        0 => ScaleRequest::Auto,
        1 => ScaleRequest::Card,
        2 => ScaleRequest::Repeat { repeat_mm: length(u)? },
        3 | 4 => ScaleRequest::Rectangle {
            corners_px: [point(u, size)?, point(u, size)?, point(u, size)?, point(u, size)?],
            width_mm: length(u)?,
            height_mm: length(u)?,
        },
        _ => ScaleRequest::Length { ends_px: [point(u, size)?, point(u, size)?], length_mm: length(u)? },
    })
}

/// Stripes that jump in the middle, a second family along them, a crease, and the bytes that are left laid over all.
fn picture(u: &mut Unstructured<'_>, [width, height]: [u32; 2]) -> Result<RgbImage> {
    let mut signed = || -> Result<f64> { Ok(f64::from(u.arbitrary::<i8>()?)) };
    let period = 2.0 + (signed()? + 128.0) / 4.0;
    let jump = signed()? / 16.0;
    let lean = signed()? / 256.0;
    let [across, along] = [signed()?, signed()?];
    let crease = (signed()? + 128.0) / 256.0;
    let ground = signed()? + 128.0;
    let laid = signed()? / 64.0;
    let tint = [signed()?, signed()?, signed()?].map(|t| 1.0 + t / 256.0);
    let turned: bool = u.arbitrary()?;
    let bytes = u.bytes(u.len())?;
    let tone = |x: u32, y: u32| {
        let off = f64::from(x) - f64::from(width) / 2.0;
        let turn = TAU * (f64::from(y) - lean * off - if off > 0.0 { jump } else { 0.0 }) / period;
        let stripes = across * (turn.sin() + 0.35 * (2.0 * turn + 0.6).sin()) + along * (TAU * off / period).sin();
        let over = match bytes.len() {
            0 => 0.0,
            count => laid * (f64::from(bytes[(y * width + x) as usize % count]) - 128.0),
        };
        (ground + stripes) * (1.0 - crease * (-off * off / 4.0).exp()) + over
    };
    let picture = RgbImage::from_fn(width, height, |x, y| Rgb(tint.map(|t| (t * tone(x, y)) as u8)));
    Ok(if turned { image::imageops::rotate90(&picture) } else { picture })
}
