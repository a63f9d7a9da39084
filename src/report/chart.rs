//! The offset along the seam as a curve: readings with their uncertainty band, the lines one by one, the tolerance.
//!
//! States differ in shape, not only in colour: a matched line is a dot, one that is off a cross, an unsure one a ring.

use super::look::{self, Colour};
use super::phrase;
use crate::finding::Finding;
use crate::problem::Problem;
use crate::verdict::Judgement;
use plotters::chart::MeshStyle;
use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use std::sync::LazyLock;

/// Width and height of the chart's own frame, in units of the SVG.
pub const SIZE: [u32; 2] = [760, 340];

/// Words and axes.
pub(super) const INK: RGBColor = ink(look::INK);
/// Lines of the grid.
const GRID: RGBColor = ink(look::RULE);
/// The readings and their band.
pub(super) const CURVE: RGBColor = ink(look::MATCHED);
/// The tolerance, and what is off.
pub(super) const LIMIT: RGBColor = ink(look::OFF);

const fn ink([r, g, b]: Colour) -> RGBColor {
    RGBColor(r, g, b)
}

/// Points beyond which the readings are thinned: more do not show.
const MOST_READINGS: usize = 800;

/// Whether the charts' lettering can be had.
pub(super) static FONT: LazyLock<bool> =
    LazyLock::new(|| plotters::style::register_font("sans-serif", FontStyle::Normal, dejavu::sans::regular()).is_ok());

/// The chart as one `<svg>` element; `None` where there is no reading to draw.
///
/// # Errors
/// [`Problem::Io`] where the drawing itself fails.
pub fn offset_svg(finding: &Finding) -> Result<Option<String>, Problem> {
    let failed = |what: &dyn std::fmt::Display| {
        Problem::io(
            format!("the chart could not be drawn: {what}"),
            "the numbers are sound: run again without --report",
        )
    };
    if finding.offset.readings.is_empty() {
        return Ok(None);
    }
    if !*FONT {
        return Err(failed(&"its font cannot be read"));
    }
    let mut svg = String::new();
    let area = SVGBackend::with_string(&mut svg, (SIZE[0], SIZE[1])).into_drawing_area();
    draw(&area, finding).map_err(|error| failed(&error))?;
    drop(area);
    Ok(Some(svg))
}

type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
type Plane = Cartesian2d<RangedCoordf64, RangedCoordf64>;

fn draw(area: &Area<'_>, finding: &Finding) -> Result<(), Box<dyn std::error::Error>> {
    let unit = finding.unit();
    let offset = &finding.offset;
    let step = offset.readings.len().div_ceil(MOST_READINGS);
    let readings: Vec<_> = offset.readings.iter().step_by(step).chain(offset.readings.last()).collect();
    let tolerance = finding.plane.is_metric().then_some(finding.verdict.tolerance_mm);

    let ends = readings.iter().map(|r| r.along_mm).chain(offset.lines.iter().map(|l| l.along_mm));
    let (left, right) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, r), v| (l.min(v), r.max(v)));
    let heights = readings
        .iter()
        .map(|r| r.offset_mm.abs() + r.expanded_uncertainty_mm)
        .chain(offset.lines.iter().map(|l| l.offset_mm.abs() + l.expanded_uncertainty_mm))
        .chain(tolerance);
    let top = heights.fold(0.0, f64::max) * 1.15;
    if ![left, right, top].iter().all(|v| v.is_finite()) {
        return Err("a reading is not a finite number".into());
    }
    let right = if right > left { right } else { left + 1.0 };
    let top = if top > 0.0 { top } else { 1.0 };

    let mut chart = ChartBuilder::on(area)
        .margin(10)
        .x_label_area_size(44)
        .y_label_area_size(66)
        .build_cartesian_2d(left..right, -top..top)?;
    axes(&mut chart)
        .x_desc(format!("along the seam, {} {}", unit.column(), phrase::start(finding.seam.runs)))
        .y_desc(format!("offset, {}", unit.column()))
        .x_label_formatter(&|v| minus(&format!("{v:.0}")))
        .y_label_formatter(&|v| minus(&format!("{v:.*}", if top < 0.5 { 2 } else { 1 })))
        .draw()?;

    let upper = readings.iter().map(|r| (r.along_mm, r.offset_mm + r.expanded_uncertainty_mm));
    let lower = readings.iter().rev().map(|r| (r.along_mm, r.offset_mm - r.expanded_uncertainty_mm));
    chart.draw_series([Polygon::new(upper.chain(lower).collect::<Vec<_>>(), CURVE.mix(0.22))])?;
    chart.draw_series([PathElement::new([(left, 0.0), (right, 0.0)], INK.stroke_width(1))])?;
    for limit in tolerance.iter().flat_map(|t| [*t, -*t]) {
        chart.draw_series(DashedLineSeries::new([(left, limit), (right, limit)], 9, 6, LIMIT.stroke_width(2)))?;
    }
    chart.draw_series(LineSeries::new(readings.iter().map(|r| (r.along_mm, r.offset_mm)), CURVE.stroke_width(2)))?;

    let states = offset.lines.iter().zip(&finding.verdict.lines);
    let of = |state: Judgement| {
        states.clone().filter(move |(_, s)| **s == state).map(|(l, _)| (l.along_mm, l.offset_mm)).collect::<Vec<_>>()
    };
    chart.draw_series(of(Judgement::Matched).into_iter().map(|at| Circle::new(at, 4, CURVE.filled())))?;
    chart.draw_series(of(Judgement::Unsure).into_iter().map(|at| Circle::new(at, 5, INK.stroke_width(2))))?;
    chart.draw_series(of(Judgement::Off).into_iter().map(|at| Cross::new(at, 6, LIMIT.stroke_width(3))))?;
    area.present()?;
    Ok(())
}

/// The lettering of every chart.
pub(super) fn words() -> TextStyle<'static> {
    ("sans-serif", 14).into_font().color(&INK)
}

/// The axes of a chart as all charts have them: to be named, numbered and drawn.
pub(super) fn axes<'a, 'b, 'c>(
    chart: &'b mut ChartContext<'a, SVGBackend<'c>, Plane>,
) -> MeshStyle<'a, 'b, RangedCoordf64, RangedCoordf64, SVGBackend<'c>> {
    let mut mesh = chart.configure_mesh();
    mesh.disable_x_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(GRID)
        .axis_style(INK)
        .label_style(words())
        .axis_desc_style(words());
    mesh
}

/// A plain hyphen as the minus that the other faces use.
pub(super) fn minus(number: &str) -> String {
    let zero = number.trim_start_matches('-').chars().all(|c| c == '0' || c == '.');
    if zero { number.trim_start_matches('-').to_owned() } else { number.replace('-', "−") }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    fn svg(finding: &Finding) -> String {
        offset_svg(finding).unwrap().unwrap()
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
    fn nothing_to_draw_is_no_chart_and_no_number_is_a_problem() {
        let mut finding = sample::down().finding();
        finding.offset.readings[3].offset_mm = f64::INFINITY;
        assert!(offset_svg(&finding).is_err());
        finding.offset.readings.clear();
        assert!(offset_svg(&finding).unwrap().is_none());
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
