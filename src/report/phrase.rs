//! The sentences that more than one face says, so that they say the same.

use crate::budget::Budget;
use crate::conventions::{COVERAGE_FACTOR, Runs, Side};
use crate::digits::{self, Figures, Unit};
use crate::finding::Finding;
use crate::record::Standing;
use crate::remedy::cure::Cure;
use crate::remedy::fault::{self, Fault};
use crate::remedy::{Action, Remedy, choose, visible};
use crate::scale::{Plane, ScaleSource};
use crate::seam::SeamSource;
use crate::verdict::{Judgement, ToleranceSource};

/// It is told how much of the cloth was left out when more than this was.
const NOTABLE_SHARE: f64 = 0.1;

/// The word that a person sees first.
pub fn headline(result: Judgement) -> &'static str {
    match result {
        Judgement::Matched => "MATCHED",
        Judgement::Off => "OFF",
        Judgement::Unsure => "UNSURE",
    }
}

/// How something stands, as the word that a person sees first.
pub fn first_word(standing: Standing) -> &'static str {
    match standing {
        Standing::Matched => headline(Judgement::Matched),
        Standing::Off => headline(Judgement::Off),
        Standing::Unsure => headline(Judgement::Unsure),
        Standing::Refused => "REFUSED",
        Standing::Trouble => "TROUBLE",
    }
}

/// What one source brings to the uncertainty, to a thousandth: a row of a budget may be far below what counts in the sum.
pub fn brings(u: f64) -> String {
    if u < 5e-4 { "below 0.001".into() } else { format!("{u:.3}") }
}

/// The coverage factor of a budget, and Student's degrees of freedom where they are few.
pub fn coverage(budget: &Budget) -> String {
    let (factor, freedom) = (budget.coverage_factor(), budget.effective_freedom());
    if factor > COVERAGE_FACTOR {
        format!("k = {factor:.2}, Student's t of {freedom:.0} effective degrees of freedom")
    } else {
        format!("k = {factor:.0}")
    }
}

/// The verdict in one sentence, the headline left out.
pub fn verdict(finding: &Finding) -> String {
    let unit = finding.unit();
    let worst = worst(finding);
    let jump = format!("{} ± {} {}", worst.size, worst.uncertainty, unit.after());
    let allowed = digits::given(finding.verdict.tolerance_mm, unit);
    let at = finding.verdict.place.custom().words;
    if let Some(here) = finding.verdict.if_here {
        return format!(
            "{}, if the seam is where it was taken to be. The lines jump {jump} at the worst place, and {allowed} is accepted {at}.",
            here.word()
        );
    }
    match (finding.verdict.result, unit) {
        (_, Unit::Repeat) => format!(
            "the lines jump {jump} at the worst place; without a scale nobody can say how many millimetres that is."
        ),
        (Judgement::Matched, _) => {
            format!("the lines run through the seam. They jump {jump} at most, and {allowed} is accepted {at}.")
        }
        (Judgement::Off, _) => {
            format!("the lines jump by as much as {jump}, and only {allowed} is accepted {at}.")
        }
        (Judgement::Unsure, _) => format!(
            "this photograph cannot tell. The lines jump {jump} at the worst place, and {allowed} is accepted {at}."
        ),
    }
}

/// The reading furthest from zero with the uncertainty of the reading at its place.
pub fn worst(finding: &Finding) -> Figures {
    let offset = &finding.offset;
    let apart = |along: f64| (along - offset.worst_at_mm).abs();
    let nearest = offset.readings.iter().min_by(|a, b| apart(a.along_mm).total_cmp(&apart(b.along_mm)));
    let expanded = nearest.map_or(offset.expanded_uncertainty_mm, |reading| reading.expanded_uncertainty_mm);
    digits::figures(offset.worst_mm, expanded, finding.unit())
}

/// Where the tolerance came from.
pub fn tolerance(finding: &Finding) -> String {
    let verdict = &finding.verdict;
    let source = match (verdict.tolerance_source, &verdict.tolerance_file) {
        (ToleranceSource::Given, _) => "your own figure".to_owned(),
        (ToleranceSource::Settings, Some(file)) => format!("your own figure, from {file}"),
        (ToleranceSource::Settings, None) => "your own figure, from your settings".to_owned(),
        (ToleranceSource::CommonPractice, _) => "common practice, no source".to_owned(),
    };
    let allowed = digits::given(verdict.tolerance_mm, verdict.unit);
    format!("Accepted {}: a jump of up to {allowed}; {source}.", verdict.place.custom().words)
}

/// Which half of the line is where, for an offset of this size; "in line" where zero lies within the uncertainty.
pub fn jump(runs: Runs, offset: f64, expanded: f64) -> &'static str {
    match (runs, offset > 0.0) {
        _ if offset.abs() <= expanded => "in line",
        (Runs::Down, true) => "right side lower",
        (Runs::Down, false) => "right side higher",
        (Runs::Across, true) => "upper side further right",
        (Runs::Across, false) => "upper side further left",
    }
}

/// The name of a side, short enough for a label.
pub fn side(side: Side) -> &'static str {
    match side {
        Side::Left => "left side",
        Side::Right => "right side",
        Side::Below => "lower side",
        Side::Above => "upper side",
    }
}

/// What plus means.
pub fn sign(runs: Runs) -> &'static str {
    match runs {
        Runs::Down => "+ means: right side lower",
        Runs::Across => "+ means: upper side further right",
    }
}

/// The end of the seam that places are counted from.
pub fn start(runs: Runs) -> &'static str {
    match runs {
        Runs::Down => "from the top",
        Runs::Across => "from the left end",
    }
}

/// Whether unpicking is worth it, and why, unless the verdict's reason is all there is to say.
pub fn worth(finding: &Finding) -> String {
    let worth = match finding.remedy.worth_unpicking {
        Some(true) => "Yes.",
        Some(false) => "No.",
        None => "This photograph cannot tell.",
    };
    match finding.remedy.why == finding.verdict.reason {
        true => worth.to_owned(),
        false => format!("{worth} {}", sentence(&finding.remedy.why)),
    }
}

/// What comes next best, and why; empty where nothing does.
pub fn next_best(remedy: &Remedy) -> String {
    remedy.runner_up.as_ref().map_or(String::new(), |second| format!("Next best: {}.", second.why))
}

/// Where causes and preventions come from.
pub const FAULTS_SOURCE: &str = "The pattern is measured; cause and prevention are common practice, no source.";

/// A pattern of fault, its usual cause, and what keeps it from coming back.
pub fn fault(fault: &Fault) -> String {
    format!("{} {} {}", sentence(&fault::sentence(fault)), fault.cause, fault.prevention)
}

/// A cure: what it takes, what it leaves, and whether that is accepted.
pub fn cure(finding: &Finding, cure: &Cure) -> String {
    let unit = finding.unit();
    let mut takes = Vec::new();
    if cure.shift_mm.abs() >= 0.05 {
        let moves = cure.moves(finding.seam.runs);
        takes.push(format!("{} {} {}", moves.side.noun(), moves.direction.word(), digits::length(cure.shift_mm, unit)));
    }
    if let Some(longer) = cure.longer(finding.seam.runs) {
        takes.push(format!("{} eased by {:.1} %", longer.noun(), 100.0 * cure.ease.abs()));
    }
    if cure.action == Action::RepinStretch {
        let [from, to] = [cure.from_mm, cure.to_mm].map(|at| digits::place(at, unit));
        takes.push(format!("from {from} to {to} {}", unit.places()));
    }
    let takes = if takes.is_empty() { String::new() } else { format!(" ({})", takes.join(", ")) };
    let inside = match cure.inside {
        Judgement::Matched => "within tolerance",
        Judgement::Off => "out of tolerance",
        Judgement::Unsure => "not surely within tolerance",
    };
    sentence(&format!("{}{takes} leaves {}: {inside}", choose::doing(cure.action), choose::left(cure, unit)))
}

/// `text` with a full stop and a capital.
pub fn sentence(text: &str) -> String {
    let text = text.trim();
    let mut letters = text.chars();
    let Some(first) = letters.next() else { return String::new() };
    let stop = if text.ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{}{}{stop}", first.to_uppercase(), letters.as_str())
}

/// How fast the jump grows along the seam; `None` where it is not known in a unit of length.
pub fn drift(finding: &Finding) -> Option<String> {
    let drift = finding.offset.drift_mm_per_100_mm?;
    match finding.unit() {
        Unit::Millimetre => Some(format!("Drift: {} mm to 100 mm of seam.", digits::signed(drift, 2))),
        Unit::Sixteenth => {
            let to_ten_inches = drift * 2.54 * Unit::Sixteenth.per_mm();
            Some(format!("Drift: {} sixteenths to 10 in of seam.", digits::signed(to_ten_inches, 1)))
        }
        Unit::Repeat => None,
    }
}

/// What is beside the reason: stitches to take out, and from how far the jump is seen; empty where neither is known.
pub fn cost(finding: &Finding) -> String {
    let remedy = &finding.remedy;
    let metric = finding.plane.is_metric();
    let mut parts = Vec::new();
    if let Some(stitches) = remedy.stitches {
        parts.push(format!("about {stitches} stitches to take out"));
    }
    if let Some(metres) = remedy.visible_from_m.filter(|_| metric) {
        parts.push(format!("as it is, a normal eye sees the jump from {} (a guide)", visible::told(metres)));
    }
    let mut text = parts.join("; ");
    if !text.is_empty() {
        text.replace_range(..1, &text[..1].to_uppercase());
        text.push('.');
    }
    text
}

/// Where the scale came from, and what tilt was taken out, a sentence each.
pub fn scale(plane: &Plane) -> Vec<String> {
    let source = match plane.source {
        ScaleSource::Card => "from the printed card",
        ScaleSource::Rectangle => "from four corners of a thing of known size",
        ScaleSource::Length => "from two points a known length apart",
        ScaleSource::Repeat => "from the cloth's own repeat, as given",
        ScaleSource::None => "none was given, so lengths are told in repeats of the cloth",
    };
    let mut lines = vec![match plane.is_metric() {
        true => format!(
            "Scale: {source}; {:.4} mm to a pixel, sure to {} % (k = 1).",
            plane.mm_per_px,
            digits::plain(plane.relative_uncertainty * 100.0, 2)
        ),
        false => format!("Scale: {source}."),
    }];
    if let Some(tilt) = plane.tilt_rad {
        lines.push(format!("The camera was tilted {:.0}° and this was taken out.", tilt.to_degrees()));
    }
    lines
}

/// How it was measured, a sentence each: scale, tilt, seam, what was left out, modulo what.
pub fn method(finding: &Finding) -> Vec<String> {
    let Finding { plane, seam, offset, .. } = finding;
    let mut lines = scale(plane);
    let length = match plane.is_metric() {
        true => format!(", {} {} long", digits::place(seam.path.length_mm(), finding.unit()), finding.unit().places()),
        false => String::new(),
    };
    lines.push(format!(
        "Seam: {}{length}, running {}.",
        match seam.source {
            SeamSource::Found => "found in the picture",
            SeamSource::Given if seam.drawn.as_ref().is_some_and(|drawn| drawn.moved_mm > 0.0) =>
                "as given, drawn to where it shows",
            SeamSource::Given => "as given",
            SeamSource::Assumed => "assumed at the likeliest place: no plain trace of one was seen",
        },
        match seam.runs {
            Runs::Down => "down the picture",
            Runs::Across => "across the picture",
        }
    ));
    if finding.excluded_share.iter().any(|&share| share > NOTABLE_SHARE) {
        let [one, two] = finding.lines.sides.each_ref().map(|side| side.side.noun());
        let [first, second] = finding.excluded_share.map(|share| digits::plain(share * 100.0, 0));
        lines.push(format!(
            "Left out, because something lies on the cloth there (pins, thread, paper, a hand, the card): {first} % of the \
             {one}, {second} % of the {two}."
        ));
    }
    if let Some(modulo) = offset.modulo_mm.filter(|_| plane.is_metric()) {
        lines.push(format!("The offset is known up to whole repeats of {}.", digits::length(modulo, finding.unit())));
    }
    lines
}

/// Three sentences on how to read the result.
pub fn reading(runs: Runs) -> [String; 3] {
    [
        format!("An offset is how far a line has jumped where it crosses the seam; {}.", sign(runs)),
        "The figure after ± is the expanded uncertainty (k = 2, more where little cloth is seen). On trial photographs \
         about 95 in 100 true offsets lay within it."
            .to_owned(),
        "A place is called matched or off only where the whole of that range is inside or outside the tolerance; \
         everything between is unsure."
            .to_owned(),
    ]
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    #[test]
    fn the_words_follow_the_sign_convention() {
        // crate::conventions: positive is right side lower, upper side further right.
        assert_eq!(jump(Runs::Down, 1.0, 0.2), "right side lower");
        assert_eq!(jump(Runs::Down, -1.0, 0.2), "right side higher");
        assert_eq!(jump(Runs::Across, 1.0, 0.2), "upper side further right");
        assert_eq!(jump(Runs::Across, -1.0, 0.2), "upper side further left");
        assert_eq!(jump(Runs::Across, -0.1, 0.2), "in line");
    }

    #[test]
    fn the_worst_takes_the_uncertainty_of_its_own_place() {
        let mut finding = sample::down().finding();
        let at = finding.offset.worst_at_mm;
        for reading in &mut finding.offset.readings {
            reading.expanded_uncertainty_mm = if reading.along_mm == at { 0.5 } else { 0.1 };
        }
        assert_eq!(worst(&finding).uncertainty, "0.50");
    }

    #[test]
    fn a_seam_that_is_only_assumed_has_its_answer_if_it_is_there() {
        let mut finding = sample::down().finding();
        finding.verdict.result = Judgement::Unsure;
        finding.verdict.if_here = Some(Judgement::Matched);
        assert!(verdict(&finding).starts_with("matched, if the seam is where it was taken to be. The lines jump "));
    }

    #[test]
    fn without_a_scale_the_verdict_speaks_of_repeats() {
        let text = verdict(&sample::unscaled().finding());
        assert!(text.contains("0.226 ± 0.014 of a repeat"), "{text}");
    }

    #[test]
    fn costs_that_are_not_known_are_not_told() {
        assert_eq!(cost(&sample::unscaled().finding()), "");
        let matched = sample::Recipe { slip_mm: [0.0, 1.0, 1.0], ..sample::down() }.finding();
        assert!(cost(&matched).starts_with("As it is,") && !cost(&matched).contains("stitches"));
        let off = cost(&sample::down().finding());
        assert!(off.starts_with("About 1") && off.contains(" stitches") && off.ends_with('.'), "{off}");
    }

    #[test]
    fn every_cure_and_fault_is_told_in_both_units() {
        let mut finding = sample::down().finding();
        for (unit, has, has_not) in [(Unit::Millimetre, " mm", " in"), (Unit::Sixteenth, " in", " mm")] {
            finding.verdict.unit = unit;
            assert!(!finding.remedy.cures.is_empty() && !finding.remedy.faults.is_empty());
            for told in finding.remedy.cures.iter().map(|c| cure(&finding, c)) {
                assert!(told.contains(has) && !told.contains(has_not), "{told}");
            }
            assert_eq!(verdict(&finding).contains("sixteenths"), unit == Unit::Sixteenth);
        }
    }
}
