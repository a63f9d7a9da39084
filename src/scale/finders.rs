//! Finder patterns: the three squares in a symbol's corners, which every straight line through the middle cuts dark,
//! light, dark, light, dark in the proportion 1 : 1 : 3 : 1 : 1.
//!
//! # Source
//! ISO/IEC 18004, reference decode algorithm (from memory).

use super::shades::Shades;
use crate::threads;
use std::ops::Range;

/// A finder pattern in the photograph.
#[derive(Clone, Copy, Debug)]
pub struct Finder {
    /// Its middle, pixels.
    pub middle: [f64; 2],
    /// Mean width of a module there along the rows and the columns, pixels.
    pub module_px: f64,
    /// How many rows cut it.
    pub rows: usize,
    /// Which level it was seen on.
    pub level: usize,
}

/// How far a module's width may be from the mean, in modules.
const SINGLE_OFF: f64 = 0.65;
/// The same for the middle, three modules wide.
const MIDDLE_OFF: f64 = 1.1;
/// Narrowest module that is looked for, pixels of a level.
const LEAST_MODULE_PX: f64 = 1.7;
/// Least difference from the surroundings in every run, grey levels.
const LEAST_CONTRAST: f64 = 3.0;
/// Least difference of ink and paper from their mean where a finder pattern is believed alone, grey levels.
const PLAIN_CONTRAST: f64 = 20.0;
/// Most finder patterns that are kept, those cut by most rows for their size first.
const MOST: usize = 48;

/// Every finder pattern of the levels, none twice.
pub fn find(levels: &[Shades]) -> Vec<Finder> {
    let mut found: Vec<Finder> = Vec::new();
    for (k, level) in levels.iter().enumerate() {
        for finder in on_level(level, k) {
            match found.iter_mut().find(|f| near(f, &finder)) {
                Some(seen) if plainness(&finder) > plainness(seen) => *seen = finder,
                Some(_) => {}
                None => found.push(finder),
            }
        }
    }
    found.sort_by(|a, b| plainness(b).total_cmp(&plainness(a)));
    found.truncate(MOST);
    found
}

/// Share of the rows through the middle square that showed the pattern.
fn plainness(finder: &Finder) -> f64 {
    (finder.rows as f64 / finder.module_px).min(3.0)
}

fn near(a: &Finder, b: &Finder) -> bool {
    let apart = (a.middle[0] - b.middle[0]).hypot(a.middle[1] - b.middle[1]);
    apart < 2.5 * a.module_px.max(b.module_px)
}

fn on_level(level: &Shades, number: usize) -> Vec<Finder> {
    let height = level.size().1;
    let half = height / 4 * 2;
    let (mut found, lower) = threads::both(|| on_rows(level, number, 0..half), || on_rows(level, number, half..height));
    lower.into_iter().for_each(|finder| meet(&mut found, finder));
    found
}

/// Finder patterns that every other of these rows cuts.
fn on_rows(level: &Shades, number: usize, rows: Range<usize>) -> Vec<Finder> {
    let width = level.size().0;
    let mut found: Vec<Finder> = Vec::new();
    let mut row = Vec::with_capacity(width);
    for y in rows.step_by(2) {
        level.row(y, &mut row);
        let mut runs = Runs::default();
        for x in 1..width {
            if (row[x - 1] < 0) == (row[x] < 0) {
                runs.widest(row[x]);
                continue;
            }
            // Where the light crosses the mean, between the two pixels.
            let (a, b) = (f64::from(row[x - 1]), f64::from(row[x]));
            runs.turn((x - 1) as f64 + a / (a - b), row[x]);
            if row[x] >= 0
                && let Some((middle_x, across)) = runs.pattern()
                && let Some((middle, module)) = confirmed(level, middle_x, y as f64, across)
            {
                let to_full = |v: f64| (v + 0.5) * level.factor - 0.5;
                let finder = Finder {
                    middle: middle.map(to_full),
                    module_px: module * level.factor,
                    rows: 2 * level.factor as usize,
                    level: number,
                };
                meet(&mut found, finder);
            }
        }
    }
    found
}

/// Adds a finder pattern, or lays it together with what was seen of it before.
fn meet(found: &mut Vec<Finder>, finder: Finder) {
    match found.iter_mut().find(|f| near(f, &finder)) {
        Some(seen) => {
            let (old, new) = (seen.rows as f64, finder.rows as f64);
            let mean = |a: f64, b: f64| (a * old + b * new) / (old + new);
            seen.middle = [0, 1].map(|c| mean(seen.middle[c], finder.middle[c]));
            seen.module_px = mean(seen.module_px, finder.module_px);
            seen.rows += finder.rows;
        }
        None => found.push(finder),
    }
}

/// The last five runs of a line.
#[derive(Default)]
struct Runs {
    /// Ends of the runs, the newest last.
    ends: [f64; 6],
    /// Largest difference from the surroundings in each.
    heights: [f64; 6],
    count: usize,
}

impl Runs {
    fn widest(&mut self, shade: i16) {
        self.heights[5] = self.heights[5].max(f64::from(shade).abs());
    }

    /// A run ends at `place`; the next begins with `shade`.
    fn turn(&mut self, place: f64, shade: i16) {
        self.ends.rotate_left(1);
        self.ends[5] = place;
        self.heights.rotate_left(1);
        self.heights[5] = f64::from(shade).abs();
        self.count += 1;
    }

    /// Whether the five runs that ended last are a finder's: its middle and its module.
    fn pattern(&self) -> Option<(f64, f64)> {
        if self.count < 6 {
            return None;
        }
        let widths: [f64; 5] = std::array::from_fn(|k| self.ends[k + 1] - self.ends[k]);
        if self.heights[..5].iter().any(|&h| h < LEAST_CONTRAST) {
            return None;
        }
        is_finder(&widths).map(|module| ((self.ends[2] + self.ends[3]) / 2.0, module))
    }
}

fn is_finder(widths: &[f64; 5]) -> Option<f64> {
    let module = widths.iter().sum::<f64>() / 7.0;
    let due = [1.0, 1.0, 3.0, 1.0, 1.0];
    let off = [SINGLE_OFF, SINGLE_OFF, MIDDLE_OFF, SINGLE_OFF, SINGLE_OFF];
    let fits = (0..5).all(|k| (widths[k] / module - due[k]).abs() < off[k]);
    (fits && module >= LEAST_MODULE_PX).then_some(module)
}

/// The finder's middle and module if the column through (x, y) and the row through that column's middle show it too.
fn confirmed(level: &Shades, x: f64, y: f64, across: f64) -> Option<([f64; 2], f64)> {
    let (middle_y, down) = cut(level, [x, y], [0.0, 1.0], across)?;
    let (middle_x, across) = cut(level, [x, middle_y], [1.0, 0.0], across)?;
    if !(0.4..2.5).contains(&(across / down)) {
        return None;
    }
    // A cross of lines in a check shows the pattern along rows and columns; only a square shows it aslant as well.
    let aslant = (0.5f64).sqrt();
    let module = (across + down) / 2.0;
    let slanting = [[aslant, aslant], [aslant, -aslant]];
    slanting.iter().any(|&way| ring(level, [middle_x, middle_y], way, module * 1.25).is_some()).then_some(())?;
    Some(([middle_x, middle_y], module))
}

/// The middle and module of the finder along a line through a point in its middle square (`way` is an axis).
fn cut(level: &Shades, from: [f64; 2], way: [f64; 2], module: f64) -> Option<(f64, f64)> {
    let forth = edges(level, from, way, module)?;
    let back = edges(level, from, [-way[0], -way[1]], module)?;
    let widths = [back[2] - back[1], back[1] - back[0], back[0] + forth[0], forth[1] - forth[0], forth[2] - forth[1]];
    let module = is_finder(&widths)?;
    let place = from[0] * way[0] + from[1] * way[1];
    Some((place + (forth[0] - back[0]) / 2.0, module))
}

/// Distance to the outer edge of the ring in a direction, pixels of the level; `None` where dark, light, dark are not
/// met as they should be.
pub fn ring(level: &Shades, middle: [f64; 2], way: [f64; 2], module: f64) -> Option<f64> {
    let edges = edges(level, middle, way, module)?;
    // In modules: 1.5, 2.5, 3.5; the module along this direction is not known well.
    let own = edges[2] / 3.5;
    let fits = (edges[0] / own - 1.5).abs() < 0.7 && (edges[1] / own - 2.5).abs() < 0.7;
    fits.then_some(edges[2])
}

/// Whether a finder pattern is one beyond doubt, seen alone: the proportions hold in every direction, light lies around
/// it, and the distances to its edge are those of a square seen aslant.
pub fn is_plain(level: &Shades, finder: &Finder) -> bool {
    const DIRECTIONS: usize = 16;
    let to_level = |v: f64| (v + 0.5) / level.factor - 0.5;
    let (middle, module) = (finder.middle.map(to_level), finder.module_px / level.factor);
    let reaches: Option<Vec<f64>> = (0..DIRECTIONS)
        .map(|k| {
            let (sin, cos) = (std::f64::consts::TAU * k as f64 / DIRECTIONS as f64).sin_cos();
            let edges = edges(level, middle, [cos, sin], module)?;
            let own = edges[2] / 3.5;
            let fits = (edges[0] / own - 1.5).abs() < 0.4 && (edges[1] / own - 2.5).abs() < 0.4;
            let beyond = edges[2] + 0.5 * own;
            let ground = level.at(middle[0] + beyond * cos, middle[1] + beyond * sin)?;
            (fits && ground > PLAIN_CONTRAST).then_some(edges[2])
        })
        .collect();
    let Some(reaches) = reaches else { return false };
    let (least, most) = reaches.iter().fold((f64::MAX, 0.0), |(l, m): (f64, f64), &r| (l.min(r), m.max(r)));
    let ink = level.at(middle[0], middle[1]).unwrap_or(0.0);
    ink < -PLAIN_CONTRAST && (1.2..2.2).contains(&(most / least))
}

/// Where a line from inside the middle square leaves the dark, the light and the dark, distances from its start.
fn edges(level: &Shades, from: [f64; 2], way: [f64; 2], module: f64) -> Option<[f64; 3]> {
    const STEP: f64 = 0.5;
    let mut found = [0.0; 3];
    let mut met = 0;
    let mut last = level.at(from[0], from[1])?;
    if last >= 0.0 {
        return None;
    }
    let steps = (8.0 * module / STEP) as usize;
    for k in 1..=steps {
        let s = k as f64 * STEP;
        let here = level.at(from[0] + s * way[0], from[1] + s * way[1])?;
        if (here < 0.0) != (last < 0.0) {
            found[met] = s - STEP * here / (here - last);
            met += 1;
            if met == 3 {
                return Some(found);
            }
        }
        last = here;
    }
    None
}
