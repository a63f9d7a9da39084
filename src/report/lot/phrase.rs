//! The sentences that the text and the page of a lot share.

use crate::acceptance::Decision;
use crate::capability::Index;
use crate::digits::{self, Unit};
use crate::lot::counts::Counts;
use crate::lot::course::Course;
use crate::lot::keeping::Keeping;
use crate::lot::pieces::Piece;
use crate::lot::refusals::Refused;
use crate::lot::sample::Sample;
use crate::lot::twice::Twice;
use crate::lot::{Line, Lot};
use crate::record::Standing;
use crate::report::phrase::sentence;
use crate::verdict::Place;

/// So many names are told one after the other.
const MOST_NAMES: usize = 24;

/// How the pieces stand, and how many photographs say so.
pub fn counted(lot: &Lot) -> String {
    let [pieces, photographs] = [&lot.piece_counts, &lot.photographs].map(Counts::total);
    let of_each = standings(&lot.piece_counts);
    if photographs == 0 {
        return "There is no photograph.".into();
    }
    if lot.nameless == photographs {
        return format!("{}: {of_each}. None names a piece: each counts as one.", many(photographs, "photograph"));
    }
    let nameless = match lot.nameless {
        0 => String::new(),
        n => format!(
            " {} no piece and {} as one.",
            many_that(n, "photograph", ["names", "name"]),
            if n == 1 { "counts" } else { "count, each," }
        ),
    };
    format!("{} on {}: {of_each}.{nameless}", many(pieces, "piece"), many(photographs, "photograph"))
}

/// "1 off, 38 matched": those that there are, from the worst to the best.
pub fn standings(counts: &Counts) -> String {
    let told = Standing::ALL.into_iter().rev().filter(|standing| counts.get(*standing) > 0);
    let told: Vec<String> = told.map(|standing| format!("{} {}", counts.get(standing), stands(standing))).collect();
    told.join(", ")
}

/// How it stands, as a sentence goes on.
pub fn stands(standing: Standing) -> &'static str {
    match standing {
        Standing::Matched => "matched",
        Standing::Unsure => "unsure",
        Standing::Refused => "not to be judged",
        Standing::Off => "off",
        Standing::Trouble => "not readable",
    }
}

/// Whether there is a choice of places to begin at: some photograph is off, and there are several places.
pub fn places_differ(lot: &Lot) -> bool {
    lot.places.len() > 1 && lot.photographs.get(Standing::Off) > 0
}

/// The pieces that stand so, by name; `None` where there is none, or none has a name.
pub fn names(lot: &Lot, standing: Standing) -> Option<String> {
    let those: Vec<&Piece> = lot.pieces.iter().filter(|piece| piece.standing == standing).collect();
    if those.is_empty() || lot.nameless == lot.lines.len() {
        return None;
    }
    let names: Vec<String> = (those.iter().take(MOST_NAMES))
        .map(|piece| match piece.off_at.as_slice() {
            [] => piece.name.clone(),
            at => format!("{} ({})", piece.name, at.iter().map(|p| p.word()).collect::<Vec<_>>().join(", ")),
        })
        .collect();
    let more = those.len() - names.len();
    let rest = if more > 0 { format!(", and {more} more") } else { String::new() };
    Some(format!("{}: {}{rest}.", sentence(stands(standing)).trim_end_matches('.'), names.join(", ")))
}

/// The word of a place.
pub fn place(place: Option<Place>) -> &'static str {
    place.map_or("not said", Place::word)
}

/// The worst jump of a line with its uncertainty, `+3.12 ± 0.21`; `None` where no length was measured.
pub fn jump(line: &Line, unit: Unit) -> Option<String> {
    let lengths = line.record.measured.as_ref()?.lengths?;
    let figures = digits::figures(lengths.worst_mm, lengths.worst_expanded_uncertainty_mm, unit);
    Some(format!("{} ± {}", figures.value, figures.uncertainty))
}

/// The tolerance that a line was judged by, without its unit; `None` where it was not judged.
pub fn tolerance(line: &Line, unit: Unit) -> Option<String> {
    Some(digits::plain(line.record.measured.as_ref()?.tolerance_mm * unit.per_mm(), 2))
}

/// What could not be judged for one reason, and what to do.
pub fn refused(refused: &Refused) -> String {
    let code = refused.code.as_deref().unwrap_or("not readable");
    let photographs = many(refused.lines.len(), "photograph");
    let such = if refused.lines.len() == 1 { "" } else { "for example: " };
    let message = sentence(&format!("{such}{}", refused.first.message));
    format!("{photographs} ({code}). {message} What to do: {}", sentence(&refused.first.help))
}

/// The word for what becomes of the lot.
pub fn decision(sample: &Sample) -> &'static str {
    match sample.outcome.decision {
        Decision::Accept => "ACCEPT",
        Decision::Reject => "REJECT",
        Decision::More { .. } => "LOOK AT MORE",
        Decision::Unsure { .. } => "NOT SETTLED",
    }
}

/// What the plan says, what was seen, and what follows.
pub fn sample(sample: &Sample) -> [String; 3] {
    let (plan, seen) = (&sample.plan, &sample.outcome);
    let size = if sample.size_is_said { "" } else { " (those that were seen: --lot-size says another number)" };
    let planned = format!(
        "Of a lot of {} pieces{size} {} are looked at, and {} may be off, at an acceptance quality limit of {} % (code \
         letter {}, single sampling, normal inspection, general level II of ISO 2859-1).",
        plan.lot,
        plan.sample,
        plan.accept,
        digits::plain(plan.aql_percent, 2),
        plan.letter
    );
    let beyond = sample.seen - seen.looked_at;
    let first = if beyond > 0 {
        format!("first {}, in the order of their names,", seen.looked_at)
    } else {
        format!("{} seen", seen.looked_at)
    };
    let untold = match seen.untold {
        0 => String::new(),
        n => format!(", and {n} cannot be told"),
    };
    let told = format!("Of the {first} {} {} off{untold}.", seen.failing, if seen.failing == 1 { "is" } else { "are" });
    let both = format!(
        "with all of them good {} would be off, with all of them bad {}",
        seen.failing,
        seen.failing + seen.untold
    );
    let follows = match seen.decision {
        Decision::Accept if seen.untold > 0 => {
            format!("The lot passes, whatever the pieces are that cannot be told: {both}.")
        }
        Decision::Accept => "The lot passes.".into(),
        Decision::Reject => "Too many pieces are off, however the others turn out.".into(),
        Decision::More { needed } => {
            format!("{} more {} needed.", needed, if needed == 1 { "piece is" } else { "pieces are" })
        }
        Decision::Unsure { may_fail } => format!(
            "It hangs on the pieces that cannot be told: {both}. Photograph those again; the lot passes if no more than {may_fail} of them {} off.",
            if may_fail == 1 { "is" } else { "are" }
        ),
    };
    [planned, told, follows]
}

/// What the capability indices are, and what they take for granted.
pub const KEEPING: &str = "Cp compares the tolerance with the scatter of the mean jumps, Cpk counts their mean's distance \
                           from zero too; in brackets 95 % intervals. Both take the jumps for normally distributed and \
                           steady: see whether they shift. A common wish is 1.33 (common practice, no source).";

/// An index with its interval: `1.21 (0.95 to 1.47)`.
pub fn index(index: &Index) -> String {
    let two = |value: f64| digits::signed(value, 2).replace('+', "");
    format!("{} ({} to {})", two(index.value), two(index.low), two(index.high))
}

/// How many of a place, and what tolerance: `zip, 40 within 1.5 mm`.
pub fn kept(keeping: &Keeping, unit: Unit) -> String {
    let tolerance = digits::given(keeping.tolerance_mm, unit);
    format!("{}, {} within {tolerance}", keeping.place.word(), many(keeping.capability.count, "photograph"))
}

/// The mean and the scatter: `+0.12 and 0.34`.
pub fn spread(keeping: &Keeping, unit: Unit) -> [String; 2] {
    let [mean, deviation] = [keeping.capability.mean, keeping.capability.deviation].map(|mm| mm * unit.per_mm());
    [digits::signed(mean, unit.finest_decimals()), digits::plain(deviation, unit.finest_decimals())]
}

/// The share beyond the tolerance that a normal distribution would have.
pub fn beyond(keeping: &Keeping) -> String {
    let percent = 100.0 * keeping.capability.beyond;
    if percent < 0.01 { "below 0.01 %".into() } else { format!("{} %", digits::plain(percent, 2)) }
}

/// How the mean offsets run.
pub fn course(course: &Course, lot: &Lot, unit: Unit) -> Vec<String> {
    let file = |point: usize| lot.lines[course.points[point].line].record.subject.file.as_str();
    let order = if course.by_time {
        "in the order in which the photographs were taken"
    } else {
        "in the order of the files' names (not every file says when it was taken)"
    };
    let median = digits::signed(course.median_mm * unit.per_mm(), unit.finest_decimals());
    let points = course.points.len();
    let told = format!("The mean jumps of {points} photographs, {order}: their median is {median} {}.", unit.after());
    let shift = match course.shift() {
        Some(shift) => format!(
            "{} in a row, from {} to {}, lie {} the median, more than chance makes: a shift. Look for what changed there, in the \
             sewing or in the photographing.",
            shift.points,
            file(shift.first),
            file(shift.last),
            if shift.above { "above" } else { "below" }
        ),
        None => format!(
            "Nowhere do more than {} in a row lie on one side of the median, which is no more than chance makes: no shift \
             is seen.",
            course.most_by_chance()
        ),
    };
    vec![told, shift]
}

/// What was there more than once.
pub fn twice(twice: &Twice) -> Vec<String> {
    let mut told = Vec::new();
    if twice.repeated > 0 {
        told.push(format!("{} there once more and counted once.", many_that(twice.repeated, "line", ["was", "were"])));
    }
    if !twice.doubles.is_empty() {
        let first: Vec<String> = (twice.doubles.iter().take(MOST_NAMES))
            .map(|double| format!("{} is {}", double.file, double.same_as))
            .collect();
        let more = twice.doubles.len() - first.len();
        let rest = if more > 0 { format!("; and {more} more") } else { String::new() };
        told.push(format!(
            "{} the same picture as another, byte for byte, and {} counted: {}{rest}.",
            many_that(twice.doubles.len(), "file", ["is", "are"]),
            if twice.doubles.len() == 1 { "is not" } else { "are not" },
            first.join("; ")
        ));
    }
    if !twice.namesakes.is_empty() {
        let first: Vec<&str> = twice.namesakes.iter().take(MOST_NAMES).map(String::as_str).collect();
        told.push(format!(
            "{} for different photographs or questions, all of which were counted: {}.",
            many_that(twice.namesakes.len(), "name", ["stands", "stand"]),
            first.join(", ")
        ));
    }
    told
}

/// Three sentences on how to read it.
pub fn reading() -> [&'static str; 3] {
    [
        "A piece stands as the worst of its photographs: not readable is worse than off, off worse than not to be judged, \
         that worse than unsure.",
        "Off: out of tolerance by more than the uncertainty (k = 2). Unsure: the photograph cannot tell; photograph that \
         seam again, nearer and in flat light.",
        "Places are ordered by what they bring: where the first one or two bring most of what is off, begin there.",
    ]
}

/// `1 photograph`, `3 photographs`.
pub fn many(count: usize, noun: &str) -> String {
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}

/// `1 photograph names`, `3 photographs name`.
fn many_that(count: usize, noun: &str, verb: [&str; 2]) -> String {
    format!("{} {}", many(count, noun), verb[usize::from(count != 1)])
}
