//! Room 6: [`Lines`] → [`Offset`], the core: how far the lines jump at the seam, along the whole of it.
//!
//! Which line belongs to which is told by the alignment of the two sides ([`Lines::alignment`]), whose path is where the fit
//! begins ([`course`]). Then one joint least-squares fit ([`fit`], [`descent`]) explains every rib of both sides by one template carried along by a smooth field
//! ([`field`]); δ(u), the offset at the seam itself, is part of that field, with its covariance. Readings are taken
//! from δ along the seam, and the lines are found one by one in the template ([`bands`]).

pub mod course;

pub mod field;

pub mod ribs;

pub mod shade;

pub mod means;

pub mod moments;

pub mod steer;

pub mod edges;

pub mod linear;

pub mod jumps;

pub mod near;

pub mod evidence;

pub mod fit;

pub mod descent;

pub mod sources;

pub mod bands;

pub mod between;

pub mod outermost;

pub mod profiles;

use crate::budget::{Budget, Row};
use crate::conventions::wrap;
use crate::lines::Lines;
use crate::problem::{Refusal, RefusalCode};
use crate::scale::Plane;
use crate::seam::Seam;
use crate::signal::alignment::Other;
use crate::strip::Strips;
use crate::units::PxPoint;
use between::Edge;
use course::Course;
use fit::Widths;
use nalgebra::DVector;
use profiles::Profiles;
use ribs::Data;
use serde::Serialize;
use sources::Sources;

/// Readings are at most this far apart, millimetres.
const READING_SPACING_MM: f64 = 2.5;
/// The least agreement of the two sides (correlation along their alignment) with which they are taken to show the same lines.
const LEAST_AGREEMENT: f64 = 0.3;
/// Beyond this share of the repeat, standard uncertainty, the offset may be anything there is.
const MOST_UNCERTAIN_REPEATS: f64 = 0.25;
/// A piece of seam shorter than this has no drift worth telling, millimetres.
const LEAST_DRIFT_LENGTH_MM: f64 = 30.0;

/// Distance across the seam between the places of [`LineOffset::runs_mm`], in the plane's own millimetres.
pub const RUN_SPACING_MM: f64 = 6.0;
/// Number of those places on a side, the seam itself first.
pub const RUN_PLACES: usize = 6;

/// The offset along the seam. All lengths are millimetres where the plane is metric, repeats of the cloth where not.
#[derive(Clone, Debug)]
pub struct Offset {
    /// Mean over the seam as photographed.
    pub mean_mm: f64,
    /// Expanded uncertainty of the mean, with the coverage factor of [`Self::budget`].
    pub expanded_uncertainty_mm: f64,
    /// The reading between the outermost lines that is furthest from zero (signed).
    pub worst_mm: f64,
    /// Where it stands along the seam.
    pub worst_at_mm: f64,
    /// Slope of a straight line through the readings between the outermost lines, per 100 mm of seam; `None` where too
    /// short a piece lies between them.
    pub drift_mm_per_100_mm: Option<f64>,
    /// The offset is known modulo this length; `None` where less than one repeat is seen.
    pub modulo_mm: Option<f64>,
    /// Readings along the seam, every 5 mm or finer, in the order of u.
    pub readings: Vec<Reading>,
    /// The lines one by one, in the order of u.
    pub lines: Vec<LineOffset>,
    /// Other answers to which line belongs to which, the most probable first.
    pub others: Vec<Other>,
    /// The probability that the two sides' lines have nothing to do with one another, 0 to 1.
    pub unrelated: f64,
    /// Both sides' profiles along the seam, before and after they are laid on one another.
    pub profiles: Profiles,
    /// Where the uncertainty of the mean comes from.
    pub budget: Budget,
    /// Length of the unit of all these lengths in the plane's own unit: 1 where the plane is metric, else one repeat.
    pub unit_mm: f64,
}

impl Offset {
    /// The readings between the outermost lines ([`outermost`]): where there is no line, nothing can be seen to jump, and
    /// the offset is only carried on. At least one.
    pub fn between_lines(&self) -> &[Reading] {
        outermost::readings(&self.readings, &self.lines)
    }

    /// The lines that lie there.
    pub fn lines_judged(&self) -> &[LineOffset] {
        outermost::lines(&self.readings, &self.lines)
    }

    /// The same with the repeat as the unit of every length.
    ///
    /// # Errors
    /// `no-card` when no repeat is known either: then there is no unit at all.
    pub fn in_repeats(mut self, lines: &Lines) -> Result<Self, Refusal> {
        let Some((repeat, _)) = lines.repeat_mm() else {
            return Err(Refusal::new(
                RefusalCode::NoCard,
                "there is no scale in the picture, and less than one repeat of the cloth to take its place",
                "lay the printed scale card (seamstep card) beside the seam, or mark a known length or a thing of known size (--length, --rectangle)",
            ));
        };
        let lengths = [&mut self.mean_mm, &mut self.expanded_uncertainty_mm, &mut self.worst_mm, &mut self.worst_at_mm];
        lengths.into_iter().for_each(|length| *length /= repeat);
        for r in &mut self.readings {
            r.along_mm /= repeat;
            r.offset_mm /= repeat;
            r.expanded_uncertainty_mm /= repeat;
        }
        for l in &mut self.lines {
            l.along_mm /= repeat;
            l.width_mm /= repeat;
            l.offset_mm /= repeat;
            l.expanded_uncertainty_mm /= repeat;
            l.runs_mm.iter_mut().flatten().for_each(|run| *run /= repeat);
        }
        self.profiles.step_mm /= repeat;
        self.others.iter_mut().for_each(|other| other.apart_mm /= repeat);
        self.budget.rows.iter_mut().for_each(|row| row.u_mm /= repeat);
        self.modulo_mm = Some(1.0);
        self.unit_mm = repeat;
        Ok(self)
    }
}

/// The offset at one place of the seam.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Reading {
    /// Place along the seam, u.
    pub along_mm: f64,
    /// The same place in the picture.
    pub at_px: PxPoint,
    /// The offset there.
    pub offset_mm: f64,
    /// Its expanded uncertainty (about 95 %).
    pub expanded_uncertainty_mm: f64,
    /// What brings most of it: one of the names in [`sources`].
    pub chief_source: &'static str,
}

/// The offset of one line of the cloth.
#[derive(Clone, Debug)]
pub struct LineOffset {
    /// Counted from the start of the seam (top of the picture, or its left), from 1.
    pub number: usize,
    /// Where the line meets the seam, u, midway between its two halves.
    pub along_mm: f64,
    /// Width of the line along the seam.
    pub width_mm: f64,
    /// How far along u each half (first side, second side) has run from where it meets the seam, every
    /// [`RUN_SPACING_MM`] away from the seam: slope and drape as fitted.
    pub runs_mm: [[f64; RUN_PLACES]; 2],
    /// The line's own colour, 8-bit sRGB.
    pub colour: [u8; 3],
    /// The plain name of its colour; lines of one thread share it.
    pub name: String,
    /// Its offset.
    pub offset_mm: f64,
    /// Expanded uncertainty (about 95 %).
    pub expanded_uncertainty_mm: f64,
}

/// Measures the offset.
///
/// # Errors
/// `sides-differ` when the two sides do not show the same lines, `too-few-lines` when the lines do not fix the offset.
pub fn measure(plane: &Plane, seam: &Seam, strips: &Strips, lines: &Lines) -> Result<Offset, Refusal> {
    let repeat_mm = lines.repeat_mm().map(|(repeat, _)| repeat);
    let [one, two] = &lines.sides;
    let data = Data { sides: [&one.profiles, &two.profiles], step_mm: lines.step_mm, samples: lines.samples };
    let agreement = lines.alignment.correlation;
    if agreement < LEAST_AGREEMENT {
        return Err(Refusal::new(
            RefusalCode::SidesDiffer,
            format!(
                "the two sides do not show the same lines (their likeness is {:.2} of 1, {LEAST_AGREEMENT} is needed)",
                agreement.max(0.0)
            ),
            "check that the seam is where it was taken to be, or mark it (--seam), and that both sides are of the same cloth and lie flat",
        ));
    }
    let (course, ribs) = (Course::along(&lines.alignment), Widths::of(&data));
    let fit = fit::joint(&ribs, &course, [one.runs, two.runs])
        .ok_or_else(|| too_few("the lines seen do not fix the offset"))?;
    let length_mm = seam.length_mm();
    let count = (length_mm / READING_SPACING_MM).ceil().max(1.0) as usize + 1;
    let places: Vec<f64> = (0..count).map(|k| length_mm * k as f64 / (count - 1) as f64).collect();
    let sources = Sources::new(plane, seam, lines, &fit);
    let mut readings: Vec<Reading> = places
        .iter()
        .map(|&along_mm| {
            let (offset_mm, budget) = sources.at(&fit.layout.offset_weights(along_mm), along_mm);
            Reading {
                along_mm,
                at_px: plane.to_px(seam.at(along_mm, 0.0)),
                offset_mm,
                expanded_uncertainty_mm: budget.expanded_mm(),
                chief_source: budget.chief().map_or(sources::THREADS, |row| row.source),
            }
        })
        .collect();
    let mut mean_weights = DVector::zeros(fit.layout.offset_knots());
    for &place in &places {
        mean_weights += fit.layout.offset_weights(place) / count as f64;
    }
    let (mut mean_mm, mut budget) = sources.over(&mean_weights, &places);
    // Within a repeat any offset is among the others then; without one, a doubt about partners is told with the verdict.
    let counted = |row: &&Row| repeat_mm.is_some() || row.source != sources::PARTNER;
    let open = Budget { rows: budget.rows.iter().filter(counted).cloned().collect() };
    if open.combined_mm() > MOST_UNCERTAIN_REPEATS * repeat_mm.unwrap_or(length_mm) {
        return Err(too_few("the lines seen leave the offset open by a good part of a repeat"));
    }
    let mut line_offsets = bands::find(&fit, strips, lines, &sources);
    let edges = edges_of(&line_offsets, |t| sources.at(&fit.layout.offset_weights(t), t).0);
    let u_mm = between::widen(&mut readings, &edges);
    budget.rows.push(Row { source: sources::BETWEEN, u_mm, freedom: f64::INFINITY });
    if let Some(repeat) = repeat_mm {
        // The whole seam is moved by whole repeats until its mean is the nearest to zero.
        let whole = wrap(mean_mm, repeat) - mean_mm;
        mean_mm += whole;
        readings.iter_mut().for_each(|r| r.offset_mm += whole);
        line_offsets.iter_mut().for_each(|l| l.offset_mm += whole);
    }
    let judged = outermost::readings(&readings, &line_offsets);
    let judged_mm = judged[judged.len() - 1].along_mm - judged[0].along_mm;
    let worst = judged
        .iter()
        .max_by(|a, b| a.offset_mm.abs().total_cmp(&b.offset_mm.abs()))
        .expect("a seam has two readings or more");
    Ok(Offset {
        mean_mm,
        expanded_uncertainty_mm: budget.expanded_mm(),
        worst_mm: worst.offset_mm,
        worst_at_mm: worst.along_mm,
        drift_mm_per_100_mm: (judged_mm >= LEAST_DRIFT_LENGTH_MM).then(|| 100.0 * drift(judged)),
        modulo_mm: repeat_mm,
        budget,
        unit_mm: 1.0,
        lines: line_offsets,
        profiles: Profiles::new(lines, &fit),
        others: lines.alignment.others.clone(),
        unrelated: lines.alignment.unrelated,
        readings,
    })
}

/// The edges of the lines and the offset at them, in the order of u.
fn edges_of(lines: &[LineOffset], offset_mm: impl Fn(f64) -> f64) -> Vec<Edge> {
    let ends = lines.iter().flat_map(|line| [-0.5, 0.5].map(|side| line.along_mm + side * line.width_mm));
    ends.map(|along_mm| Edge { along_mm, offset_mm: offset_mm(along_mm) }).collect()
}

fn too_few(what: &str) -> Refusal {
    Refusal::new(
        RefusalCode::TooFewLines,
        what.to_owned(),
        "photograph a longer piece of the seam, so that at least two repeats of the cloth are seen along it",
    )
}

/// Slope of the least-squares line through the readings, mm per mm; not finite for fewer than two.
pub fn drift(readings: &[Reading]) -> f64 {
    let n = readings.len() as f64;
    let mu = readings.iter().map(|r| r.along_mm).sum::<f64>() / n;
    let mo = readings.iter().map(|r| r.offset_mm).sum::<f64>() / n;
    let (mut cross, mut square) = (0.0, 0.0);
    for r in readings {
        cross += (r.along_mm - mu) * (r.offset_mm - mo);
        square += (r.along_mm - mu).powi(2);
    }
    cross / square
}
