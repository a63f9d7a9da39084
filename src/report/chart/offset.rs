//! The offset along the seam as a curve: readings with their uncertainty band, the lines one by one, the tolerance.
//!
//! States differ in shape, not only in colour: a matched line is a dot, one that is off a cross, an unsure one a ring.

use super::{Area, CURVE, Drawn, INK, LIMIT, axes, minus};
use crate::finding::Finding;
use crate::report::phrase;
use crate::verdict::Judgement;
use plotters::prelude::*;

/// Points beyond which the readings are thinned: more do not show.
const MOST_READINGS: usize = 800;

/// How to read it.
pub fn reading(finding: &Finding) -> String {
    let limit = if finding.plane.is_metric() { " Dashed: the tolerance." } else { "" };
    format!(
        "Curve: the offset, with its uncertainty as a band.{limit} Lines of the cloth: a dot is matched, a cross off, a ring \
         unsure."
    )
}

/// The chart.
pub fn draw<DB: DrawingBackend>(area: &Area<DB>, finding: &Finding, fine: u32) -> Drawn
where
    DB::ErrorType: 'static,
{
    let unit = finding.unit();
    let offset = &finding.offset;
    let step = offset.readings.len().div_ceil(MOST_READINGS);
    let told = |along: f64, offset: f64, expanded: f64| {
        [along / unit.per_place(), offset * unit.per_mm(), expanded * unit.per_mm()]
    };
    let readings = offset.readings.iter().step_by(step).chain(offset.readings.last());
    let readings: Vec<[f64; 3]> = readings.map(|r| told(r.along_mm, r.offset_mm, r.expanded_uncertainty_mm)).collect();
    let lines: Vec<[f64; 3]> =
        offset.lines.iter().map(|l| told(l.along_mm, l.offset_mm, l.expanded_uncertainty_mm)).collect();
    let tolerance = finding.plane.is_metric().then_some(finding.verdict.tolerance_mm * unit.per_mm());

    let both = || readings.iter().chain(&lines);
    let (left, right) = both().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, r), v| (l.min(v[0]), r.max(v[0])));
    let top = both().map(|v| v[1].abs() + v[2]).chain(tolerance).fold(0.0, f64::max) * 1.15;
    if ![left, right, top].iter().all(|v| v.is_finite()) {
        return Err("a reading is not a finite number".into());
    }
    let right = if right > left { right } else { left + 1.0 };
    let top = if top > 0.0 { top } else { 1.0 };

    let mut chart = ChartBuilder::on(area)
        .margin(10 * fine)
        .x_label_area_size(44 * fine)
        .y_label_area_size(66 * fine)
        .build_cartesian_2d(left..right, -top..top)?;
    axes(&mut chart, fine)
        .x_desc(format!("along the seam, {} {}", unit.places(), phrase::start(finding.seam.runs)))
        .y_desc(format!("offset, {}", unit.column()))
        .x_label_formatter(&|v| minus(&format!("{v:.*}", usize::from(right - left < 12.0))))
        .y_label_formatter(&|v| minus(&format!("{v:.*}", if top < 0.5 { 2 } else { 1 })))
        .draw()?;

    let upper = readings.iter().map(|r| (r[0], r[1] + r[2]));
    let lower = readings.iter().rev().map(|r| (r[0], r[1] - r[2]));
    chart.draw_series([Polygon::new(upper.chain(lower).collect::<Vec<_>>(), CURVE.mix(0.22))])?;
    chart.draw_series([PathElement::new([(left, 0.0), (right, 0.0)], INK.stroke_width(fine))])?;
    for limit in tolerance.iter().flat_map(|t| [*t, -*t]) {
        chart.draw_series(DashedLineSeries::new(
            [(left, limit), (right, limit)],
            9 * fine as i32,
            6 * fine as i32,
            LIMIT.stroke_width(2 * fine),
        ))?;
    }
    chart.draw_series(LineSeries::new(readings.iter().map(|r| (r[0], r[1])), CURVE.stroke_width(2 * fine)))?;

    let states = lines.iter().zip(&finding.verdict.lines);
    let of = |state: Judgement| {
        states.clone().filter(move |(_, s)| **s == state).map(|(l, _)| (l[0], l[1])).collect::<Vec<_>>()
    };
    chart.draw_series(of(Judgement::Matched).into_iter().map(|at| Circle::new(at, 4 * fine, CURVE.filled())))?;
    chart.draw_series(
        of(Judgement::Unsure).into_iter().map(|at| Circle::new(at, 5 * fine, INK.stroke_width(2 * fine))),
    )?;
    chart
        .draw_series(of(Judgement::Off).into_iter().map(|at| Cross::new(at, 6 * fine, LIMIT.stroke_width(3 * fine))))?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::super::sample;
    use super::super::Chart;
    use super::*;

    fn svg(finding: &Finding) -> String {
        super::super::svg(finding, Chart::Offset).unwrap().unwrap()
    }

    #[test]
    fn the_chart_shows_tolerance_and_states() {
        let finding = sample::down().finding();
        let text = svg(&finding);
        assert!(text.starts_with("<svg") && text.trim_end().ends_with("</svg>"));
        assert!(text.contains("from the top") && text.contains("offset, mm"));
        // Two dashed lines of tolerance, and one cross of two strokes.
        assert!(text.matches("#A52F08").count() > 4);
        let matched = finding.verdict.lines.iter().filter(|s| **s == Judgement::Matched).count();
        assert_eq!(text.matches("<circle").count(), matched);
    }

    #[test]
    fn without_a_scale_there_is_no_tolerance_to_draw() {
        let text = svg(&sample::unscaled().finding());
        assert!(text.contains("repeats") && !text.contains("#A52F08") && !text.contains("offset, mm"));
    }

    #[test]
    fn inches_are_drawn_as_inches() {
        let mut finding = sample::down().finding();
        finding.verdict.unit = crate::digits::Unit::Sixteenth;
        let text = svg(&finding);
        // 141 mm of seam are 5.5 in.
        assert!(text.contains("along the seam, in") && text.contains("offset, 1/16 in"));
        let number = |words: &str| text.lines().any(|line| line.trim() == words);
        assert!(number("5.0") && !number("100") && !number("6.0"));
    }

    #[test]
    fn one_reading_and_thousands_can_be_drawn() {
        let mut finding = sample::down().finding();
        let readings = finding.offset.readings.clone();
        finding.offset.readings.truncate(1);
        finding.offset.lines.clear();
        finding.verdict.lines.clear();
        assert!(svg(&finding).contains("</svg>"));
        finding.offset.readings = readings.iter().cycle().take(50_000).copied().collect();
        assert!(svg(&finding).len() < 200_000);
    }
}
