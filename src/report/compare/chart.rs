//! One chart: how far every piece's lines jump at every place, beside its tolerance.

use crate::compare::Comparison;
use crate::digits::Unit;
use crate::problem::Problem;
use crate::report::chart::{self, Area, CURVE, Drawn, INK, LIMIT, axes, words};
use plotters::prelude::*;

/// Width, and height, units of the SVG.
const SIZE: [u32; 2] = [760, 400];
/// A name on the axis, characters.
const NAME: usize = 15;
/// The marks of the pieces, in words.
const MARKS: [&str; 6] = ["a dot", "a ring", "a triangle", "a cross", "a square", "a large ring"];

/// How to read it.
pub fn reading(comparison: &Comparison) -> String {
    let marks: Vec<String> =
        (comparison.pieces.iter().zip(MARKS)).map(|(piece, mark)| format!("{mark} is {}", piece.given.name)).collect();
    format!(
        "How far the lines jump in the mean, whichever way, with the expanded uncertainty: {}. The thin stroke above a mark \
         reaches to the worst place. Dashed: the tolerance.",
        marks.join(", ")
    )
}

/// The chart as an `<svg>` element; `None` where nothing was measured.
///
/// # Errors
/// [`Problem::Io`] where the drawing itself fails.
pub fn svg(comparison: &Comparison, unit: Unit) -> Result<Option<String>, Problem> {
    if comparison.pieces.iter().all(|piece| piece.all.is_none()) {
        return Ok(None);
    }
    chart::drawn(SIZE, |area| jumps(area, comparison, unit)).map(Some)
}

fn jumps(area: &Area<SVGBackend<'_>>, comparison: &Comparison, unit: Unit) -> Drawn {
    let told = |mm: f64| mm.abs() * unit.per_mm();
    let count = comparison.pieces.len() as f64;
    let mut marks = Vec::new();
    let mut limits = Vec::new();
    for (k, place) in comparison.places.iter().enumerate() {
        for (j, (piece, seam)) in comparison.pieces.iter().zip(&place.joint.seams).enumerate() {
            let Some(seam) = seam.map(|s| &piece.given.seams[s]) else { continue };
            let (Some(lengths), Some(measured)) = (seam.lengths(), &seam.record.measured) else { continue };
            let x = k as f64 + 0.5 * ((j as f64 + 0.5) / count - 0.5);
            marks.push((
                j,
                x,
                told(lengths.mean_mm),
                told(lengths.mean_expanded_uncertainty_mm),
                told(lengths.worst_mm),
            ));
            limits.push((k as f64, told(measured.tolerance_mm)));
        }
    }
    let top = marks.iter().map(|m| (m.2 + m.3).max(m.4)).chain(limits.iter().map(|l| l.1)).fold(0.1, f64::max) * 1.12;
    if !top.is_finite() {
        return Err("a jump is not a finite number".into());
    }
    let names: Vec<String> =
        comparison.places.iter().map(|place| place.joint.name.chars().take(NAME).collect()).collect();
    let right = names.len() as f64 - 0.5;
    let few = names.len() <= 6;
    let mut chart = ChartBuilder::on(area)
        .margin(10)
        .x_label_area_size(34)
        .y_label_area_size(62)
        .build_cartesian_2d(-0.5..right, 0.0..top)?;
    axes(&mut chart, 1)
        .x_labels(2 * names.len() + 1)
        .y_desc(format!("jump, {}", unit.column()))
        .x_label_formatter(&|v| {
            let place = (v.fract().abs() < 1e-6 && *v >= 0.0).then(|| names.get(*v as usize)).flatten();
            place.map_or(String::new(), |name| if few { name.clone() } else { (*v as usize + 1).to_string() })
        })
        .y_label_formatter(&|v| format!("{v:.*}", usize::from(top < 8.0)))
        .draw()?;
    for (x, limit) in limits {
        let line = [(x - 0.42, limit), (x + 0.42, limit)];
        chart.draw_series(DashedLineSeries::new(line, 7, 5, LIMIT.stroke_width(2)))?;
    }
    for (piece, x, mean, expanded, worst) in marks {
        let at = (x, mean);
        chart.draw_series([PathElement::new([at, (x, worst.max(mean))], INK.mix(0.6).stroke_width(1))])?;
        let bar = [(x, (mean - expanded).max(0.0)), (x, mean + expanded)];
        chart.draw_series([PathElement::new(bar, CURVE.stroke_width(4))])?;
        match piece {
            0 => drop(chart.draw_series([Circle::new(at, 5, CURVE.filled())])?),
            1 => {
                chart.draw_series([Circle::new(at, 6, WHITE.filled())])?;
                chart.draw_series([Circle::new(at, 6, INK.stroke_width(2))])?;
            }
            2 => drop(chart.draw_series([TriangleMarker::new(at, 7, CURVE.filled())])?),
            3 => drop(chart.draw_series([Cross::new(at, 6, INK.stroke_width(2))])?),
            4 => drop(chart.draw_series([EmptyElement::at(at) + Rectangle::new([(-5, -5), (5, 5)], CURVE.filled())])?),
            _ => drop(chart.draw_series([Circle::new(at, 9, INK.stroke_width(2))])?),
        }
    }
    if !few {
        let style = words(1);
        for (k, name) in names.iter().enumerate() {
            area.draw(&Text::new(format!("{} {name}", k + 1), (80, 14 + 16 * k as i32), style.clone()))?;
        }
    }
    Ok(())
}
