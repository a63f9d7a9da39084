//! Where the measurement's scatter comes from, a bar each, against what the tolerance allows.

use super::phrase::{self, Source};
use crate::digits::plain;
use crate::problem::Problem;
use crate::repeatability::anova::{Components, LEVEL};
use crate::repeatability::{GOOD_PERCENT, POOR_PERCENT, Study};
use crate::report::chart::{self, Area, CURVE, Drawn, INK, LIMIT, axes, words};
use plotters::prelude::*;

/// Width, height of what stands around the bars, and of a bar, units of the SVG.
const WIDTH: u32 = 760;
const AROUND: u32 = 90;
const BAR: u32 = 58;
/// Half a bar, and half the cap of an interval's end, in bars.
const HALF: f64 = 0.26;
const CAP: f64 = 0.1;
/// The least length of the axis, millimetres: nothing may differ.
const LEAST_MM: f64 = 0.001;
/// How far beyond the last limit, and beyond the longest bar, the axis goes.
const BEYOND: f64 = 1.2;

/// How to read it.
pub fn reading(study: &Study) -> String {
    let limit = |percent: f64| {
        format!("{} % of the tolerance ({})", plain(percent, 0), phrase::mm(study.deviation_at_mm(percent)))
    };
    format!(
        "Bars: standard deviations. Lines on them: where the truth lies, at {} %; one without an end goes on beyond the chart. \
         Dashed: {}, up to which a measurement is good, and {}, beyond which it is not good enough.",
        plain(100.0 * LEVEL, 0),
        limit(GOOD_PERCENT),
        limit(POOR_PERCENT)
    )
}

/// The chart as an `<svg>` element.
///
/// # Errors
/// [`Problem::Io`] where the drawing itself fails.
pub fn svg(study: &Study, components: &Components) -> Result<String, Problem> {
    let sources = phrase::sources(components);
    chart::drawn([WIDTH, AROUND + BAR * sources.len() as u32], |area| bars(area, study, &sources))
}

fn bars(area: &Area<SVGBackend<'_>>, study: &Study, sources: &[Source]) -> Drawn {
    let limits = [GOOD_PERCENT, POOR_PERCENT].map(|percent| study.deviation_at_mm(percent));
    let right = sources.iter().map(|source| source.1).fold(limits[1].max(LEAST_MM), f64::max) * BEYOND;
    if !(right.is_finite() && right > 0.0) {
        return Err("a standard deviation is not a finite number".into());
    }
    let bottom = sources.len() as f64 - 0.5;
    let mut chart = ChartBuilder::on(area)
        .margin(10)
        .margin_top(26)
        .x_label_area_size(44)
        .y_label_area_size(190)
        .build_cartesian_2d(0.0..right, bottom..-0.5)?;
    let decimals = (1.0 - right.log10().floor()).clamp(1.0, 5.0) as usize;
    axes(&mut chart, 1)
        .disable_y_mesh()
        .y_labels(sources.len().max(2))
        .x_desc("standard deviation, mm")
        .x_label_formatter(&|v| format!("{v:.decimals$}"))
        .y_label_formatter(&|v| {
            let at = (v.fract() == 0.0 && *v >= 0.0).then(|| sources.get(*v as usize)).flatten();
            at.map_or(String::new(), |source| source.0.to_owned())
        })
        .draw()?;
    for (k, (_, value, interval)) in sources.iter().enumerate() {
        let at = k as f64;
        chart.draw_series([Rectangle::new([(0.0, at - HALF), (*value, at + HALF)], CURVE.mix(0.45).filled())])?;
        if let Some([low, high]) = *interval {
            chart.draw_series([PathElement::new([(low, at), (high.min(right), at)], INK.stroke_width(2))])?;
            let ends = [low, high].into_iter().filter(|&end| end < right);
            chart.draw_series(ends.map(|x| PathElement::new([(x, at - CAP), (x, at + CAP)], INK.stroke_width(2))))?;
        }
    }
    for (x, percent) in limits.into_iter().zip([GOOD_PERCENT, POOR_PERCENT]) {
        chart.draw_series(DashedLineSeries::new([(x, -0.5), (x, bottom)], 9, 6, LIMIT.stroke_width(2)))?;
        let (px, _) = chart.backend_coord(&(x, -0.5));
        area.draw(&Text::new(format!("{} %", plain(percent, 0)), (px - 14, 6), words(1)))?;
    }
    Ok(())
}
