//! The strip below the picture: verdict, tolerance, and what each mark means. It never covers the cloth.

use super::canvas::{DARK, LIGHT, Type, cased, stroke, words_size, write};
use super::marks::{OFF, arrow, line_stroke};
use super::view::View;
use crate::digits;
use crate::finding::Finding;
use crate::report::phrase;
use crate::report::wrap::wrap;
use crate::units::PxPoint;
use crate::verdict::Judgement;
use image::RgbImage;

/// Millimetres that a scale bar may stand for, the longest that fits first.
const BARS_MM: [f64; 6] = [100.0, 50.0, 20.0, 10.0, 5.0, 1.0];

/// One entry of the legend.
enum Sample {
    Seam,
    Line(Judgement),
    Hatch,
    Jump,
    Worst,
    Bar(f64),
    Words,
}

/// The strip for a picture drawn with `view`, as wide as the picture.
pub fn strip(view: &View, finding: &Finding) -> RgbImage {
    let width_px = view.size_px[0];
    let height_px = (width_px / 36.0).clamp(11.0, 60.0);
    let (heading, plain) =
        (Type { height_px: (height_px * 1.12) as f32, bold: true }, Type { height_px: height_px as f32, bold: false });
    let margin = 0.6 * height_px;
    let fits = |look: Type| move |line: &str| words_size(line, look)[0] <= width_px - 2.0 * margin;
    let verdict = format!("{}: {}", phrase::headline(finding.verdict.result), phrase::verdict(finding));
    let mut words: Vec<(String, Type)> =
        wrap(&verdict, fits(heading)).into_iter().map(|line| (line, heading)).collect();
    words.extend(wrap(&phrase::tolerance(finding), fits(plain)).into_iter().map(|line| (line, plain)));

    let mut at = PxPoint::new(margin, margin);
    let mut placed = Vec::new();
    for (line, look) in words {
        let step = f64::from(look.height_px) * 1.2;
        placed.push((at, line, look, None));
        at.y += step;
    }
    at.y += 0.5 * height_px;
    for (sample, line) in legend(view, finding, width_px - 2.0 * margin) {
        let drawn_px = sample.width_px(height_px);
        let needed = drawn_px + words_size(&line, plain)[0];
        if at.x > margin && at.x + needed > width_px - margin {
            at = PxPoint::new(margin, at.y + 1.45 * height_px);
        }
        placed.push((at, line, plain, Some(sample)));
        at.x += needed + 1.2 * height_px;
    }
    let strip_px = at.y + 1.45 * height_px + margin;

    let mut strip = RgbImage::from_pixel(width_px as u32, strip_px.ceil() as u32, LIGHT);
    stroke(&mut strip, PxPoint::new(0.0, 0.0), PxPoint::new(width_px, 0.0), 2.0, DARK);
    for (at, line, look, sample) in placed {
        let shift = sample.as_ref().map_or(0.0, |sample| sample.width_px(height_px));
        if let Some(sample) = &sample {
            sample.draw(&mut strip, at, height_px);
        }
        write(&mut strip, PxPoint::new(at.x + shift, at.y), &line, look, DARK);
    }
    strip
}

/// What the picture shows, and only that.
fn legend(view: &View, finding: &Finding, room_px: f64) -> Vec<(Sample, String)> {
    let mut entries = vec![(Sample::Seam, "seam".to_owned())];
    for state in [Judgement::Matched, Judgement::Off, Judgement::Unsure] {
        if finding.verdict.lines.contains(&state) {
            entries.push((Sample::Line(state), format!("line: {}", state.word())));
        }
    }
    if !finding.verdict.stretches.is_empty() {
        entries.push((Sample::Hatch, "stretch: off".to_owned()));
    }
    if !finding.offset.lines.is_empty() {
        let factor = digits::plain(view.exaggeration, 0);
        let words = match view.exaggeration > 1.0 {
            true => format!("jump, drawn ×{factor}"),
            false => "jump, true size".to_owned(),
        };
        entries.push((Sample::Jump, words));
    }
    if !finding.offset.readings.is_empty() {
        entries.push((Sample::Worst, "worst place".to_owned()));
        entries.push((Sample::Words, phrase::sign(finding.seam.runs).to_owned()));
    }
    if let Some(px_per_mm) = view.px_per_mm_at_middle().filter(|_| finding.plane.is_metric()) {
        let bar = BARS_MM.into_iter().find(|mm| mm * px_per_mm <= 0.3 * room_px);
        if let Some(mm) = bar {
            let words = format!("{} mm at the middle of the seam", digits::plain(mm, 0));
            entries.push((Sample::Bar(mm * px_per_mm), words));
        }
    }
    entries
}

impl Sample {
    /// Room for the drawing and the gap behind it.
    fn width_px(&self, height_px: f64) -> f64 {
        match self {
            Sample::Bar(length_px) => length_px + 0.6 * height_px,
            Sample::Words => 0.0,
            _ => 2.7 * height_px,
        }
    }

    fn draw(&self, strip: &mut RgbImage, at: PxPoint, height_px: f64) {
        let pen_px = (height_px / 14.0).max(1.0);
        let row = at.y + 0.55 * height_px;
        let [from, to] = [0.1, 2.2].map(|f| PxPoint::new(at.x + f * height_px, row));
        match self {
            Sample::Words => {}
            Sample::Seam => {
                stroke(strip, from, to, pen_px * 4.6, DARK);
                stroke(strip, from, to, pen_px * 2.6, LIGHT);
                stroke(strip, from, to, pen_px, DARK);
            }
            Sample::Line(state) => line_stroke(strip, from, to, pen_px, *state),
            Sample::Jump => arrow(strip, from, to, pen_px),
            Sample::Worst => {
                let radius = 0.38 * height_px;
                let ring = |k: u32| {
                    let (sin, cos) = (f64::from(k) * std::f64::consts::TAU / 24.0).sin_cos();
                    PxPoint::new(at.x + 1.2 * height_px + radius * cos, row + radius * sin)
                };
                (0..24).for_each(|k| stroke(strip, ring(k), ring(k + 1), pen_px * 1.3, DARK));
            }
            Sample::Hatch => {
                let half = 0.38 * height_px;
                for y in [row - half, row + half] {
                    stroke(strip, PxPoint::new(from.x, y), PxPoint::new(to.x, y), pen_px * 1.2, OFF);
                }
                let mut x = from.x;
                while x + 2.0 * half <= to.x + 0.5 {
                    cased(
                        strip,
                        PxPoint::new(x, row + half),
                        PxPoint::new(x + 2.0 * half, row - half),
                        pen_px * 1.2,
                        OFF,
                    );
                    x += 5.0 * pen_px;
                }
            }
            Sample::Bar(length_px) => {
                let [left, right] = [at.x, at.x + length_px].map(|x| PxPoint::new(x, row));
                stroke(strip, left, right, pen_px * 1.6, DARK);
                for end in [left, right] {
                    let tick = 0.35 * height_px;
                    stroke(strip, PxPoint::new(end.x, row - tick), PxPoint::new(end.x, row + tick), pen_px * 1.6, DARK);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::sample;
    use super::*;

    fn bar(finding: &Finding, zoom: f64, width_px: f64) -> Option<(f64, String)> {
        let view = View::new(finding, zoom, [width_px, 0.75 * width_px]);
        legend(&view, finding, width_px).into_iter().find_map(|(sample, words)| match sample {
            Sample::Bar(px) => Some((px, words)),
            _ => None,
        })
    }

    #[test]
    fn the_scale_bar_has_its_true_length() {
        // 0.16 mm to a pixel: 50 mm are 312.5 pixels, at half the size 156.25.
        let (px, words) = bar(&sample::down().finding(), 1.0, 1200.0).unwrap();
        assert!((px - 312.5).abs() < 1e-6 && words.starts_with("50 mm"), "{px} {words}");
        let (px, _) = bar(&sample::down().finding(), 0.5, 600.0).unwrap();
        assert!((px - 156.25).abs() < 1e-6);
        assert!(bar(&sample::unscaled().finding(), 1.0, 1200.0).is_none());
    }

    #[test]
    fn the_legend_explains_what_is_there_and_nothing_else() {
        let words = |finding: &Finding| -> String {
            let view = View::new(finding, 1.0, [1200.0, 900.0]);
            legend(&view, finding, 1200.0).into_iter().map(|(_, words)| words + "; ").collect()
        };
        let off = words(&sample::down().finding());
        assert!(off.contains("line: off") && off.contains("stretch: off") && off.contains("drawn ×2"), "{off}");
        let none = words(&sample::Recipe { lines: 0, slip_mm: [0.0, 1.0, 1.0], ..sample::down() }.finding());
        assert!(!none.contains("line:") && !none.contains("stretch") && !none.contains("jump"), "{none}");
    }

    #[test]
    fn the_strip_is_as_wide_as_the_picture() {
        for width_px in [1.0, 40.0, 300.0, 1600.0] {
            let finding = sample::down().finding();
            let strip = strip(&View::new(&finding, 1.0, [width_px, 0.75 * width_px]), &finding);
            assert_eq!(strip.width(), width_px as u32);
            assert!(strip.height() > 10 && strip.height() < 4000, "{}", strip.height());
        }
    }
}
