//! Sentences that more than one face of a piece says.

use crate::digits;
use crate::garment::sheet::{Closed, Step};
use crate::garment::{PieceSeam, Sheet};
use crate::record::Standing;
use crate::remedy::Action;
use crate::report::phrase::{self, sentence};
use std::collections::BTreeSet;

/// Where the order of redoing comes from.
pub const ORDER_SOURCE: &str =
    "A seam is redone before the one that closes it, else the worst first: common practice, no source.";

/// The piece: name, stage, cloth.
pub fn piece(sheet: &Sheet) -> String {
    let garment = &sheet.garment;
    let cloth = garment.cloth.as_ref().map_or(String::new(), |cloth| format!(", {cloth}"));
    format!("{}, {}{cloth}", garment.name, garment.stage.word())
}

/// How the whole piece stands, one to three sentences.
pub fn overall(sheet: &Sheet) -> String {
    let all = sheet.rows.len();
    let matched = sheet.count(Standing::Matched);
    if matched == all {
        return match all {
            1 => "Its one seam matches.".into(),
            2 => "Both seams match.".into(),
            _ => format!("All {} seams match.", number(all)),
        };
    }
    let mut said = vec![counted(sheet)];
    let off = sheet.count(Standing::Off);
    if off > 0 {
        said.push(redone(sheet, off));
    }
    said.join(" ")
}

/// `Two of the five seams are off, one cannot be told, and two match.`
fn counted(sheet: &Sheet) -> String {
    let all = sheet.rows.len();
    let told = [
        (Standing::Trouble, "has a photograph that could not be read", "have photographs that could not be read"),
        (Standing::Off, "is off", "are off"),
        (Standing::Refused, "has a photograph that cannot be judged", "have photographs that cannot be judged"),
        (Standing::Unsure, "cannot be told", "cannot be told"),
        (Standing::Matched, "matches", "match"),
    ];
    let mut parts: Vec<String> = Vec::new();
    for (standing, one, many) in told {
        let count = sheet.count(standing);
        let does = if count == 1 { one } else { many };
        match count {
            0 => {}
            _ if all == 1 => parts.push(format!("its one seam {one}")),
            _ if parts.is_empty() && count == all && all == 2 => parts.push(format!("both seams {many}")),
            _ if parts.is_empty() && count == all => parts.push(format!("all {} seams {many}", number(all))),
            _ if parts.is_empty() => parts.push(format!("{} of the {} seams {does}", number(count), number(all))),
            _ => parts.push(format!("{} {does}", number(count))),
        }
    }
    sentence(&listed(&parts))
}

/// Which of those that are off are worth redoing, and how long that takes.
fn redone(sheet: &Sheet, off: usize) -> String {
    let names: Vec<String> = sheet.redo.iter().map(|step| seam(sheet, step.seam).name.clone()).collect();
    let worth = match (names.len(), off) {
        (0, 1) => return "It is not worth unpicking.".into(),
        (0, _) => return "None of those is worth unpicking.".into(),
        (1, 1) => "it is worth redoing".to_owned(),
        (2, 2) => "both are worth redoing".to_owned(),
        (n, _) if n == off => format!("all {} are worth redoing", number(n)),
        (1, _) => "one of those is worth redoing".to_owned(),
        (n, _) => format!("{} of those are worth redoing", number(n)),
    };
    let which = match (&names[..], off) {
        ([_], 1) => String::new(),
        ([only], _) => format!(": {only}"),
        _ => format!(", in this order: {}", names.join(", ")),
    };
    let minutes = sheet.minutes.map_or(String::new(), |m| format!(". That is about {}", minutes(m)));
    sentence(&format!("{worth}{which}{minutes}"))
}

/// The whole time, and what it holds; `None` where there is nothing to redo.
pub fn whole_time(sheet: &Sheet) -> Option<String> {
    let whole = minutes(sheet.minutes?);
    Some(match sheet.redo.len() {
        1 => format!("About {whole}."),
        _ => format!("Together about {whole}, setting up counted once."),
    })
}

/// What to do at a step: the instruction of its seam.
pub fn instruction(sheet: &Sheet, step: &Step) -> String {
    let finding = sheet.rows[step.seam].finding.as_ref();
    finding.map_or(String::new(), |finding| finding.remedy.instruction.clone())
}

/// What closes the seam of a step, a sentence for all that do it alike.
pub fn closes(sheet: &Sheet, step: &Step) -> Vec<String> {
    let names = |closed: &[Closed], joined: &str| {
        let names: Vec<&str> = closed.iter().map(|closed| seam(sheet, closed.by).name.as_str()).collect();
        names.join(joined)
    };
    let after = alike(&step.before).map(|closed| {
        let (it, names) = (if closed.len() == 1 { "it" } else { "each" }, names(&closed, " and "));
        sentence(&format!("redo {names} after this: {it} {}", closed[0].closing.does))
    });
    let opens = alike(&step.opens).map(|closed| {
        let (does, names) = (closed[0].closing.does, names(&closed, " or "));
        sentence(&format!("where {names} {does}, open it as far as you must, and look at it again after"))
    });
    after.chain(opens).collect()
}

/// Those that close a seam in the same way, together.
fn alike(closed: &[Closed]) -> impl Iterator<Item = Vec<Closed>> {
    let mut groups: Vec<Vec<Closed>> = Vec::new();
    for one in closed {
        match groups.iter_mut().find(|group| group[0].closing.does == one.closing.does) {
            Some(group) => group.push(one.clone()),
            None => groups.push(vec![one.clone()]),
        }
    }
    groups.into_iter()
}

/// Minutes of one seam, setting up included.
pub fn minutes_of(sheet: &Sheet, k: usize) -> Option<String> {
    sheet.rows[k].record.measured.as_ref()?.minutes.map(minutes)
}

/// The worst jump of a seam with its uncertainty, and its unit: `+4.60 ± 0.21 mm`; `None` where nothing was measured.
pub fn jump(sheet: &Sheet, k: usize) -> Option<String> {
    let finding = sheet.rows[k].finding.as_ref()?;
    let worst = phrase::worst(finding);
    Some(format!("{} ± {} {}", worst.value, worst.uncertainty, finding.unit().column()))
}

/// What is accepted there; `None` where nothing was measured.
pub fn accepted(sheet: &Sheet, k: usize) -> Option<String> {
    let finding = sheet.rows[k].finding.as_ref()?;
    let (tolerance, unit) = (finding.verdict.tolerance_mm, finding.verdict.unit);
    Some(format!("{} {}", digits::plain(tolerance * unit.per_mm(), 2), unit.column()))
}

/// What to do about a seam, in a few words.
pub fn deed(sheet: &Sheet, k: usize) -> &'static str {
    let record = &sheet.rows[k].record;
    let Some(measured) = &record.measured else {
        return if record.standing == Standing::Trouble { "give a photograph" } else { "photograph again" };
    };
    match measured.action {
        Action::Leave => "leave it",
        Action::RepinStretch => "pin a stretch again",
        Action::RepinWhole => "pin it again",
        Action::Ease => "pin again and ease",
        Action::RecutOrAccept => "cut again or accept",
        Action::PhotographAgain => "photograph again",
    }
}

/// Why a seam stands as it does, and what would help, a sentence each.
pub fn why(sheet: &Sheet, k: usize) -> Vec<String> {
    let row = &sheet.rows[k];
    if let Some(instead) = &row.record.instead {
        return vec![sentence(&instead.message), format!("What to do: {}", sentence(&instead.help))];
    }
    let Some(finding) = &row.finding else { return Vec::new() };
    let mut said = vec![sentence(&phrase::verdict(finding))];
    if let Some(cure) = &finding.verdict.cure {
        said.push(format!("What would settle it: {}", sentence(cure)));
    }
    if row.record.standing == Standing::Off && finding.remedy.worth_unpicking == Some(false) {
        said.push(format!("Not worth unpicking: {}", sentence(&finding.remedy.why)));
    }
    said
}

/// Every caution that any of the work asks for, once.
pub fn cautions(sheet: &Sheet) -> Vec<&'static str> {
    let mut seen = BTreeSet::new();
    let all = sheet.redo.iter().filter_map(|step| sheet.rows[step.seam].finding.as_ref());
    all.flat_map(|finding| finding.remedy.cautions.iter().copied()).filter(|caution| seen.insert(*caution)).collect()
}

/// How to read it.
pub fn reading() -> [String; 3] {
    [
        "The jump is that of the worst place between the first and the last line, with its uncertainty: about 95 in 100 \
         true ones lie within."
            .into(),
        "The piece stands as its worst seam: a photograph that could not be read, off, cannot be judged, unsure, matched, \
         in this order."
            .into(),
        "Tolerances that are not yours are habits of the trade without a published source; the maker's or buyer's own \
         specification goes before them."
            .into(),
    ]
}

fn seam(sheet: &Sheet, k: usize) -> &PieceSeam {
    &sheet.garment.seams[k]
}

fn minutes(minutes: f64) -> String {
    let rounded = minutes.round();
    format!("{rounded:.0} {}", if rounded == 1.0 { "minute" } else { "minutes" })
}

/// `a, b, and c`.
fn listed(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [first, last] => format!("{first}, and {last}"),
        [rest @ .., last] => format!("{}, and {last}", rest.join(", ")),
    }
}

/// A count as a word, up to twelve.
fn number(count: usize) -> String {
    const WORDS: [&str; 13] =
        ["none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];
    WORDS.get(count).map_or_else(|| count.to_string(), |word| (*word).to_owned())
}
