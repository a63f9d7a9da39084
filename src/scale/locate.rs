//! From finder patterns to places where a symbol may stand: three of them in their corners, or two of the printed card
//! whose third is covered or cut off.

use super::finders::{Finder, ring};
use super::homography;
use super::pattern::Pattern;
use super::printed;
use super::shades::Shades;
use nalgebra::Matrix3;

/// A place where a symbol may stand.
#[derive(Clone, Debug)]
pub struct Stand {
    /// Which finder patterns it is made of.
    pub finders: Vec<usize>,
    /// What is known of it unread.
    pub pattern: Pattern,
    /// Symbol coordinates in modules → picture pixels, good to a module.
    pub start: Matrix3<f64>,
    /// Share of the known modules that are seen so.
    pub agreement: f64,
}

/// Largest symbol that is looked for, modules (version 10).
const MOST_MODULES: f64 = 58.0;
/// Least agreement at the rough place: of all that is known, of the finders alone.
const ROUGH: f64 = 0.74;
const ROUGH_FINDERS: f64 = 0.84;
/// Most places of each sort that are looked at closely.
const MOST: usize = 12;
/// Modules from the symbol's edge to the middle of a finder.
const INSET: f64 = 3.5;

/// Places with all three finders, the likeliest first.
pub fn threes(levels: &[Shades], finders: &[Finder]) -> Vec<Stand> {
    let mut stands = Vec::new();
    for corner in 0..finders.len() {
        for right in (0..finders.len()).filter(|&k| k != corner && alike(&finders[corner], &finders[k])) {
            for below in (0..finders.len()).filter(|&k| k != corner && k != right) {
                if alike(&finders[corner], &finders[below]) {
                    stands.extend(three(levels, finders, [corner, right, below]));
                }
            }
        }
    }
    likeliest(stands)
}

fn likeliest(mut stands: Vec<Stand>) -> Vec<Stand> {
    stands.sort_by(|a, b| b.agreement.total_cmp(&a.agreement));
    stands.truncate(MOST);
    stands
}

fn alike(a: &Finder, b: &Finder) -> bool {
    (0.55..1.8).contains(&(a.module_px / b.module_px))
}

fn three(levels: &[Shades], finders: &[Finder], which: [usize; 3]) -> Option<Stand> {
    let [corner, right, below] = which.map(|k| &finders[k]);
    let [x, y] = [right, below].map(|f| [f.middle[0] - corner.middle[0], f.middle[1] - corner.middle[1]]);
    let (long, deep) = (x[0].hypot(x[1]), y[0].hypot(y[1]));
    // Seen from above, not through the paper; the corner near a right angle, the sides not too unequal.
    let turned = (x[0] * y[1] - x[1] * y[0]) / (long * deep);
    if turned < 0.75 || !(0.55..1.8).contains(&(long / deep)) {
        return None;
    }
    let count = |other: &Finder| modules_between(levels, corner, other);
    let (across, down) = (count(right)?, count(below)?);
    if !(0.75..1.33).contains(&(across / down)) {
        return None;
    }
    let modules = (across + down) / 2.0 + 2.0 * INSET;
    if !(19.0..MOST_MODULES).contains(&modules) {
        return None;
    }
    let nearest = 17 + 4 * ((modules - 17.0) / 4.0).round().max(1.0) as usize;
    let next = if modules > nearest as f64 { nearest + 4 } else { (nearest - 4).max(21) };
    [nearest, next]
        .into_iter()
        .filter_map(|n| {
            let far = n as f64 - INSET;
            let from = [[INSET, INSET], [far, INSET], [INSET, far], [far, far]];
            let fourth = [0, 1].map(|c| corner.middle[c] + x[c] + y[c]);
            let start = homography::from_pairs(&from, &[corner.middle, right.middle, below.middle, fourth])?;
            stand(levels, finders, &which, n, [true; 3], start)
        })
        .max_by(|a, b| a.agreement.total_cmp(&b.agreement))
}

/// Modules from one finder's middle to the other's, by the width of both along the line between them.
fn modules_between(levels: &[Shades], a: &Finder, b: &Finder) -> Option<f64> {
    let apart = [b.middle[0] - a.middle[0], b.middle[1] - a.middle[1]];
    let length = apart[0].hypot(apart[1]);
    let half_width = |f: &Finder, sign: f64| {
        let level = &levels[f.level];
        let to_level = |v: f64| (v + 0.5) / level.factor - 0.5;
        let way = apart.map(|v| sign * v / length);
        ring(level, f.middle.map(to_level), way, f.module_px / level.factor).map(|edge| edge * level.factor)
    };
    let module = match (half_width(a, 1.0), half_width(b, -1.0)) {
        (Some(a), Some(b)) => (a + b) / 7.0,
        (Some(one), None) | (None, Some(one)) => one / 3.5,
        (None, None) => return None,
    };
    Some(length / module)
}

/// Places of the printed card with two finders; `used` are left out.
pub fn twos(levels: &[Shades], finders: &[Finder], used: &[bool]) -> Vec<Stand> {
    let mut stands = Vec::new();
    let far = printed::MODULES as f64 - 2.0 * INSET;
    for a in (0..finders.len()).filter(|&k| !used[k]) {
        for b in (0..finders.len()).filter(|&k| k != a && !used[k] && alike(&finders[a], &finders[k])) {
            let Some(between) = modules_between(levels, &finders[a], &finders[b]) else { continue };
            let d = [0, 1].map(|c| finders[b].middle[c] - finders[a].middle[c]);
            // Along the diagonal a finder is wider by as much as the way is longer; blur takes its corners.
            let along = (0.84..1.16).contains(&(between / far));
            let aslant = (0.84..1.3).contains(&(between / far));
            // The finders that are seen, the first one's place in the symbol, and the symbol's x axis, a module long.
            let cases = [
                (along, [true, true, false], [INSET, INSET], [d[0] / far, d[1] / far]),
                (along, [true, false, true], [INSET, INSET], [d[1] / far, -d[0] / far]),
                // From the top right to the bottom left: (−far, far) times the axis.
                (
                    aslant,
                    [false, true, true],
                    [far + INSET, INSET],
                    [(d[1] - d[0]) / (2.0 * far), (-d[0] - d[1]) / (2.0 * far)],
                ),
            ];
            for (_, seen, place, x) in cases.into_iter().filter(|case| case.0) {
                // The camera's tilt shortens the direction that the two finders do not tell.
                let best = [1.0, 0.87, 1.15].map(|stretch| {
                    let (x, y) = match seen {
                        [true, false, true] => ([x[0] * stretch, x[1] * stretch], [-x[1], x[0]]),
                        _ => (x, [-x[1] * stretch, x[0] * stretch]),
                    };
                    let origin = [0, 1].map(|c| finders[a].middle[c] - place[0] * x[c] - place[1] * y[c]);
                    let start = Matrix3::new(x[0], y[0], origin[0], x[1], y[1], origin[1], 0.0, 0.0, 1.0);
                    stand(levels, finders, &[a, b], printed::MODULES, seen, start)
                });
                stands.extend(best.into_iter().flatten().max_by(|a, b| a.agreement.total_cmp(&b.agreement)));
            }
        }
    }
    likeliest(stands)
}

/// Draws a start in by moving one corner at a time to where most of the known modules are seen as they should be.
///
/// Gets over the false places of a whole module that a fit by gradients is caught in.
pub fn settle(level: &Shades, pattern: &Pattern, start: &Matrix3<f64>) -> Matrix3<f64> {
    const STEPS: [f64; 5] = [1.4, 0.8, 0.5, 0.3, 0.15];
    let n = pattern.modules as f64;
    let square = [[0.0, 0.0], [n, 0.0], [n, n], [0.0, n]];
    let mut corners = square.map(|p| homography::apply(start, p));
    let mut best = (likeness(level, pattern, start), *start);
    let module_px = (corners[0][0] - corners[2][0]).hypot(corners[0][1] - corners[2][1]) / (n * 2f64.sqrt());
    for step in STEPS {
        for corner in [2, 1, 3, 0, 2] {
            let from = corners;
            for k in 0..8 {
                let (sin, cos) = (std::f64::consts::FRAC_PI_4 * f64::from(k)).sin_cos();
                let mut moved = from;
                moved[corner] = [from[corner][0] + step * module_px * cos, from[corner][1] + step * module_px * sin];
                let Some(h) = homography::from_pairs(&square, &moved) else { continue };
                let likeness = likeness(level, pattern, &h);
                if likeness > best.0 {
                    best = (likeness, h);
                    corners = moved;
                }
            }
        }
    }
    best.1
}

/// How well the known modules stand out from their surroundings as they should, −1 to 1.
fn likeness(level: &Shades, pattern: &Pattern, modules_to_px: &Matrix3<f64>) -> f64 {
    /// A difference of this many grey levels is plain.
    const PLAIN: f64 = 30.0;
    let n = pattern.modules;
    let (mut sum, mut known) = (0.0, 0.0);
    for (i, dark) in pattern.cells.iter().enumerate() {
        let Some(dark) = dark else { continue };
        known += 1.0;
        let p = homography::apply(modules_to_px, [(i % n) as f64 + 0.5, (i / n) as f64 + 0.5]);
        let [x, y] = p.map(|v| (v + 0.5) / level.factor - 0.5);
        if let Some(shade) = level.at(x, y) {
            sum += (shade / PLAIN).clamp(-1.0, 1.0) * if *dark { -1.0 } else { 1.0 };
        }
    }
    sum / f64::max(known, 1.0)
}

fn stand(
    levels: &[Shades],
    finders: &[Finder],
    which: &[usize],
    modules: usize,
    corners: [bool; 3],
    start: Matrix3<f64>,
) -> Option<Stand> {
    let seen = dark_at(&levels[finders[which[0]].level], &start, modules);
    if Pattern::finders(modules, corners).agreement(&seen) < ROUGH_FINDERS {
        return None;
    }
    let pattern = Pattern::of_size(modules, corners);
    let agreement = pattern.agreement(&seen);
    (agreement >= ROUGH).then(|| Stand { finders: which.to_vec(), agreement, pattern, start })
}

/// Whether each module's middle is darker than its surroundings; `None` outside the picture.
pub fn dark_at(level: &Shades, modules_to_px: &Matrix3<f64>, modules: usize) -> Vec<Option<bool>> {
    (0..modules * modules)
        .map(|i| {
            let p = homography::apply(modules_to_px, [(i % modules) as f64 + 0.5, (i / modules) as f64 + 0.5]);
            let [x, y] = p.map(|v| (v + 0.5) / level.factor - 0.5);
            Some(level.at(x, y)? < 0.0)
        })
        .collect()
}
