//! Whether the lines along a path go on through it: where cloth was cut and joined, their order breaks, though those across
//! be matched to a hair.
//!
//! What is left of the columns of each side, once the lines across are taken off, are the lines along. Where they return on
//! both sides after some distance, they return after it across the path too, or the cloth does not run on there.

use super::raster::Raster;
use crate::photo::Photo;
use crate::scale::Plane;
use crate::seam::Seam;
use std::ops::Range;

/// How far it reaches to both sides, in cells of which size, and what is left out beside the path or its gap, millimetres.
const WIDE_MM: f64 = 60.0;
const STEP_MM: f64 = 0.5;
const RIDGE_MM: f64 = 2.0;
/// Lines along may lean against the path by as much, dv/du.
const STEEPEST: f64 = 0.2;
const LEAN_STEP: f64 = 0.02;
/// The shortest and, as a share of a side, the longest lag at which lines are held against themselves.
const SHORTEST_MM: f64 = 4.0;
const LONGEST_SHARE: f64 = 0.75;
/// A side of fewer places shows no lines.
const LEAST_PLACES: f32 = 16.0;
/// Every which row is read.
const STRIDE: usize = 2;
/// A column is known from this share of its rows on.
const LEAST_SEEN: f32 = 0.2;
/// Lines weaker than this are none: root mean square, logarithm of light.
const LEAST_RELIEF: f32 = 0.03;
/// Lines return where they are unlike themselves by no more than this share of their power.
const RETURNING: f32 = 0.3;
/// And have changed where they are unlike by as much.
const CHANGED: f32 = 0.7;

/// What the lines along a path say of it; both 0 where there are none that return.
#[derive(Clone, Copy, Debug, Default)]
pub struct Through {
    /// How unlike what they should be the lines beyond the path are, 0 to 1: they break at it.
    pub broken: f32,
    /// How like, 0 to 1: they run on through it.
    pub unbroken: f32,
}

/// The lines along one side: their colour place by place across, where enough is seen of them.
struct Side(Vec<Option<[f32; 3]>>);

/// Looks at the lines along a path with a gap of this width, 0 where there is none.
pub fn look(photo: &Photo, plane: &Plane, seam: &Seam, gap_mm: f64) -> Through {
    of(&Raster::along(photo, plane, seam, WIDE_MM, STEP_MM), gap_mm)
}

/// The same on a raster whose middle column is the path.
fn of(raster: &Raster, gap_mm: f64) -> Through {
    let beside = ((0.5 * gap_mm + RIDGE_MM) / raster.step_mm).round() as usize;
    let middle = raster.width / 2;
    let columns = [0..middle.saturating_sub(beside), (middle + beside + 1).min(raster.width)..raster.width];
    let across = columns.each_ref().map(|columns| across(raster, columns.clone()));
    let leans = (STEEPEST / LEAN_STEP).round() as i32;
    // They run along where most is seen of them.
    let mut plainest: Option<(f32, [Side; 2])> = None;
    for lean in -leans..=leans {
        let lean = f64::from(lean) * LEAN_STEP;
        let sides: [Side; 2] = std::array::from_fn(|s| Side::of(raster, columns[s].clone(), &across[s], lean));
        let power = sides.iter().map(Side::power).fold(f32::MAX, f32::min);
        if plainest.as_ref().is_none_or(|(most, _)| power > *most) {
            plainest = Some((power, sides));
        }
    }
    match plainest {
        Some((power, sides)) if power >= LEAST_RELIEF * LEAST_RELIEF => told(&sides, power, raster.step_mm),
        _ => Through::default(),
    }
}

/// The mean of some columns row by row; a row of which little is seen has none.
fn across(raster: &Raster, columns: Range<usize>) -> Vec<Option<[f32; 3]>> {
    let row = |j: usize| {
        let cells = j * raster.width + columns.start..j * raster.width + columns.end;
        let (mut sum, mut count) = ([0.0f32; 3], 0.0f32);
        for at in cells.clone().filter(|&at| raster.weight[at] > 0.0) {
            (0..3).for_each(|c| sum[c] += raster.value[c][at]);
            count += 1.0;
        }
        (4.0 * count >= cells.len() as f32 && count > 0.0).then(|| sum.map(|s| s / count))
    };
    (0..raster.height).map(row).collect()
}

impl Side {
    /// The lines of some columns that lean by dv/du; `across` is taken off each row.
    fn of(raster: &Raster, columns: Range<usize>, across: &[Option<[f32; 3]>], lean: f64) -> Self {
        // Places reach beyond the raster by what the lines lean.
        let beyond = (STEEPEST * raster.height as f64 / 2.0).ceil() as usize;
        let places = raster.width + 2 * beyond;
        let mut sums = vec![([0.0; 3], 0.0f32); places];
        for j in (0..raster.height).step_by(STRIDE) {
            let Some(mean) = across[j] else { continue };
            let aside = (lean * (j as f64 - raster.height as f64 / 2.0)).round() as isize;
            for i in columns.clone() {
                let at = j * raster.width + i;
                if raster.weight[at] > 0.0 {
                    let (sum, count) = &mut sums[(i + beyond).saturating_add_signed(-aside)];
                    (0..3).for_each(|c| sum[c] += raster.value[c][at] - mean[c]);
                    *count += 1.0;
                }
            }
        }
        let least = (LEAST_SEEN * (raster.height / STRIDE) as f32).max(1.0);
        let mean = |(sum, count): ([f32; 3], f32)| (count >= least).then(|| sum.map(|s| s / count));
        let mut side = Self(sums.into_iter().map(mean).collect());
        side.level();
        side
    }

    /// The places that are known, and their colours.
    fn known(&self) -> impl Iterator<Item = (usize, &[f32; 3])> {
        self.0.iter().enumerate().filter_map(|(k, value)| Some((k, value.as_ref()?)))
    }

    /// Takes off what changes slowly across: a straight line through all.
    fn level(&mut self) {
        let n = self.known().count() as f64;
        if n < 3.0 {
            return;
        }
        let middle = self.known().map(|(k, _)| k as f64).sum::<f64>() / n;
        let spread: f64 = self.known().map(|(k, _)| (k as f64 - middle).powi(2)).sum();
        for c in 0..3 {
            let mean = self.known().map(|(_, value)| f64::from(value[c])).sum::<f64>() / n;
            let tilt = self.known().map(|(k, value)| (k as f64 - middle) * f64::from(value[c])).sum::<f64>() / spread;
            for (k, value) in self.0.iter_mut().enumerate() {
                if let Some(value) = value {
                    value[c] -= (mean + tilt * (k as f64 - middle)) as f32;
                }
            }
        }
    }

    /// Mean square of the lines, the channels together; 0 where there are few places.
    fn power(&self) -> f32 {
        let (mut sum, mut count) = (0.0, 0.0f32);
        for (_, value) in self.known() {
            sum += value.iter().map(|v| v * v).sum::<f32>();
            count += 1.0;
        }
        if count < LEAST_PLACES { 0.0 } else { sum / count / 3.0 }
    }
}

/// Sum of squares of what `one` shows less what `other` shows `lag` places further, and of how many places.
fn unlike(one: &Side, other: &Side, lag: usize) -> (f32, f32) {
    let (mut sum, mut count) = (0.0, 0.0);
    for (one, other) in one.0.iter().zip(other.0.iter().skip(lag)) {
        if let (Some(one), Some(other)) = (one, other) {
            sum += (0..3).map(|c| (one[c] - other[c]).powi(2)).sum::<f32>() / 3.0;
            count += 1.0;
        }
    }
    (sum, count)
}

/// What both sides' lines of this mean square say of the path between them.
fn told([left, right]: &[Side; 2], power: f32, step_mm: f64) -> Through {
    let shortest = (SHORTEST_MM / step_mm) as usize;
    let longest = (LONGEST_SHARE * left.known().count().min(right.known().count()) as f64) as usize;
    let enough = shortest as f32;
    // Where both sides are like themselves; each has its say.
    let within = |lag: usize| {
        let [a, b] = [left, right].map(|side| unlike(side, side, lag));
        (a.1 >= enough && b.1 >= enough).then(|| (a.0 / a.1).max(b.0 / b.1) / (2.0 * power))
    };
    // Broad lines are like themselves a little further on: they return only where they were unlike before.
    let lags = (shortest..=longest).filter_map(|lag| Some((lag, within(lag)?)));
    let returning = lags.skip_while(|(_, within)| *within < CHANGED).min_by(|a, b| a.1.total_cmp(&b.1));
    let Some((lag, within)) = returning.filter(|(_, within)| *within <= RETURNING) else { return Through::default() };
    let (sum, count) = unlike(left, right, lag);
    if count < enough {
        return Through::default();
    }
    let unlike = (sum / count / (2.0 * power)).min(1.0);
    Through { broken: (unlike - within).max(0.0), unbroken: 1.0 - unlike }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lines along of 17 mm and lines across of 11; to the right of the path moved by so much, both.
    fn check(moved_mm: f64, relief: f64, lean: f64) -> Raster {
        let (width, height) = (241, 300);
        let mut value = Vec::new();
        for (j, i) in (0..height).flat_map(|j| (0..width).map(move |i| (j, i))) {
            let (u_mm, v_mm) = (f64::from(j) * STEP_MM, f64::from(i - width / 2) * STEP_MM);
            let moved_mm = if v_mm > 0.0 { moved_mm } else { 0.0 };
            let bar = |mm: f64, repeat_mm: f64| f64::from(u8::from(mm.rem_euclid(repeat_mm) < 0.3 * repeat_mm));
            let along = bar(v_mm - lean * (u_mm - 75.0) + moved_mm, 17.0);
            value.push((relief * along + 0.8 * bar(u_mm + 0.3 * moved_mm, 11.0)) as f32);
        }
        let weight = vec![1.0; value.len()];
        let value = [value.clone(), value.clone(), value];
        Raster { step_mm: STEP_MM, width: width as usize, height: height as usize, value, weight }
    }

    #[test]
    fn lines_along_run_on_through_cloth_and_break_where_it_was_cut() {
        for lean in [0.0, 0.1] {
            let whole = of(&check(0.0, 0.4, lean), 0.0);
            assert!(whole.unbroken > 0.8 && whole.broken < 0.1, "{lean}: {whole:?}");
            let cut = of(&check(7.0, 0.4, lean), 0.0);
            assert!(cut.broken > 0.6 && cut.unbroken < 0.4, "{lean}: {cut:?}");
        }
    }

    #[test]
    fn without_lines_along_nothing_is_told() {
        let told = of(&check(7.0, 0.0, 0.0), 0.0);
        assert_eq!((told.broken, told.unbroken), (0.0, 0.0));
    }
}
