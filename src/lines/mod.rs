//! Room 5: [`Strips`] → [`Lines`]: the repeat, slope and contrast of the lines on each side.
//!
//! Light becomes relief (logarithm, shade removed); on each side the slope is the one along which the ribs agree
//! best; ribs that do not show the side's lines (a zip's tape beside the seam, a tape measure) are dropped, and those
//! dropped next to the seam are its gap. The stack of the rest has a spectrum and from it the repeat.

pub mod relief;

pub mod repeat;

pub mod slope;

pub mod chance;

use crate::conventions::{Side, wrap};
use crate::light;
use crate::problem::{Note, Refusal, RefusalCode};
use crate::signal::alignment::{Alignment, Other};
use crate::signal::{self, Signal};
use crate::strip::{Rib, Strip, Strips};
use crate::threads;
use relief::{Profile, Slope, Tones};
use slope::Run;

/// Standard deviation of the smooth that takes off the shade, in repeats; and its bounds, millimetres.
const BROAD_REPEATS: f64 = 0.5;
const BROAD_RANGE_MM: (f64, f64) = (6.0, 40.0);
/// The smooth while the repeat is unknown, millimetres.
pub const BROAD_FIRST_MM: f64 = 25.0;
/// The share of the ribs that a place needs to be compared with the other side: a card beside the seam leaves but a few of them.
const LEAST_SHARE: f32 = 0.03;
/// Without a repeat, the other side's lines are looked for up to this share of the seam.
const LAG_SHARE: f64 = 0.35;
/// Another alignment that is nearer than this to whole repeats is the same one, millimetres.
const SAME_PARTNER_MM: f64 = 1.5;
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
    /// Slope of the lines, du/dv, in the middle of the seam.
    pub slope: f64,
    /// The same as it turns along the seam.
    pub runs: Slope,
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
    /// How the second side's lines lie on the first's: which line belongs to which. Other alignments by whole repeats are left
    /// out.
    pub alignment: Alignment,
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
/// `no-lines`, `lines-along-only` when nothing crosses the seam on a side, `lines-both-ways` when the cloth is cut on the bias,
/// `sides-differ` when no place shows lines on both sides.
pub fn measure(strips: &Strips) -> Result<Lines, Refusal> {
    let step_mm = strips.step_mm;
    let look = |strip: &Strip| {
        let tones = Tones::of(&strip.ribs);
        let all = tones.relief(step_mm, BROAD_FIRST_MM);
        let run = slope::run(&all, step_mm);
        let mut profiles = all;
        profiles.truncate(run.ribs);
        let profiles = slope::agreeing(profiles, &run.slope, step_mm);
        let (value, weight) = slope::agreement_near(run.slope, &profiles, step_mm).stack(&profiles, step_mm);
        let seen = weight.iter().map(|&w| if w >= LEAST_SHARE { 1.0 } else { 0.0 }).collect();
        Look { tones, run, stack: (value, seen) }
    };
    let [one, two] = &strips.sides;
    let (look_one, look_two) = threads::both(|| look(one), || look(two));
    let Aligned { repeat, alignment } = aligned([&look_one.stack, &look_two.stack], step_mm);
    let broad_mm = repeat.map_or(BROAD_FIRST_MM, |samples| {
        (BROAD_REPEATS * samples * step_mm).clamp(BROAD_RANGE_MM.0, BROAD_RANGE_MM.1)
    });
    let mut notes = Vec::new();
    let side = |strip: &Strip, Look { tones, run, .. }: &Look| -> Result<SideLines, Refusal> {
        let Run { ribs, slope, is_bias } = *run;
        if is_bias {
            return Err(on_the_bias(strip.side));
        }
        let mut all = tones.relief(step_mm, broad_mm);
        all.truncate(ribs);
        let profiles = slope::agreeing(all, &slope, step_mm);
        let slope = slope::agreement_near(slope, &profiles, step_mm);
        let laid = |ribs: &[Profile]| slope.at_the_seam(ribs, step_mm);
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
            slope: slope.middle,
            runs: slope,
            contrast: contrast(&strip.ribs[..ribs], |v_mm| slope.middle * v_mm, step_mm),
            chance_noise,
            spectrum: repeat::spectrum(value, weight, step_mm),
            profiles,
        })
    };
    let (first, second) = threads::both(|| side(one, &look_one), || side(two, &look_two));
    let mut sides = [first?, second?];
    let alignment = alignment.ok_or_else(|| {
        Refusal::new(
            RefusalCode::SidesDiffer,
            "no place of the seam shows lines on both sides",
            "photograph a longer piece of the seam, with nothing lying on the cloth beside it",
        )
    })?;
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
    Ok(Lines { sides, step_mm, samples: strips.samples, alignment, notes })
}

/// A first look at a side.
struct Look {
    tones: Tones,
    run: Run,
    /// Its lines, carried to the seam, with weight 1 where they are seen.
    stack: Signal,
}

/// The repeat that both sides share, samples, and how they lie on one another.
struct Aligned {
    repeat: Option<f64>,
    alignment: Option<Alignment>,
}

/// Finds the repeat of both sides' lines and lays them on one another, a little more than half a repeat either way.
///
/// A repeat that is seen once and hardly a second time must show the lines as alike as the two sides are; else none is known.
fn aligned(sides: [&Signal; 2], step_mm: f64) -> Aligned {
    let (few, count) = signal::compared(&sides, step_mm);
    let few_mm = step_mm * count as f64;
    let found = signal::repeat::shared(&[&few[0], &few[1]], few_mm);
    if let Some(found) = found {
        let alignment = Alignment::returning(&few[0], &few[1], found.samples, few_mm);
        let stands = |a: &Alignment| found.stands_beside(&a.noise, a.places_seen(), few_mm);
        if alignment.as_ref().is_none_or(stands) {
            let repeat_mm = found.samples * few_mm;
            let another = |other: &Other| wrap(other.apart_mm, repeat_mm).abs() > SAME_PARTNER_MM.min(0.25 * repeat_mm);
            let alignment = alignment.map(|mut alignment| {
                alignment.others.retain(another);
                // Lines of one repeat have to do with one another.
                alignment.unrelated = 0.0;
                alignment
            });
            return Aligned { repeat: Some(found.samples * count as f64), alignment };
        }
    }
    let reach = (LAG_SHARE * few[0].0.len() as f64).ceil() as isize;
    Aligned { repeat: None, alignment: Alignment::within(&few[0], &few[1], reach, few_mm) }
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

fn on_the_bias(side: Side) -> Refusal {
    Refusal::new(
        RefusalCode::LinesBothWays,
        format!(
            "the cloth is cut on the bias: on the {} two families of lines cross the seam, one leaning each way, and which \
             meets which is not to be told",
            side.noun()
        ),
        "look along one family of lines at a time, by eye; a seam that runs along one of them can be measured",
    )
}

fn no_lines(strips: &Strips, side: Side, strength: f64, chance: f64) -> Refusal {
    let along = along_strength(strips);
    let looked = format!(
        "looked for repeats from {:.0} mm; what was seen varies by {:.1} %, {}",
        signal::repeat::LEAST_MM,
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
