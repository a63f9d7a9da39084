//! Room 3: [`Photo`] + [`Plane`] → [`Seam`].

pub mod path;

pub mod find;

pub mod drawn;

use crate::conventions::Runs;
use crate::photo::Photo;
use crate::problem::{Note, Problem};
use crate::scale::Plane;
use crate::units::{MmPoint, PxPoint};
pub use drawn::{Drawn, Plainer};
use path::Path;
use serde::Serialize;

/// Points by which a path is told.
const TOLD: usize = 21;

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
    /// The seam is where the points are, whatever the picture shows.
    pub insist: bool,
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
    /// How sure the finder is, 0 to 1; for a given seam how likely the picture makes it that one is there, 1 on the user's word.
    pub confidence: f64,
    /// Standard uncertainty of the path's place across the seam, millimetres.
    pub u_across_mm: f64,
    /// Distance between the folds where a gap is open between them (a zip's tape), millimetres; `None` where they touch.
    pub gap_mm: Option<f64>,
    /// What became of the drawing of a given seam; `None` where none was given.
    pub drawn: Option<Drawn>,
    /// The other places of the picture where a seam may be, those that can be measured first, then the surest first; none where the seam
    /// was given.
    pub others: Vec<OtherSeam>,
    /// Doubts about the seam.
    pub notes: Vec<Note>,
}

/// A place where a seam may be that was not measured.
#[derive(Clone, Debug)]
pub struct OtherSeam {
    /// How it runs.
    pub runs: Runs,
    /// Its path on the cloth, in the order of growing u.
    pub path: Path,
    /// How sure the finder is, 0 to 1.
    pub confidence: f64,
}

/// A seam as it stands in the picture.
#[derive(Clone, Debug)]
pub struct SeamInPicture {
    /// How it runs.
    pub runs: Runs,
    /// Points of it, pixels of the upright photograph, in the order of growing u.
    pub points_px: Vec<PxPoint>,
    /// How sure the finder is, 0 to 1.
    pub confidence: f64,
    /// Whether it is the one that was measured, or was to be.
    pub measured: bool,
}

impl Seam {
    /// It and the other places of the picture where a seam may be; itself first.
    pub fn in_picture(&self, plane: &Plane) -> Vec<SeamInPicture> {
        let seen = |runs, path: &Path, confidence, measured| SeamInPicture {
            runs,
            points_px: told_px(plane, path),
            confidence,
            measured,
        };
        let others = self.others.iter().map(|other| seen(other.runs, &other.path, other.confidence, false));
        std::iter::once(seen(self.runs, &self.path, self.confidence, true)).chain(others).collect()
    }

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

    /// The points of its path in the picture.
    pub fn points_px(&self, plane: &Plane) -> Vec<PxPoint> {
        self.path.points.iter().map(|&p| plane.to_px(p)).collect()
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

/// Some points of a path in the picture, in the order of growing u: what is told of it.
pub fn told_px(plane: &Plane, path: &Path) -> Vec<PxPoint> {
    let last = path.points.len() - 1;
    let told = TOLD.min(path.points.len());
    (0..told).map(|k| plane.to_px(path.points[k * last / (told - 1).max(1)])).collect()
}

/// Places the seam: where it shows beside the points that are given, or where it is found.
///
/// # Errors
/// Usage when the given points are no path, refusal when they lie outside the picture or no seam can be found.
pub fn place(photo: &Photo, plane: &Plane, request: &SeamRequest) -> Result<Seam, Problem> {
    if request.points_px.is_empty() {
        return Ok(find::find(photo, plane, request.runs)?);
    }
    Ok(drawn::to_what_shows(photo, plane, drawn::read(photo, plane, request)?, request.insist))
}
