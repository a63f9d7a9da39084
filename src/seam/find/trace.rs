//! Seams as paths through the network's map, by dynamic programming, laid smooth on the cloth.

use super::map::SeamMap;
use super::smooth::smoothed;
use crate::conventions::Runs;
use crate::scale::Plane;
use crate::seam::path::Path;
use crate::seam::{Seam, SeamSource};
use crate::smooth::spread;
use crate::units::{MmPoint, PxPoint};
use std::ops::Range;

/// A row on a path gains its probability less this, so that a path bridges what hides a seam and ends with it.
const PRICE: f32 = 0.15;
/// What a path pays for a step aside, one column a row at most.
const ASIDE: f32 = 0.04;
/// Paths that gain less than this, or have fewer rows, are none.
const LEAST_GAIN: f32 = 3.0;
const LEAST_ROWS: usize = 16;
/// So many paths are followed in one map, and they stand this many columns apart.
const MOST_PATHS: usize = 4;
const APART: usize = 5;
/// A row's place is the middle of what lies within so many columns of the path; places are laid smooth along it, standard deviation in
/// rows, over three of them to either side.
const NEAR: usize = 3;
const SMOOTH_ROWS: f64 = 2.5;
/// Standard uncertainty of a path across, cells: of 373 rendered seams that the network saw well two thirds stood within it, root mean
/// square along the seam (`tests/confidence.rs`).
const PLACE_CELLS: f64 = 0.4;
/// Over so much of a path its places err together, millimetres.
const APIECE_MM: f64 = 10.0;
/// Places are no surer than this, however smooth they are, millimetres.
const LEAST_NOISE_MM: f64 = 0.02;
/// The network is sure of a row from this probability on.
const SURE: f32 = 0.5;

/// A path through a map.
#[derive(Clone, Debug)]
pub struct Trace {
    /// How it runs.
    pub runs: Runs,
    /// A point a row, in the order of growing u, pixels of the photograph.
    pub points_px: Vec<PxPoint>,
    /// What the network says of it.
    pub shown: Shown,
}

/// What the network says of a path.
#[derive(Clone, Copy, Debug, Default)]
pub struct Shown {
    /// Its rows' probabilities less their price, summed.
    pub gain: f32,
    /// Mean probability over its rows.
    pub mean: f32,
    /// Share of its rows of which the network is sure.
    pub sure: f32,
    /// Its rows as a share of all that it could have.
    pub length: f32,
}

impl Trace {
    /// The seam along it, laid smooth: what it leans is carried a hand's breadth aside with the lines.
    pub fn seam(&self, plane: &Plane) -> Option<Seam> {
        let points: Vec<MmPoint> = self.points_px.iter().map(|&p| plane.to_mm(p)).collect();
        let (first, last) = (points[0], points[points.len() - 1]);
        let length_mm = first.distance(last);
        let along = MmPoint::new((last.x - first.x) / length_mm, (last.y - first.y) / length_mm);
        // Along the chord and across it.
        let from_chord = |p: &MmPoint| {
            let (x, y) = (p.x - first.x, p.y - first.y);
            (x * along.x + y * along.y, y * along.x - x * along.y)
        };
        let pieces = ((length_mm / APIECE_MM).round() as usize).clamp(6, 40);
        let mut sums = vec![(0.0, 0.0, 0.0); pieces];
        for (t, aside) in points.iter().map(from_chord) {
            let sum = &mut sums[((t / length_mm * pieces as f64).max(0.0) as usize).min(pieces - 1)];
            *sum = (sum.0 + 1.0, sum.1 + t, sum.2 + aside);
        }
        let read: Vec<(f64, f64)> = sums.iter().filter(|s| s.0 > 0.0).map(|s| (s.1 / s.0, s.2 / s.0)).collect();
        let changes = read.windows(4).map(|w| w[3].1 - 3.0 * (w[2].1 - w[1].1) - w[0].1);
        // The variance of a third difference is twenty times that of a place.
        let noise_mm = (spread(changes)? / 20.0f64.sqrt()).max(LEAST_NOISE_MM);
        let weighed: Vec<(f64, f64)> = read.iter().map(|(_, aside)| (*aside, noise_mm.powi(-2))).collect();
        let (places, _) = smoothed(&weighed, length_mm);
        let at = |t: f64, aside: f64| {
            MmPoint::new(first.x + along.x * t - along.y * aside, first.y + along.y * t + along.x * aside)
        };
        let beyond = |[near, next]: [usize; 2], t: f64| {
            let slope = (places[next] - places[near]) / (read[next].0 - read[near].0);
            at(t, places[near] + slope * (t - read[near].0))
        };
        let end = places.len() - 1;
        let mut marks = vec![beyond([0, 1], 0.0)];
        marks.extend(read.iter().zip(&places).map(|((t, _), aside)| at(*t, *aside)));
        marks.push(beyond([end, end - 1], length_mm));
        Some(Seam {
            source: SeamSource::Found,
            runs: self.runs,
            path: Path::through(&marks)?,
            confidence: 0.0,
            u_across_mm: PLACE_CELLS * length_mm / (points.len() - 1) as f64,
            gap_mm: None,
            drawn: None,
            others: Vec::new(),
            notes: Vec::new(),
        })
    }
}

/// The plainest paths through a map, apart from each other, plainest first.
pub fn plainest(map: &SeamMap) -> Vec<Trace> {
    let mut probability = map.probability.clone();
    let mut paths = Vec::new();
    for _ in 0..MOST_PATHS {
        let Some((rows, columns, gain)) = best(&probability, map.width, |_| 0..map.width, 0..map.height) else { break };
        for (j, &i) in rows.clone().zip(&columns) {
            for row in j.saturating_sub(1)..(j + 2).min(map.height) {
                probability[row * map.width..][i.saturating_sub(APART)..(i + APART + 1).min(map.width)].fill(0.0);
            }
        }
        if rows.len() >= LEAST_ROWS {
            paths.push(trace(map, rows, &columns, gain, map.height));
        }
    }
    paths
}

/// The plainest path within `reach_px` of some points, at the rows between them; `None` where there is none, or the points go back.
pub fn beside(map: &SeamMap, points_px: &[PxPoint], reach_px: f64) -> Option<Trace> {
    let drawn: Vec<[f64; 2]> = points_px.iter().map(|p| map.cell(*p)).collect();
    // A drawing that goes back is no seam of the map's.
    drawn.is_sorted_by(|a, b| a[1] <= b[1]).then_some(())?;
    let (first, last) = (drawn.first()?[1], drawn.last()?[1]);
    let row = |j: f64| (j.round().max(0.0) as usize).min(map.height);
    let rows = row(first)..row(last + 1.0);
    let reach = (reach_px / map.across_px()).max(1.0);
    let column = |j: usize| {
        let j = j as f64;
        let k = drawn.windows(2).position(|pair| j <= pair[1][1]).unwrap_or(drawn.len().saturating_sub(2));
        let (a, b) = (drawn[k], drawn[(k + 1).min(drawn.len() - 1)]);
        a[0] + (b[0] - a[0]) * ((j - a[1]) / (b[1] - a[1]).max(1e-9)).clamp(0.0, 1.0)
    };
    let near = |j: usize| {
        let [from, to] = [column(j) - reach, column(j) + reach + 1.0];
        from.clamp(0.0, map.width as f64) as usize..to.clamp(0.0, map.width as f64) as usize
    };
    let most = rows.len();
    let (rows, columns, gain) = best(&map.probability, map.width, near, rows)?;
    Some(trace(map, rows, &columns, gain, most))
}

/// The piece of a path from row to row, within the columns that a row may have, that gains most.
fn best(
    probability: &[f32],
    width: usize,
    near: impl Fn(usize) -> Range<usize>,
    rows: Range<usize>,
) -> Option<(Range<usize>, Vec<usize>, f32)> {
    const NONE: f32 = f32::NEG_INFINITY;
    // The gain of the best piece that ends at each column, and the column that it comes from: itself where it begins.
    let mut ending = vec![NONE; width];
    let mut from: Vec<Vec<Option<usize>>> = Vec::with_capacity(rows.len());
    let mut top = (LEAST_GAIN, None);
    for j in rows.clone() {
        let mut now = vec![NONE; width];
        let mut came = vec![None; width];
        for i in near(j) {
            let before = [(Some(i), 0.0), (i.checked_sub(1), ASIDE), ((i + 1 < width).then_some(i + 1), ASIDE)];
            let gained = (before.iter())
                .filter_map(|&(column, price)| Some((column?, ending[column?] - price)))
                .max_by(|a, b| a.1.total_cmp(&b.1));
            let (came_from, so_far) =
                gained.filter(|g| g.1 > 0.0).map_or((None, 0.0), |(column, gain)| (Some(column), gain));
            now[i] = so_far + probability[j * width + i] - PRICE;
            came[i] = came_from;
            if now[i] > top.0 {
                top = (now[i], Some((j, i)));
            }
        }
        ending = now;
        from.push(came);
    }
    let (gain, (last, mut column)) = (top.0, top.1?);
    let mut columns = vec![column];
    let mut first = last;
    while let Some(before) = from[first - rows.start][column] {
        column = before;
        first -= 1;
        columns.push(column);
    }
    columns.reverse();
    Some((first..last + 1, columns, gain))
}

fn trace(map: &SeamMap, rows: Range<usize>, columns: &[usize], gain: f32, most_rows: usize) -> Trace {
    let here = |j: usize, i: usize| map.probability[j * map.width + i];
    let known: Vec<f32> = rows.clone().zip(columns).map(|(j, &i)| here(j, i)).collect();
    // Middle of what lies near, squares as weights: the ridge, not its feet.
    let middle = |(j, &i): (usize, &usize)| {
        let (mut sum, mut moment) = (1e-6, 1e-6 * i as f64);
        for k in i.saturating_sub(NEAR)..(i + NEAR + 1).min(map.width) {
            let weight = f64::from(here(j, k)).powi(2);
            (sum, moment) = (sum + weight, moment + weight * k as f64);
        }
        moment / sum
    };
    let middles: Vec<f64> = rows.clone().zip(columns).map(middle).collect();
    let reach = (3.0 * SMOOTH_ROWS) as usize;
    // Local straight lines, so that the ends of a leaning path stay where they are.
    let smooth = |k: usize| {
        let (mut s, mut st, mut stt, mut sx, mut stx) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for n in k.saturating_sub(reach)..(k + reach + 1).min(middles.len()) {
            let t = n as f64 - k as f64;
            let weight = (-0.5 * (t / SMOOTH_ROWS).powi(2)).exp() * (f64::from(known[n]) + 1e-3);
            (s, st, stt) = (s + weight, st + weight * t, stt + weight * t * t);
            (sx, stx) = (sx + weight * middles[n], stx + weight * t * middles[n]);
        }
        let spread = s * stt - st * st;
        if spread > 1e-9 * s * s { (stt * sx - st * stx) / spread } else { sx / s }
    };
    let points_px = rows.clone().enumerate().map(|(k, j)| map.place(smooth(k), j as f64)).collect();
    let count = known.len() as f32;
    let shown = Shown {
        gain,
        mean: known.iter().sum::<f32>() / count,
        sure: known.iter().filter(|p| **p > SURE).count() as f32 / count,
        length: count / most_rows.max(1) as f32,
    };
    Trace { runs: map.runs, points_px, shown }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE: [usize; 2] = [80, 120];

    /// A map in whose rows the seam stands at a column, as sharp as the network draws it; `None` where it does not show.
    fn map(column: impl Fn(f64) -> Option<f64>) -> SeamMap {
        let [width, height] = SIZE;
        let value = |k: usize| {
            let (i, j) = ((k % width) as f64, (k / width) as f64);
            column(j).map_or(0.0, |at| 0.9 * (-0.5 * (i - at) * (i - at)).exp() as f32)
        };
        SeamMap::drawn(width, height, (0..width * height).map(value).collect())
    }

    fn leaning(j: f64) -> f64 {
        30.0 + 0.15 * j
    }

    #[test]
    fn a_leaning_seam_is_followed_to_a_tenth_of_a_cell_and_through_what_hides_it() {
        let paths = plainest(&map(|j| (!(50.0..62.0).contains(&j)).then(|| leaning(j))));
        assert_eq!(paths.len(), 1);
        assert_eq!(paths[0].points_px.len(), SIZE[1]);
        for (j, p) in paths[0].points_px.iter().enumerate().filter(|(j, _)| !(44..68).contains(j)) {
            // Pixels of the picture are cells of the map here.
            assert!((p.x - leaning(j as f64)).abs() < 0.1, "row {j}: {p:?}");
        }
    }

    #[test]
    fn a_path_ends_where_the_seam_does() {
        let paths = plainest(&map(|j| (j < 70.0).then(|| leaning(j))));
        assert_eq!(paths.len(), 1);
        assert!((68..=72).contains(&paths[0].points_px.len()), "{}", paths[0].points_px.len());
    }

    #[test]
    fn an_empty_map_has_no_path() {
        assert!(plainest(&map(|_| None)).is_empty());
    }

    #[test]
    fn beside_a_stroke_only_what_is_within_reach_is_taken() {
        let map = map(|j| Some(leaning(j)));
        let stroke = [PxPoint::new(40.0, 20.0), PxPoint::new(50.5, 90.0)];
        let trace = beside(&map, &stroke, 10.0).expect("a path");
        assert_eq!(trace.points_px.len(), 71);
        assert!(trace.points_px.iter().all(|p| (p.x - leaning(p.y)).abs() < 0.1));
        assert!(beside(&map, &stroke, 3.0).is_none());
    }
}
