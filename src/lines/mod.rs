//! Room 5: [`Strips`] → [`Lines`]: the repeat, slope and contrast of the lines on each side.
//!
//! Light becomes relief (logarithm, shade removed); on each side the slope is the one along which the ribs agree
//! best; ribs that do not show the side's lines (a zip's tape beside the seam, a tape measure) are dropped, and those
//! dropped next to the seam are its gap. The stack of the rest has a spectrum and from it the repeat.

pub mod relief;

pub mod align;

pub mod repeat;

pub mod slope;

pub mod chance;

use crate::conventions::Side;
use crate::light;
use crate::problem::{Note, Refusal, RefusalCode};
use crate::strip::{Rib, Strip, Strips};
use crate::threads;
use align::{Pieces, Stack};
use relief::{Profile, Tones};

/// Standard deviation of the smooth that takes off the shade, in repeats; and its bounds, millimetres.
const BROAD_REPEATS: f64 = 0.5;
const BROAD_RANGE_MM: (f64, f64) = (6.0, 40.0);
/// The smooth while the repeat is unknown, millimetres.
pub const BROAD_FIRST_MM: f64 = 25.0;
/// Length of a piece of the seam that is compared with itself a repeat further on, millimetres; and how far it may stand
/// off, as a share of the repeat and at most, millimetres.
const REPEAT_PIECE_MM: f64 = 15.0;
const REPEAT_SLACK: f64 = 0.12;
const MOST_SLACK_MM: f64 = 2.5;
/// The weakest lines that are measured: root mean square of the stacked relief (natural logarithm).
pub const LEAST_RELIEF: f64 = 0.03;
/// The largest chance that the lines are noise with which they are still measured.
pub const MOST_CHANCE: f64 = 0.01;

/// What crosses the seam on one side.
#[derive(Clone, Debug)]
pub struct SideLines {
    /// Which side.
    pub side: Side,
    /// Repeat of the lines along the seam, millimetres; `None` where less than one repeat is seen.
    pub repeat_mm: Option<f64>,
    /// Standard uncertainty of the repeat in the plane of the cloth; [`Lines::with_scale`] adds the scale's share.
    pub repeat_uncertainty_mm: Option<f64>,
    /// Slope of the lines, du/dv.
    pub slope: f64,
    /// Michelson contrast of the lines on linear luminance, 0 to 1.
    pub contrast: f64,
    /// The chance that noise alone would show what is seen, 0 to 1.
    pub chance_noise: f64,
    /// How strongly the lines return along the seam, by how often.
    pub spectrum: repeat::Spectrum,
    /// The relief of each rib that shows the lines, nearest to the seam first.
    pub profiles: Vec<Profile>,
}

/// The lines of both sides.
#[derive(Clone, Debug)]
pub struct Lines {
    /// The two sides in the order of [`Runs::sides`](crate::conventions::Runs::sides).
    pub sides: [SideLines; 2],
    /// Distance between samples along u, millimetres.
    pub step_mm: f64,
    /// Number of samples along u.
    pub samples: usize,
    /// Doubts about the lines.
    pub notes: Vec<Note>,
}

impl Lines {
    /// The repeat along the seam and its standard uncertainty, both sides together, millimetres.
    pub fn repeat_mm(&self) -> Option<(f64, f64)> {
        let [first, second] = &self.sides;
        let (a, ua) = (first.repeat_mm?, first.repeat_uncertainty_mm?);
        let (b, ub) = (second.repeat_mm?, second.repeat_uncertainty_mm?);
        Some((0.5 * (a + b), 0.5 * ua.hypot(ub)))
    }

    /// The same with the scale's relative standard uncertainty counted into each side's repeat.
    pub fn with_scale(mut self, relative: f64) -> Self {
        for side in &mut self.sides {
            if let (Some(repeat), Some(u)) = (side.repeat_mm, side.repeat_uncertainty_mm) {
                side.repeat_uncertainty_mm = Some(u.hypot(relative * repeat));
            }
        }
        self
    }
}

/// Measures the lines on both sides.
///
/// # Errors
/// `no-lines`, `lines-along-only` when nothing crosses the seam on a side.
pub fn measure(strips: &Strips) -> Result<Lines, Refusal> {
    let step_mm = strips.step_mm;
    let look = |strip: &Strip| {
        let tones = Tones::of(&strip.ribs);
        let profiles = tones.relief(step_mm, BROAD_FIRST_MM);
        let slope = slope::steepest_agreement(&profiles, step_mm);
        (tones, (profiles, slope))
    };
    let [one, two] = &strips.sides;
    let ((tones_one, look_one), (tones_two, look_two)) = threads::both(|| look(one), || look(two));
    let repeat = common_repeat(&[&look_one, &look_two], step_mm);
    let broad_mm = repeat.map_or(BROAD_FIRST_MM, |samples| {
        (BROAD_REPEATS * samples * step_mm).clamp(BROAD_RANGE_MM.0, BROAD_RANGE_MM.1)
    });
    let mut notes = Vec::new();
    let side = |strip: &Strip, tones: &Tones, slope: f64| -> Result<SideLines, Refusal> {
        let all = tones.relief(step_mm, broad_mm);
        let profiles = slope::agreeing(all, slope, step_mm);
        let slope = slope::agreement_near(slope, &profiles, step_mm);
        let laid = |ribs: &[Profile]| relief::at_the_seam(ribs, slope, step_mm);
        let whole = laid(&profiles);
        let (value, weight) = &whole;
        let strength = strength(value, weight);
        let chance_noise = chance::of_noise(&whole, &profiles, laid, step_mm);
        if strength < LEAST_RELIEF || chance_noise > MOST_CHANCE {
            return Err(no_lines(strips, strip.side, strength, chance_noise));
        }
        let refined = repeat.map(|start| repeat::refine(value, weight, start));
        Ok(SideLines {
            side: strip.side,
            repeat_mm: refined.map(|r| r.samples * step_mm),
            repeat_uncertainty_mm: refined.map(|r| r.u_samples * step_mm),
            slope,
            contrast: contrast(&strip.ribs, |v_mm| slope * v_mm, step_mm),
            chance_noise,
            spectrum: repeat::spectrum(value, weight, step_mm),
            profiles,
        })
    };
    let (first, second) = threads::both(|| side(one, &tones_one, look_one.1), || side(two, &tones_two, look_two.1));
    let mut sides = [first?, second?];
    if repeat.is_none() {
        notes.push(Note::new(
            "no-repeat",
            "Less than one whole repeat of the cloth is seen, so the offset is measured from the lines that are seen; \
             a jump by a whole repeat would not show.",
        ));
    }
    // Cut from one cloth, the sides have one repeat: where they disagree, each is known no better than that.
    if let (Some(a), Some(b)) = (sides[0].repeat_mm, sides[1].repeat_mm) {
        for side in &mut sides {
            side.repeat_uncertainty_mm = side.repeat_uncertainty_mm.map(|u| u.max((a - b).abs() / 2.0));
        }
    }
    Ok(Lines { sides, step_mm, samples: strips.samples, notes })
}

/// The repeat that both sides share, samples.
fn common_repeat(looks: &[&(Vec<Profile>, f64)], step_mm: f64) -> Option<f64> {
    let stacks: Vec<Stack> =
        looks.iter().map(|(profiles, slope)| relief::at_the_seam(profiles, *slope, step_mm)).collect();
    shared_repeat(&stacks, step_mm)
}

/// The repeat that stacks of lines share, samples; `None` where none is seen.
pub fn shared_repeat(stacks: &[Stack], step_mm: f64) -> Option<f64> {
    let mut sum: Vec<f64> = Vec::new();
    for stack in stacks {
        let likeness = repeat::autocorrelation(&stack.0, &stack.1);
        sum.resize(likeness.len(), 0.0);
        for (s, l) in sum.iter_mut().zip(&likeness) {
            *s += l / stacks.len() as f64;
        }
    }
    // A jump that wanders moves the lines of either side too: each piece may stand a little off the repeat.
    let unlike = |lag: f64| -> Vec<Option<f64>> {
        let slack_mm = (REPEAT_SLACK * lag * step_mm).min(MOST_SLACK_MM);
        let (lag, slack) = (lag.round() as isize, (slack_mm / step_mm).round() as isize);
        let of = |stack: &Stack| {
            let longest = (stack.0.len() as isize - 1).max(0);
            let lags = (lag - slack).max(0)..=(lag + slack).min(longest);
            Pieces::new(stack, stack, lags, REPEAT_PIECE_MM, step_mm).at(lag as f64, slack_mm)
        };
        stacks.iter().flat_map(of).collect()
    };
    repeat::first_peak(&sum, step_mm, unlike).map(|(lag, _)| lag)
}

/// Root mean square of a relief over samples and the strongest channel.
pub fn strength(value: &[[f32; 3]], weight: &[f32]) -> f64 {
    let count = weight.iter().filter(|&&w| w > 0.0).count().max(1) as f64;
    (0..3)
        .map(|c| {
            let sum: f64 =
                value.iter().zip(weight).filter(|(_, w)| **w > 0.0).map(|(v, _)| f64::from(v[c]).powi(2)).sum();
            (sum / count).sqrt()
        })
        .fold(0.0, f64::max)
}

/// Root mean square, across v, of the ribs' mean light (logarithm): the lines that run along the seam.
fn along_strength(strips: &Strips) -> f64 {
    strips
        .sides
        .iter()
        .map(|strip| {
            let means: Vec<f64> = strip
                .ribs
                .iter()
                .filter(|rib| rib.v_mm.abs() > 3.0)
                .map(|rib| {
                    let kept: Vec<f64> = rib
                        .light
                        .iter()
                        .zip(&rib.share)
                        .filter(|(_, s)| **s > 0.0)
                        .map(|(l, _)| f64::from(light::luminance(*l)))
                        .collect();
                    (kept.iter().sum::<f64>() / kept.len().max(1) as f64).max(1e-4).ln()
                })
                .collect();
            let mid = means.iter().sum::<f64>() / means.len().max(1) as f64;
            (means.iter().map(|m| (m - mid).powi(2)).sum::<f64>() / means.len().max(1) as f64).sqrt()
        })
        .fold(0.0, f64::max)
}

fn no_lines(strips: &Strips, side: Side, strength: f64, chance: f64) -> Refusal {
    let along = along_strength(strips);
    let looked = format!(
        "looked for repeats from {:.0} mm; what was seen varies by {:.1} %, {}",
        repeat::LEAST_MM,
        100.0 * strength,
        if chance < 0.005 {
            "too faint to be measured".to_owned()
        } else {
            format!("and could be noise (chance {:.0} %)", 100.0 * chance)
        }
    );
    if along > 3.0 * strength && along > 0.02 {
        Refusal::new(
            RefusalCode::LinesAlongOnly,
            format!("the cloth's lines run along the seam only, none crosses it on the {} ({looked})", side.noun()),
            "nothing can jump at this seam; judge a seam that the lines cross",
        )
    } else {
        Refusal::new(
            RefusalCode::NoLines,
            format!("no lines cross the seam on the {} ({looked})", side.noun()),
            "fill more of the picture with cloth, in even light, or mark where the seam is (--seam)",
        )
    }
}

/// Michelson contrast of the lines on linear luminance, from the 5th and 95th percentile of the stacked light.
///
/// The lines stand `further_mm(v)` further along u.
pub fn contrast(ribs: &[Rib], further_mm: impl Fn(f64) -> f64, step_mm: f64) -> f64 {
    let plain: Vec<Profile> = ribs
        .iter()
        .map(|rib| Profile { v_mm: rib.v_mm, value: rib.light.clone(), tone: Vec::new(), weight: rib.weight() })
        .collect();
    let (light, share) = relief::stack_along(&plain, further_mm, step_mm);
    let mut values: Vec<f32> = light
        .iter()
        .zip(&share)
        .filter(|(_, s)| **s > relief::LEAST_STACKED)
        .map(|(l, _)| light::luminance(*l))
        .collect();
    if values.len() < 10 {
        return 0.0;
    }
    values.sort_by(f32::total_cmp);
    let at = |q: f64| f64::from(values[((values.len() - 1) as f64 * q) as usize]);
    let (low, high) = (at(0.05), at(0.95));
    if high + low > 0.0 { (high - low) / (high + low) } else { 0.0 }
}
