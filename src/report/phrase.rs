//! The sentences that more than one face says, so that they say the same.

use super::digits::{self, Figures, Unit};
use crate::budget::Budget;
use crate::conventions::{COVERAGE_FACTOR, Runs};
use crate::finding::Finding;
use crate::remedy::Remedy;
use crate::scale::ScaleSource;
use crate::seam::SeamSource;
use crate::verdict::{Judgement, Place, ToleranceSource};

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
    let unit = Unit::of(&finding.plane);
    let worst = worst(finding);
    let jump = format!("{} ± {} {}", worst.size, worst.uncertainty, unit.after());
    let allowed = format!("{} mm", digits::plain(finding.verdict.tolerance_mm, 2));
    let at = place(finding.verdict.place);
    match (finding.verdict.result, unit) {
        (Judgement::Matched, Unit::Millimetre) => {
            format!("the lines run through the seam. They jump {jump} at most, and {allowed} is accepted {at}.")
        }
        (Judgement::Off, Unit::Millimetre) => {
            format!("the lines jump by as much as {jump}, and only {allowed} is accepted {at}.")
        }
        (Judgement::Unsure, Unit::Millimetre) => format!(
            "this photograph cannot tell. The lines jump {jump} at the worst place, and {allowed} is accepted {at}."
        ),
        (_, Unit::Repeat) => format!(
            "the lines jump {jump} at the worst place; without a scale nobody can say how many millimetres that is."
        ),
    }
}

/// The reading furthest from zero with the uncertainty of the reading at its place.
pub fn worst(finding: &Finding) -> Figures {
    let offset = &finding.offset;
    let apart = |along: f64| (along - offset.worst_at_mm).abs();
    let nearest = offset.readings.iter().min_by(|a, b| apart(a.along_mm).total_cmp(&apart(b.along_mm)));
    let expanded = nearest.map_or(offset.expanded_uncertainty_mm, |reading| reading.expanded_uncertainty_mm);
    digits::figures(offset.worst_mm, expanded, Unit::of(&finding.plane))
}

/// Where the tolerance came from.
pub fn tolerance(finding: &Finding) -> String {
    let source = match finding.verdict.tolerance_source {
        ToleranceSource::Given => "your own figure",
        ToleranceSource::CommonPractice => "common practice, no source",
    };
    let allowed = digits::plain(finding.verdict.tolerance_mm, 2);
    format!("Accepted {}: a jump of up to {allowed} mm ({source}).", place(finding.verdict.place))
}

/// Where on the garment: `at the centre back`.
fn place(place: Place) -> &'static str {
    match place {
        Place::CentreBack => "at the centre back",
        Place::CentreFront => "at the centre front",
        Place::SideSeam => "at a side seam",
        Place::Zip => "at a zip",
        Place::Waistband => "at the waistband",
        Place::Pocket => "at a pocket",
        Place::Yoke => "at the yoke",
        Place::Sleeve => "at a sleeve",
        Place::Collar => "at the collar",
        Place::Hem => "at the hem",
        Place::Inside => "on the inside",
        Place::Other => "at this place",
    }
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

/// Whether unpicking is worth it.
pub fn worth(remedy: &Remedy) -> &'static str {
    match remedy.worth_unpicking {
        Some(true) => "Worth unpicking: yes.",
        Some(false) => "Worth unpicking: no.",
        None => "Worth unpicking: this photograph cannot tell.",
    }
}

/// What the remedy costs and leaves, the figures that are known; empty where none is.
pub fn cost(finding: &Finding) -> String {
    let remedy = &finding.remedy;
    let metric = finding.plane.is_metric();
    let mut parts = Vec::new();
    if let Some(stitches) = remedy.stitches {
        parts.push(format!("about {stitches} stitches to take out"));
    }
    if let Some(minutes) = remedy.minutes {
        parts.push(format!("about {} min of work", digits::plain(minutes, 0)));
    }
    if let Some(left) = remedy.expected_worst_mm.filter(|_| metric) {
        let left = if left < 0.1 { "less than 0.1".to_owned() } else { digits::plain(left, 1) };
        parts.push(format!("{left} mm left at the worst place"));
    }
    if let Some(metres) = remedy.visible_from_m.filter(|_| metric) {
        parts.push(format!("as it is, the jump is seen from {} m away", digits::plain(metres, 1)));
    }
    let mut text = parts.join("; ");
    if !text.is_empty() {
        text.replace_range(..1, &text[..1].to_uppercase());
        text.push('.');
    }
    text
}

/// How it was measured, a sentence each: scale, tilt, seam, what was left out, modulo what.
pub fn method(finding: &Finding) -> Vec<String> {
    let Finding { plane, seam, offset, .. } = finding;
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
    let length = match plane.is_metric() {
        true => format!(", {:.0} mm long", seam.path.length_mm()),
        false => String::new(),
    };
    lines.push(format!(
        "Seam: {}{length}, running {}.",
        match seam.source {
            SeamSource::Found => "found in the picture",
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
        lines.push(format!("The offset is known up to whole repeats of {} mm.", digits::plain(modulo, 1)));
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
    fn without_a_scale_the_verdict_speaks_of_repeats() {
        let text = verdict(&sample::unscaled().finding());
        assert!(text.contains("0.226 ± 0.014 of a repeat"), "{text}");
    }

    #[test]
    fn costs_that_are_not_known_are_not_told() {
        let matched = sample::Recipe { slip_mm: [0.0, 1.0, 1.0], ..sample::down() }.finding();
        assert_eq!(cost(&matched), "");
        let off = cost(&sample::down().finding());
        assert!(off.starts_with("About 11 stitches") && off.ends_with('.'), "{off}");
    }
}
