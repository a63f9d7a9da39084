//! Every seam's photographs, less the seam's own mean: how far do they scatter, and does it matter who took them?

use super::phrase;
use crate::problem::Problem;
use crate::repeatability::{Part, Study};
use crate::report::chart::{self, Area, CURVE, Drawn, INK, LIMIT, axes, minus};
use plotters::prelude::*;
use std::collections::BTreeMap;

/// Width and height, units of the SVG.
const SIZE: [u32; 2] = [760, 380];
/// People who have a mark of their own.
const MARKS: usize = 4;
/// The least height that is drawn, millimetres: nothing may differ.
const LEAST_MM: f64 = 0.001;
/// A seam's name on the axis, characters.
const NAME: usize = 16;

/// How to read it.
pub fn reading(study: &Study) -> String {
    let marks = ["a dot", "a ring", "a triangle", "a cross"];
    let people = study
        .people
        .iter()
        .take(MARKS)
        .zip(marks)
        .filter_map(|(person, mark)| person.as_ref().map(|name| format!("{mark} is {name}")));
    let people: Vec<String> = people.collect();
    let who = if people.len() > 1 {
        format!(" {}.", crate::report::phrase::sentence(&people.join(", ")).trim_end_matches('.'))
    } else {
        String::new()
    };
    format!(
        "Each mark is a photograph: its mean jump less the mean of its seam.{who} Dashed: a tenth of the tolerance."
    )
}

/// The chart as an `<svg>` element.
///
/// # Errors
/// [`Problem::Io`] where the drawing itself fails.
pub fn svg(study: &Study) -> Result<String, Problem> {
    chart::drawn(SIZE, |area| scatter(area, study))
}

fn scatter(area: &Area<SVGBackend<'_>>, study: &Study) -> Drawn {
    let mut seams: BTreeMap<&Part, Vec<(usize, f64)>> = BTreeMap::new();
    for r in &study.readings {
        let person = study.people.iter().position(|p| *p == r.by).unwrap_or(MARKS);
        seams.entry(&r.part).or_default().push((person, r.mean_mm));
    }
    let tenth = study.tolerance_mm / 10.0;
    let mut points: Vec<(usize, (f64, f64))> = Vec::new();
    for (k, marks) in seams.values().enumerate() {
        let mean = marks.iter().map(|(_, x)| x).sum::<f64>() / marks.len() as f64;
        for (j, (person, x)) in marks.iter().enumerate() {
            let aside = 0.5 * ((j as f64 + 0.5) / marks.len() as f64 - 0.5);
            points.push((*person, (k as f64 + aside, x - mean)));
        }
    }
    let top = points.iter().map(|(_, (_, y))| y.abs()).fold(tenth.max(LEAST_MM), f64::max) * 1.2;
    if !(top.is_finite() && top > 0.0) {
        return Err("a mean jump is not a finite number".into());
    }
    let right = seams.len() as f64 - 0.5;
    // What all seams share tells none apart.
    let one_place = seams.keys().all(|part| Some(part.place) == seams.keys().next().map(|first| first.place));
    let name = |part: &Part| match &part.piece {
        Some(piece) if one_place => piece.clone(),
        _ => phrase::seam(part),
    };
    let names: Vec<String> = seams.keys().map(|part| name(part).chars().take(NAME).collect()).collect();
    let mut chart = ChartBuilder::on(area)
        .margin(10)
        .x_label_area_size(44)
        .y_label_area_size(72)
        .build_cartesian_2d(-0.5..right, -top..top)?;
    let few = names.len() <= 6;
    axes(&mut chart, 1)
        .x_labels(if few { names.len().max(2) } else { 10 })
        .x_desc("seam")
        .y_desc("less the seam's mean, mm")
        .x_label_formatter(&|v| {
            let seam = (v.fract() == 0.0 && *v >= 0.0).then(|| names.get(*v as usize)).flatten();
            seam.map_or(String::new(), |name| if few { name.clone() } else { format!("{}", *v as usize + 1) })
        })
        .y_label_formatter(&|v| minus(&format!("{v:.*}", if top < 0.1 { 3 } else { 2 })))
        .draw()?;
    chart.draw_series([PathElement::new([(-0.5, 0.0), (right, 0.0)], INK.stroke_width(1))])?;
    for limit in [tenth, -tenth] {
        chart.draw_series(DashedLineSeries::new([(-0.5, limit), (right, limit)], 9, 6, LIMIT.stroke_width(2)))?;
    }
    for (person, at) in points {
        match person {
            0 => drop(chart.draw_series([Circle::new(at, 4, CURVE.filled())])?),
            1 => drop(chart.draw_series([Circle::new(at, 5, INK.stroke_width(2))])?),
            2 => drop(chart.draw_series([TriangleMarker::new(at, 6, CURVE.filled())])?),
            3 => drop(chart.draw_series([Cross::new(at, 5, INK.stroke_width(2))])?),
            _ => drop(chart.draw_series([Circle::new(at, 2, INK.filled())])?),
        }
    }
    Ok(())
}
