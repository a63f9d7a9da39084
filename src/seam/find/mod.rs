//! Finds a seam in the picture, running down or across.
//!
//! Candidates come from a coarse raster: columns where the lines on both sides disagree or a crease runs
//! (`evidence`), for every lean that a seam may have. The best few are looked at closely (`refine`): both sides must
//! carry the same lines, and the path is placed where they part. At last it is cut to the cloth (`trim`).

mod evidence;

mod raster;

mod relief;

mod refine;

mod trim;

use super::path::Path;
use super::{Seam, SeamSource};
use crate::conventions::Runs;
use crate::photo::Photo;
use crate::problem::{Note, Refusal, RefusalCode};
use crate::scale::Plane;
use crate::units::MmPoint;
use evidence::{BLOCKS, HALF_GAPS_MM};
use raster::Raster;
use refine::{Fine, Refined};
use relief::Relief;

/// Cells of the coarse and the fine raster, millimetres.
const COARSE_MM: f64 = 0.5;
const FINE_MM: f64 = 0.25;
/// Standard uncertainty across the seam of a path that was found, and of one that was only assumed, millimetres.
const FOUND_U_MM: f64 = 0.3;
const ASSUMED_U_MM: f64 = 2.0;
/// Leans tried, dv/du: up to about 10 degrees.
const LEANS: [f64; 9] = [-0.18, -0.135, -0.09, -0.045, 0.0, 0.045, 0.09, 0.135, 0.18];
/// Candidates looked at closely for each direction, and how far apart they stand, millimetres.
const CLOSE_LOOKS: usize = 8;
const APART_MM: f64 = 6.0;
/// What a jump that fills half the likeness adds to the evidence.
const JUMP_WEIGHT: f32 = 8.0;
/// A person photographs the seam in the middle: what a seam at the very edge of the picture loses.
const MIDDLE_WEIGHT: f64 = 1.5;
/// Evidence below which there is no seam to speak of.
const LEAST_EVIDENCE: f64 = 2.0;
/// Evidence at which a seam is as likely as not, and how quickly it becomes sure.
const EVEN_EVIDENCE: f64 = 3.6;
const EVIDENCE_SPREAD: f64 = 0.6;
/// The confidence from which a seam counts as found.
const FOUND: f64 = 0.75;
/// Both sides show the same lines from this likeness on.
const LEAST_AGREEMENT: f32 = 0.6;
/// A trace this plain (jump and crease together) may be a seam even where the lines on both sides do not agree; the next
/// rooms say what is missing.
const PLAIN_TRACE: f32 = 4.5;

/// A column of one lean.
#[derive(Clone, Copy, Debug)]
struct Candidate {
    lean: f64,
    column: usize,
    score: f32,
}

/// Finds the seam.
///
/// # Errors
/// `no-seam` when nothing in the picture looks like one.
pub fn find(photo: &Photo, plane: &Plane, runs: Option<Runs>) -> Result<Seam, Refusal> {
    let seam = trim::to_the_picture(photo, plane, whole(photo, plane, runs)?);
    Ok(trim::to_the_cloth(photo, plane, seam))
}

/// The seam from one end of the picture to the other.
fn whole(photo: &Photo, plane: &Plane, runs: Option<Runs>) -> Result<Seam, Refusal> {
    let directions = runs.map_or(vec![Runs::Down, Runs::Across], |runs| vec![runs]);
    let mut best: Option<(f64, Seam)> = None;
    let mut plainest: Option<(f32, f64, Seam)> = None;
    for runs in directions {
        let raster = Raster::new(photo, plane, runs, FINE_MM)?;
        for candidate in candidates(photo, plane, runs)? {
            let Some((refined, seam)) = look_closely(&raster, runs, &candidate) else { continue };
            // From −1 at one edge of the picture over 0 in its middle to 1 at the other.
            let aside = 2.0 * candidate.column as f64 * COARSE_MM / (raster.width as f64 * FINE_MM) - 1.0;
            let evidence = f64::from(
                candidate.score * refined.agreement.max(0.0) + JUMP_WEIGHT * refined.jump.min(0.5) * refined.plainness,
            ) - MIDDLE_WEIGHT * aside * aside;
            if refined.agreement < LEAST_AGREEMENT && plainest.as_ref().is_none_or(|(s, ..)| candidate.score > *s) {
                plainest = Some((candidate.score, evidence, seam.clone()));
            }
            if best.as_ref().is_none_or(|(e, _)| evidence > *e) {
                best = Some((evidence, seam));
            }
        }
    }
    let confidence = |evidence: f64| 1.0 / (1.0 + (-(evidence - EVEN_EVIDENCE) / EVIDENCE_SPREAD).exp());
    match (best, plainest) {
        (Some((evidence, seam)), _) if confidence(evidence) >= FOUND => {
            Ok(Seam { confidence: confidence(evidence), ..seam })
        }
        (_, Some((score, evidence, seam))) if score >= PLAIN_TRACE => Ok(assumed(seam, confidence(evidence))),
        (Some((evidence, seam)), _) if evidence >= LEAST_EVIDENCE => Ok(assumed(seam, confidence(evidence))),
        _ => Err(Refusal::new(
            RefusalCode::NoSeam,
            "no seam can be made out in the picture",
            "say where it is with --seam \"X,Y X,Y\", or photograph it nearer to the middle, in light from the side",
        )),
    }
}

/// A seam that was not plainly seen: its place is a likely one, no more.
fn assumed(seam: Seam, confidence: f64) -> Seam {
    Seam {
        source: SeamSource::Assumed,
        confidence,
        u_across_mm: ASSUMED_U_MM,
        notes: vec![Note::new(
            "seam-not-plain",
            "No plain trace of a seam was seen; the likeliest place was taken. Look at the picture, and say where the seam \
             is with --seam if that is not it.",
        )],
        ..seam
    }
}

/// Refines one candidate on the part of the fine raster around it.
fn look_closely(raster: &Raster, runs: Runs, candidate: &Candidate) -> Option<(Refined, Seam)> {
    let reach_mm = Fine::reach_mm(raster.height as f64 * raster.step_mm, candidate.lean);
    let reach = (reach_mm / FINE_MM).ceil() as usize;
    let column = (candidate.column as f64 * COARSE_MM / FINE_MM).round() as usize;
    let from = column.saturating_sub(reach);
    let fine = Fine::new(raster.columns(from, (column + reach + 1).min(raster.width)), candidate.lean);
    let refined = refine::refine(&fine, column - from)?;
    let seam = seam_of(&fine.raster, runs, candidate.lean, column - from, &refined)?;
    Some((refined, seam))
}

/// The best columns of the coarse raster, apart from each other, best first.
fn candidates(photo: &Photo, plane: &Plane, runs: Runs) -> Result<Vec<Candidate>, Refusal> {
    let raster = Raster::new(photo, plane, runs, COARSE_MM)?;
    let relief = Relief::of(&raster);
    let mut all: Vec<Candidate> = Vec::new();
    for lean in LEANS {
        let leaned = relief.leaned(lean);
        let sums = evidence::sums_for(&leaned);
        let crease = evidence::crease_scores(&raster, lean);
        for half_gap_mm in HALF_GAPS_MM {
            let jump = evidence::jump_scores(&leaned, &sums, COARSE_MM, half_gap_mm);
            let mean = |scores: &[f32; BLOCKS]| scores.iter().sum::<f32>() / BLOCKS as f32;
            all.extend((0..leaned.width).map(|column| {
                // A gap has no crease.
                let crease = if half_gap_mm == HALF_GAPS_MM[0] { mean(&crease[column]) } else { 0.0 };
                Candidate { lean, column, score: mean(&jump[column]) + crease }
            }));
        }
    }
    all.sort_by(|a, b| b.score.total_cmp(&a.score));
    let apart = (APART_MM / COARSE_MM) as usize;
    let mut kept: Vec<Candidate> = Vec::new();
    for candidate in all {
        if kept.iter().all(|k| k.column.abs_diff(candidate.column) >= apart) {
            kept.push(candidate);
            if kept.len() == CLOSE_LOOKS {
                break;
            }
        }
    }
    Ok(kept)
}

/// The seam through the refined places, carried on to the picture's ends.
fn seam_of(raster: &Raster, runs: Runs, lean: f64, column: usize, refined: &Refined) -> Option<Seam> {
    let height = raster.height as f64;
    let mut marks: Vec<MmPoint> = (0..BLOCKS)
        .map(|b| {
            let row = (b as f64 + 0.5) * height / BLOCKS as f64;
            let aside = refined.aside_mm[b] / raster.step_mm;
            raster.place(column as f64 + aside + lean * (row - height / 2.0), row)
        })
        .collect();
    let beyond = |a: MmPoint, b: MmPoint| MmPoint::new(a.x + 0.5 * (a.x - b.x), a.y + 0.5 * (a.y - b.y));
    let ends = [beyond(marks[0], marks[1]), beyond(marks[BLOCKS - 1], marks[BLOCKS - 2])];
    marks.insert(0, ends[0]);
    marks.push(ends[1]);
    Some(Seam {
        source: SeamSource::Found,
        runs,
        path: Path::through(&marks)?,
        confidence: 0.0,
        u_across_mm: FOUND_U_MM,
        notes: Vec::new(),
    })
}
