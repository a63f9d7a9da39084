//! The words above and below the panels: the verdict, and what each mark means. They never cover the cloth.

use super::canvas::{DARK, Frame, LIGHT, Type, cased_all, stroke, words_size, write};
use super::marks::{self, CURE, OFF, arrow, line_stroke};
use super::moves;
use super::view::{WIDTH_PX, WORDS_PX};
use crate::finding::Finding;
use crate::report::phrase;
use crate::report::wrap::wrap;
use crate::units::PxPoint;
use crate::verdict::Judgement;
use image::RgbImage;

const MARGIN_PX: f64 = 24.0;
const PEN_PX: f64 = 3.0;
/// Room for an entry's drawing and the gap behind it.
const DRAWN_PX: f64 = 112.0;

/// One entry of the legend.
enum Sample {
    Seam,
    Line(Judgement),
    ShouldRun,
    Hatch,
    Jump,
    Worst,
    Move,
}

/// The verdict, on paper.
pub fn title(finding: &Finding) -> RgbImage {
    let verdict = format!("{}: {}", phrase::headline(finding.verdict.result), phrase::verdict(finding));
    words(&[(verdict, true), (phrase::tolerance(finding), false)])
}

/// Lines of words as high as they need, as wide as every picture.
pub fn words(paragraphs: &[(String, bool)]) -> RgbImage {
    let room = f64::from(WIDTH_PX) - 2.0 * MARGIN_PX;
    let mut y = 0.4 * MARGIN_PX;
    let mut placed = Vec::new();
    for (text, bold) in paragraphs {
        let look = Type { height_px: if *bold { 1.15 * WORDS_PX } else { WORDS_PX }, bold: *bold };
        for line in wrap(text, |line| words_size(line, look)[0] <= room) {
            placed.push((y, line, look));
            y += 1.2 * f64::from(look.height_px);
        }
    }
    let mut strip = RgbImage::from_pixel(WIDTH_PX, (y + 0.6 * MARGIN_PX).ceil() as u32, LIGHT);
    for (y, line, look) in placed {
        write(&mut strip, PxPoint::new(MARGIN_PX, y), &line, look, DARK);
    }
    strip
}

/// What each mark means, on paper.
pub fn legend(finding: &Finding) -> RgbImage {
    let look = Type { height_px: WORDS_PX, bold: false };
    let step = 1.4 * f64::from(WORDS_PX);
    let mut at = PxPoint::new(MARGIN_PX, 0.6 * MARGIN_PX);
    let mut placed = Vec::new();
    for (sample, line) in entries(finding) {
        let needed = DRAWN_PX + words_size(&line, look)[0];
        if at.x > MARGIN_PX && at.x + needed > f64::from(WIDTH_PX) - MARGIN_PX {
            at = PxPoint::new(MARGIN_PX, at.y + step);
        }
        placed.push((at, sample, line));
        at.x += needed + MARGIN_PX * 1.5;
    }
    let height = (at.y + step + 0.4 * MARGIN_PX).ceil() as u32;
    let mut strip = RgbImage::from_pixel(WIDTH_PX, height, LIGHT);
    for (at, sample, line) in placed {
        sample.draw(&mut strip, at);
        write(&mut strip, PxPoint::new(at.x + DRAWN_PX, at.y), &line, look, DARK);
    }
    strip
}

/// What the pictures show, and only that.
fn entries(finding: &Finding) -> Vec<(Sample, String)> {
    let mut entries = vec![(Sample::Seam, "seam".to_owned())];
    for state in [Judgement::Matched, Judgement::Off, Judgement::Unsure] {
        if finding.verdict.lines.contains(&state) {
            entries.push((Sample::Line(state), format!("line: {}", state.word())));
        }
    }
    if marks::astray(finding).next().is_some() {
        entries.push((Sample::ShouldRun, "where it should run".into()));
    }
    if !finding.offset.lines.is_empty() {
        entries.push((Sample::Jump, format!("jump ({})", phrase::sign(finding.seam.runs))));
    }
    if !finding.verdict.stretches.is_empty() {
        entries.push((Sample::Hatch, "stretch that is off".into()));
    }
    if !finding.offset.readings.is_empty() {
        entries.push((Sample::Worst, "worst place".into()));
    }
    if moves::chosen(finding).is_some() {
        entries.push((Sample::Move, "move that cures it".into()));
    }
    entries
}

impl Sample {
    fn draw(&self, strip: &mut RgbImage, at: PxPoint) {
        let row = at.y + 0.55 * f64::from(WORDS_PX);
        let point = |x: f64, y: f64| PxPoint::new(at.x + x, row + y);
        let [from, to] = [point(4.0, 0.0), point(88.0, 0.0)];
        match self {
            Sample::Seam => {
                stroke(strip, from, to, PEN_PX * 4.0, DARK);
                stroke(strip, from, to, PEN_PX * 2.6, LIGHT);
                stroke(strip, from, to, PEN_PX, DARK);
            }
            Sample::Line(state) => line_stroke(strip, &[from, to], PEN_PX, *state),
            Sample::ShouldRun => {
                let dash = |k: f64| [point(4.0 + 34.0 * k, 0.0), point(20.0 + 34.0 * k, 0.0)];
                cased_all(strip, &[dash(0.0), dash(1.0), dash(2.0)], PEN_PX, CURE);
            }
            Sample::Jump => arrow(strip, from, to, PEN_PX),
            Sample::Worst => {
                let ring = marks::ring(point(46.0, 0.0), 16.0);
                ring.iter().for_each(|&[a, b]| stroke(strip, a, b, PEN_PX * 1.3, DARK));
            }
            Sample::Move => {
                let (foot, tip) = (point(46.0, 18.0), point(46.0, -18.0));
                cased_all(strip, &[[foot, tip], [point(30.0, -2.0), tip], [point(62.0, -2.0), tip]], 8.0, CURE);
            }
            Sample::Hatch => {
                let frame = Frame::around(point(46.0, 0.0), 84.0, 30.0);
                let [left, top, right, bottom] = frame.edges_px;
                for y in [top, bottom] {
                    stroke(strip, PxPoint::new(left, y), PxPoint::new(right, y), PEN_PX, OFF);
                }
                for k in 0..5 {
                    let x = left + 12.0 * f64::from(k);
                    stroke(strip, PxPoint::new(x, bottom), PxPoint::new(x + 30.0, top), PEN_PX, OFF);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::sample;
    use super::*;

    #[test]
    fn the_legend_explains_what_is_there_and_nothing_else() {
        let words =
            |finding: &Finding| -> String { entries(finding).into_iter().map(|(_, words)| words + "; ").collect() };
        let off = words(&sample::down().finding());
        for entry in ["line: off", "stretch that is off", "should run", "move that cures", "right side lower"] {
            assert!(off.contains(entry), "{off}");
        }
        let none = words(&sample::Recipe { lines: 0, slip_mm: [0.0, 1.0, 1.0], ..sample::down() }.finding());
        for entry in ["line:", "stretch", "jump", "should", "move"] {
            assert!(!none.contains(entry), "{none}");
        }
    }

    #[test]
    fn strips_are_as_wide_as_every_picture_and_as_high_as_their_words() {
        let finding = sample::down().finding();
        for strip in [title(&finding), legend(&finding)] {
            assert!(strip.width() == WIDTH_PX && (60..600).contains(&strip.height()), "{}", strip.height());
        }
        let [one, two] = [1, 8].map(|times| words(&[("cloth ".repeat(20 * times), false)]).height());
        assert!(two > 5 * one, "{one} {two}");
    }
}
