//! Room 3: [`Photo`] + [`Plane`] → [`Seam`].

pub mod path;

pub mod find;

use crate::conventions::Runs;
use crate::photo::Photo;
use crate::problem::{Note, Problem};
use crate::scale::{Plane, marks};
use crate::units::{MmPoint, PxPoint};
use path::Path;
use serde::Serialize;

/// Shortest seam that is measured, millimetres.
const LEAST_LENGTH_MM: f64 = 10.0;
/// Standard uncertainty across the seam of a path marked by hand, millimetres.
const GIVEN_U_MM: f64 = 0.3;

/// How the seam's place is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum SeamSource {
    /// Found in the picture.
    Found,
    /// Given by the user.
    Given,
    /// Taken to be at the likeliest place: no plain trace of a seam was seen.
    Assumed,
}

/// How the user asks for the seam.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SeamRequest {
    /// Points of the seam in the picture, two or more; empty: find it.
    pub points_px: Vec<PxPoint>,
    /// How it runs; `None`: decide from the points or the picture.
    pub runs: Option<Runs>,
}

/// A straight line of the cloth that crosses the seam, or another path along which u is counted.
#[derive(Clone, Copy, Debug)]
pub struct Across {
    /// The point at v = 0.
    pub point: MmPoint,
    /// Unit vector of growing v.
    pub v: MmPoint,
}

/// The seam's path and the seam coordinates that hang on it.
#[derive(Clone, Debug)]
pub struct Seam {
    /// How its place is known.
    pub source: SeamSource,
    /// How it runs in the picture.
    pub runs: Runs,
    /// The path on the cloth, in the order of growing u.
    pub path: Path,
    /// How sure the finder is, 0 to 1; 1 for a given seam.
    pub confidence: f64,
    /// Standard uncertainty of the path's place across the seam, millimetres.
    pub u_across_mm: f64,
    /// Distance between the folds where a gap is open between them (a zip's tape), millimetres; `None` where they touch.
    pub gap_mm: Option<f64>,
    /// Doubts about the seam.
    pub notes: Vec<Note>,
}

impl Seam {
    /// The point of the cloth at seam coordinates (u, v); u beyond either end goes straight on.
    pub fn at(&self, u_mm: f64, v_mm: f64) -> MmPoint {
        let Across { point, v } = self.across(u_mm);
        MmPoint::new(point.x + v.x * v_mm, point.y + v.y * v_mm)
    }

    /// The straight line across the seam at u.
    pub fn across(&self, u_mm: f64) -> Across {
        let (point, tangent) = self.path.at(u_mm);
        Across { point, v: MmPoint::new(tangent.y, -tangent.x) }
    }

    /// The same seam with its path moved by `v_mm` towards growing v.
    fn moved(&self, v_mm: f64) -> Option<Self> {
        let points: Vec<MmPoint> =
            (0..self.path.points.len()).map(|k| self.at(k as f64 * self.path.step_mm, v_mm)).collect();
        Some(Self { path: Path::through(&points)?, ..self.clone() })
    }

    /// Length along the seam as photographed, millimetres.
    pub fn length_mm(&self) -> f64 {
        self.path.length_mm()
    }
}

/// Places the seam: as given, or found.
///
/// # Errors
/// Usage when the given points are no path, refusal when they lie outside the picture or no seam can be found.
pub fn place(photo: &Photo, plane: &Plane, request: &SeamRequest) -> Result<Seam, Problem> {
    let seam = if request.points_px.is_empty() {
        find::find(photo, plane, request.runs)?
    } else {
        given(photo, plane, request)?
    };
    Ok(Seam { gap_mm: find::gap_mm(photo, plane, &seam), ..seam })
}

fn given(photo: &Photo, plane: &Plane, request: &SeamRequest) -> Result<Seam, Problem> {
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
