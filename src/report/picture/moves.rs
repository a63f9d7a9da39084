//! The move that the remedy asks for, drawn on the side that moves: the stretch as a bracket, arrows the way the cloth
//! goes, and by how much.

use super::canvas::{DARK, Frame, LIGHT, Type, cased_all, fill, stroke, words_size, write};
use super::marks::CURE;
use super::view::View;
use crate::conventions::Runs;
use crate::digits::{self, Unit};
use crate::finding::Finding;
use crate::remedy::Action;
use crate::remedy::cure::Cure;
use crate::units::PxPoint;
use image::RgbImage;

/// A move that rounds to nothing is not drawn, millimetres.
const LEAST_MM: f64 = 0.05;

/// One arrow: where along the seam, on which side (0 first, 1 second), and by how much.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Move {
    /// Its place, u.
    pub along_mm: f64,
    /// The side that moves there.
    pub side: usize,
    /// By how much, never negative; always back along the seam (up, or left).
    pub by_mm: f64,
}

/// The cure that the remedy chose, where it moves a side.
pub fn chosen(finding: &Finding) -> Option<&Cure> {
    let remedy = &finding.remedy;
    remedy.side?;
    remedy.cures.iter().find(|cure| cure.action == remedy.action)
}

/// The arrows of a cure: one in the middle of its full shift, or three where ease changes it along the seam.
pub fn arrows(cure: &Cure) -> Vec<Move> {
    let [from, to] = cure.full_mm;
    let shares: &[f64] = if cure.action == Action::Ease { &[0.12, 0.5, 0.88] } else { &[0.5] };
    let places = shares.iter().map(|f| from + f * (to - from));
    let moves = places.map(|along_mm| {
        let taken = cure.taken_at(along_mm);
        Move { along_mm, side: usize::from(taken > 0.0), by_mm: taken.abs() }
    });
    moves.filter(|one| one.by_mm >= LEAST_MM).collect()
}

/// Draws the move between `inner_mm` and `outer_mm` from the seam.
pub fn draw(picture: &mut RgbImage, view: &View, finding: &Finding, [inner_mm, outer_mm]: [f64; 2]) {
    let Some(cure) = chosen(finding) else { return };
    let arrows = arrows(cure);
    let mut drawn = [false; 2];
    for one in &arrows {
        let sign = if one.side == 0 { -1.0 } else { 1.0 };
        if !std::mem::replace(&mut drawn[one.side], true) {
            bracket(picture, view, cure, sign * outer_mm);
        }
        let words = [finding.seam.runs.direction(false).word().to_owned(), told(one.by_mm, finding.unit())];
        block(picture, view, one.along_mm, sign * (inner_mm + outer_mm) / 2.0, &words);
    }
}

/// By how much, short enough for a label.
fn told(mm: f64, unit: Unit) -> String {
    match unit {
        Unit::Sixteenth => format!("{}/16 in", digits::plain(mm * unit.per_mm(), 1)),
        _ => digits::length(mm, unit),
    }
}

/// The stretch that is pinned again, along the outer edge.
fn bracket(picture: &mut RgbImage, view: &View, cure: &Cure, v_mm: f64) {
    let ends = [cure.from_mm, cure.to_mm].map(|along| view.at(along, v_mm));
    let [Some(a), Some(b)] = ends else { return };
    let tick = 6.0 * view.pen_px * if v_mm < 0.0 { 1.0 } else { -1.0 };
    let inward = |p: PxPoint| [p, PxPoint::new(p.x + tick, p.y)];
    cased_all(picture, &[[a, b], inward(a), inward(b)], view.pen_px * 1.6, CURE);
}

/// A broad arrow up the panel, and what it says below it.
fn block(picture: &mut RgbImage, view: &View, along: f64, v_mm: f64, words: &[String; 2]) {
    let Some(middle) = view.at(along, v_mm) else { return };
    let look = Type { height_px: super::view::WORDS_PX, bold: true };
    let line_px = f64::from(look.height_px);
    let width = words.iter().map(|w| words_size(w, look)[0]).fold(0.0, f64::max) + 0.6 * line_px;
    let [arrow_px, plate_px] = [2.2 * line_px, 2.3 * line_px];
    let top = middle.y - (arrow_px + plate_px) / 2.0;
    let frame = Frame::around(PxPoint::new(middle.x, top + (arrow_px + plate_px) / 2.0), width, arrow_px + plate_px)
        .moved_inside(view.size_px);
    let [left, top, right, _] = frame.edges_px;
    let x = (left + right) / 2.0;
    let shaft = [PxPoint::new(x, top + arrow_px), PxPoint::new(x, top + 0.5 * line_px)];
    let barb =
        |s: f64| [PxPoint::new(x + s * 0.7 * line_px, top + 0.9 * line_px), PxPoint::new(x, top + 0.2 * line_px)];
    cased_all(picture, &[shaft, barb(-1.0), barb(1.0)], 0.3 * line_px, CURE);
    let plate = Frame { edges_px: [left, top + arrow_px, right, top + arrow_px + plate_px] };
    fill(picture, plate, LIGHT);
    let [l, t, r, b] = plate.edges_px;
    let corners = [[l, t], [r, t], [r, b], [l, b], [l, t]].map(|[x, y]| PxPoint::new(x, y));
    corners.windows(2).for_each(|pair| stroke(picture, pair[0], pair[1], view.pen_px, CURE));
    for (k, line) in words.iter().enumerate() {
        let [wide, _] = words_size(line, look);
        let corner = PxPoint::new(x - wide / 2.0, t + (0.12 + 1.02 * k as f64) * line_px);
        write(picture, corner, line, look, DARK);
    }
}

/// What the turned panel's direction means in the photograph; `None` where the panel is not turned.
pub fn turned(runs: Runs) -> Option<&'static str> {
    match runs {
        Runs::Down => None,
        Runs::Across => Some("turned a quarter: up here is left in the photograph"),
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::sample;
    use super::*;

    #[test]
    fn the_arrow_stands_on_the_side_that_the_remedy_names() {
        for (recipe, second) in [
            (sample::Recipe { base_mm: 3.0, slip_mm: [0.0, 70.0, 12.0], ..sample::down() }, true),
            (sample::Recipe { base_mm: -3.0, slip_mm: [0.0, 70.0, 12.0], ..sample::across() }, false),
        ] {
            let finding = recipe.finding();
            let cure = chosen(&finding).expect("a cure");
            let arrows = arrows(cure);
            assert_eq!(arrows.len(), 1);
            assert_eq!(finding.remedy.side, Some(finding.seam.runs.sides()[arrows[0].side]));
            assert_eq!(arrows[0].side == 1, second);
            assert!((arrows[0].by_mm - finding.remedy.by_mm.unwrap()).abs() < 1e-9);
        }
    }

    #[test]
    fn a_cure_that_leaves_it_or_cannot_tell_has_no_arrow() {
        let matched = sample::Recipe { base_mm: 0.0, slip_mm: [0.3, 70.0, 12.0], ..sample::down() }.finding();
        for finding in [matched, sample::unscaled().finding()] {
            assert!(chosen(&finding).is_none());
        }
    }

    #[test]
    fn ease_has_an_arrow_at_both_ends_each_on_the_side_that_stands_further_along() {
        let finding = sample::down().finding();
        let some = finding.remedy.cures[0];
        let cure = Cure { action: Action::Ease, from_mm: 0.0, to_mm: 100.0, full_mm: [0.0, 100.0], ease: 0.02, ..some };
        let arrows = arrows(&Cure { shift_mm: 0.0, ..cure });
        // The shift is nothing in the middle, and ± 0.76 mm at 12 and 88 of 100 mm.
        assert_eq!(arrows.iter().map(|a| a.side).collect::<Vec<_>>(), [0, 1]);
        assert!(arrows.iter().all(|a| (a.by_mm - 0.76).abs() < 1e-9));
    }
}
