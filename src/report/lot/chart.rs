//! Two charts: the mean jumps one after the other, and which places bring most of what is off.

use super::phrase;
use crate::digits::{Unit, plain};
use crate::lot::course::{Course, Point};
use crate::lot::places::PlaceCounts;
use crate::lot::{Line, Lot};
use crate::problem::Problem;
use crate::record::Standing;
use crate::report::chart::{self, CURVE, Drawn, INK, LIMIT, axes, drawn, minus, words};
use plotters::prelude::*;

/// Width of a chart, and height of the run chart, in units of the SVG.
const WIDTH: u32 = 760;
const HEIGHT: u32 = 360;
/// Height of a place's bar with the room around it, and where the bars begin and end.
const ROW: i32 = 34;
const BARS: [i32; 2] = [130, 560];
/// More points than this do not show beside one another.
const MOST_POINTS: usize = 400;

type Area<'a> = chart::Area<SVGBackend<'a>>;

/// How to read the run chart.
pub fn course_reading(course: &Course) -> String {
    let every = course.points.len().div_ceil(MOST_POINTS);
    let thinned = match every {
        1 => String::new(),
        n => format!(" Of every {n} one after the other the one furthest from zero is drawn."),
    };
    format!(
        "Each photograph's mean jump with its expanded uncertainty: a dot is matched, a cross off, a ring unsure. Dashed: \
         the tolerance of its place. Grey: the median.{thinned}"
    )
}

/// The run chart; `None` where there is no course.
///
/// # Errors
/// [`Problem::Io`] where the drawing itself fails.
pub fn course_svg(lot: &Lot, unit: Unit) -> Result<Option<String>, Problem> {
    lot.course.as_ref().map(|course| drawn([WIDTH, HEIGHT], |area| run(area, course, &lot.lines, unit))).transpose()
}

/// The photographs that are off by place, the worst place first; `None` where none is off.
///
/// # Errors
/// As [`course_svg`].
pub fn places_svg(lot: &Lot) -> Result<Option<String>, Problem> {
    let off = |place: &&PlaceCounts| place.photographs.get(Standing::Off) > 0;
    let places: Vec<&PlaceCounts> = lot.places.iter().filter(off).collect();
    if places.is_empty() {
        return Ok(None);
    }
    drawn([WIDTH, places.len() as u32 * ROW as u32 + 16], |area| bars(area, &places)).map(Some)
}

fn run(area: &Area<'_>, course: &Course, lines: &[Line], unit: Unit) -> Drawn {
    let every = course.points.len().div_ceil(MOST_POINTS);
    let points: Vec<(f64, Point)> = (course.points.chunks(every).enumerate())
        .filter_map(|(k, chunk)| {
            let far = |point: &&Point| point.mean_mm.abs();
            let point = chunk.iter().max_by(|a, b| far(a).total_cmp(&far(b)))?;
            Some(((k * every) as f64 + 1.0, *point))
        })
        .collect();
    let told = |mm: f64| mm * unit.per_mm();
    let reach = |p: &Point| told((p.mean_mm.abs() + p.expanded_uncertainty_mm).max(p.tolerance_mm));
    let top = points.iter().map(|(_, p)| reach(p)).fold(0.05, f64::max) * 1.12;
    if !top.is_finite() {
        return Err("a mean jump is not a finite number".into());
    }
    let step = every as f64;
    let right = points.last().map_or(1.0, |(x, _)| x + step);
    let mut chart = ChartBuilder::on(area)
        .margin(10)
        .x_label_area_size(44)
        .y_label_area_size(66)
        .build_cartesian_2d(1.0 - step..right, -top..top)?;
    axes(&mut chart, 1)
        .x_desc(if course.by_time { "photograph, as they were taken" } else { "photograph, by its name" })
        .y_desc(format!("mean jump, {}", unit.column()))
        .x_label_formatter(&|v| if v.fract() == 0.0 && *v >= 1.0 { plain(*v, 0) } else { String::new() })
        .y_label_formatter(&|v| minus(&format!("{v:.*}", if top < 0.5 { 2 } else { 1 })))
        .draw()?;
    chart.draw_series([PathElement::new([(1.0 - step, 0.0), (right, 0.0)], INK.stroke_width(1))])?;
    let median = told(course.median_mm);
    chart.draw_series([PathElement::new([(1.0 - step, median), (right, median)], INK.mix(0.35).stroke_width(3))])?;
    for side in [1.0, -1.0] {
        for (from, to, limit_mm) in limits(&points, step) {
            let limit = side * told(limit_mm);
            let line = DashedLineSeries::new([(from, limit), (to, limit)], 7, 5, LIMIT.stroke_width(2));
            chart.draw_series(line)?;
        }
    }
    for (x, point) in &points {
        let [mean, expanded] = [point.mean_mm, point.expanded_uncertainty_mm].map(told);
        let standing = lines[point.line].record.standing;
        let colour = match standing {
            Standing::Off => LIMIT,
            Standing::Unsure => INK,
            _ => CURVE,
        };
        chart
            .draw_series([PathElement::new([(*x, mean - expanded), (*x, mean + expanded)], colour.stroke_width(1))])?;
        match standing {
            Standing::Off => drop(chart.draw_series([Cross::new((*x, mean), 4, colour.stroke_width(2))])?),
            Standing::Unsure => drop(chart.draw_series([Circle::new((*x, mean), 4, colour.stroke_width(2))])?),
            _ => drop(chart.draw_series([Circle::new((*x, mean), 3, colour.filled())])?),
        }
    }
    Ok(())
}

/// Stretches of one tolerance, from, to and the tolerance in millimetres.
fn limits(points: &[(f64, Point)], step: f64) -> Vec<(f64, f64, f64)> {
    let mut limits: Vec<(f64, f64, f64)> = Vec::new();
    for (x, point) in points {
        let (from, to) = (x - 0.5 * step, x + 0.5 * step);
        match limits.last_mut() {
            Some((_, end, limit)) if *limit == point.tolerance_mm => *end = to,
            _ => limits.push((from, to, point.tolerance_mm)),
        }
    }
    limits
}

fn bars(area: &Area<'_>, places: &[&PlaceCounts]) -> Drawn {
    let most = places.iter().map(|place| place.photographs.get(Standing::Off)).max().unwrap_or(1).max(1);
    let beside = |x: i32, y: i32, text: String| Text::new(text, (x, y), words(1));
    for (k, place) in places.iter().enumerate() {
        let top = 8 + ROW * k as i32;
        let [off, all] = [place.photographs.get(Standing::Off), place.photographs.total()];
        let end = BARS[0] + ((BARS[1] - BARS[0]) as usize * off / most) as i32;
        area.draw(&Rectangle::new([(BARS[0], top + 3), (end.max(BARS[0] + 2), top + ROW - 9)], LIMIT.filled()))?;
        area.draw(&beside(10, top + 6, phrase::place(place.place).to_owned()))?;
        let so_far = plain(100.0 * place.off_so_far.unwrap_or(0.0), 0);
        area.draw(&beside(end + 10, top + 6, format!("{off} of {all}; so far {so_far} %")))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    #[test]
    fn what_there_is_to_draw_is_drawn() {
        for (kind, made) in sample::every_kind() {
            let course = course_svg(&made, Unit::Millimetre).unwrap();
            assert_eq!(course.is_some(), made.course.is_some(), "{kind}");
            let places = places_svg(&made).unwrap();
            assert_eq!(places.is_some(), made.photographs.get(Standing::Off) > 0, "{kind}");
            for svg in course.iter().chain(&places) {
                assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"), "{kind}");
                assert!(svg.len() < 250_000, "{kind}: {}", svg.len());
            }
        }
        let mut endless = sample::delivery();
        endless.course.as_mut().unwrap().points[0].mean_mm = f64::INFINITY;
        assert!(course_svg(&endless, Unit::Millimetre).is_err());
    }

    #[test]
    fn every_photograph_of_a_small_lot_is_a_point_and_a_large_one_is_thinned() {
        for (kind, made) in sample::every_kind().into_iter().filter(|(_, made)| made.course.is_some()) {
            let svg = course_svg(&made, Unit::Millimetre).unwrap().unwrap();
            let course = made.course.as_ref().unwrap();
            let rings = course.points.iter().filter(|p| made.lines[p.line].record.standing != Standing::Off).count();
            let drawn = svg.matches("<circle").count();
            if course.points.len() <= MOST_POINTS {
                assert_eq!(drawn, rings, "{kind}");
                assert!(!course_reading(course).contains("Of every"), "{kind}");
            } else {
                assert!(drawn <= MOST_POINTS && course_reading(course).contains("Of every 8"), "{kind}: {drawn}");
            }
        }
    }

    #[test]
    fn the_tolerance_follows_the_places() {
        let point = |tolerance_mm: f64| Point { line: 0, mean_mm: 0.0, expanded_uncertainty_mm: 0.1, tolerance_mm };
        let points: Vec<(f64, Point)> =
            [1.5, 1.5, 3.0, 1.5].iter().enumerate().map(|(k, &t)| (k as f64 + 1.0, point(t))).collect();
        assert_eq!(limits(&points, 1.0), [(0.5, 2.5, 1.5), (2.5, 3.5, 3.0), (3.5, 4.5, 1.5)]);
    }
}
