//! Which stretch of the seam its lines show: from the first edge of a line that is well told to the last.
//!
//! An offset is told at the edges of lines; beyond the outermost edge it is only carried on. An edge in darkness is no
//! edge: what is noise there is fitted as well as cloth, and the range must not reach out to it.

use super::{LineOffset, Reading};
use crate::smooth::median;

/// An outermost edge counts where the offset's expanded uncertainty is at most so many times its median over all edges: an
/// edge of half the usual one's contrast has twice its uncertainty, which falls with the contrast (Cramér and Rao's bound).
const MOST_TIMES: f64 = 2.0;

/// From the first edge that is well told to the last, u; `None` where no lines are known one by one.
fn range(readings: &[Reading], lines: &[LineOffset]) -> Option<(f64, f64)> {
    let edges = lines.iter().flat_map(|l| [-0.5, 0.5].map(|side| l.along_mm + side * l.width_mm));
    let told: Vec<(f64, f64)> = edges.filter_map(|edge| Some((edge, expanded_at(readings, edge)?))).collect();
    let usual = median(told.iter().map(|(_, u)| *u).collect())?;
    let well = |(_, u): &&(f64, f64)| *u <= MOST_TIMES * usual;
    Some((told.iter().find(well)?.0, told.iter().rfind(well)?.0))
}

/// The readings from the first edge that is well told to the last, at least one; all of them where no lines are known one
/// by one. Lines in the order of u, in the readings' unit.
pub fn readings<'a>(all: &'a [Reading], lines: &[LineOffset]) -> &'a [Reading] {
    let Some((first, last)) = range(all, lines) else { return all };
    let begin = all.partition_point(|r| r.along_mm < first);
    let end = all.partition_point(|r| r.along_mm <= last);
    if begin < end {
        return &all[begin..end];
    }
    // A line narrower than the readings' spacing stands between two of them: the nearer one shows it.
    let apart = |k: usize| (all[k].along_mm - 0.5 * (first + last)).abs();
    let nearest = (0..all.len()).min_by(|&a, &b| apart(a).total_cmp(&apart(b)));
    nearest.map_or(all, |k| &all[k..=k])
}

/// The lines whose middles lie there too.
pub fn lines<'a>(readings: &[Reading], all: &'a [LineOffset]) -> &'a [LineOffset] {
    let Some((first, last)) = range(readings, all) else { return all };
    let begin = all.partition_point(|l| l.along_mm < first);
    &all[begin..all.partition_point(|l| l.along_mm <= last).max(begin)]
}

/// The readings' expanded uncertainty at a place, straight between two of them; `None` without readings.
fn expanded_at(readings: &[Reading], along_mm: f64) -> Option<f64> {
    let after = readings.partition_point(|r| r.along_mm < along_mm).min(readings.len().checked_sub(1)?);
    let (a, b) = (&readings[after.saturating_sub(1)], &readings[after]);
    let wide = b.along_mm - a.along_mm;
    let share = if wide > 0.0 { ((along_mm - a.along_mm) / wide).clamp(0.0, 1.0) } else { 0.0 };
    Some(a.expanded_uncertainty_mm + share * (b.expanded_uncertainty_mm - a.expanded_uncertainty_mm))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::PxPoint;

    fn told(expanded_mm: impl Fn(f64) -> f64) -> Vec<Reading> {
        let at = |along_mm: f64| Reading {
            along_mm,
            at_px: PxPoint::new(0.0, along_mm),
            offset_mm: 0.0,
            expanded_uncertainty_mm: expanded_mm(along_mm),
            chief_source: "",
        };
        (0..=40).map(|k| at(2.5 * f64::from(k))).collect()
    }

    fn standing(places_mm: &[f64], width_mm: f64) -> Vec<LineOffset> {
        let line = |(k, along_mm): (usize, &f64)| LineOffset {
            number: k + 1,
            along_mm: *along_mm,
            width_mm,
            runs_mm: Default::default(),
            colour: [0; 3],
            name: "rust".into(),
            offset_mm: 0.0,
            expanded_uncertainty_mm: 0.3,
        };
        places_mm.iter().enumerate().map(line).collect()
    }

    fn judged(all: &[Reading], lines: &[LineOffset]) -> (f64, f64) {
        let judged = readings(all, lines);
        (judged[0].along_mm, judged[judged.len() - 1].along_mm)
    }

    #[test]
    fn what_is_judged_lies_between_the_outer_edges_of_the_outermost_lines() {
        assert_eq!(judged(&told(|_| 0.3), &standing(&[10.0, 50.0, 90.0], 5.0)), (7.5, 92.5));
        assert_eq!(judged(&told(|_| 0.3), &[]), (0.0, 100.0));
    }

    #[test]
    fn an_edge_in_darkness_is_no_edge() {
        // Between the lines the offset is told less surely too, and they stay in.
        let dark = told(|u| if u > 86.0 || (20.0..40.0).contains(&u) { 1.0 } else { 0.3 });
        // The far edge of the last line stands in it, then a whole line does.
        assert_eq!(judged(&dark, &standing(&[10.0, 45.0, 55.0, 70.0, 85.0], 10.0)), (5.0, 80.0));
        assert_eq!(judged(&dark, &standing(&[10.0, 45.0, 55.0, 70.0, 94.0], 5.0)), (7.5, 72.5));
        assert_eq!(lines(&dark, &standing(&[10.0, 45.0, 55.0, 70.0, 94.0], 5.0)).len(), 4);
    }

    #[test]
    fn one_narrow_line_is_judged_where_it_stands() {
        assert_eq!(judged(&told(|_| 0.3), &standing(&[51.0], 0.8)), (50.0, 50.0));
    }
}
