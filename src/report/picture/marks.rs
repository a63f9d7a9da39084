//! What is drawn on the cloth: the seam, the lines as they run on each side, their jumps, and what is out of tolerance.
//!
//! A state is never told by colour alone: a matched line is a thin stroke, one that is off is thick with a bar at its
//! end, an unsure one is dashed; a stretch that is off is hatched and carries the word.

use super::canvas::{DARK, Frame, Ink, LIGHT, between, cased, cased_all, dashed, stroke};
use super::view::View;
use crate::finding::Finding;
use crate::report::look;
use crate::units::PxPoint;
use crate::verdict::{Judgement, Stretch};
use image::{Rgb, RgbImage};

/// Colour of lines that are matched.
pub const MATCHED: Ink = Rgb(look::MATCHED);
/// Colour of lines and stretches that are off.
pub const OFF: Ink = Rgb(look::OFF);
/// Colour of lines that are unsure.
pub const UNSURE: Ink = Rgb(look::UNSURE);

/// Pieces that a smooth curve is drawn in.
const PIECES: u32 = 60;

/// The ink of a state.
pub fn ink(state: Judgement) -> Ink {
    match state {
        Judgement::Matched => MATCHED,
        Judgement::Off => OFF,
        Judgement::Unsure => UNSURE,
    }
}

/// The seam as a thin double line, dark within light, with a tick at each end.
pub fn seam(picture: &mut RgbImage, view: &View) {
    let points = view.seam(PIECES);
    for (width_px, ink) in [(view.pen_px * 2.6 + 1.0, LIGHT), (view.pen_px, DARK)] {
        for pair in points.windows(2) {
            stroke(picture, pair[0], pair[1], width_px, ink);
        }
    }
    if let [first, second, .., before, last] = points[..] {
        for (end, inner) in [(first, second), (last, before)] {
            let (dx, dy) = (inner.x - end.x, inner.y - end.y);
            let half = 5.0 * view.pen_px / dx.hypot(dy).max(1e-9);
            let [one, two] = [1.0, -1.0].map(|s| PxPoint::new(end.x + s * half * dy, end.y - s * half * dx));
            cased(picture, one, two, view.pen_px, DARK);
        }
    }
}

/// Each line as it runs on each side, up to the seam but not over it.
pub fn lines(picture: &mut RgbImage, view: &View, finding: &Finding) {
    let slopes = finding.lines.sides.each_ref().map(|side| side.slope);
    for (line, state) in finding.offset.lines.iter().zip(&finding.verdict.lines) {
        for (sign, slope) in [-1.0, 1.0].into_iter().zip(slopes) {
            let at_seam = line.along_mm + sign * line.offset_mm / 2.0;
            let [near, far] = [view.near_mm, view.far_mm].map(|v| view.on_line(at_seam, slope, sign * v));
            if let (Some(near), Some(far)) = (near, far) {
                line_stroke(picture, near, far, view.pen_px, *state);
            }
        }
    }
}

/// One stroke in the manner of its state, from the seam outward.
pub fn line_stroke(picture: &mut RgbImage, near: PxPoint, far: PxPoint, pen_px: f64, state: Judgement) {
    match state {
        Judgement::Matched => cased(picture, near, far, pen_px, MATCHED),
        Judgement::Unsure => dashed(picture, near, far, pen_px, 5.0 * pen_px, UNSURE),
        Judgement::Off => {
            let length = near.distance(far).max(1e-9);
            let (dx, dy) = ((far.x - near.x) / length, (far.y - near.y) / length);
            let bar = 4.0 * pen_px;
            let ends = [1.0, -1.0].map(|s| PxPoint::new(far.x - s * bar * dy, far.y + s * bar * dx));
            cased_all(picture, &[ends, [near, far]], pen_px * 1.6, OFF);
        }
    }
}

/// The jump of each line at the seam, drawn [`View::exaggeration`] times its length from the first side's half to the
/// second's.
pub fn jumps(picture: &mut RgbImage, view: &View, finding: &Finding) {
    for line in &finding.offset.lines {
        let half = view.exaggeration * line.offset_mm / 2.0;
        let ends = [view.at(line.along_mm - half, 0.0), view.at(line.along_mm + half, 0.0)];
        if let [Some(from), Some(to)] = ends {
            arrow(picture, from, to, view.pen_px);
        }
    }
}

/// An arrow; a dot where it is too short for one.
pub fn arrow(picture: &mut RgbImage, from: PxPoint, to: PxPoint, pen_px: f64) {
    let length = from.distance(to);
    let head = 4.5 * pen_px;
    if !length.is_finite() || length < head {
        let middle = between(from, to, 0.5);
        return cased(picture, middle, middle, pen_px * 3.0, DARK);
    }
    let (dx, dy) = ((to.x - from.x) / length, (to.y - from.y) / length);
    let barbs = [1.0, -1.0]
        .map(|s| PxPoint::new(to.x - head * dx - s * 0.75 * head * dy, to.y - head * dy + s * 0.75 * head * dx));
    cased_all(picture, &[[from, to], [barbs[0], to], [barbs[1], to]], pen_px * 2.0, DARK);
}

/// The place of the worst reading: a ring on the seam.
pub fn worst(picture: &mut RgbImage, view: &View, finding: &Finding) {
    let Some(middle) = view.at(finding.offset.worst_at_mm, 0.0).filter(|_| !finding.offset.readings.is_empty()) else {
        return;
    };
    let radius = 9.0 * view.pen_px;
    let at = |k: u32| {
        let (sin, cos) = (f64::from(k) * std::f64::consts::TAU / 24.0).sin_cos();
        PxPoint::new(middle.x + radius * cos, middle.y + radius * sin)
    };
    for (width_px, ink) in [(view.pen_px * 3.0, LIGHT), (view.pen_px * 1.3, DARK)] {
        (0..24).for_each(|k| stroke(picture, at(k), at(k + 1), width_px, ink));
    }
}

/// The band that marks a stretch out of tolerance, as it was drawn.
pub struct Band {
    /// Its middle, where its word goes.
    pub middle: PxPoint,
    /// What it covers.
    pub covers: Vec<Frame>,
}

/// A stretch out of tolerance: a hatched band alongside the seam, beyond the strokes, on the side that has room, joined
/// to the seam at both its ends. `None` where nothing of it can be drawn.
pub fn stretch(picture: &mut RgbImage, view: &View, stretch: &Stretch) -> Option<Band> {
    let along = |f: f64| stretch.from_mm + f * (stretch.to_mm - stretch.from_mm);
    let [inner, outer] = view.band_mm();
    let inside = |sign: f64| view.at(along(0.5), sign * outer).is_some_and(|p| view.shows(p));
    let sign = if inside(-1.0) || !inside(1.0) { -1.0 } else { 1.0 };
    let corner = |f: f64, v: f64| view.at(along(f), sign * v);
    let pair = |a: Option<PxPoint>, b: Option<PxPoint>| Some([a?, b?]);

    let length_px = corner(0.0, inner)?.distance(corner(1.0, inner)?).max(1.0);
    let lean = corner(0.0, inner)?.distance(corner(0.0, outer)?) / length_px;
    let pieces = (length_px / (6.0 * view.pen_px)).clamp(1.0, 400.0) as u32;
    let mut strokes = Vec::new();
    for k in 0..pieces {
        // Each stroke leans by as much as the band is wide, 45 degrees, and ends where the band does.
        let from = f64::from(k) / f64::from(pieces);
        let part = ((1.0 - from) / lean).min(1.0);
        strokes.extend(pair(corner(from, inner), corner(from + part * lean, inner + part * (outer - inner))));
    }
    for k in 0..PIECES {
        let [f, g] = [k, k + 1].map(|k| f64::from(k) / f64::from(PIECES));
        strokes.extend([inner, outer].into_iter().filter_map(|v| pair(corner(f, v), corner(g, v))));
    }
    strokes.extend([0.0, 1.0].into_iter().filter_map(|f| pair(corner(f, 0.0), corner(f, outer))));
    cased_all(picture, &strokes, view.pen_px * 1.3, OFF);

    let size_px = lean * length_px;
    let covers = (0..=pieces)
        .filter_map(|k| corner(f64::from(k) / f64::from(pieces), (inner + outer) / 2.0))
        .map(|middle| Frame::around(middle, size_px, size_px))
        .collect();
    Some(Band { middle: corner(0.5, (inner + outer) / 2.0)?, covers })
}
