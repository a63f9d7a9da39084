//! Two charts: every seam's error beside its uncertainty, and the figures over the distance (or whatever was varied).

use crate::digits::plain;
use crate::problem::Problem;
use crate::report::chart::{self, CURVE, Drawn, INK, LIMIT, axes, drawn, minus, words};
use crate::trial::figures::Figures;
use crate::trial::{Trial, sweep};
use plotters::prelude::*;

/// Width of a chart, and height of one panel of it, in units of the SVG.
const WIDTH: u32 = 760;
const PANEL: u32 = 250;
/// Height of the chart of figures.
const HEIGHT: u32 = 420;
/// The second and third curve.
const SECOND: RGBColor = RGBColor(150, 84, 20);
const THIRD: RGBColor = RGBColor(64, 124, 70);

type Area<'a> = chart::Area<SVGBackend<'a>>;

/// Error of the mean against the true offset, each with its expanded uncertainty as a bar, one panel a distance. A dot is
/// an error inside its uncertainty, a cross one outside.
///
/// # Errors
/// [`Problem::Io`] where the drawing itself fails.
pub fn errors_svg(trial: &Trial) -> Result<String, Problem> {
    let panels = trial.distances.len() as u32;
    drawn([WIDTH, PANEL * panels + 30], |area| {
        let panels = area.margin(0, 30, 0, 0).split_evenly((panels as usize, 1));
        for (panel, distance) in panels.iter().zip(&trial.distances) {
            let points: Vec<(f64, f64, f64)> = (distance.outcomes.iter())
                .filter_map(|o| o.measured().map(|m| (o.true_mean_mm, m.error_mm, m.expanded_uncertainty_mm)))
                .collect();
            let title = format!(
                "{} mm to a pixel: {} of {} measured",
                plain(distance.mm_per_px, 3),
                distance.figures.measured,
                distance.figures.taken
            );
            error_panel(panel, &title, &points, trial.most_offset_mm + trial.request.conditions.wander_mm)?;
        }
        let note = "bars: expanded uncertainty (k = 2); a dot: the error is inside it; a cross: outside";
        area.draw(&Text::new(note, (70, (PANEL * trial.distances.len() as u32 + 6) as i32), words(1)))?;
        Ok(())
    })
}

/// The figures over what was varied: `over` gives its value and the figures there, in rising order, `name` names it with
/// its unit. Where a tolerance is given, the line of the rule of [`sweep`] is drawn.
///
/// # Errors
/// [`Problem::Io`] where the drawing itself fails.
pub fn figures_svg(name: &str, over: &[(f64, &Figures)], tolerance_mm: Option<f64>) -> Result<String, Problem> {
    drawn([WIDTH, HEIGHT], |area| figures_chart(area, name, over, tolerance_mm))
}

fn error_panel(panel: &Area<'_>, title: &str, points: &[(f64, f64, f64)], most_mm: f64) -> Drawn {
    let top = points.iter().map(|p| p.1.abs() + p.2).fold(0.02, f64::max) * 1.1;
    let side = most_mm.max(0.05) * 1.05;
    let mut chart = ChartBuilder::on(panel)
        .margin(8)
        .caption(title, words(1))
        .x_label_area_size(42)
        .y_label_area_size(66)
        .build_cartesian_2d(-side..side, -top..top)?;
    axes(&mut chart, 1)
        .y_labels(6)
        .x_desc("true mean offset, mm")
        .y_desc("error, mm")
        .x_label_formatter(&|v| minus(&format!("{v:.1}")))
        .y_label_formatter(&|v| minus(&format!("{v:.*}", decimals(top))))
        .draw()?;
    chart.draw_series([PathElement::new([(-side, 0.0), (side, 0.0)], INK.stroke_width(1))])?;
    for &(x, error, expanded) in points {
        let inside = error.abs() <= expanded;
        let colour = if inside { CURVE } else { LIMIT };
        chart.draw_series([PathElement::new([(x, error - expanded), (x, error + expanded)], colour.mix(0.5))])?;
        if inside {
            chart.draw_series([Circle::new((x, error), 3, colour.filled())])?;
        } else {
            chart.draw_series([Cross::new((x, error), 5, colour.stroke_width(2))])?;
        }
    }
    Ok(())
}

fn figures_chart(area: &Area<'_>, name: &str, over: &[(f64, &Figures)], tolerance_mm: Option<f64>) -> Drawn {
    type Figure = fn(&Figures) -> Option<f64>;
    let curves: [(&str, RGBColor, Figure); 4] = [
        ("error of the mean, nine in ten", CURVE, |f| f.mean.map(|e| e.ninetieth_mm)),
        ("error of the readings, nine in ten", THIRD, |f| f.readings.map(|e| e.ninetieth_mm)),
        ("smallest jump told from none", SECOND, |f| f.smallest_told_mm),
        ("room needed to be called matched", INK, |f| f.room_mm),
    ];
    let room_mm = tolerance_mm.map(|tolerance_mm| (1.0 - sweep::MATCHED_SHARE) * tolerance_mm);
    let (first, last) = (over.first().map_or(0.0, |o| o.0), over.last().map_or(1.0, |o| o.0));
    let rim = if last > first { 0.04 * (last - first) } else { 0.5 * first.abs().max(0.1) };
    let values = over.iter().flat_map(|(_, figures)| curves.iter().filter_map(|(_, _, value)| value(figures)));
    let highest = values.fold(0.02, f64::max);
    // The rule's line is drawn where it does not press everything else to the floor.
    let room_mm = room_mm.filter(|room| *room < 8.0 * highest);
    let top = highest.max(room_mm.unwrap_or(0.0)) * 1.45;
    let mut chart = ChartBuilder::on(area)
        .margin(10)
        .x_label_area_size(44)
        .y_label_area_size(66)
        .build_cartesian_2d(first - rim..last + rim, 0.0..top)?;
    axes(&mut chart, 1)
        .x_desc(name)
        .y_desc("mm")
        .x_label_formatter(&|v| minus(&plain(*v, 3)))
        .y_label_formatter(&|v| format!("{v:.*}", decimals(top)))
        .draw()?;
    if let Some(room_mm) = room_mm {
        let line = [(first - rim, room_mm), (last + rim, room_mm)];
        chart
            .draw_series(DashedLineSeries::new(line, 9, 6, LIMIT.stroke_width(2)))?
            .label("half the tolerance")
            .legend(|(x, y)| PathElement::new([(x, y), (x + 10, y)], LIMIT.stroke_width(2)));
    }
    for (k, (label, colour, value)) in curves.into_iter().enumerate() {
        let points: Vec<(f64, f64)> =
            over.iter().filter_map(|(x, figures)| value(figures).map(|value| (*x, value))).collect();
        chart
            .draw_series(LineSeries::new(points.clone(), colour.stroke_width(2)))?
            .label(label)
            .legend(move |(x, y)| PathElement::new([(x, y), (x + 22, y)], colour.stroke_width(2)));
        // Curves differ in the shape of their points, not only in colour.
        for at in points {
            match k {
                0 => drop(chart.draw_series([Circle::new(at, 4, colour.filled())])?),
                1 => drop(chart.draw_series([Circle::new(at, 5, colour.stroke_width(2))])?),
                2 => drop(chart.draw_series([TriangleMarker::new(at, 6, colour.filled())])?),
                _ => drop(chart.draw_series([Cross::new(at, 5, colour.stroke_width(2))])?),
            }
        }
    }
    chart
        .configure_series_labels()
        .position(SeriesLabelPosition::UpperLeft)
        .background_style(WHITE.mix(0.85))
        .label_font(words(1))
        .draw()?;
    Ok(())
}

/// Decimals of an axis that ends here.
fn decimals(top: f64) -> usize {
    if top < 0.1 {
        3
    } else if top < 1.0 {
        2
    } else {
        1
    }
}
