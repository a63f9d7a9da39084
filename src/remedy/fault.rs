//! What went wrong: the pattern of the jumps and angles, what usually causes it, and how to keep it from coming back.
//!
//! Causes and preventions are common practice, no source; the pattern is measured.

use super::custom::Rules;
use crate::conventions::Runs;
use crate::digits;
use crate::lines::Lines;
use crate::offset::{LineOffset, Offset, Reading, drift};
use crate::verdict::{Judgement, Verdict};

/// An even shift changes along the seam by no more than this share of itself.
const EVEN_SHARE: f64 = 0.35;
/// A drift explains at least this share of how much the jump changes along the seam.
const DRIFT_SHARE: f64 = 0.6;
/// A line stands on another one when it is nearer to it than this share of the way to its own partner.
const ON_ANOTHER_SHARE: f64 = 0.25;
/// So many of the lines must stand on another one.
const MOST_LINES_SHARE: f64 = 0.6;

/// Patterns of fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pattern {
    /// The same jump all along.
    EvenShift,
    /// The jump grows along the seam.
    Drift,
    /// One stretch jumps, the rest does not.
    Slip,
    /// Every line meets another line than its own.
    WrongLine,
    /// The jump comes and goes.
    Wander,
    /// The lines of the two sides slant towards each other, by different angles.
    FlareNotMirrored,
    /// The lines of one side are slanted to the seam, those of the other are not.
    OffGrain,
}

/// One pattern, recognised.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// Which.
    pub pattern: Pattern,
    /// What was measured, a sentence without its full stop.
    pub evidence: String,
    /// What usually causes it. Common practice, no source.
    pub cause: &'static str,
    /// How to keep it from coming back. Common practice, no source.
    pub prevention: &'static str,
}

impl Pattern {
    /// The pattern's name in words: `an even shift`.
    pub fn words(self) -> &'static str {
        match self {
            Pattern::EvenShift => "an even shift",
            Pattern::Drift => "a drift",
            Pattern::Slip => "a slip",
            Pattern::WrongLine => "joined to the wrong line",
            Pattern::Wander => "a wandering seam",
            Pattern::FlareNotMirrored => "a flare that is not mirrored",
            Pattern::OffGrain => "one side off the grain",
        }
    }

    /// The word of the JSON: the name with hyphens.
    pub fn word(self) -> &'static str {
        match self {
            Pattern::EvenShift => "even-shift",
            Pattern::Drift => "drift",
            Pattern::Slip => "slip",
            Pattern::WrongLine => "wrong-line",
            Pattern::Wander => "wander",
            Pattern::FlareNotMirrored => "flare-not-mirrored",
            Pattern::OffGrain => "off-grain",
        }
    }

    fn found(self, evidence: String) -> Fault {
        let (cause, prevention) = match self {
            Pattern::EvenShift => (
                "One whole side was laid too high or too low before the first pin, often because the raw edges were \
                 matched and not the lines.",
                "Match the first line on the stitching line, not on the raw edge, pin it, and go on from there.",
            ),
            Pattern::Drift => (
                "One side was stretched in pinning or sewing (the machine takes the lower layer faster), or was cut a \
                 little off the grain.",
                "Pin or baste every line before sewing, and let both layers run in evenly without pulling.",
            ),
            Pattern::Slip => (
                "A pin let go there, or the layers crept between two pins.",
                "Put a pin on every line, across the seam, or baste with short stitches before sewing.",
            ),
            Pattern::WrongLine => (
                "The first line was pinned to its neighbour, and all others followed.",
                "Mark one line on both pieces with a thread before pinning, and begin there.",
            ),
            Pattern::Wander => (
                "The lines were matched by eye at a few places only.",
                "Put a pin on every line, across the seam, or baste with short stitches before sewing.",
            ),
            Pattern::FlareNotMirrored => (
                "The second piece was not cut as the mirror of the first: it lay at another angle to the lines.",
                "Cut the second piece with the first one laid on it face to face, line on line.",
            ),
            Pattern::OffGrain => (
                "That piece was cut, or has been pulled, off the grain.",
                "Straighten the cloth before cutting and lay the piece's grain line along a line of the cloth.",
            ),
        };
        Fault { pattern: self, evidence, cause, prevention }
    }
}

/// The patterns of this seam: at most one of the jumps, when the seam is off, and at most one of the angles.
pub fn recognise(lines: &Lines, offset: &Offset, runs: Runs, verdict: &Verdict, rules: &Rules) -> Vec<Fault> {
    let of_jumps = (verdict.result == Judgement::Off).then(|| of_jumps(lines, offset, runs, verdict));
    of_jumps.into_iter().chain(of_angles(lines, rules)).collect()
}

fn of_jumps(lines: &Lines, offset: &Offset, runs: Runs, verdict: &Verdict) -> Fault {
    let unit = verdict.unit;
    let length = |mm: f64| digits::length(mm, unit);
    let readings = offset.between_lines();
    let mean_mm = readings.iter().map(|r| r.offset_mm).sum::<f64>() / readings.len() as f64;
    // The most and the least offset, each drawn in by its uncertainty.
    let spread = |offset: &dyn Fn(&Reading) -> f64| {
        let high = readings.iter().map(|r| offset(r) - r.expanded_uncertainty_mm).fold(f64::NEG_INFINITY, f64::max);
        let low = readings.iter().map(|r| offset(r) + r.expanded_uncertainty_mm).fold(f64::INFINITY, f64::min);
        (high - low).max(0.0)
    };
    let change_mm = spread(&|r| r.offset_mm);
    let drift = Some(drift(readings)).filter(|d| d.is_finite()).unwrap_or(0.0);
    let seen_mm = readings[readings.len() - 1].along_mm - readings[0].along_mm;
    let grown_mm = drift * seen_mm;
    let beside_mm = spread(&|r| r.offset_mm - drift * r.along_mm);
    if change_mm <= EVEN_SHARE * mean_mm.abs() {
        if let Some((own, other)) = wrong_line(offset.lines_judged(), mean_mm, verdict.tolerance_mm) {
            return Pattern::WrongLine.found(format!(
                "all along the seam the {own} lines of one side meet the {other} lines of the other, {} from their own",
                length(mean_mm)
            ));
        }
        return Pattern::EvenShift.found(format!("the lines jump {} all along the seam", length(mean_mm)));
    }
    if grown_mm.abs() >= DRIFT_SHARE * change_mm && beside_mm <= (1.0 - DRIFT_SHARE / 2.0) * change_mm {
        return Pattern::Drift.found(format!(
            "the jump changes by {} over {} {} of seam{}",
            length(grown_mm),
            digits::place(seen_mm, unit),
            unit.places(),
            longer(lines, runs)
        ));
    }
    match &verdict.stretches[..] {
        [one] if one.to_mm - one.from_mm < 0.6 * seen_mm => Pattern::Slip.found(format!(
            "between {} and {} {} the lines jump up to {}, elsewhere less than what is accepted",
            digits::place(one.from_mm, unit),
            digits::place(one.to_mm, unit),
            unit.places(),
            length(one.worst_mm)
        )),
        _ => Pattern::Wander.found(format!("the jump comes and goes by {} along the seam", length(change_mm))),
    }
}

/// Which side's repeat is the longer, where that is measured: the end of a sentence.
fn longer(lines: &Lines, runs: Runs) -> String {
    let [first, second] = &lines.sides;
    let (Some(a), Some(b)) = (first.repeat_mm, second.repeat_mm) else { return String::new() };
    let (Some(ua), Some(ub)) = (first.repeat_uncertainty_mm, second.repeat_uncertainty_mm) else {
        return String::new();
    };
    if (b - a).abs() <= 2.0 * ua.hypot(ub) {
        return String::new();
    }
    let side = runs.sides()[usize::from(b > a)].noun();
    format!("; the repeat of the {side} is {:.1} % longer", 100.0 * (b - a).abs() / a.min(b))
}

/// The names of the lines that meet, when most lines stand on another line of another colour: own, other.
fn wrong_line(lines: &[LineOffset], mean_mm: f64, tolerance_mm: f64) -> Option<(&str, &str)> {
    let meets = |line: &LineOffset| -> Option<usize> {
        let second = line.along_mm + line.offset_mm / 2.0;
        let near_mm = (ON_ANOTHER_SHARE * mean_mm.abs()).min(tolerance_mm);
        lines.iter().position(|other| {
            let first = other.along_mm - other.offset_mm / 2.0;
            other.name != line.name && (first - second).abs() <= near_mm
        })
    };
    // The outermost lines may have had their neighbours outside the picture.
    let has_room = |line: &&LineOffset| {
        let second = line.along_mm + line.offset_mm;
        lines.first().is_some_and(|l| l.along_mm <= second) && lines.last().is_some_and(|l| l.along_mm >= second)
    };
    let met: Vec<(usize, Option<usize>)> =
        lines.iter().enumerate().filter(|(_, l)| has_room(l)).map(|(k, l)| (k, meets(l))).collect();
    let on_another = met.iter().filter(|(_, other)| other.is_some()).count();
    if on_another < 2 || (on_another as f64) < MOST_LINES_SHARE * met.len() as f64 {
        return None;
    }
    let (own, other) = met.iter().find_map(|(own, other)| Some((*own, (*other)?)))?;
    Some((&lines[own].name, &lines[other].name))
}

fn of_angles(lines: &Lines, rules: &Rules) -> Option<Fault> {
    let [first, second] = lines.sides.each_ref().map(|side| side.slope.atan().to_degrees());
    let most = rules.angles_differ_deg;
    // Lines that run straight on, and lines that meet as mirror images, are as they should be.
    if (first - second).abs() <= most || (first + second).abs() <= most {
        return None;
    }
    let told = format!(
        "{:.0}° on the {} and {:.0}° on the {}",
        first.abs(),
        lines.sides[0].side.noun(),
        second.abs(),
        lines.sides[1].side.noun()
    );
    if first.abs().min(second.abs()) <= most {
        let off = usize::from(second.abs() > first.abs());
        return Some(
            Pattern::OffGrain
                .found(format!("the lines of the {} stand aslant to the seam: {told}", lines.sides[off].side.noun())),
        );
    }
    Some(Pattern::FlareNotMirrored.found(format!("the lines meet the seam at different angles: {told}")))
}

/// A pattern and what was measured, as one sentence without its full stop.
pub fn sentence(fault: &Fault) -> String {
    format!("{}: {}", fault.pattern.words(), fault.evidence)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(number: usize, along_mm: f64, name: &str, offset_mm: f64) -> LineOffset {
        LineOffset {
            number,
            along_mm,
            width_mm: 3.0,
            runs_mm: Default::default(),
            colour: [0; 3],
            name: name.into(),
            offset_mm,
            expanded_uncertainty_mm: 0.1,
        }
    }

    #[test]
    fn lines_that_meet_their_neighbours_are_told_from_lines_that_miss() {
        let lines = |offset_mm: f64| -> Vec<LineOffset> {
            (0..12).map(|k| line(k + 1, 10.0 + 8.0 * k as f64, ["rust", "teal"][k % 2], offset_mm)).collect()
        };
        assert_eq!(wrong_line(&lines(8.0), 8.0, 1.5), Some(("rust", "teal")));
        assert_eq!(wrong_line(&lines(7.2), 7.2, 1.5), Some(("rust", "teal")));
        assert_eq!(wrong_line(&lines(4.0), 4.0, 1.5), None);
        assert_eq!(wrong_line(&[], 4.0, 1.5), None);
    }
}
