//! Finds a seam in the picture, running down or across.
//!
//! On a raster of the cloth, every path that a seam may take is scored for three traces (`candidates`): the lines on
//! both sides disagree (`jump`), they are missing between two sides that have them (a zip's tape), a narrow dark line
//! runs along it (`crease`, `creases`). The best few are looked at closely (`refine`): both sides must carry the same lines, and
//! the path is placed where they part (`sides`, `gap`); lines along it that do not run on through it show that it was cut
//! (`through`). What was seen is weighed into a confidence (`weigh`). At last the path is cut to the cloth (`trim`). A seam that was
//! drawn is looked at and weighed in the same way, and followed piece by piece (`draw`).

mod raster;

mod pixels;

mod upright;

mod course;

mod blocks;

mod crease;

mod creases;

mod profile;

mod relief;

mod jump;

mod candidates;

mod sides;

mod gap;

mod refine;

mod through;

mod weigh;

mod draw;

mod trim;

use super::path::Path;
use super::{Across, Seam, SeamSource};
use crate::conventions::Runs;
use crate::photo::Photo;
use crate::problem::{Note, Refusal, RefusalCode};
use crate::scale::Plane;
use crate::threads;
use candidates::Candidate;
use raster::{Frame, Raster};
use refine::Look;
use through::Through;
use upright::Upright;
pub use weigh::{CLUES, likely};

/// Blocks along u in which the evidence is gathered.
const BLOCKS: usize = 8;
/// Cells of the raster of the whole picture and of a look, millimetres.
const FINE_MM: f64 = 0.25;
/// Cells of the look that tells which candidates are worth one at four times as many.
const COARSE_MM: f64 = 0.5;
/// Standard uncertainty across the seam of a path that was found, and of one that was only assumed, millimetres.
const FOUND_U_MM: f64 = 0.3;
const ASSUMED_U_MM: f64 = 2.0;
/// The confidence from which a seam counts as found, and that from which it is assumed rather than refused.
const FOUND: f64 = 0.9;
const ASSUMED: f64 = 0.2;
/// A place with less confidence at a coarse look is not worth a fine one: of 959 places in photographs 712 were such, and
/// none of them would have been the answer.
const HOPELESS: f64 = 0.05;
/// A path that a look moves by less than this has settled, millimetres.
const SETTLED_MM: f64 = 0.5;
/// Paths that come nearer to each other than this are one seam, millimetres.
const APART_MM: f64 = 8.0;

/// The score of missing lines from which a candidate may stand at one fold of a gap, and how far beside it the middle
/// of the gap is then looked for, millimetres.
const MAYBE_GAP: f32 = 1.0;
const ASIDE_MM: f64 = 4.0;

/// Cells of a raster up to which both directions are searched at once: each takes about 18 bytes a cell, and 4 while it waits.
const MOST_CELLS_AT_ONCE: usize = 1_300_000;

/// How far beside a look's path a seam is followed, first where it bends otherwise than the look's bow, then closely, millimetres.
const DRAWN_WITHIN_MM: [f64; 2] = [3.5, 1.5];

/// Rows of one block.
fn rows(height: usize, block: usize) -> std::ops::Range<usize> {
    block * height / BLOCKS..(block + 1) * height / BLOCKS
}

/// A place where a seam may be.
#[derive(Clone, Debug)]
pub struct Weighed {
    /// The seam, if it is one: its confidence says how likely that is.
    pub seam: Seam,
    /// What speaks for it.
    pub clues: [f64; CLUES],
    /// Distance from the middle of the picture, −1 at one edge to 1 at the other.
    aside: f64,
    /// Whether one trace of a seam is plain, whatever the others say.
    plain_trace: bool,
}

/// Finds the seam.
///
/// # Errors
/// `no-seam` when nothing in the picture looks like one.
pub fn find(photo: &Photo, plane: &Plane, runs: Option<Runs>) -> Result<Seam, Refusal> {
    let mut all = weighed(photo, plane, runs)?;
    all.sort_by(|a, b| b.seam.confidence.total_cmp(&a.seam.confidence));
    let seams = found(&all);
    // Of several seams, the one that the picture was taken of is the nearest to its middle.
    let seam = match (seams.iter().min_by(|a, b| a.aside.abs().total_cmp(&b.aside.abs())), all.first()) {
        (Some(nearest), _) => Seam { notes: others(&seams, nearest, plane), ..nearest.seam.clone() },
        (None, Some(likeliest)) if likeliest.seam.confidence >= ASSUMED => assumed(&likeliest.seam),
        // One plain trace alone: the next rooms say what is missing.
        _ => match all.iter().find(|place| place.plain_trace) {
            Some(place) => assumed(&place.seam),
            None => {
                return Err(Refusal::new(
                    RefusalCode::NoSeam,
                    "no seam can be made out in the picture",
                    "mark where it is (--seam \"X,Y X,Y\"), or photograph it nearer to the middle, in light from the \
                     side",
                ));
            }
        },
    };
    Ok(trim::to_the_cloth(photo, plane, trim::to_the_picture(photo, plane, seam)))
}

/// Distance between the folds of a seam, millimetres; `None` where they touch or a side shows no lines.
pub fn gap_mm(photo: &Photo, plane: &Plane, seam: &Seam) -> Option<f64> {
    refine::look(photo, plane, seam, FINE_MM)?.gap_mm
}

/// What shows of a seam beside a drawing.
#[derive(Clone, Debug)]
pub struct Shown {
    /// The drawing, drawn to it.
    pub seam: Seam,
    /// Standard uncertainty of its place across, millimetres, as the picture shows it.
    pub u_mm: f64,
    /// How much likelier what is seen is with a seam there than without, logarithm.
    pub evidence: f64,
    /// Distance between the folds where there is a gap, millimetres.
    pub gap_mm: Option<f64>,
}

/// Looks for a seam beside a drawing; `None` where a side shows no lines.
pub fn beside(photo: &Photo, plane: &Plane, drawing: &Seam) -> Option<Shown> {
    let first = refine::look(photo, plane, drawing, FINE_MM)?;
    let look = if first.moved_mm < SETTLED_MM { first } else { refine::look(photo, plane, &first.seam, FINE_MM)? };
    let gap_mm = look.gap_mm;
    let evidence = weigh::evidence(&look, through::look(photo, plane, &look.seam, gap_mm.unwrap_or(0.0)));
    // The folds of a gap are where the look has them.
    let (mut seam, mut u_mm) = (look.seam, FOUND_U_MM);
    if gap_mm.is_none() {
        let dark = look.crease.iter().sum::<f32>() / BLOCKS as f32;
        for reach_mm in DRAWN_WITHIN_MM {
            (seam, u_mm) = draw::to_the_seam(photo, plane, &seam, reach_mm, dark)?;
        }
    }
    Some(Shown { seam: trim::to_the_picture(photo, plane, seam), u_mm, evidence, gap_mm })
}

/// The likeliest seam of the picture that is another than a drawing's, by more than `apart_mm` or by its direction, where it is likelier
/// than not; and how likely, as a logarithm of odds.
pub fn other_than(photo: &Photo, plane: &Plane, drawing: &Seam, apart_mm: f64) -> Option<(Seam, f64)> {
    let all = weighed(photo, plane, None).ok()?;
    let other = |seam: &Seam| seam.runs != drawing.runs || aside_mm(drawing, seam).abs() > apart_mm;
    let places = all.into_iter().map(|place| place.seam).filter(|seam| seam.confidence > 0.5 && other(seam));
    let seam = places.max_by(|a, b| a.confidence.total_cmp(&b.confidence))?;
    let odds = seam.confidence / (1.0 - seam.confidence).max(1e-6);
    Some((trim::to_the_cloth(photo, plane, trim::to_the_picture(photo, plane, seam)), odds.ln()))
}

/// How far a path lies from another towards growing v, millimetres: the median along the other.
pub fn aside_mm(from: &Seam, to: &Seam) -> f64 {
    let mut aside: Vec<f64> = places_beside(from, to).collect();
    let half = aside.len() / 2;
    *aside.select_nth_unstable_by(half, f64::total_cmp).1
}

/// How far a path lies from another where it is furthest, millimetres.
pub fn furthest_mm(from: &Seam, to: &Seam) -> f64 {
    places_beside(from, to).fold(0.0, |furthest, aside| furthest.max(aside.abs()))
}

/// At every point of `from`, the place of `to` across it, millimetres towards growing v.
fn places_beside<'a>(from: &'a Seam, to: &'a Seam) -> impl Iterator<Item = f64> + 'a {
    (0..from.path.points.len()).map(|k| {
        let Across { point, v } = from.across(k as f64 * from.path.step_mm);
        let nearest = to.path.points.iter().min_by(|a, b| a.distance(point).total_cmp(&b.distance(point)));
        nearest.map_or(0.0, |p| (p.x - point.x) * v.x + (p.y - point.y) * v.y)
    })
}

/// Every place where a seam may be, weighed.
///
/// # Errors
/// `no-seam` when the picture shows more cloth than can be searched.
pub fn weighed(photo: &Photo, plane: &Plane, runs: Option<Runs>) -> Result<Vec<Weighed>, Refusal> {
    let (raster, frame) = Raster::of_picture(photo, plane, FINE_MM)?;
    let turned_frame = frame.turned(raster.height);
    match runs {
        Some(Runs::Down) => return Ok(weighed_in(photo, plane, Upright::of(raster, frame))),
        Some(Runs::Across) => return Ok(weighed_in(photo, plane, Upright::of(raster.turned(), turned_frame))),
        None => {}
    }
    let at_once = raster.width * raster.height <= MOST_CELLS_AT_ONCE;
    let (down, across) = Upright::both_ways(raster, frame, turned_frame);
    let down = || weighed_in(photo, plane, down);
    let across = || weighed_in(photo, plane, across);
    // Neither direction needs the other.
    let (mut all, across) = if at_once { threads::both(down, across) } else { (down(), across()) };
    all.extend(across);
    Ok(all)
}

/// Every place where a seam that is upright may be, weighed.
fn weighed_in(photo: &Photo, plane: &Plane, upright: Upright) -> Vec<Weighed> {
    let (size, frame) = (upright.size, upright.frame);
    let all = upright.candidates();
    // Looks at one direction take longer than at the other: whoever is done helps.
    threads::halves(&all, |part| {
        part.iter().filter_map(|candidate| weighed_at(photo, plane, candidate, size, &frame)).collect()
    })
}

/// One candidate, weighed; `None` where no seam can be.
fn weighed_at(
    photo: &Photo,
    plane: &Plane,
    candidate: &Candidate,
    [width, height]: [usize; 2],
    frame: &Frame,
) -> Option<Weighed> {
    let seam = trim::to_the_picture(photo, plane, seam_of(height, frame, candidate)?);
    let aside = 2.0 * candidate.course.column / width as f64 - 1.0;
    let clues_of = |look: &Look, through: Through| weigh::clues(candidate, look, through, aside);
    let coarse = first_look(photo, plane, &seam, candidate, COARSE_MM)?;
    // A plain trace may be worth assuming, whatever the other clues say.
    let is_hopeless =
        weigh::confidence(&clues_of(&coarse, Through::default())) < HOPELESS && !weigh::is_plain(candidate, &coarse);
    let (look, through) = if is_hopeless {
        (coarse, Through::default())
    } else {
        // Where the first look moves the path, the second is at the moved one.
        let first = first_look(photo, plane, &seam, candidate, FINE_MM)?;
        let look = if first.moved_mm < SETTLED_MM { first } else { refine::look(photo, plane, &first.seam, FINE_MM)? };
        let through = through::look(photo, plane, &look.seam, look.gap_mm.unwrap_or(0.0));
        (look, through)
    };
    let clues = clues_of(&look, through);
    let plain_trace = weigh::is_plain(candidate, &look);
    let seam = Seam { confidence: weigh::confidence(&clues), ..look.seam };
    Some(Weighed { seam, clues, aside, plain_trace })
}

/// The first look at a candidate: where the lines are missing it may be one fold of a gap, whose middle is beside it.
fn first_look(photo: &Photo, plane: &Plane, seam: &Seam, candidate: &Candidate, step_mm: f64) -> Option<Look> {
    let shows_gap = |look: &Look| look.gap_mm.is_some();
    let straight = refine::look(photo, plane, seam, step_mm);
    if candidate.gap < MAYBE_GAP || straight.as_ref().is_some_and(shows_gap) {
        return straight;
    }
    [-ASIDE_MM, ASIDE_MM]
        .iter()
        .find_map(|&aside_mm| refine::look(photo, plane, &seam.moved(aside_mm)?, step_mm).filter(shows_gap))
        .or(straight)
}

/// The places that count as found, one for each seam.
fn found(surest_first: &[Weighed]) -> Vec<&Weighed> {
    let mut seams: Vec<&Weighed> = Vec::new();
    for place in surest_first.iter().filter(|place| place.seam.confidence >= FOUND) {
        let points = &place.seam.path.points;
        let same =
            |other: &&Weighed| other.seam.path.points.iter().any(|p| points.iter().any(|q| p.distance(*q) < APART_MM));
        if !seams.iter().any(same) {
            seams.push(place);
        }
    }
    seams
}

/// A note that names the seams that were not taken.
fn others(seams: &[&Weighed], taken: &Weighed, plane: &Plane) -> Vec<Note> {
    let places: Vec<String> = seams
        .iter()
        .filter(|place| !std::ptr::eq(**place, taken))
        .map(|place| {
            let points = &place.seam.path.points;
            let [a, b] = [points[0], points[points.len() - 1]].map(|p| plane.to_px(p));
            format!("{:.0},{:.0} {:.0},{:.0}", a.x, a.y, b.x, b.y)
        })
        .collect();
    if places.is_empty() {
        return Vec::new();
    }
    vec![Note::new(
        "several-seams",
        format!(
            "More than one seam is in the picture; the one nearest to its middle was measured. For another, say --seam \
             \"{}\".",
            places.join("\" or --seam \"")
        ),
    )]
}

/// A seam that was not plainly seen: its place is a likely one, no more.
fn assumed(seam: &Seam) -> Seam {
    Seam {
        source: SeamSource::Assumed,
        u_across_mm: ASSUMED_U_MM,
        notes: vec![Note::new(
            "seam-not-plain",
            "No plain trace of a seam was seen; the likeliest place was taken. Look at the picture, and say where the seam \
             is if that is not it (--seam).",
        )],
        ..seam.clone()
    }
}

/// The path of a candidate from one end of the picture, of so many rows, to the other.
fn seam_of(height: usize, frame: &Frame, candidate: &Candidate) -> Option<Seam> {
    const MARKS: u32 = 8;
    let marks: Vec<_> = (0..=MARKS)
        .map(|k| {
            let row = f64::from(k) / f64::from(MARKS) * height as f64;
            frame.place(candidate.course.at(row, height), row)
        })
        .collect();
    Some(Seam {
        source: SeamSource::Found,
        runs: frame.runs,
        path: Path::through(&marks)?,
        confidence: 0.0,
        u_across_mm: FOUND_U_MM,
        gap_mm: None,
        drawn: None,
        notes: Vec::new(),
    })
}
