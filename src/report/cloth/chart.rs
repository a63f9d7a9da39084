//! One repeat of the lines, and the same read backwards about its best mirror.

use super::phrase::{self, Met};
use crate::cloth::FlatCloth;
use crate::cloth::family::Family;
use crate::digits::{Unit, plain};
use crate::problem::Problem;
use crate::report::chart::{self, Area, CURVE, Drawn, INK, axes, minus, words};
use plotters::prelude::*;

/// Width and height, units of the SVG.
const SIZE: [u32; 2] = [760, 340];
/// Height of the bar of bands, as a share of the curve's.
const BAR: f64 = 0.12;
/// A band narrower than this share of the repeat carries no number.
const NUMBERED: f64 = 0.025;
/// Points of a curve at most.
const POINTS: usize = 800;
const CHANNELS: [&str; 3] = ["red", "green", "blue"];

/// How to read it.
pub fn reading(family: &Family) -> String {
    format!(
        "Solid: the light of one repeat over the cloth's mean, in {} light, where the lines show most. Dashed: the same read \
         backwards; where the two agree everywhere, the sequence is balanced. Below: the bands with their numbers.",
        CHANNELS[plainest(family)]
    )
}

/// The chart of one family as an `<svg>` element; `None` without a repeat.
///
/// # Errors
/// [`Problem::Io`] where the drawing itself fails.
pub fn svg(cloth: &FlatCloth, met: Met, family: &Family) -> Result<Option<String>, Problem> {
    match &family.fold {
        Some(_) => chart::drawn(SIZE, |area| draw(area, cloth, met, family)).map(Some),
        None => Ok(None),
    }
}

/// The channel in which the lines show most.
fn plainest(family: &Family) -> usize {
    let Some(fold) = &family.fold else { return 0 };
    let span = |c: usize| {
        let (low, high) = fold.mean.iter().fold((f64::MAX, f64::MIN), |(l, h), m| (l.min(m[c]), h.max(m[c])));
        high / low
    };
    (0..3).max_by(|&a, &b| span(a).total_cmp(&span(b))).unwrap_or(0)
}

fn draw(area: &Area<SVGBackend<'_>>, cloth: &FlatCloth, met: Met, family: &Family) -> Drawn {
    let (Some(fold), Some((repeat_mm, _))) = (&family.fold, family.repeat_mm) else { return Ok(()) };
    let channel = plainest(family);
    let unit_mm = match cloth.unit {
        Unit::Repeat => repeat_mm,
        unit => unit.per_place(),
    };
    let right = repeat_mm / unit_mm;
    let n = fold.places();
    let points = |values: &[[f64; 3]]| -> Vec<(f64, f64)> {
        let places = values.iter().enumerate().step_by(n.div_ceil(POINTS));
        places.map(|(k, v)| (k as f64 / n as f64 * right, v[channel])).collect()
    };
    let (there, back) = (points(&fold.mean), points(&family.backwards()));
    let top = there.iter().map(|p| p.1).fold(0.0, f64::max) * 1.08;
    if !(top.is_finite() && right.is_finite() && right > 0.0) {
        return Err("a profile is not a finite number".into());
    }
    let mut chart = ChartBuilder::on(area)
        .margin(10)
        .x_label_area_size(44)
        .y_label_area_size(66)
        .build_cartesian_2d(0.0..right, -2.0 * BAR * top..top)?;
    axes(&mut chart, 1)
        .y_labels(7)
        .x_desc(format!("one repeat {}, {}", met.way(), cloth.unit.places()))
        .y_desc("light over the mean")
        .x_label_formatter(&|v| plain(*v, if right < 3.0 { 2 } else { 1 }))
        .y_label_formatter(&|v| if *v < -1e-9 { String::new() } else { minus(&format!("{v:.1}")) })
        .draw()?;
    for band in &family.bands {
        let [from, to] = [band.from_mm, band.from_mm + band.width_mm].map(|mm| (mm / unit_mm).clamp(0.0, right));
        let [r, g, b] = band.colour;
        let frame = [(from, -1.05 * BAR * top), (to, -0.15 * BAR * top)];
        chart.draw_series([Rectangle::new(frame, RGBColor(r, g, b).filled())])?;
        chart.draw_series([Rectangle::new(frame, INK.stroke_width(1))])?;
        if to - from >= NUMBERED * right {
            let place = (0.5 * (from + to), -1.25 * BAR * top);
            let centred = words(1).pos(plotters::style::text_anchor::Pos::new(
                plotters::style::text_anchor::HPos::Center,
                plotters::style::text_anchor::VPos::Top,
            ));
            chart.draw_series([Text::new(band.number.to_string(), place, centred)])?;
        }
    }
    chart.draw_series(DashedLineSeries::new(back, 7, 5, INK.stroke_width(2)))?;
    chart.draw_series(LineSeries::new(there, CURVE.stroke_width(2)))?;
    Ok(())
}

/// What the chart shows, in a few words.
pub fn title(met: Met) -> String {
    format!("One repeat {}", phrase::Met::way(met))
}
