//! The photograph straightened along the seam: the seam upright, one scale both ways, so that a rule laid on the picture
//! reads millimetres of the cloth. Beside the cloth, never on it: a ruler, what is out of tolerance, and the jumps.

use super::canvas::{DARK, Frame, LIGHT, Type, cased_all, stroke, words_size, write};
use super::view::{View, WIDTH_PX, WORDS_PX};
use super::{marks, moves, smaller};
use crate::digits::{self, Unit};
use crate::finding::Finding;
use crate::report::look;
use crate::report::phrase;
use crate::units::PxPoint;
use crate::verdict::{Judgement, Stretch};
use image::imageops;
use image::{Rgb, RgbImage};

/// Room beside the cloth for the ruler and the hatching, and for the jumps.
const LEFT_PX: f64 = 180.0;
const RIGHT_PX: f64 = 290.0;
/// Room above the cloth for the names of the sides, and below it.
const HEAD_PX: f64 = 116.0;
const FOOT_PX: f64 = 92.0;
/// Height of the cloth at the most.
const MOST_HEIGHT_PX: f64 = 1900.0;
/// Cloth shown on either side of the seam, millimetres: as much as fills the width, within these.
const HALF_MM: (f64, f64) = (30.0, 42.0);
/// Cloth shown beyond either end of the seam, millimetres.
const BEYOND_MM: f64 = 3.0;
/// A photograph this much finer than the panel is made coarser first, or its threads would flicker.
const FINER: f64 = 1.3;
/// Width of the hatched lane.
const LANE_PX: f64 = 46.0;

/// Lengths that the scale's bar may stand for, the longest that fits first.
const BARS_MM: [f64; 6] = [100.0, 50.0, 20.0, 10.0, 5.0, 1.0];
const BARS_REPEATS: [f64; 3] = [5.0, 2.0, 1.0];

const SOFT: Rgb<u8> = Rgb(look::SOFT);

/// Where the panel's parts stand.
struct Frames {
    px_per_mm: f64,
    half_mm: f64,
    /// The cloth.
    cloth: Frame,
    height_px: f64,
}

impl Frames {
    /// `None` where the seam has no length that can be drawn.
    fn new(finding: &Finding) -> Option<Self> {
        if finding.seam.path.points.len() < 2 {
            return None;
        }
        let length_mm = finding.seam.path.length_mm();
        if !(length_mm > 0.1 && length_mm < 1e5) {
            return None;
        }
        let shown_mm = length_mm + 2.0 * BEYOND_MM;
        let room_px = f64::from(WIDTH_PX) - LEFT_PX - RIGHT_PX;
        let px_per_mm = (room_px / 2.0 / HALF_MM.0).min(MOST_HEIGHT_PX / shown_mm);
        let half_mm = (room_px / 2.0 / px_per_mm).min(HALF_MM.1);
        let [middle, half_px] = [LEFT_PX + room_px / 2.0, half_mm * px_per_mm];
        let bottom = HEAD_PX + shown_mm * px_per_mm;
        let cloth = Frame { edges_px: [middle - half_px, HEAD_PX, middle + half_px, bottom] };
        Some(Frames { px_per_mm, half_mm, cloth, height_px: bottom + FOOT_PX })
    }

    fn view<'a>(&self, finding: &'a Finding) -> View<'a> {
        let [left, top, right, _] = self.cloth.edges_px;
        let start = [(left + right) / 2.0, top + BEYOND_MM * self.px_per_mm];
        View::straight(finding, self.px_per_mm, start, self.half_mm, [f64::from(WIDTH_PX), self.height_px])
    }
}

/// The panel: [`WIDTH_PX`] wide; `None` where the seam has no path that can be drawn.
pub fn panel(photo: &RgbImage, finding: &Finding) -> Option<RgbImage> {
    let frames = Frames::new(finding)?;
    let view = frames.view(finding);
    let mut panel = RgbImage::from_pixel(WIDTH_PX, frames.height_px.ceil() as u32, LIGHT);
    lay_cloth(&mut panel, photo, finding, &frames);
    marks::should_run(&mut panel, &view, finding);
    marks::lines(&mut panel, &view, finding);
    marks::seam(&mut panel, &view);
    marks::jumps(&mut panel, &view, finding);
    marks::worst(&mut panel, &view, finding);
    for stretch in &finding.verdict.stretches {
        lane(&mut panel, &view, &frames, stretch);
    }
    moves::draw(&mut panel, &view, finding, [0.54 * frames.half_mm, 0.96 * frames.half_mm]);
    head(&mut panel, finding, &frames);
    ruler(&mut panel, &view, finding, &frames);
    jumps(&mut panel, &view, finding, &frames);
    foot(&mut panel, &view, finding, &frames);
    Some(panel)
}

/// The cloth itself, read from the photograph.
fn lay_cloth(panel: &mut RgbImage, photo: &RgbImage, finding: &Finding, frames: &Frames) {
    let Finding { seam, plane, .. } = finding;
    let [left, top, right, bottom] = frames.cloth.edges_px.map(|edge| edge.round() as u32);
    let (columns, rows) = (left..right.min(panel.width()), top..bottom.min(panel.height()));
    let view = frames.view(finding);
    let Some(start) = view.at(0.0, 0.0) else { return };
    let place = |x: u32, y: u32| {
        let [u_mm, v_mm] = [f64::from(y) - start.y, f64::from(x) - start.x].map(|px| px / frames.px_per_mm);
        plane.to_px(seam.at(u_mm, v_mm))
    };
    // A row of the panel is straight in the photograph: its ends hold it.
    let ends = rows.clone().flat_map(|y| [place(left, y), place(right, y)]);
    let finer = 1.0 / plane.mm_per_px_at(seam.at(seam.length_mm() / 2.0, 0.0)) / frames.px_per_mm;
    let Some(source) = Source::holding(photo, ends, finer) else { return };
    for y in rows {
        for x in columns.clone() {
            if let Some(pixel) = source.at(place(x, y)) {
                panel.put_pixel(x, y, pixel);
            }
        }
    }
}

/// A piece of the photograph, no finer than the panel.
struct Source {
    /// Its first pixel in the photograph.
    first_px: [f64; 2],
    /// Pixels of it to one of the photograph.
    zoom: [f64; 2],
    pixels: RgbImage,
}

impl Source {
    /// The piece that holds these places, of a photograph so many times finer than the panel; `None` where they lie outside.
    fn holding(photo: &RgbImage, places: impl Iterator<Item = PxPoint>, finer: f64) -> Option<Self> {
        // What interpolation and making it coarser read beyond.
        let beyond = 4.0 * finer.clamp(1.0, 100.0);
        let mut spans = [[f64::MAX, f64::MIN]; 2];
        for p in places {
            for (span, place) in spans.iter_mut().zip([p.x, p.y]) {
                *span = [span[0].min(place - beyond), span[1].max(place + beyond)];
            }
        }
        let [across, down] = [0, 1].map(|c| {
            let [low, high] = spans[c].map(|px| px.clamp(0.0, f64::from([photo.width(), photo.height()][c])));
            low as u32..high.ceil() as u32
        });
        if across.is_empty() || down.is_empty() {
            return None;
        }
        let size = [&across, &down].map(|span| span.end - span.start);
        let piece = imageops::crop_imm(photo, across.start, down.start, size[0], size[1]).to_image();
        let pixels = match finer.is_finite() && finer > FINER {
            true => {
                let [width, height] = size.map(|px| ((f64::from(px) / finer).round() as u32).max(1));
                smaller::resized(&piece, width, height)
            }
            false => piece,
        };
        let zoom = [f64::from(pixels.width()) / f64::from(size[0]), f64::from(pixels.height()) / f64::from(size[1])];
        Some(Self { first_px: [across.start, down.start].map(f64::from), zoom, pixels })
    }

    /// What is at a place of the photograph.
    fn at(&self, p: PxPoint) -> Option<Rgb<u8>> {
        let on = |px: f64, c: usize| ((px - self.first_px[c] + 0.5) * self.zoom[c] - 0.5) as f32;
        imageops::interpolate_bilinear(&self.pixels, on(p.x, 0), on(p.y, 1))
    }
}

/// The names of the sides, and how the panel is turned.
fn head(panel: &mut RgbImage, finding: &Finding, frames: &Frames) {
    let look = Type { height_px: WORDS_PX, bold: true };
    let plain = Type { bold: false, ..look };
    let [left, top, right, _] = frames.cloth.edges_px;
    let runs = finding.seam.runs;
    let row = top - 1.2 * f64::from(WORDS_PX);
    let names = runs.sides().map(phrase::side);
    let gap = 0.35 * f64::from(WORDS_PX);
    let middle = (left + right) / 2.0;
    write(panel, PxPoint::new(middle - gap - words_size(names[0], look)[0], row), names[0], look, DARK);
    write(panel, PxPoint::new(middle + gap, row), names[1], look, DARK);
    let mark = [PxPoint::new(middle, row + 4.0), PxPoint::new(middle, top - 2.0)];
    stroke(panel, mark[0], mark[1], 2.0, DARK);
    let column = format!("jump, {}", finding.unit().column());
    let edge = f64::from(WIDTH_PX) - 10.0;
    write(panel, PxPoint::new(edge - words_size(&column, plain)[0], row), &column, plain, SOFT);
    write(panel, PxPoint::new(10.0, row), finding.unit().places(), plain, SOFT);
    let words = moves::turned(runs).unwrap_or("straightened along the seam");
    write(panel, PxPoint::new(10.0, row - 1.25 * f64::from(WORDS_PX)), words, plain, SOFT);
}

/// The ruler along the cloth's left edge, numbered from the start of the seam.
fn ruler(panel: &mut RgbImage, view: &View, finding: &Finding, frames: &Frames) {
    let unit = finding.unit();
    let [tick, number] = steps(unit, frames.px_per_mm * finding.offset.unit_mm);
    let edge = frames.cloth.edges_px[0] - LANE_PX - 10.0;
    let look = Type { height_px: WORDS_PX, bold: false };
    let length = finding.seam.path.length_mm() / finding.offset.unit_mm;
    let count = (length / tick).floor().min(2000.0) as u32;
    for k in 0..=count {
        let along = f64::from(k) * tick;
        let Some(p) = view.at(along, 0.0) else { continue };
        let numbered = (along / number - (along / number).round()).abs() < 1e-6;
        let long = if numbered { 22.0 } else { 12.0 };
        stroke(panel, PxPoint::new(edge - long, p.y), PxPoint::new(edge, p.y), 2.0, SOFT);
        if numbered {
            let words = digits::place(along, unit);
            let [width, height] = words_size(&words, look);
            write(panel, PxPoint::new(edge - long - 8.0 - width, p.y - 0.55 * height), &words, look, SOFT);
        }
    }
    if let (Some(a), Some(b)) = (view.at(0.0, 0.0), view.at(length, 0.0)) {
        stroke(panel, PxPoint::new(edge, a.y), PxPoint::new(edge, b.y), 2.0, SOFT);
    }
}

/// Distance between ticks, and between numbers, in the unit of the offset, so that numbers stand apart.
fn steps(unit: Unit, px_per_unit: f64) -> [f64; 2] {
    let inch = 16.0 * digits::SIXTEENTH_MM;
    let choices: Vec<[f64; 2]> = match unit {
        Unit::Millimetre => [[5.0, 10.0], [10.0, 20.0], [10.0, 50.0], [20.0, 100.0], [100.0, 500.0]].to_vec(),
        Unit::Sixteenth => {
            [[0.25, 0.5], [0.5, 1.0], [1.0, 2.0], [1.0, 5.0], [5.0, 20.0]].map(|s| s.map(|s| s * inch)).to_vec()
        }
        Unit::Repeat => [[0.5, 1.0], [1.0, 2.0], [1.0, 5.0], [5.0, 20.0], [20.0, 100.0]].to_vec(),
    };
    let fits = |steps: &&[f64; 2]| steps[1] * px_per_unit >= 2.2 * f64::from(WORDS_PX);
    *choices.iter().find(fits).unwrap_or(&choices[choices.len() - 1])
}

/// A stretch out of tolerance: a hatched lane beside the cloth, its ends drawn over to the seam.
fn lane(panel: &mut RgbImage, view: &View, frames: &Frames, stretch: &Stretch) {
    let [Some(from), Some(to)] = [stretch.from_mm, stretch.to_mm].map(|along| view.at(along, 0.0)) else { return };
    let [left, top, _, bottom] = frames.cloth.edges_px;
    let [from_y, to_y] = [from.y, to.y].map(|y| y.clamp(top, bottom));
    let [outer, inner] = [left - LANE_PX, left - 4.0];
    let point = PxPoint::new;
    let mut strokes = vec![[point(outer, from_y), point(outer, to_y)], [point(inner, from_y), point(inner, to_y)]];
    let width = inner - outer;
    let mut y = from_y;
    while y < to_y {
        let part = ((to_y - y) / width).min(1.0);
        strokes.push([point(inner, y), point(inner - part * width, y + part * width)]);
        y += 16.0;
    }
    strokes.extend([[point(outer, from_y), point(inner, from_y)], [point(outer, to_y), point(inner, to_y)]]);
    strokes.iter().for_each(|&[a, b]| stroke(panel, a, b, 0.9 * view.pen_px, marks::OFF));
    let reach = from.x - 14.0 * view.pen_px;
    let ends = [from_y, to_y].map(|y| [point(inner, y), point(reach, y)]);
    cased_all(panel, &ends, 0.6 * view.pen_px, marks::OFF);
}

/// The jump of each line beside the cloth where there is room, the worst place before all, then the largest.
fn jumps(panel: &mut RgbImage, view: &View, finding: &Finding, frames: &Frames) {
    let unit = finding.unit();
    let offset = &finding.offset;
    let [_, top, edge, bottom] = frames.cloth.edges_px;
    let after = if unit == Unit::Millimetre { " mm" } else { "" };
    let height = f64::from(WORDS_PX);
    let mut rows: Vec<(f64, f64, String, Option<Judgement>)> = Vec::new();
    for (line, state) in offset.lines.iter().zip(&finding.verdict.lines) {
        let figures = digits::figures(line.offset_mm, line.expanded_uncertainty_mm, unit);
        if let Some(p) = view.on_line(line, 1, view.far_mm, 0.0) {
            rows.push((p.y, line.offset_mm.abs(), format!("{}{after}", figures.value), Some(*state)));
        }
    }
    rows.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.total_cmp(&b.0)));
    if rows.is_empty() && !offset.readings.is_empty() {
        let place = view.at(offset.worst_at_mm, 0.0);
        rows.extend(place.map(|p| (p.y, 0.0, format!("{}{after}", phrase::worst(finding).value), None)));
    }
    let mut taken: Vec<f64> = Vec::new();
    for (y, _, words, state) in rows {
        let row = y.clamp(top + 0.5 * height, bottom - 0.5 * height);
        let free = |at: f64| taken.iter().all(|other| (other - at).abs() >= 1.05 * height);
        let shifts = [0.0, 0.3, -0.3, 0.6, -0.6];
        let Some(at) = shifts.iter().map(|s| row + s * height).find(|&at| free(at)) else { continue };
        taken.push(at);
        stroke(panel, PxPoint::new(edge + 4.0, row), PxPoint::new(edge + 22.0, at), 2.0, SOFT);
        if let Some(state) = state {
            marks::sign(panel, PxPoint::new(edge + 42.0, at), 3.6 * view.pen_px, view.pen_px, state);
        }
        let look = Type { height_px: WORDS_PX, bold: state != Some(Judgement::Matched) };
        write(panel, PxPoint::new(edge + 66.0, at - 0.55 * height), &words, look, DARK);
    }
}

/// The scale below the cloth: a bar of a known length, the longest that fills no more than half of the cloth's width.
fn foot(panel: &mut RgbImage, view: &View, finding: &Finding, frames: &Frames) {
    let [left, _, right, bottom] = frames.cloth.edges_px;
    let unit_px = frames.px_per_mm * finding.offset.unit_mm;
    let (lengths, unit): (&[f64], Unit) = match finding.plane.is_metric() {
        true => (&BARS_MM, Unit::Millimetre),
        false => (&BARS_REPEATS, Unit::Repeat),
    };
    let Some(length) = lengths.iter().find(|length| **length * unit_px <= 0.5 * (right - left)) else { return };
    let row = bottom + 46.0;
    let [a, b] = [left, left + length * unit_px].map(|x| PxPoint::new(x, row));
    let ends = [a, b].map(|p| [PxPoint::new(p.x, row - 14.0), PxPoint::new(p.x, row + 14.0)]);
    [[a, b], ends[0], ends[1]].iter().for_each(|&[a, b]| stroke(panel, a, b, 1.6 * view.pen_px, DARK));
    let look = Type { height_px: WORDS_PX, bold: false };
    let words = format!(
        "{} {}",
        digits::plain(*length, 0),
        if *length == 1.0 && unit == Unit::Repeat { "repeat" } else { unit.places() }
    );
    write(panel, PxPoint::new(b.x + 24.0, row - 0.55 * f64::from(WORDS_PX)), &words, look, DARK);
}

#[cfg(test)]
mod tests {
    use super::super::super::sample;
    use super::*;

    #[test]
    fn the_cloth_has_one_scale_both_ways_and_fits_the_panel() {
        for (kind, finding) in sample::every_kind() {
            let frames = Frames::new(&finding).unwrap();
            let [left, top, right, bottom] = frames.cloth.edges_px;
            assert!((right - left - 2.0 * frames.half_mm * frames.px_per_mm).abs() < 1e-6, "{kind}");
            let shown = finding.seam.path.length_mm() + 2.0 * BEYOND_MM;
            assert!((bottom - top - shown * frames.px_per_mm).abs() < 1e-6 && bottom - top < 1901.0, "{kind}");
            assert!(left >= LEFT_PX - 1e-6 && right <= f64::from(WIDTH_PX) - RIGHT_PX + 1e-6, "{kind}");
        }
    }

    #[test]
    fn a_line_across_the_photograph_stands_where_its_place_says() {
        // A seam that leans by 20 px over 880, a dark row of the photograph: it must cross the panel level but for the lean.
        let finding = sample::Recipe { lines: 0, slip_mm: [0.0, 1.0, 1.0], ..sample::down() }.finding();
        let mut photo = RgbImage::from_pixel(1200, 900, Rgb([200; 3]));
        for x in 0..1200 {
            for y in 448..=452 {
                photo.put_pixel(x, y, Rgb([0; 3]));
            }
        }
        let panel = panel(&photo, &finding).unwrap();
        let frames = Frames::new(&finding).unwrap();
        let view = frames.view(&finding);
        // Row 450 is met at u = (450 − 10) · 0.16 · √(1 + (20/880)²) mm on the seam.
        let u = 440.0 * 0.16 * (1.0f64 + (20.0f64 / 880.0).powi(2)).sqrt();
        for v in [-20.0, 20.0] {
            // The lean turns the row by 20/880 against the seam's normal.
            let expected = view.at(u + v * 20.0 / 880.0, v).unwrap();
            let column = expected.x.round() as u32;
            let dark: Vec<f64> = (0..panel.height())
                .filter(|&y| panel.get_pixel(column, y).0[0] < 60 && (f64::from(y) - expected.y).abs() < 60.0)
                .map(f64::from)
                .collect();
            let middle = dark.iter().sum::<f64>() / dark.len() as f64;
            assert!((middle - expected.y).abs() < 1.0, "{v}: {middle} for {}", expected.y);
        }
    }

    #[test]
    fn numbers_of_the_ruler_stand_apart_in_every_unit() {
        for unit in [Unit::Millimetre, Unit::Sixteenth, Unit::Repeat] {
            for px in [2.0, 6.0, 12.0, 90.0] {
                let [tick, number] = steps(unit, px);
                assert!(number * px >= 88.0 && (number / tick).fract() < 1e-9, "{unit:?} {px}");
            }
        }
    }
}
