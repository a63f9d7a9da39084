//! What is asked about the flat cloth, checked against the photograph: where it is looked at, and how its warp runs.

use super::frame::Frame;
use super::{STEEPEST, cutting};
use crate::conventions::Runs;
use crate::digits::Unit;
use crate::photo::Photo;
use crate::problem::{Problem, Refusal, RefusalCode};
use crate::scale::{Plane, ScaleRequest};
use crate::units::{MmPoint, PxPoint};

/// Shortest and longest piece that is cut, millimetres.
const PIECES_MM: std::ops::RangeInclusive<f64> = 1.0..=20_000.0;
/// Smallest patch, pixels each way.
const LEAST_PATCH_PX: f64 = 120.0;

/// What is asked about the flat cloth.
#[derive(Clone, Debug)]
pub struct ClothRequest {
    /// Where the scale comes from; never the cloth's own repeat.
    pub scale: ScaleRequest,
    /// How the warp, and with it the selvedge, runs in the picture.
    pub warp: Runs,
    /// Two points of the selvedge in the picture.
    pub selvedge_px: Option<[PxPoint; 2]>,
    /// Two opposite corners of the rectangle of the picture that is looked at; `None`: all of it.
    pub patch_px: Option<[PxPoint; 2]>,
    /// Lengths of the pieces along the warp, millimetres.
    pub pieces_mm: Vec<f64>,
    /// What lengths are told in.
    pub unit: Unit,
}

impl Default for ClothRequest {
    fn default() -> Self {
        Self {
            scale: ScaleRequest::Auto,
            warp: Runs::Down,
            selvedge_px: None,
            patch_px: None,
            pieces_mm: Vec::new(),
            unit: Unit::Millimetre,
        }
    }
}

/// Whether the request can be, whatever the photograph.
///
/// # Errors
/// Usage, with what would have worked.
pub(super) fn check(request: &ClothRequest) -> Result<(), Problem> {
    if let ScaleRequest::Repeat { .. } = request.scale {
        return Err(Problem::usage(
            "the cloth's own repeat cannot give the scale that it is measured by",
            "lay the scale card beside it, or give a length or a rectangle (--length, --rectangle)",
        ));
    }
    if request.pieces_mm.len() > cutting::MOST_PIECES {
        return Err(Problem::usage(
            format!("{} pieces are too many for one list", request.pieces_mm.len()),
            format!("give at most {}", cutting::MOST_PIECES),
        ));
    }
    match request.pieces_mm.iter().find(|length| !PIECES_MM.contains(length)) {
        Some(length) => Err(Problem::usage(
            format!("a piece cannot be {length} mm long"),
            format!("give lengths from {} to {} mm, or in inches as 24in", PIECES_MM.start(), PIECES_MM.end()),
        )),
        None => Ok(()),
    }
}

/// The rectangle of the picture that is looked at, top left and bottom right.
pub(super) fn patch(photo: &Photo, request: &ClothRequest) -> Result<[PxPoint; 2], Problem> {
    let (right, bottom) = (f64::from(photo.width_px()) - 1.0, f64::from(photo.height_px()) - 1.0);
    let Some([a, b]) = request.patch_px else { return Ok([PxPoint::new(0.0, 0.0), PxPoint::new(right, bottom)]) };
    let low = PxPoint::new(a.x.min(b.x).max(0.0), a.y.min(b.y).max(0.0));
    let high = PxPoint::new(a.x.max(b.x).min(right), a.y.max(b.y).min(bottom));
    if high.x - low.x < LEAST_PATCH_PX || high.y - low.y < LEAST_PATCH_PX {
        return Err(Refusal::new(
            RefusalCode::OutsidePicture,
            format!(
                "the patch to look at is less than {LEAST_PATCH_PX} pixels wide or high within the picture of {} × {} pixels \
                 (--patch)",
                photo.width_px(),
                photo.height_px()
            ),
            "give two opposite corners of the cloth in pixels of the upright picture",
        )
        .into());
    }
    Ok([low, high])
}

/// What lies beyond the patch counts as covered.
pub(super) fn hide_beyond(plane: &mut Plane, photo: &Photo, [a, b]: [PxPoint; 2]) {
    let (right, bottom) = (f64::from(photo.width_px()), f64::from(photo.height_px()));
    let rectangles = [
        [-1.0, -1.0, a.x - 0.5, bottom],
        [b.x + 0.5, -1.0, right, bottom],
        [-1.0, -1.0, right, a.y - 0.5],
        [-1.0, b.y + 0.5, right, bottom],
    ];
    for [left, top, right, bottom] in rectangles.into_iter().filter(|r| r[2] - r[0] > 1.0 && r[3] - r[1] > 1.0) {
        plane.cards_px.push([
            PxPoint::new(left, top),
            PxPoint::new(right, top),
            PxPoint::new(right, bottom),
            PxPoint::new(left, bottom),
        ]);
    }
}

/// The direction of the selvedge on the plane as two given points tell it, down the cloth.
pub(super) fn selvedge(photo: &Photo, plane: &Plane, request: &ClothRequest) -> Result<Option<[f64; 2]>, Problem> {
    let Some([a, b]) = request.selvedge_px else { return Ok(None) };
    let inside = |p: PxPoint| {
        (-0.5..f64::from(photo.width_px())).contains(&p.x) && (-0.5..f64::from(photo.height_px())).contains(&p.y)
    };
    if !inside(a) || !inside(b) || a.distance(b) < LEAST_PATCH_PX {
        return Err(Problem::usage(
            "the two points of the selvedge must lie in the picture, well apart (--selvedge)",
            format!("give two points at least {LEAST_PATCH_PX} pixels apart, for example --selvedge \"30,40 36,900\""),
        ));
    }
    let (a, b) = (plane.to_mm(a), plane.to_mm(b));
    let norm = a.distance(b).max(1e-9);
    let [x, y] = [(b.x - a.x) / norm, (b.y - a.y) / norm];
    let (ahead, aside) = match request.warp {
        Runs::Down => (y, x),
        Runs::Across => (x, y),
    };
    if aside.abs() > STEEPEST * ahead.abs() {
        return Err(Problem::usage(
            format!("the selvedge as given does not run {} the picture", way(request.warp)),
            "say how the warp runs with --warp, or turn the photograph",
        ));
    }
    Ok(Some(if ahead < 0.0 { [-x, -y] } else { [x, y] }))
}

fn way(runs: Runs) -> &'static str {
    match runs {
        Runs::Down => "down",
        Runs::Across => "across",
    }
}

/// The frame of the lines that run across the cloth: u down the warp, v to the right of one who looks along it from its top.
pub(super) fn frame_of(middle: MmPoint, warp: Runs, selvedge: Option<[f64; 2]>) -> Frame {
    let [x, y] = selvedge.unwrap_or(match warp {
        Runs::Down => [0.0, 1.0],
        Runs::Across => [1.0, 0.0],
    });
    Frame { middle, u: MmPoint::new(x, y), v: MmPoint::new(y, -x) }
}
