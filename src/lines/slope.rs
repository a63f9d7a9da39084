//! The slope of the lines on one side, and which ribs show them.

use super::relief::{self, Profile, Slope, Sums};
use crate::signal::{self, Signal};
use std::ops::RangeInclusive;

/// Steepest slope looked for, du/dv: about 20 degrees.
pub const STEEPEST: f64 = 0.36;
/// Step of the search, and how many of them each way.
const STEP: f64 = 0.012;
const EACH_WAY: i32 = (STEEPEST / STEP) as i32;
/// Where less than [`COMMON`] of a side runs within that, lines are looked for up to here: 50 degrees, as on chevrons.
const STEEPEST_OF_ALL: f64 = 1.2;
const EACH_WAY_OF_ALL: i32 = (STEEPEST_OF_ALL / STEP) as i32;
/// They must show so many times as much in common, and the other way less than this share of it: else the cloth is cut on the
/// bias, and which of its two families of lines meets which is not to be told.
const STEEPLY: f64 = 1.3;
const BOTH_WAYS: f64 = 0.6;
/// How many steps from a slope that is known roughly the best is looked for.
const NEAR: i32 = 5;
/// Samples are pooled up to this length for the search, millimetres, and so many are left at least.
const POOLED_MM: f64 = 0.36;
const LEAST_POOLED: usize = 100;
/// A rib shows the side's lines when its likeness to the stack reaches this share of the median rib's.
const LEAST_LIKENESS_SHARE: f64 = 0.45;

/// The slope along which the ribs agree best: their stack has the most energy.
pub fn steepest_agreement(profiles: &[Profile], step_mm: f64) -> f64 {
    agreement_among(-EACH_WAY..=EACH_WAY, profiles, step_mm)
}

/// The same near a slope that is known roughly, from more or other ribs of the side; one that turns stays as it is.
pub fn agreement_near(slope: Slope, profiles: &[Profile], step_mm: f64) -> Slope {
    if slope.turn_per_mm != 0.0 {
        return slope;
    }
    let middle = (slope.middle / STEP).round() as i32;
    Slope::even(agreement_among((middle - NEAR)..=(middle + NEAR), profiles, step_mm))
}

/// The best slope of so many steps, refined between them.
fn agreement_among(steps: RangeInclusive<i32>, profiles: &[Profile], step_mm: f64) -> f64 {
    if profiles.len() < 2 {
        return 0.0;
    }
    // The same stretch for every slope: where the steepest still sees all ribs, or the middle half.
    let widest_mm = profiles.iter().map(|p| p.v_mm.abs()).fold(0.0, f64::max);
    let steepest = f64::from(steps.start().abs().max(steps.end().abs())) * STEP;
    let ends = ((steepest * widest_mm / step_mm) as usize).min(profiles[0].value.len() / 4);
    // Carried to their middle, the ribs' mean keeps its phase whatever the slope.
    let middle_mm = profiles.iter().map(|p| p.v_mm).sum::<f64>() / profiles.len() as f64;
    let energy_of = |profiles: &[Profile], count: usize, slope: f64| {
        let (value, weight) = relief::stack(profiles, slope, middle_mm, step_mm * count as f64);
        let ends = ends / count;
        let (mut sum, mut total) = (0.0, 0.0);
        for (v, &w) in value[ends..value.len() - ends].iter().zip(&weight[ends..]) {
            if w >= relief::LEAST_STACKED {
                sum += v.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>();
                total += 1.0;
            }
        }
        if total > 0.0 { sum / total } else { 0.0 }
    };
    // The search needs no finer samples than its steps move the outermost rib by.
    let pool = ((POOLED_MM / step_mm) as usize).clamp(1, (profiles[0].value.len() / LEAST_POOLED).max(1));
    let coarse: Vec<Profile> = profiles.iter().map(|p| pooled(p, pool)).collect();
    let best = steps
        .map(|k| f64::from(k) * STEP)
        .map(|s| (s, energy_of(&coarse, pool, s)))
        .fold((0.0, f64::MIN), |best, next| if next.1 > best.1 { next } else { best });
    let energy = |slope: f64| energy_of(profiles, 1, slope);
    let mut slope = best.0;
    let mut width = STEP;
    // Narrower steps than these would read the noise of the energy, not its curve.
    for _ in 0..3 {
        let (a, b, c) = (energy(slope - width), energy(slope), energy(slope + width));
        let bend = a - 2.0 * b + c;
        if bend < 0.0 {
            slope += (0.5 * width * (a - c) / bend).clamp(-width, width);
        }
        width *= 0.5;
    }
    slope
}

/// A profile of the means of `count` samples each, seen where all of them are.
fn pooled(p: &Profile, count: usize) -> Profile {
    let (value, weight) = signal::pooled(&p.value, &p.weight, count);
    Profile { v_mm: p.v_mm, value, tone: Vec::new(), weight }
}

/// Ribs with so much in common run straight enough. Where they have less, the slope may turn along the seam, by up to so many
/// steps from its middle, if that gives them so many times as much. By eye.
const STRAIGHT: f64 = 0.85;
const TURNED: i32 = 25;
const PLAINLY_MORE: f64 = 1.15;
/// Narrower pieces of a side from the seam on that are tried, widest first, as a share of what is seen.
const NARROWER: [f64; 3] = [0.5, 0.25, 0.125];
/// A wider piece of the side is taken when its ribs have at least this share of a narrower one's lines in common: cloth that ends,
/// or turns, or is gathered beyond has not. By eye.
const LEAST_COMMON_SHARE: f64 = 0.7;
/// A side whose ribs have so much in common is taken as it is. By eye.
const COMMON: f64 = 0.6;

/// How the lines of a side run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run {
    /// For how many ribs from the seam.
    pub ribs: usize,
    /// Their slope.
    pub slope: Slope,
    /// Whether two families of lines cross the seam at steep slopes, one each way: cloth that is cut on the bias.
    pub is_bias: bool,
}

/// How far from the seam the lines of a side's ribs, nearest first, run on, and along which slope they agree best.
pub fn run(profiles: &[Profile], step_mm: f64) -> Run {
    let within = |width: f64| {
        let ribs = ((width * profiles.len() as f64).ceil() as usize).min(profiles.len());
        let slope = Slope::even(steepest_agreement(&profiles[..ribs], step_mm));
        turned(Run { ribs, slope, is_bias: false }, &profiles[..ribs], step_mm)
    };
    let (whole, own) = within(1.0);
    if own >= COMMON {
        return whole;
    }
    if let Some(steep) = steep(profiles, step_mm) {
        return steep;
    }
    // Few ribs have something in common by chance: a narrower piece must show its lines plainly.
    let narrower = NARROWER.map(within).into_iter().filter(|t| t.1 >= COMMON);
    let tried: Vec<(Run, f64)> = std::iter::once((whole, own)).chain(narrower).collect();
    let most = tried.iter().map(|t| t.1).fold(0.0, f64::max);
    tried.iter().find(|t| t.1 >= LEAST_COMMON_SHARE * most).map_or(whole, |t| t.0)
}

/// Lines that run more steeply than [`STEEPEST`], where they have plainly more in common than any along a lesser slope; `None`
/// where they have not.
fn steep(profiles: &[Profile], step_mm: f64) -> Option<Run> {
    // A steep line runs out of a short seam soon: nearer ribs tell.
    let part = &profiles[..profiles.len().div_ceil(2)];
    let own = common(part, &Slope::even(steepest_agreement(part, step_mm)), step_mm);
    let ways = [EACH_WAY + 1..=EACH_WAY_OF_ALL, -EACH_WAY_OF_ALL..=-EACH_WAY - 1].map(|steps| {
        let slope = agreement_among(steps, part, step_mm);
        (slope, common(part, &Slope::even(slope), step_mm))
    });
    let [one, other] = if ways[0].1 >= ways[1].1 { ways } else { [ways[1], ways[0]] };
    let run = Run { ribs: part.len(), slope: Slope::even(one.0), is_bias: other.1 > BOTH_WAYS * one.1 };
    (one.1 >= STEEPLY * own).then_some(run)
}

/// The same run with its slope turning along the seam, where that gives its ribs plainly more in common; and how much they have.
fn turned(run: Run, ribs: &[Profile], step_mm: f64) -> (Run, f64) {
    let own = common(ribs, &run.slope, step_mm);
    if own >= STRAIGHT || ribs.len() < 2 {
        return (run, own);
    }
    let n = ribs[0].value.len();
    let first = (run.slope.middle / STEP).round() as i32;
    // Three halves of the seam that overlap by half: the outer two tell how much the slope turns between their middles.
    let of_half = |from: usize| {
        let part = |p: &Profile| Profile {
            v_mm: p.v_mm,
            value: p.value[from..from + n / 2].to_vec(),
            tone: Vec::new(),
            weight: p.weight[from..from + n / 2].to_vec(),
        };
        agreement_among(first - TURNED..=first + TURNED, &ribs.iter().map(part).collect::<Vec<_>>(), step_mm)
    };
    let [begin, end] = [0, n - n / 2].map(of_half);
    let apart_mm = (n - n / 2) as f64 * step_mm;
    let slope = Slope {
        middle: 0.5 * (begin + end),
        turn_per_mm: (end - begin) / apart_mm,
        middle_mm: 0.5 * n as f64 * step_mm,
    };
    let turned = common(ribs, &slope, step_mm);
    if turned > PLAINLY_MORE * own { (Run { slope, ..run }, turned) } else { (run, own) }
}

/// The share of the ribs' mean square that is common to all of them when they are laid along a slope: what the products of
/// different ribs come to, so that noise adds nothing whatever their number. 0 of fewer than two ribs.
fn common(profiles: &[Profile], slope: &Slope, step_mm: f64) -> f64 {
    let mut sums = Sums::new(profiles.first().map_or(0, |p| p.value.len()));
    let mut squares = vec![0.0f64; sums.count.len()];
    for p in profiles {
        let carried = slope.carried(p, step_mm);
        for (k, value) in carried.value.iter().enumerate().filter(|(k, _)| carried.count[*k] > 0.0) {
            (0..3).for_each(|c| sums.value[k][c] += value[c]);
            sums.count[k] += 1.0;
            squares[k] += value.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>();
        }
    }
    let (mut products, mut all) = (0.0, 0.0);
    for (k, &square) in squares.iter().enumerate().filter(|(k, _)| sums.count[*k] > 1.0) {
        let n = f64::from(sums.count[k]);
        let whole = sums.value[k].iter().map(|&x| f64::from(x).powi(2)).sum::<f64>();
        products += (whole - square) / (n * (n - 1.0));
        all += square / n;
    }
    if all > 0.0 { products / all } else { 0.0 }
}

/// The ribs that show the side's lines. Those that do not are dropped: what is nearer to the seam than a run of
/// dropped ribs is not cloth of this side either.
pub fn agreeing(profiles: Vec<Profile>, slope: &Slope, step_mm: f64) -> Vec<Profile> {
    let (value, weight) = slope.stack(&profiles, step_mm);
    let count = signal::samples_compared(step_mm);
    let (value, weight) = signal::pooled(&value, &relief::enough(&weight), count);
    let likeness: Vec<f64> = profiles
        .iter()
        .map(|p| {
            let carried = slope.carried(p, step_mm);
            let rib = signal::pooled(&carried.value, &carried.count, count);
            likeness(&rib, (&value, &weight), step_mm * count as f64)
        })
        .collect();
    let mut sorted = likeness.clone();
    sorted.sort_by(f64::total_cmp);
    let median = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
    let good = |k: usize| likeness[k] >= LEAST_LIKENESS_SHARE * median;
    // Within the first third, the cloth begins after the last pair of ribs that do not show the lines.
    let near = (profiles.len() / 3).max(1);
    let begin = (1..near).rev().find(|&k| !good(k) && !good(k - 1)).map_or(0, |k| k + 1);
    profiles.into_iter().enumerate().filter(|&(k, _)| k >= begin && good(k)).map(|(_, p)| p).collect()
}

/// Lines may stand this far aside on a rib, millimetres, over stretches of this length: beside a stitched edge cloth puckers.
const ASIDE_MM: f64 = 1.5;
const STRETCH_MM: f64 = 30.0;

/// Correlation of a rib with the stack of all, each stretch where it is most like.
fn likeness(rib: &Signal, (value, weight): (&[[f32; 3]], &[f32]), step_mm: f64) -> f64 {
    let n = value.len();
    let reach = (ASIDE_MM / step_mm).round() as isize;
    let stretch = ((STRETCH_MM / step_mm) as usize).max(1);
    let (mut cross, mut own, mut other) = (0.0, 0.0, 0.0);
    for from in (0..n).step_by(stretch) {
        let to = if from + 2 * stretch > n { n } else { from + stretch };
        let sums = |aside: isize| {
            let (mut sums, mut at) = ([0.0f64; 3], from as isize);
            while at < to as isize {
                let (k, j) = (at as usize, at + aside);
                at += 1;
                if (0..n as isize).contains(&j) && weight[k] > 0.0 && rib.1[j as usize] > 0.0 {
                    for c in 0..3 {
                        let (a, b) = (f64::from(rib.0[j as usize][c]), f64::from(value[k][c]));
                        sums[0] += a * b;
                        sums[1] += a * a;
                        sums[2] += b * b;
                    }
                }
            }
            sums
        };
        let likeness = |s: &[f64; 3]| if s[1] > 0.0 && s[2] > 0.0 { s[0] / (s[1] * s[2]).sqrt() } else { -1.0 };
        let Some(best) = (-reach..=reach).map(sums).max_by(|a, b| likeness(a).total_cmp(&likeness(b))) else {
            continue;
        };
        cross += best[0];
        own += best[1];
        other += best[2];
        if to == n {
            break;
        }
    }
    if own > 0.0 && other > 0.0 { cross / (own * other).sqrt() } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strip::RIB_MM;

    fn slanted(slope: f64, bad: std::ops::Range<usize>) -> Vec<Profile> {
        let step = 0.2;
        (0..40)
            .map(|r| {
                let v_mm = (r as f64 + 0.5) * RIB_MM;
                let value = (0..800)
                    .map(|k| {
                        let t = k as f64 * step - slope * v_mm;
                        let x = if bad.contains(&r) {
                            (k as f32 * 0.31).sin()
                        } else {
                            (t / 12.0 * std::f64::consts::TAU).sin() as f32
                        };
                        [x, 0.5 * x, -x]
                    })
                    .collect();
                Profile { v_mm, tone: Vec::new(), value, weight: vec![1.0; 800] }
            })
            .collect()
    }

    #[test]
    fn the_slope_is_found() {
        for slope in [-0.21, -0.013, 0.0, 0.14] {
            let found = steepest_agreement(&slanted(slope, 0..0), 0.2);
            assert!((found - slope).abs() < 1e-3, "{slope} {found}");
        }
    }

    /// Ribs whose value at (u, v) millimetres is told.
    fn ribs(value: impl Fn(f64, f64) -> f64) -> Vec<Profile> {
        let rib = |r: usize| {
            let v_mm = (r as f64 + 0.5) * RIB_MM;
            let value = (0..800).map(|k| [value(k as f64 * 0.2, v_mm) as f32; 3]).collect();
            Profile { v_mm, tone: Vec::new(), value, weight: vec![1.0; 800] }
        };
        (0..50).map(rib).collect()
    }

    fn wave(t_mm: f64, repeat_mm: f64) -> f64 {
        (t_mm / repeat_mm * std::f64::consts::TAU).sin()
    }

    #[test]
    fn a_slope_that_turns_along_a_curve_is_followed() {
        let slope = |u: f64| 0.0025 * (u - 80.0);
        let run = run(&ribs(|u, v| wave(u - slope(u) * v, 11.0)), 0.2);
        assert!((run.slope.turn_per_mm - 0.0025).abs() < 6e-4 && run.slope.middle.abs() < 0.02, "{run:?}");
    }

    #[test]
    fn steep_lines_are_found_and_two_families_are_cut_on_the_bias() {
        let chevron = run(&ribs(|u, v| wave(u - 0.7 * v, 12.0)), 0.2);
        assert!((chevron.slope.middle - 0.7).abs() < 0.01 && !chevron.is_bias, "{chevron:?}");
        let bias = run(&ribs(|u, v| wave(u - v, 12.0) + wave(u + v, 12.0)), 0.2);
        assert!(bias.is_bias, "{bias:?}");
    }

    #[test]
    fn a_side_that_is_other_cloth_further_out_is_measured_by_its_nearer_ribs() {
        let turned = run(&ribs(|u, v| if v < 8.0 { wave(u, 12.0) } else { wave(u + 5.0 * v, 17.0) }), 0.2);
        assert!(turned.ribs < 20 && turned.slope.middle.abs() < 0.02, "{turned:?}");
    }

    #[test]
    fn tape_beside_the_seam_is_dropped() {
        let kept = agreeing(slanted(0.05, 0..6), &Slope::even(0.05), 0.2);
        assert!((kept[0].v_mm - 6.5 * RIB_MM).abs() < 1e-9 && kept.len() == 34);
    }
}
