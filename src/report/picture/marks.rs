//! What is drawn on the cloth: the seam, the lines as they run and as they should run, their jumps, and what is out of
//! tolerance.
//!
//! A state is never told by colour alone: a stroke along a matched line ends in a dot, one that is off in a cross, an
//! unsure one in a ring, as in the charts; a stretch that is off is hatched. Dashes are where a line should run.

use super::canvas::{DARK, Frame, Ink, LIGHT, between, cased, cased_all, path, stroke};
use super::view::View;
use crate::finding::Finding;
use crate::offset::LineOffset;
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
/// Colour of what should be: where a line should run, and the move that brings it there.
pub const CURE: Ink = Rgb(look::CURE);

/// Pieces that a smooth curve is drawn in.
const PIECES: u32 = 60;
/// Pieces of a stroke along a line; every other one of a dashed stroke is left out.
const DASHES: u32 = 9;

/// The ink of a state.
pub fn ink(state: Judgement) -> Ink {
    match state {
        Judgement::Matched => MATCHED,
        Judgement::Off => OFF,
        Judgement::Unsure => UNSURE,
    }
}

/// The sign of a state: dot, cross or ring, `radius_px` large.
pub fn sign(picture: &mut RgbImage, at: PxPoint, radius_px: f64, pen_px: f64, state: Judgement) {
    let ink = ink(state);
    match state {
        Judgement::Matched => cased(picture, at, at, radius_px * 1.7, ink),
        Judgement::Off => {
            let arm = |dx: f64, dy: f64| PxPoint::new(at.x + dx * radius_px, at.y + dy * radius_px);
            let strokes = [[arm(-1.0, -1.0), arm(1.0, 1.0)], [arm(-1.0, 1.0), arm(1.0, -1.0)]];
            cased_all(picture, &strokes, pen_px * 1.6, ink);
        }
        Judgement::Unsure => cased_all(picture, &ring(at, radius_px), pen_px * 1.3, ink),
    }
}

/// A circle in strokes.
pub fn ring(middle: PxPoint, radius_px: f64) -> Vec<[PxPoint; 2]> {
    let at = |k: u32| {
        let (sin, cos) = (f64::from(k) * std::f64::consts::TAU / 24.0).sin_cos();
        PxPoint::new(middle.x + radius_px * cos, middle.y + radius_px * sin)
    };
    (0..24).map(|k| [at(k), at(k + 1)]).collect()
}

/// The seam as a thin double line, dark within light, with a tick at each end.
pub fn seam(picture: &mut RgbImage, view: &View) {
    let points = view.seam(PIECES);
    for (width_px, ink) in [(view.pen_px * 2.6 + 1.0, LIGHT), (view.pen_px, DARK)] {
        path(picture, &points, width_px, ink);
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

/// Each line as it runs on each side, up to the seam but not over it, its state's sign at the end.
pub fn lines(picture: &mut RgbImage, view: &View, finding: &Finding) {
    for (line, state) in finding.offset.lines.iter().zip(&finding.verdict.lines) {
        for side in [0, 1] {
            let points: Vec<PxPoint> = (0..=DASHES)
                .map(|k| f64::from(k) / f64::from(DASHES))
                .filter_map(|f| view.on_line(line, side, view.near_mm + f * (view.far_mm - view.near_mm), 0.0))
                .collect();
            line_stroke(picture, &points, view.pen_px, *state);
        }
    }
}

/// One stroke in the manner of its state, from the seam outward.
pub fn line_stroke(picture: &mut RgbImage, points: &[PxPoint], pen_px: f64, state: Judgement) {
    let Some(&far) = points.last() else { return };
    let width_px = if state == Judgement::Off { pen_px * 1.6 } else { pen_px };
    let strokes: Vec<[PxPoint; 2]> = points.windows(2).map(|pair| [pair[0], pair[1]]).collect();
    cased_all(picture, &strokes, width_px, ink(state));
    sign(picture, far, 3.2 * pen_px, pen_px, state);
}

/// The side on which a line should be moved, 0 or 1: the one on which it stands further along, as in every remedy.
fn moving(line: &LineOffset) -> usize {
    usize::from(line.offset_mm > 0.0)
}

/// The lines that are shown where they should run: those that jump, and are not surely matched.
pub fn astray(finding: &Finding) -> impl Iterator<Item = &LineOffset> {
    let jumps = |line: &LineOffset| line.offset_mm.abs() > line.expanded_uncertainty_mm;
    let states = finding.offset.lines.iter().zip(&finding.verdict.lines);
    states.filter(move |(line, state)| **state != Judgement::Matched && jumps(line)).map(|(line, _)| line)
}

/// Where each line that went [`astray`] should run on the side that moves: its partner's course carried on through the
/// seam, dashed.
pub fn should_run(picture: &mut RgbImage, view: &View, finding: &Finding) {
    for line in astray(finding) {
        let side = moving(line);
        let by = if side == 0 { line.offset_mm } else { -line.offset_mm };
        let at = |k: u32| view.on_line(line, side, f64::from(k) / f64::from(DASHES) * view.far_mm, by);
        let dashes = (0..DASHES).step_by(2).filter_map(|k| Some([at(k)?, at(k + 1)?]));
        cased_all(picture, &dashes.collect::<Vec<_>>(), view.pen_px, CURE);
    }
}

/// The jump of each line at the seam, from the first side's half to the second's.
pub fn jumps(picture: &mut RgbImage, view: &View, finding: &Finding) {
    for line in &finding.offset.lines {
        let half = line.offset_mm / 2.0;
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
    let ring = ring(middle, 9.0 * view.pen_px);
    for (width_px, ink) in [(view.pen_px * 3.0, LIGHT), (view.pen_px * 1.3, DARK)] {
        ring.iter().for_each(|&[a, b]| stroke(picture, a, b, width_px, ink));
    }
}

/// A stretch out of tolerance as taken: a hatched band alongside the seam, beyond the strokes, on the side that has room,
/// joined to the seam at both its ends. What it covers; nothing where nothing of it can be drawn.
pub fn stretch(picture: &mut RgbImage, view: &View, stretch: &Stretch) -> Option<Vec<Frame>> {
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
    cased_all(picture, &strokes, view.pen_px * 1.2, OFF);

    let size_px = lean * length_px;
    let covers = (0..=pieces)
        .filter_map(|k| corner(f64::from(k) / f64::from(pieces), (inner + outer) / 2.0))
        .map(|middle| Frame::around(middle, size_px, size_px));
    Some(covers.collect())
}
