//! A seam that is drawn: is there one, and where beside the drawing?
//!
//! A hand draws a few millimetres off. Where a seam shows within reach of the drawing, the path is drawn to it. Where none
//! shows, the cloth may run on there, or its seam may be one that nothing shows: that is said, and a plainer seam nearby, unless the
//! user insists.

use super::find;
use super::path::Path;
use super::{Seam, SeamRequest, SeamSource};
use crate::conventions::Runs;
use crate::photo::Photo;
use crate::problem::{Note, Problem};
use crate::scale::{Plane, marks};
use crate::units::MmPoint;

/// Shortest seam that is measured, millimetres.
const LEAST_LENGTH_MM: f64 = 10.0;
/// Standard uncertainty across the seam of a path marked by hand of which the picture shows nothing, millimetres.
const GIVEN_U_MM: f64 = 0.3;

/// A seam that shows within this of the drawing is the one that was meant, millimetres.
pub const REACH_MM: f64 = 6.0;
/// And this where no seam shows nearer: a rough stroke with a finger, millimetres.
pub const ROUGH_MM: f64 = 15.0;
/// A path that was moved by this much is told of, millimetres.
const NOTABLE_MM: f64 = 1.0;
/// Log-odds that there is a seam where somebody draws one, whatever shows: seven of eight. A judgement, no source.
const SHE_IS_RIGHT: f64 = 2.0;
/// A seam that is less likely to be there than this is doubted: twice as likely as not. Of 60 right drawings two are then doubted, and of
/// 51 where no seam is none is believed (`tests/drawn.rs`).
const LIKELY: f64 = 2.0 / 3.0;
/// Evidence from which what shows within the reach of a rough stroke only is what was meant.
const PLAIN: f64 = 2.0;

/// The path that was drawn.
///
/// # Errors
/// As [`super::place`].
pub fn read(photo: &Photo, plane: &Plane, request: &SeamRequest) -> Result<Seam, Problem> {
    for (k, point) in request.points_px.iter().enumerate() {
        marks::inside(photo, &format!("point {} of the seam (--seam)", k + 1), *point)?;
    }
    let mut marks: Vec<MmPoint> = request.points_px.iter().map(|&p| plane.to_mm(p)).collect();
    let no_path = |what: &str| {
        Problem::usage(
            format!("--seam: {what}"),
            "give two or more points along the seam, in order (--seam \"X,Y X,Y\", in pixels of the upright picture)",
        )
    };
    if marks.len() < 2 {
        return Err(no_path("one point is not a seam"));
    }
    if turns_back(&marks) {
        return Err(no_path("the points turn back on themselves"));
    }
    let (first, last) = (marks[0], marks[marks.len() - 1]);
    let (dx, dy) = (last.x - first.x, last.y - first.y);
    let runs = request.runs.unwrap_or(if dy.abs() >= dx.abs() { Runs::Down } else { Runs::Across });
    let along = match runs {
        Runs::Down => dy,
        Runs::Across => dx,
    };
    if along.abs() < dx.abs().max(dy.abs()) / 2.0 {
        return Err(Problem::usage(
            format!("the points of the seam (--seam) run the other way than {} (--along)", runs.word()),
            "leave the direction out (--along): the points of the seam say how it runs",
        ));
    }
    if along < 0.0 {
        marks.reverse();
    }
    let path = Path::through(&marks).ok_or_else(|| no_path("the points coincide"))?;
    if path.length_mm() < LEAST_LENGTH_MM {
        return Err(no_path(&format!("the seam is only {:.1} mm long", path.length_mm())));
    }
    Ok(Seam {
        source: SeamSource::Given,
        runs,
        path,
        confidence: 1.0,
        u_across_mm: GIVEN_U_MM,
        gap_mm: None,
        drawn: None,
        others: Vec::new(),
        notes: Vec::new(),
    })
}

/// Whether a step between points goes more than a quarter turn away from the one before it.
fn turns_back(marks: &[MmPoint]) -> bool {
    let steps: Vec<(f64, f64)> = (marks.windows(2))
        .map(|pair| (pair[1].x - pair[0].x, pair[1].y - pair[0].y))
        .filter(|&(x, y)| x != 0.0 || y != 0.0)
        .collect();
    steps.windows(2).any(|pair| pair[0].0 * pair[1].0 + pair[0].1 * pair[1].1 < 0.0)
}

/// What became of the drawing of a given seam.
#[derive(Clone, Debug)]
pub struct Drawn {
    /// How far it was moved to where a seam shows, where it was moved furthest, millimetres; 0 where it stayed.
    pub moved_mm: f64,
    /// Whether the cloth seems to run on there: no seam shows.
    pub runs_on: bool,
    /// A place nearby where a seam shows more plainly.
    pub plainer: Option<Plainer>,
}

/// A place where a seam shows more plainly than where one was drawn.
#[derive(Clone, Debug)]
pub struct Plainer {
    /// How it runs.
    pub runs: Runs,
    /// Its path.
    pub path: Path,
    /// Its distance from the drawing towards growing v, millimetres; `None` where it runs across it.
    pub aside_mm: Option<f64>,
}

/// Draws a drawing to the seam that shows beside it; with `insist` it stays.
pub fn to_what_shows(photo: &Photo, plane: &Plane, drawing: Seam, insist: bool) -> Seam {
    let seen = find::Seen::of(photo, plane);
    let Some((shown, reach_mm)) = shown(photo, plane, &seen, &drawing) else {
        // A side without lines: the next rooms say so.
        return drawing;
    };
    let moved_mm = find::furthest_mm(&drawing, &shown.seam);
    let near = moved_mm <= reach_mm;
    let drawing = Seam {
        gap_mm: shown.seam.gap_mm.filter(|_| near),
        confidence: find::likely(shown.evidence + SHE_IS_RIGHT),
        ..drawing
    };
    // What shows out of reach is not what was drawn.
    let doubted = !near || drawing.confidence < LIKELY;
    if insist {
        return Seam { confidence: 1.0, notes: if doubted { vec![on_her_word()] } else { Vec::new() }, ..drawing };
    }
    if doubted {
        let other = find::other_than(photo, plane, &seen, &drawing, reach_mm);
        let plainer = other.or((shown.evidence >= 0.0).then_some(shown.seam));
        let plainer = plainer.map(|seam| Plainer::of(&drawing, seam));
        return Seam { drawn: Some(Drawn { moved_mm: 0.0, runs_on: true, plainer }), ..drawing };
    }
    let notes =
        if moved_mm >= NOTABLE_MM { vec![moved_note(plane, &drawing, &shown.seam, moved_mm)] } else { Vec::new() };
    Seam {
        path: shown.seam.path,
        u_across_mm: shown.seam.u_across_mm.min(GIVEN_U_MM),
        drawn: Some(Drawn { moved_mm, runs_on: false, plainer: None }),
        notes,
        ..drawing
    }
}

/// What shows within the reach of a careful drawing, or, where that is nothing plain, within that of a rough stroke; and which of the
/// reaches that is, millimetres.
fn shown(photo: &Photo, plane: &Plane, seen: &find::Seen, drawing: &Seam) -> Option<(find::Shown, f64)> {
    let drawing = find::Drawing::of(photo, plane, seen, drawing);
    let within = |reach_mm: f64| drawing.beside(reach_mm / plane.mm_per_px);
    let near = within(REACH_MM);
    if near.as_ref().is_some_and(|near| near.evidence >= 0.0) {
        return near.map(|near| (near, REACH_MM));
    }
    match within(ROUGH_MM).filter(|rough| rough.evidence >= PLAIN) {
        Some(rough) => Some((rough, ROUGH_MM)),
        None => near.map(|near| (near, REACH_MM)),
    }
}

impl Plainer {
    fn of(drawing: &Seam, seam: Seam) -> Self {
        let aside_mm = (seam.runs == drawing.runs).then(|| find::aside_mm(drawing, &seam));
        Self { runs: seam.runs, path: seam.path, aside_mm }
    }
}

/// Which way growing v goes in the picture for a positive distance, and the other way.
pub fn towards(runs: Runs, aside_mm: f64) -> &'static str {
    match (runs, aside_mm > 0.0) {
        (Runs::Down, true) => "to the right",
        (Runs::Down, false) => "to the left",
        (Runs::Across, true) => "above",
        (Runs::Across, false) => "below",
    }
}

fn moved_note(plane: &Plane, drawing: &Seam, seam: &Seam, moved_mm: f64) -> Note {
    let by = if plane.is_metric() { format!("up to {moved_mm:.1} mm ") } else { String::new() };
    let towards = match drawing.runs {
        Runs::Down => format!("{} of", towards(drawing.runs, find::aside_mm(drawing, seam))),
        Runs::Across => towards(drawing.runs, find::aside_mm(drawing, seam)).to_owned(),
    };
    Note::new("drawn-to-the-seam", format!("The seam was taken {by}{towards} the drawing, where it shows."))
}

fn on_her_word() -> Note {
    Note::new(
        "on-your-word",
        "No seam shows where it was drawn, and the cloth seems to run on there; the answer rests on your word (--insist).",
    )
}
