//! How the lines of a family run along v: their slope and their bow, from the displacement of every part of them.

use super::frame::Ribs;
use crate::lines::relief::{self, Profile};
use crate::scale::tilt::ribs::shift;
use crate::signal::Signal;
use crate::smooth::{biweight, spread};
use nalgebra::{DMatrix, DVector};

/// Ribs that are first laid on one another, and the steps between slopes that are tried (du/dv).
const FIRST_RIBS: usize = 8;
const FIRST_STEP: f64 = 0.012;
/// Steps to either side that are tried again with longer blocks, each half as long.
const AGAIN: i32 = 12;
/// Parts of the lines that are displaced against the whole: along v, and along u; and least samples of a part.
const BLOCKS: usize = 16;
const WINDOWS: usize = 10;
const LEAST_WINDOW: usize = 24;
/// A window shows lines from this share of the mean square of all on; a part shows something else where it differs from the
/// whole by this share of it. Between the lines of a large repeat nothing is to be told, and nothing is wrong.
const LEAST_LINES: f64 = 0.2;
const MOST_APART: f64 = 0.3;
/// Rounds of laying the parts on the whole.
const ROUNDS: usize = 4;
/// Cloth waves over longer ways than a block: its blocks err together. From rendered photographs.
const WAVES: f64 = 2.5;
/// Rounds of the robust fit.
const ROBUST_ROUNDS: usize = 6;
/// Coefficients of the fit: level, slope, bow, and how the slope changes along u.
const TERMS: usize = 4;

/// How the lines run: a line that stands at u for v = 0 stands at u + slope · v + bow · v² for v.
#[derive(Clone, Copy, Debug, Default)]
pub struct Course {
    /// du/dv at v = 0.
    pub slope: f64,
    /// Standard uncertainty of the slope over the whole breadth, from how the cloth's parts scatter.
    pub u_slope: f64,
    /// Half the second derivative, per millimetre.
    pub bow_per_mm: f64,
    /// Its standard uncertainty, of the same kind.
    pub u_bow_per_mm: f64,
    /// Share of the parts that show the same lines as the whole, 0 to 1.
    pub agreeing: f64,
}

impl Course {
    /// How much further along u the lines stand at v, millimetres.
    pub fn further_mm(&self, v_mm: f64) -> f64 {
        (self.slope + self.bow_per_mm * v_mm) * v_mm
    }
}

/// A part of the lines and where it stands.
struct Part {
    block: usize,
    window: usize,
    u_mm: f64,
    v_mm: f64,
    /// How far it stands beyond the course, millimetres, and the variance of that; `None` where that is not told.
    beyond: Option<(f64, f64)>,
    /// Whether the whole shows lines there, and whether the part shows something else.
    lines: bool,
    foreign: bool,
}

/// The slope (du/dv, up to `steepest`) along which neighbouring ribs agree best, then neighbours further apart, then half of all; with
/// the energy of the lines there.
pub fn first_slope(profiles: &[Profile], step_mm: f64, steepest: f64) -> (f64, f64) {
    let energy = |slope: f64, together: usize| -> f64 {
        let (mut sum, mut total) = (0.0, 0.0);
        for block in profiles.chunks(together).filter(|block| 2 * block.len() > together) {
            let middle_mm = 0.5 * (block[0].v_mm + block[block.len() - 1].v_mm);
            let (value, weight) = relief::stack(block, slope, middle_mm, step_mm);
            for (v, &w) in value.iter().zip(&weight) {
                if w >= relief::LEAST_STACKED {
                    sum += v.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>();
                    total += 1.0;
                }
            }
        }
        if total > 0.0 { sum / total } else { 0.0 }
    };
    let (mut best, mut highest) = (0.0, f64::MIN);
    let (mut together, mut step) = (FIRST_RIBS, FIRST_STEP);
    let mut count = (steepest / step) as i32;
    while together == FIRST_RIBS || 2 * together <= profiles.len() {
        let around = best;
        highest = f64::MIN;
        for slope in (-count..=count).map(|k| around + f64::from(k) * step) {
            let energy = energy(slope, together);
            if energy > highest {
                (best, highest) = (slope, energy);
            }
        }
        // Short blocks hardly tell slopes apart: longer ones may choose again among the neighbours.
        (together, step, count) = (2 * together, 0.5 * step, AGAIN.min(2 * count));
    }
    (best, highest)
}

/// The power that neighbouring ribs share along the slope (du/dv, up to `steepest`) on which they share most: mean square of
/// relief, of the strongest channel. Noise, which differs from rib to rib, adds nothing in the mean. 0 where too few are seen.
pub fn shared_power(profiles: &[Profile], step_mm: f64, steepest: f64) -> f64 {
    let shared = |slope: f64| -> f64 {
        let (mut sums, mut total) = ([0.0; 3], 0.0);
        for block in profiles.chunks(FIRST_RIBS).filter(|block| 2 * block.len() > FIRST_RIBS) {
            let middle_mm = 0.5 * (block[0].v_mm + block[block.len() - 1].v_mm);
            let half = |from: usize| {
                let every: Vec<Profile> = block.iter().skip(from).step_by(2).cloned().collect();
                relief::stack(&every, slope, middle_mm, step_mm)
            };
            let ((one, one_weight), (two, two_weight)) = (half(0), half(1));
            for k in 0..one.len() {
                if one_weight[k].min(two_weight[k]) >= relief::LEAST_STACKED {
                    (0..3).for_each(|c| sums[c] += f64::from(one[k][c] * two[k][c]));
                    total += 1.0;
                }
            }
        }
        sums.into_iter().fold(0.0, f64::max) / f64::max(total, 1.0)
    };
    let count = (steepest / FIRST_STEP) as i32;
    (-count..=count).map(|k| shared(f64::from(k) * FIRST_STEP)).fold(0.0, f64::max)
}

/// Follows the lines through all ribs, from about this slope on. Parts of the profiles that do not show them (a hand, a tape, the table) lose their weight.
pub fn follow(ribs: &Ribs, profiles: &mut [Profile], slope: f64) -> Course {
    let step_mm = ribs.step_mm;
    let size = profiles.len().div_ceil(BLOCKS).max(1);
    let length = (ribs.samples / WINDOWS).max(LEAST_WINDOW);
    let mut course = chained(profiles, size, step_mm, &Course { slope, ..Course::default() });
    for round in 0..ROUNDS {
        let parts = parts(ribs, profiles, &course, (size, length));
        let Some(better) = fitted(&parts, &course) else { break };
        course = better;
        if round + 1 == ROUNDS {
            leave_out(profiles, &parts, (size, length));
        }
    }
    course
}

/// The course as neighbouring blocks tell it, each laid on the one before.
fn chained(profiles: &[Profile], size: usize, step_mm: f64, start: &Course) -> Course {
    let blocks: Vec<(f64, Vec<[f32; 3]>)> = profiles.chunks(size).map(|block| seen(block, start, step_mm)).collect();
    let (mut places, mut at) = (Vec::with_capacity(blocks.len()), 0.0);
    for (k, (v_mm, tone)) in blocks.iter().enumerate() {
        let moved = k.checked_sub(1).and_then(|before| shift(&blocks[before].1, tone));
        at += moved.map_or(0.0, |moved| moved.samples * step_mm);
        places.push(Part {
            block: k,
            window: 0,
            u_mm: 0.0,
            v_mm: *v_mm,
            beyond: Some((at, 1.0)),
            lines: true,
            foreign: false,
        });
    }
    fitted(&places, start).unwrap_or(*start)
}

/// The mean of a block's ribs carried to v = 0 by a course, not a number where it is not seen, and the block's own v.
fn seen(block: &[Profile], course: &Course, step_mm: f64) -> (f64, Vec<[f32; 3]>) {
    let v_mm = block.iter().map(|p| p.v_mm).sum::<f64>() / block.len().max(1) as f64;
    let (value, weight) = relief::stack_along(block, |v| course.further_mm(v), step_mm);
    let hide = |(v, w): (&[f32; 3], &f32)| if *w >= relief::LEAST_STACKED { *v } else { [f32::NAN; 3] };
    (v_mm, value.iter().zip(&weight).map(hide).collect())
}

/// The lines of all ribs, laid on one another along the course.
pub fn whole(profiles: &[Profile], course: &Course, step_mm: f64) -> Signal {
    let (value, weight) = relief::stack_along(profiles, |v| course.further_mm(v), step_mm);
    let weight = relief::enough(&weight);
    (value, weight)
}

fn parts(ribs: &Ribs, profiles: &[Profile], course: &Course, (size, length): (usize, usize)) -> Vec<Part> {
    let step_mm = ribs.step_mm;
    let (value, weight) = whole(profiles, course, step_mm);
    let hide = |(v, w): (&[f32; 3], &f32)| if *w > 0.0 { *v } else { [f32::NAN; 3] };
    let whole: Vec<[f32; 3]> = value.iter().zip(&weight).map(hide).collect();
    let square = |a: &[f32; 3]| a.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>();
    let mean_square = |tone: &mut dyn Iterator<Item = f64>| {
        let (sum, count) = tone.filter(|x| !x.is_nan()).fold((0.0, 0.0), |(s, n), x| (s + x, n + 1.0));
        if count > 0.0 { sum / count } else { 0.0 }
    };
    let usual = mean_square(&mut whole.iter().map(square));
    let mut parts = Vec::new();
    for (block, profiles) in profiles.chunks(size).enumerate() {
        let (v_mm, tone) = seen(profiles, course, step_mm);
        for window in 0..ribs.samples / length {
            let (from, to) = (window * length, (window + 1) * length);
            let cloth = tone[from..to].iter().filter(|t| !t[0].is_nan()).count();
            if 2 * cloth < length {
                continue;
            }
            let pairs = || whole[from..to].iter().zip(&tone[from..to]);
            let apart = mean_square(&mut pairs().map(|(a, b)| square(&[a[0] - b[0], a[1] - b[1], a[2] - b[2]])));
            let beyond = shift(&whole[from..to], &tone[from..to])
                .map(|moved| (moved.samples * step_mm, moved.variance * step_mm * step_mm));
            parts.push(Part {
                block,
                window,
                u_mm: ribs.from_mm + 0.5 * (from + to) as f64 * step_mm,
                v_mm,
                beyond,
                lines: mean_square(&mut whole[from..to].iter().map(square)) > LEAST_LINES * usual,
                foreign: beyond.is_none() && apart > MOST_APART * usual,
            });
        }
    }
    parts
}

/// The course with what the parts stand beyond it taken in: robust least squares; `None` where too little is seen.
fn fitted(parts: &[Part], course: &Course) -> Option<Course> {
    let told: Vec<(&Part, f64, f64)> = parts.iter().filter_map(|p| p.beyond.map(|(d, var)| (p, d, var))).collect();
    let reach_u = parts.iter().map(|p| p.u_mm.abs()).fold(1e-9, f64::max);
    let reach_v = parts.iter().map(|p| p.v_mm.abs()).fold(1e-9, f64::max);
    let columns = if parts.iter().any(|p| p.u_mm != parts[0].u_mm) { TERMS } else { TERMS - 1 };
    let blocks = parts.iter().map(|p| p.block).max()? + 1;
    if told.len() < columns + 1 || blocks < TERMS {
        return None;
    }
    let row = |p: &Part| -> [f64; TERMS] {
        let (u, v) = (p.u_mm / reach_u, p.v_mm / reach_v);
        [1.0, v, v * v, u * v]
    };
    // A part's own noise, and what all scatter by beyond it.
    let typical = crate::smooth::median(told.iter().map(|t| t.2).collect())?;
    let own: Vec<f64> = told.iter().map(|t| typical / (typical + t.2)).collect();
    let mut weight = own.clone();
    let mut theta = DVector::zeros(columns);
    for _ in 0..ROBUST_ROUNDS {
        let (mut normal, mut right) = (DMatrix::<f64>::zeros(columns, columns), DVector::<f64>::zeros(columns));
        for ((p, d, _), w) in told.iter().zip(&weight) {
            let row = row(p);
            for a in 0..columns {
                right[a] += w * row[a] * d;
                for b in 0..columns {
                    normal[(a, b)] += w * row[a] * row[b];
                }
            }
        }
        theta = normal.cholesky()?.solve(&right);
        let left: Vec<f64> = told.iter().map(|(p, d, _)| d - dot(&row(p), &theta)).collect();
        let sd = spread(left.iter().copied())?.max(1e-9);
        weight = left.iter().zip(&own).map(|(r, w)| w * biweight((r / sd).powi(2))).collect();
    }
    // Blocks err as one: the mean residual of each is one observation of slope and bow.
    let mut sums = vec![[0.0f64; 3]; blocks];
    for ((p, d, _), w) in told.iter().zip(&weight) {
        let sum = &mut sums[p.block];
        for (s, x) in sum.iter_mut().zip([w * (d - dot(&row(p), &theta)), *w, w * p.v_mm / reach_v]) {
            *s += x;
        }
    }
    let means: Vec<[f64; 2]> = sums.iter().filter(|s| s[1] > 0.0).map(|s| [s[0] / s[1], s[2] / s[1]]).collect();
    let free = means.len() as f64 - 3.0;
    if free < 1.0 {
        return None;
    }
    let variance = means.iter().map(|m| m[0] * m[0]).sum::<f64>() / free;
    let mut normal = DMatrix::<f64>::zeros(3, 3);
    for [_, v] in &means {
        let row = [1.0, *v, v * v];
        (0..9).for_each(|k| normal[(k / 3, k % 3)] += row[k / 3] * row[k % 3]);
    }
    let covariance = normal.try_inverse()? * (variance * WAVES * WAVES);
    Some(Course {
        slope: course.slope + theta[1] / reach_v,
        u_slope: covariance[(1, 1)].max(0.0).sqrt() / reach_v,
        bow_per_mm: course.bow_per_mm + theta[2] / (reach_v * reach_v),
        u_bow_per_mm: covariance[(2, 2)].max(0.0).sqrt() / (reach_v * reach_v),
        agreeing: {
            let lines = || parts.iter().filter(|p| p.lines);
            lines().filter(|p| p.beyond.is_some()).count() as f64 / lines().count().max(1) as f64
        },
    })
}

fn dot(row: &[f64; TERMS], theta: &DVector<f64>) -> f64 {
    row.iter().zip(theta.iter()).map(|(a, b)| a * b).sum()
}

/// Takes the weight from parts that do not show the lines of the whole.
fn leave_out(profiles: &mut [Profile], parts: &[Part], (size, length): (usize, usize)) {
    for part in parts.iter().filter(|part| part.foreign) {
        for profile in profiles.chunks_mut(size).nth(part.block).unwrap_or_default() {
            profile.weight[part.window * length..(part.window + 1) * length].fill(0.0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cloth::frame::Frame;
    use crate::units::MmPoint;

    #[test]
    fn slope_and_bow_of_lines_come_back() {
        let (samples, step_mm) = (900usize, 0.2);
        let truth = |v: f64| 0.03 * v + 2e-4 * v * v;
        let mut profiles: Vec<Profile> = (0..96)
            .map(|k| {
                let v_mm = (f64::from(k) - 47.5) * 1.5;
                let value = (0..samples)
                    .map(|i| {
                        let u = i as f64 * step_mm - truth(v_mm);
                        let line = (u * 0.7).sin() + 0.5 * (u * 1.4 + 1.0).sin();
                        [line as f32, 0.4 * line as f32, 0.0]
                    })
                    .collect();
                Profile { v_mm, value, tone: Vec::new(), weight: vec![1.0; samples] }
            })
            .collect();
        let (first, _) = first_slope(&profiles, step_mm, 0.36);
        assert!((first - 0.03).abs() < 0.01, "{first}");
        let frame = Frame { middle: MmPoint::new(0.0, 0.0), u: MmPoint::new(0.0, 1.0), v: MmPoint::new(1.0, 0.0) };
        let ribs = Ribs { frame, from_mm: -90.0, step_mm, samples, ribs: Vec::new() };
        let course = follow(&ribs, &mut profiles, first);
        assert!((course.slope - 0.03).abs() < 2e-4, "{course:?}");
        assert!((course.bow_per_mm - 2e-4).abs() < 2e-6, "{course:?}");
        assert!(course.agreeing > 0.9);
    }

    #[test]
    fn ribs_share_the_power_of_lines_and_none_of_their_noise() {
        let mut state = 11u32;
        let mut noise = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / 16_777_216.0 - 0.5
        };
        // Lines of amplitude 0.1 that lean by 0.1, in noise of twice their size.
        let mut ribs = |amplitude: f32| -> Vec<Profile> {
            let mut rib = |v_mm: f64| -> Profile {
                let line = |u: f64| amplitude * ((u - 0.1 * v_mm) * 0.7).sin() as f32;
                let value = (0..900).map(|i| [0; 3].map(|_| line(f64::from(i) * 0.2) + 0.4 * noise())).collect();
                Profile { v_mm, value, tone: Vec::new(), weight: vec![1.0; 900] }
            };
            (0..96).map(|k| rib(f64::from(k) * 1.5)).collect()
        };
        let lines = shared_power(&ribs(0.1), 0.2, 0.36);
        assert!((lines / 0.005 - 1.0).abs() < 0.1, "{lines}");
        let plain = shared_power(&ribs(0.0), 0.2, 0.36);
        assert!(plain < 2e-4, "{plain}");
    }
}
