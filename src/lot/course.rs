//! The mean offsets one after the other, as a run chart: do they wander or jump while the lot was sewn?
//!
//! # Source
//! J. Anhøj, A. V. Olesen, Run charts revisited, PLoS ONE 9 (2014) e113825: of n points that are not on the median, more
//! than log₂ n + 3, rounded, in a row on one side of it are a shift (from memory).

use super::line::Line;

/// A run chart.
#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    /// Whether the points stand in the order in which the photographs were taken; else in the order of their names, because
    /// some file does not say when.
    pub by_time: bool,
    /// The points.
    pub points: Vec<Point>,
    /// The median of the mean offsets, millimetres.
    pub median_mm: f64,
    /// The first and the last point of the longest stretch on one side of the median, numbers from 0, and how many points of
    /// it are not on the median; `None` where every point is on it.
    pub longest: Option<Stretch>,
}

/// A photograph's mean offset.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Its number among the lines.
    pub line: usize,
    /// The mean offset, millimetres, signed as in [`crate::conventions`].
    pub mean_mm: f64,
    /// Its expanded uncertainty.
    pub expanded_uncertainty_mm: f64,
    /// The tolerance of its place.
    pub tolerance_mm: f64,
}

/// Points one after the other on one side of the median.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// Number of the first point, from 0.
    pub first: usize,
    /// Number of the last.
    pub last: usize,
    /// How many of them are not on the median.
    pub points: usize,
    /// Whether they lie above the median.
    pub above: bool,
}

impl Course {
    /// The longest stretch where it is longer than chance makes one.
    pub fn shift(&self) -> Option<Stretch> {
        self.longest.filter(|stretch| stretch.points > self.most_by_chance())
    }

    /// So many points in a row on one side of the median are chance.
    pub fn most_by_chance(&self) -> usize {
        most_by_chance(self.points.iter().filter(|point| point.mean_mm != self.median_mm).count())
    }
}

/// The same of so many points that are not on the median.
fn most_by_chance(aside: usize) -> usize {
    ((aside.max(1) as f64).log2() + 3.0).round() as usize
}

/// The course of these lines; `None` where fewer than two have a mean offset in millimetres.
pub fn of(lines: &[Line]) -> Option<Course> {
    let mut points: Vec<Point> = (lines.iter().enumerate())
        .filter_map(|(line, l)| {
            let measured = l.record.measured.as_ref()?;
            let lengths = measured.lengths?;
            Some(Point {
                line,
                mean_mm: lengths.mean_mm,
                expanded_uncertainty_mm: lengths.mean_expanded_uncertainty_mm,
                tolerance_mm: measured.tolerance_mm,
            })
        })
        .collect();
    if points.len() < 2 {
        return None;
    }
    let by_time = points.iter().all(|point| lines[point.line].taken.is_some());
    if by_time {
        // Of the same second, the names decide: the sort is stable.
        points.sort_by(|a, b| lines[a.line].taken.cmp(&lines[b.line].taken));
    }
    let mut sorted: Vec<f64> = points.iter().map(|point| point.mean_mm).collect();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    let median_mm = if sorted.len() % 2 == 1 { sorted[middle] } else { 0.5 * (sorted[middle - 1] + sorted[middle]) };
    let longest = longest(&points, median_mm);
    Some(Course { by_time, points, median_mm, longest })
}

fn longest(points: &[Point], median_mm: f64) -> Option<Stretch> {
    let mut longest: Option<Stretch> = None;
    let mut now: Option<Stretch> = None;
    for (k, point) in points.iter().enumerate().filter(|(_, point)| point.mean_mm != median_mm) {
        let above = point.mean_mm > median_mm;
        let stretch = match now {
            Some(stretch) if stretch.above == above => Stretch { last: k, points: stretch.points + 1, ..stretch },
            _ => Stretch { first: k, last: k, points: 1, above },
        };
        now = Some(stretch);
        if longest.is_none_or(|longest| stretch.points > longest.points) {
            longest = now;
        }
    }
    longest
}

#[cfg(test)]
mod tests {
    use super::super::line::tests::measured;
    use super::*;
    use crate::verdict::{Judgement, Place};

    fn lines(means: &[f64]) -> Vec<Line> {
        let line = |(k, mean): (usize, &f64)| measured(&format!("{k}.jpg"), "", Place::Zip, *mean, Judgement::Matched);
        means.iter().enumerate().map(line).collect()
    }

    #[test]
    fn a_shift_is_longer_than_chance_makes_one() {
        let course = of(&lines(&[0.1, -0.2, 0.1, -0.1, -0.3, 0.0, -0.4, -0.1, -0.2, 0.3, 0.2, 0.1, 0.4])).unwrap();
        assert_eq!((course.median_mm, course.by_time, course.points.len()), (0.0, false, 13));
        assert_eq!(course.longest, Some(Stretch { first: 3, last: 8, points: 5, above: false }));
        assert_eq!(course.shift(), None);
        // log₂ 16 + 3 = 7: eight in a row are a shift.
        let shifted: Vec<f64> = (0..16).map(|k| if k < 8 { 0.0 } else { 1.0 }).collect();
        let shifted = of(&lines(&shifted)).unwrap();
        assert_eq!((shifted.median_mm, shifted.most_by_chance()), (0.5, 7));
        assert_eq!(shifted.shift(), Some(Stretch { first: 0, last: 7, points: 8, above: false }));
        assert_eq!(of(&lines(&[0.5, 0.5])).unwrap().longest, None);
        assert_eq!(of(&lines(&[0.5])), None);
    }

    #[test]
    fn the_limit_grows_with_the_logarithm() {
        // Worked out by hand from the source's formula.
        for (aside, most) in [(0, 3), (10, 6), (11, 6), (16, 7), (22, 7), (23, 8), (45, 8), (46, 9), (100, 10)] {
            assert_eq!(most_by_chance(aside), most, "{aside}");
        }
    }

    #[test]
    fn the_cameras_clock_gives_the_order_where_every_file_has_it() {
        let mut lines = lines(&[1.0, 2.0, 3.0]);
        for (line, taken) in lines.iter_mut().zip(["2026-03-02T10:00:00", "2026-03-01T10:00:00", "2026-03-01T10:00:00"])
        {
            line.taken = Some(taken.into());
        }
        let means = |lines: &[Line]| of(lines).unwrap().points.iter().map(|p| p.mean_mm).collect::<Vec<_>>();
        assert_eq!(means(&lines), [2.0, 3.0, 1.0]);
        lines[1].taken = None;
        assert_eq!(means(&lines), [1.0, 2.0, 3.0]);
    }
}
