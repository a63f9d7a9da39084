//! Scale from marks in the picture: a rectangle of known size, or two points a known length apart.

use super::tilt::Tilt;
use super::{Plane, ScaleSource, homography, lens, projective, similarity, straightened};
use crate::photo::Photo;
use crate::problem::{Problem, Refusal, RefusalCode};
use crate::units::PxPoint;

/// Standard uncertainty of a point picked by hand, pixels.
const PICKED_PX: f64 = 1.0;
/// Relative standard uncertainty of a two-point scale for a camera that is not exactly square to the cloth: about 5°.
pub const UNKNOWN_TILT_RELATIVE: f64 = 0.003;
/// Relative standard uncertainty of a repeat measured over ten repeats with a tape: 1 mm in 200 mm, rectangular.
pub const REPEAT_RELATIVE: f64 = 0.003;
/// Lengths that are believed, millimetres.
const LENGTH_RANGE_MM: std::ops::RangeInclusive<f64> = 0.5..=5000.0;

/// Refuses a length that cannot be one.
pub fn check_length(option: &str, mm: f64) -> Result<(), Problem> {
    if LENGTH_RANGE_MM.contains(&mm) {
        return Ok(());
    }
    Err(Problem::usage(
        format!("{option}: {mm} mm is not a length that can be used"),
        format!("give millimetres between {} and {}", LENGTH_RANGE_MM.start(), LENGTH_RANGE_MM.end()),
    ))
}

/// The plane from four corners, clockwise from the top left, of a thing `width_mm` by `height_mm`.
///
/// # Errors
/// Usage when the corners are not those of a convex quadrilateral in clockwise order, refusal when one is outside.
pub fn rectangle(photo: &Photo, corners: [PxPoint; 4], width_mm: f64, height_mm: f64) -> Result<Plane, Problem> {
    check_length("--rectangle", width_mm)?;
    check_length("--rectangle", height_mm)?;
    for (k, corner) in corners.iter().enumerate() {
        inside(photo, &format!("corner {} of the rectangle (--rectangle)", k + 1), *corner)?;
    }
    let turn = |k: usize| {
        let (a, b, c) = (corners[k], corners[(k + 1) % 4], corners[(k + 2) % 4]);
        (b.x - a.x) * (c.y - b.y) - (b.y - a.y) * (c.x - b.x)
    };
    if (0..4).any(|k| turn(k) <= 1.0) {
        return Err(Problem::usage(
            "--rectangle: the four corners are not those of a rectangle seen at an angle, in clockwise order",
            "give them clockwise, beginning with the top left one (X1,Y1,X2,Y2,X3,Y3,X4,Y4,WIDTHxHEIGHT)",
        ));
    }
    let mm = [[0.0, 0.0], [width_mm, 0.0], [width_mm, height_mm], [0.0, height_mm]];
    let shortest = (0..4).map(|k| corners[k].distance(corners[(k + 1) % 4])).fold(f64::MAX, f64::min);
    let relative = PICKED_PX * 2f64.sqrt() / shortest;
    homography::from_pairs(&mm, &corners.map(|c| [c.x, c.y]))
        .and_then(|h| projective(photo, ScaleSource::Rectangle, &h, relative))
        .map(|plane| plane.measured_along(&lens::around(&corners)))
        .ok_or_else(|| {
            Problem::usage(
                "--rectangle: these corners mean a view so flat that the picture reaches to the horizon",
                "check the corners; photograph from more directly above",
            )
        })
}

/// The plane from two points `length_mm` apart, with the tilt that `tilt` reads; where it reads none, the camera is taken
/// to look straight down.
///
/// # Errors
/// Usage when the points coincide, refusal when one is outside the picture.
pub fn length(
    photo: &Photo,
    ends: [PxPoint; 2],
    length_mm: f64,
    tilt: impl FnOnce() -> Option<Tilt>,
) -> Result<Plane, Problem> {
    check_length("--length", length_mm)?;
    for (k, end) in ends.iter().enumerate() {
        inside(photo, &format!("point {} of the length (--length)", k + 1), *end)?;
    }
    let px = ends[0].distance(ends[1]);
    if px < 20.0 {
        return Err(Problem::usage(
            format!("--length: the two points are only {px:.1} pixels apart"),
            "mark two points further apart, for example 0 and 100 mm on a tape (X1,Y1,X2,Y2,100)",
        ));
    }
    let picked = PICKED_PX * 2f64.sqrt() / px;
    let tilted = tilt().and_then(|tilt| {
        let unit = straightened(photo, ScaleSource::Length, 1.0, picked, &tilt)?;
        let units = unit.to_mm(ends[0]).distance(unit.to_mm(ends[1]));
        straightened(photo, ScaleSource::Length, length_mm / units, picked, &tilt)
    });
    let plane = tilted
        .unwrap_or_else(|| similarity(photo, ScaleSource::Length, length_mm / px, picked.hypot(UNKNOWN_TILT_RELATIVE)));
    Ok(plane.measured_along(&ends))
}

/// Refuses a point outside the picture (a pixel of tolerance for rounding).
pub fn inside(photo: &Photo, what: &str, p: PxPoint) -> Result<(), Refusal> {
    let (w, h) = (f64::from(photo.width_px()), f64::from(photo.height_px()));
    if p.x >= -1.0 && p.y >= -1.0 && p.x <= w && p.y <= h {
        return Ok(());
    }
    Err(Refusal::new(
        RefusalCode::OutsidePicture,
        format!("{what}, ({:.0}, {:.0}), lies outside the picture of {w:.0} by {h:.0} pixels", p.x, p.y),
        "give pixels of the upright picture, counted from its top left corner",
    ))
}
