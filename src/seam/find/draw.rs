//! Draws a path to the seam that shows beside it, piece by piece, with a price on bending.
//!
//! In every piece each column near the path says how likely the seam is to stand there: what is left of it should show the
//! lines of the left side and what is right of it those of the right, each against the noise that the sides show, and a
//! crease should be darker than what is beside it, against how much that varies; and the network's map says how likely one is
//! there. The likeliest chain of places is followed,
//! then every piece is read between the columns, and the whole laid smooth by how sharply each piece shows its place.

use super::map::SeamMap;
use super::profile::{Profiles, SUMMED};
use super::raster::Raster;
use super::relief::Relief;
use super::smooth::smoothed;
use super::{FINE_MM, PIECE_MM, crease};
use crate::photo::Photo;
use crate::scale::Plane;
use crate::seam::Seam;
use crate::seam::path::Path;
use std::ops::Range;

/// The windows from which a side's lines are taken begin this far beyond the places that are tried and are this wide,
/// millimetres.
const BEYOND_MM: f64 = 1.2;
const WINDOW_MM: f64 = 5.0;
/// The slopes that lines may have, this many to either side, du/dv; a piece has that of the lines so far around it, millimetres.
const SLOPES: usize = 20;
const SLOPE_STEP: f64 = 0.03;
const AROUND_MM: f64 = 12.0;
/// How much a seam may lean against its look's path from piece to piece, standard deviation, millimetres.
const LEAN_MM: f64 = 0.2;
/// The crease of a seam stands this far from where its sides part, standard deviation, millimetres: of the rendered seams of
/// `fixtures/` a fifth stand 0.3 to 0.6 mm aside along their whole length.
const CREASE_MM: f64 = 0.2;
/// How far a look's path, which is a bow, stands from its seam where that bends otherwise, standard deviation, and over what length such
/// bends go on, millimetres.
const LOOKED_MM: f64 = 1.0;
const GOES_ON_MM: f64 = 20.0;
/// Neighbouring cells show the same threads, and pieces err together: so many cells count as one.
const CELLS_AS_ONE: f32 = 12.0;
/// What the crease and the lines of one piece may say at most, logarithm of a likelihood: a pin must not outweigh the seam. With three
/// times as much, paths stood 1.7 times as far from 39 rendered seams as told (numbers 0 to 49 of `tests/support/seams.rs`).
const MOST_TOLD: f32 = 2.0;
const LINES_TOLD: f32 = 8.0;
/// So many pieces err together: where lines slip or cross, a path swerves over 15 mm and its lean takes the offset with it.
const PIECES_AS_ONE: f64 = 3.0;
/// The network may be wrong of any place with this probability.
const UNSURE: f32 = 0.05;
/// Darkness varies at least so much from column to column, logarithm of light.
const LEAST_SPREAD: f32 = 0.01;
/// Around the chain's place a piece is read within this, millimetres.
const NEAR_MM: f64 = 1.0;

/// Draws a path to what shows within `reach_mm` of it; `dark` is the darkness of its crease, `map` the network's. With the standard
/// uncertainty of its place across, millimetres, as the picture shows it. `None` where a side shows no lines.
pub fn to_the_seam(
    photo: &Photo,
    plane: &Plane,
    map: &SeamMap,
    seam: &Seam,
    reach_mm: f64,
    dark: f32,
) -> Option<(Seam, f64)> {
    let raster = Raster::along(photo, plane, seam, reach_mm + BEYOND_MM + WINDOW_MM + 1.0, FINE_MM);
    let mut told = told(&raster, reach_mm, dark)?;
    let pieces = told.len();
    for (p, told) in told.iter_mut().enumerate() {
        let rows = rows(raster.height, pieces, p);
        let from_network = seen_by_network(plane, map, seam, rows, told.len(), raster.step_mm);
        told.iter_mut().zip(from_network).for_each(|(told, seen)| *told += seen);
    }
    let chain = chain(&told, raster.step_mm);
    let (places, u_mm) = smooth(&told, &chain, raster.step_mm);
    Some((moved(seam, &places)?, u_mm.hypot(CREASE_MM)))
}

/// What the network says of a seam at each of so many columns about the path, in some rows: how much likelier one is there than anywhere
/// among them, logarithm.
fn seen_by_network(
    plane: &Plane,
    map: &SeamMap,
    seam: &Seam,
    rows: Range<usize>,
    columns: usize,
    step_mm: f64,
) -> Vec<f32> {
    let middle = (columns / 2) as f64;
    let at = |k: usize| {
        let one = |j: usize| map.at(plane.to_px(seam.at(j as f64 * step_mm, (k as f64 - middle) * step_mm)));
        let of = rows.clone().step_by(4);
        let count = of.len().max(1) as f32;
        of.map(one).sum::<f32>() / count
    };
    let seen: Vec<f32> = (0..columns).map(at).collect();
    let mean = seen.iter().sum::<f32>() / columns as f32;
    seen.iter().map(|seen| ((seen + UNSURE) / (mean + UNSURE)).ln()).collect()
}

/// Rows of one piece of so many.
fn rows(height: usize, pieces: usize, piece: usize) -> Range<usize> {
    piece * height / pieces..(piece + 1) * height / pieces
}

/// What the lines and the crease say at each column near the path of a seam there, piece by piece: how much likelier one is than none,
/// logarithm.
fn told(raster: &Raster, reach_mm: f64, dark: f32) -> Option<Vec<Vec<f32>>> {
    let cells = |mm: f64| (mm / raster.step_mm).round() as usize;
    let pieces = ((raster.height as f64 * raster.step_mm / PIECE_MM).round() as usize).max(3);
    let relief = Relief::of(raster);
    let (middle, reach) = (raster.width / 2, cells(reach_mm));
    let columns = middle - reach..middle + reach + 1;
    let (from, width) = (reach + cells(BEYOND_MM), cells(WINDOW_MM));
    let left = Side::of(&relief, middle - from - width..middle - from, pieces, raster.step_mm)?;
    let right = Side::of(&relief, middle + from + 1..middle + from + 1 + width, pieces, raster.step_mm)?;
    let lines = lines(&left, &right, &relief, columns.clone(), pieces);
    let darkness = crease::of(raster);
    let both = |(p, lines): (usize, &Vec<f32>)| {
        let crease = creased(&darkness, raster, rows(raster.height, pieces, p), columns.clone(), dark);
        lines.iter().zip(crease).map(|(lines, crease)| lines + crease).collect()
    };
    Some(lines.iter().enumerate().map(both).collect())
}

/// The lines of one side, each piece along its own slope.
struct Side {
    /// Mean profiles at the window's middle, for the slopes that some piece has.
    along: Vec<Option<Profiles>>,
    /// Which slope each piece has.
    slope: Vec<usize>,
    middle: f64,
    /// Mean square of what the lines leave of their own window.
    noise: f32,
}

/// Slopes tried, du/dv.
fn slope(k: usize) -> f64 {
    (k as f64 - SLOPES as f64) * SLOPE_STEP
}

impl Side {
    fn of(relief: &Relief, window: Range<usize>, pieces: usize, step_mm: f64) -> Option<Self> {
        let middle = 0.5 * (window.start + window.end - 1) as f64;
        let around = (AROUND_MM / step_mm) as usize;
        let span = |p: usize| {
            let rows = rows(relief.height, pieces, p);
            rows.start.saturating_sub(around)..(rows.end + around).min(relief.height)
        };
        let mut best: Vec<(f32, usize)> = vec![(0.0, SLOPES); pieces];
        let mut along: Vec<Option<Profiles>> = Vec::new();
        let mut sums = vec![0.0; SUMMED * relief.height];
        for k in 0..=2 * SLOPES {
            sums.fill(0.0);
            for i in window.clone() {
                relief.column(i).add_moved(slope(k) * (i as f64 - middle), &mut sums);
            }
            let mean = Profiles::mean(&sums, window.len() as f32 / 2.0);
            for (p, best) in best.iter_mut().enumerate() {
                let (power, seen) = mean.get(0).power(span(p));
                if power > best.0 * seen.max(1.0) {
                    *best = (power / seen.max(1.0), k);
                }
            }
            along.push(Some(mean));
        }
        best.iter().any(|best| best.0 > 0.0).then_some(())?;
        let slopes: Vec<usize> = best.into_iter().map(|(_, k)| k).collect();
        for (k, profile) in along.iter_mut().enumerate() {
            if !slopes.contains(&k) {
                *profile = None;
            }
        }
        let mut side = Self { along, slope: slopes, middle, noise: 0.0 };
        let (mut sum, mut count) = (0.0, 0.0);
        for column in window.step_by(2) {
            for (apart, seen) in side.apart(relief, column, pieces) {
                sum += apart;
                count += seen;
            }
        }
        side.noise = (sum / count.max(1.0)).max(1e-6);
        Some(side)
    }

    /// How far a column is from the lines carried to it, piece by piece: sums of squares, and of how many rows.
    fn apart(&self, relief: &Relief, column: usize, pieces: usize) -> Vec<(f32, f32)> {
        let carried: Vec<Option<Profiles>> = (self.along.iter().enumerate())
            .map(|(k, along)| Some(along.as_ref()?.get(0).moved(-slope(k) * (column as f64 - self.middle))))
            .collect();
        let of = |p: usize| {
            let rows = rows(relief.height, pieces, p);
            carried[self.slope[p]].as_ref().map_or((0.0, 0.0), |lines| relief.column(column).apart(lines.get(0), rows))
        };
        (0..pieces).map(of).collect()
    }
}

/// How much likelier the lines make a seam at each column than none.
fn lines(left: &Side, right: &Side, relief: &Relief, columns: Range<usize>, pieces: usize) -> Vec<Vec<f32>> {
    let mut lead = vec![Vec::with_capacity(columns.len()); pieces];
    let noise = 0.5 * (left.noise + right.noise);
    for column in columns {
        let [left, right] = [left, right].map(|side| side.apart(relief, column, pieces));
        for (p, lead) in lead.iter_mut().enumerate() {
            let seen = left[p].1.min(right[p].1);
            // Of a normal distribution whose spread is not known: where neither side fits, neither gains.
            let usual = noise * seen.max(1.0);
            lead.push(0.5 * seen / CELLS_AS_ONE * ((right[p].0 + usual) / (left[p].0 + usual)).ln());
        }
    }
    // Columns before the seam should be like the left side, columns after it like the right; without one all are like one.
    let along = |lead: &Vec<f32>| {
        let mut before = 0.0;
        let told: Vec<f32> = (lead.iter())
            .map(|by| {
                before += by;
                before - 0.5 * by
            })
            .collect();
        told.iter().map(|told| (told - before.max(0.0)).clamp(-LINES_TOLD, LINES_TOLD)).collect()
    };
    lead.iter().map(along).collect()
}

/// How likely the darkness of some rows makes a crease of this darkness at each column against none.
fn creased(darkness: &[f32], raster: &Raster, rows: Range<usize>, columns: Range<usize>, dark: f32) -> Vec<f32> {
    let mean = |column: usize| {
        let (mut sum, mut count) = (0.0, 0.0f32);
        for j in rows.clone() {
            let d = darkness[j * raster.width + column];
            if d.is_finite() {
                sum += d;
                count += 1.0;
            }
        }
        (4.0 * count >= rows.len() as f32).then(|| sum / count)
    };
    let all: Vec<Option<f32>> = (0..raster.width).map(mean).collect();
    let mut known: Vec<f32> = all.iter().flatten().map(|d| d.abs()).collect();
    if known.is_empty() || dark <= 0.0 {
        return vec![0.0; columns.len()];
    }
    let half = known.len() / 2;
    let spread = (1.4826 * *known.select_nth_unstable_by(half, f32::total_cmp).1).max(LEAST_SPREAD);
    // Of a normal distribution: (d · dark − dark² / 2) / spread², and no more than a piece may say.
    let most = (dark * dark / (spread * spread)).min(2.0 * MOST_TOLD);
    columns.map(|k| all[k].map_or(0.0, |d| most * ((d / dark).clamp(0.0, 1.2) - 0.5))).collect()
}

/// The likeliest chain of columns.
fn chain(told: &[Vec<f32>], step_mm: f64) -> Vec<usize> {
    let count = told[0].len();
    let middle = count / 2;
    let most = (3.0 * LEAN_MM / step_mm).round() as usize;
    let price = |steps: usize| (0.5 * (steps as f64 * step_mm / LEAN_MM).powi(2)) as f32;
    let share = PIECE_MM / GOES_ON_MM;
    let drawn = |k: usize| (0.5 * share * (k.abs_diff(middle) as f64 * step_mm / LOOKED_MM).powi(2)) as f32;
    let mut best: Vec<f32> = (0..count).map(|k| told[0][k] - drawn(k)).collect();
    let mut from: Vec<Vec<usize>> = Vec::with_capacity(told.len());
    for told in &told[1..] {
        let step = |k: usize| {
            let near = k.saturating_sub(most)..=(k + most).min(count - 1);
            near.map(|j| (j, best[j] - price(k.abs_diff(j)))).max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((k, best[k]))
        };
        let steps: Vec<(usize, f32)> = (0..count).map(step).collect();
        best = steps.iter().enumerate().map(|(k, (_, value))| value + told[k] - drawn(k)).collect();
        from.push(steps.into_iter().map(|(j, _)| j).collect());
    }
    let last = (0..count).max_by(|&a, &b| best[a].total_cmp(&best[b])).unwrap_or(middle);
    let mut chain = vec![last];
    for from in from.iter().rev() {
        chain.push(from[chain[chain.len() - 1]]);
    }
    chain.reverse();
    chain
}

/// Places across of the pieces, millimetres, laid smooth by how sharply each is shown near the chain, and the standard
/// uncertainty of the place, root mean square over the pieces.
fn smooth(told: &[Vec<f32>], chain: &[usize], step_mm: f64) -> (Vec<f64>, f64) {
    let one = |(told, &at): (&Vec<f32>, &usize)| {
        let (place, weight) = read(told, at, step_mm);
        (place, weight / PIECES_AS_ONE)
    };
    smoothed(&told.iter().zip(chain).map(one).collect::<Vec<_>>(), LOOKED_MM)
}

/// The place that a piece shows near a column, millimetres, and its weight, one over its variance.
fn read(told: &[f32], at: usize, step_mm: f64) -> (f64, f64) {
    let near = (NEAR_MM / step_mm).round() as usize;
    let read = at.saturating_sub(near)..=(at + near).min(told.len() - 1);
    let most = read.clone().map(|k| told[k]).fold(f32::MIN, f32::max);
    let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
    for k in read {
        let (weight, mm) = (f64::from((told[k] - most).exp()), (k as f64 - (told.len() / 2) as f64) * step_mm);
        sum += weight;
        first += weight * mm;
        second += weight * mm * mm;
    }
    let mean = first / sum;
    let variance = (second / sum - mean * mean).max(step_mm * step_mm / 12.0);
    // Less what an even spread over what is read would say.
    (mean, (1.0 / variance - 3.0 / (NEAR_MM * NEAR_MM)).max(0.0))
}

/// The seam with its path moved aside, piece by piece, and carried on to both ends.
fn moved(seam: &Seam, aside_mm: &[f64]) -> Option<Seam> {
    let (pieces, length_mm) = (aside_mm.len(), seam.length_mm());
    let last = pieces - 1;
    let mut marks = vec![seam.at(0.0, 1.5 * aside_mm[0] - 0.5 * aside_mm[1])];
    marks.extend((0..pieces).map(|p| seam.at((p as f64 + 0.5) / pieces as f64 * length_mm, aside_mm[p])));
    marks.push(seam.at(length_mm, 1.5 * aside_mm[last] - 0.5 * aside_mm[last - 1]));
    Some(Seam { path: Path::through(&marks)?, ..seam.clone() })
}
