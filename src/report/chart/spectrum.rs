//! How strongly the lines of each side return along the seam, by how often, with the repeat marked.

use super::{Area, CURVE, Drawn, INK, LIMIT, axes, minus, words};
use crate::digits::{self, Unit};
use crate::finding::Finding;
use crate::report::phrase;
use plotters::prelude::*;

/// Multiples of the repeat that are shown.
const SHOWN: f64 = 8.5;
/// Without a repeat: what is weaker than this from there on is not shown.
const LEAST_SHARE: f64 = 0.04;

/// How to read it.
pub fn reading(finding: &Finding) -> String {
    let [first, second] = finding.seam.runs.sides().map(phrase::side);
    let repeat = match finding.lines.repeat_mm() {
        Some(_) => {
            "The upright dashed line is the repeat; what stands at its multiples is the shape of the lines within it."
        }
        None => "Less than one repeat is seen, so none is marked.",
    };
    format!(
        "How strongly each side's lines return ({first} solid, {second} dashed), as a share of the strongest. {repeat}"
    )
}

/// How many of the plane's millimetres the axis counts to, and what it says: to 100 mm, 10 in or one repeat.
fn span(finding: &Finding) -> (f64, &'static str) {
    match finding.unit() {
        Unit::Millimetre => (100.0, "times to 100 mm of seam"),
        Unit::Sixteenth => (160.0 * digits::SIXTEENTH_MM, "times to 10 in of seam"),
        Unit::Repeat => (finding.offset.unit_mm, "times to a repeat"),
    }
}

/// The chart.
pub fn draw<DB: DrawingBackend>(area: &Area<DB>, finding: &Finding, fine: u32) -> Drawn
where
    DB::ErrorType: 'static,
{
    let (span_mm, named) = span(finding);
    let sides = finding.lines.sides.each_ref().map(|side| &side.spectrum);
    let repeat = finding.lines.repeat_mm().map(|(repeat_mm, _)| (span_mm / repeat_mm, repeat_mm));
    let ends =
        sides.map(|s| s.share.iter().rposition(|&v| v >= LEAST_SHARE).unwrap_or(1) as f64 * s.step_per_mm * span_mm);
    let last = sides.map(|s| s.share.len().saturating_sub(1) as f64 * s.step_per_mm * span_mm);
    let right = repeat.map_or(ends[0].max(ends[1]), |(times, _)| SHOWN * times).min(last[0].max(last[1]));
    let finite = sides.iter().all(|s| s.share.iter().all(|v| v.is_finite()));
    if !(right.is_finite() && right > 0.0 && finite) {
        return Err("a spectrum is not a finite number".into());
    }
    let mut chart = ChartBuilder::on(area)
        .margin(10 * fine)
        .x_label_area_size(44 * fine)
        .y_label_area_size(66 * fine)
        .build_cartesian_2d(0.0..right, 0.0..1.18)?;
    let places = if right < 10.0 { 1 } else { 0 };
    axes(&mut chart, fine)
        .y_labels(6)
        .x_desc(named)
        .y_desc("share of the strongest")
        .x_label_formatter(&|v| minus(&format!("{v:.places$}")))
        .y_label_formatter(&|v| format!("{v:.1}"))
        .draw()?;
    let points = |k: usize| -> Vec<(f64, f64)> {
        let places = sides[k].share.iter().enumerate().map(|(at, &v)| (at as f64 * sides[k].step_per_mm * span_mm, v));
        places.skip(1).take_while(|(x, _)| *x <= right).collect()
    };
    if let Some((times, repeat_mm)) = repeat.filter(|(times, _)| *times <= right) {
        let line = [(times, 0.0), (times, 1.12)];
        let [dash, gap] = [9 * fine as i32, 6 * fine as i32];
        chart.draw_series(DashedLineSeries::new(line, dash, gap, LIMIT.stroke_width(2 * fine)))?;
        let told = match finding.unit() {
            Unit::Repeat => "one repeat".to_owned(),
            unit => format!("repeat {}", digits::length(repeat_mm, unit)),
        };
        chart.draw_series([Text::new(told, (times + 0.008 * right, 1.16), words(fine))])?;
    }
    chart.draw_series(LineSeries::new(points(0), CURVE.stroke_width(2 * fine)))?;
    let [dash, gap] = [7 * fine as i32, 5 * fine as i32];
    chart.draw_series(DashedLineSeries::new(points(1), dash, gap, INK.stroke_width(2 * fine)))?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::super::sample;
    use super::super::{Chart, svg};
    use super::*;

    #[test]
    fn the_repeat_is_marked_where_there_is_one() {
        let mut finding = sample::down().finding();
        let text = svg(&finding, Chart::Spectrum).unwrap().unwrap();
        assert!(text.contains("repeat 15.0 mm") && text.contains("to 100 mm") && text.contains("#A52F08"));
        finding.verdict.unit = Unit::Sixteenth;
        assert!(svg(&finding, Chart::Spectrum).unwrap().unwrap().contains("to 10 in"));
        finding.lines.sides[0].repeat_mm = None;
        let text = svg(&finding, Chart::Spectrum).unwrap().unwrap();
        assert!(!text.contains("#A52F08") && reading(&finding).contains("none is marked"));
        let unscaled = svg(&sample::unscaled().finding(), Chart::Spectrum).unwrap().unwrap();
        assert!(unscaled.contains("one repeat") && !unscaled.contains(" mm"));
    }
}
