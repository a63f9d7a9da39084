//! Is this way of photographing good enough? The same seams photographed several times, by one or more people: how far
//! apart are the offsets that are measured?
//!
//! What is compared is the mean offset of each seam. Its scatter from photograph to photograph is the repeatability, from
//! person to person the reproducibility; both together ([`anova`]) are held against the tolerance, and against the
//! uncertainty that was told with every photograph.

pub mod anova;

use crate::record::Record;
use crate::verdict::Place;
use anova::{Cell, Components, Deviation, POOLED_FROM};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Up to this share of the tolerance, per cent, a measurement is good.
///
/// # Source
/// Common practice of Measurement Systems Analysis, AIAG: under 10 % good, over 30 % not acceptable (from memory).
pub const GOOD_PERCENT: f64 = 10.0;
/// Beyond this share it is not good enough.
pub const POOR_PERCENT: f64 = 30.0;
/// Standard deviations that a measurement is taken to spread over.
const SPREAD: f64 = 6.0;
/// How many classes of seams are told apart: this times the ratio of seams' to measurement's deviation.
pub const CLASSES: f64 = 1.41;

/// A seam: the piece and the place.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Part {
    /// The piece.
    pub piece: Option<String>,
    /// The place.
    pub place: Option<Place>,
}

/// One photograph's offset.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reading {
    /// Which seam.
    pub part: Part,
    /// Who took it.
    pub by: Option<String>,
    /// The mean offset, millimetres.
    pub mean_mm: f64,
    /// The standard uncertainty told with it.
    pub told_mm: f64,
}

/// The answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Answer {
    /// Good enough to judge by this tolerance.
    Good,
    /// Good enough for what is plainly inside or outside.
    Fair,
    /// Not good enough.
    Poor,
}

/// Why an answer is not sure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Doubt {
    /// Photographs of one person scatter too little to matter, but so few people do not tell how far people differ.
    FewPeople,
    /// So few photographs do not tell how far they scatter.
    FewPhotographs,
}

fn answer_at(percent: f64) -> Answer {
    match percent {
        p if p <= GOOD_PERCENT => Answer::Good,
        p if p <= POOR_PERCENT => Answer::Fair,
        _ => Answer::Poor,
    }
}

/// The study.
#[derive(Clone, Debug)]
pub struct Study {
    /// The tolerance, ± millimetres: the smallest of the seams'.
    pub tolerance_mm: f64,
    /// What was measured with a scale, in the order in which it came.
    pub readings: Vec<Reading>,
    /// Photographs that were not measured, or had no scale.
    pub unmeasured: usize,
    /// Photographs that were given again, all said of them alike, and count once.
    pub again: usize,
    /// The seams that were compared.
    pub parts: Vec<Part>,
    /// The people who were compared; one who is not named is `None`.
    pub people: Vec<Option<String>>,
    /// Readings of seams that not all of these people photographed, and of other people.
    pub left_out: usize,
    /// Where the variation comes from; `None` where nothing was photographed twice.
    pub components: Option<Components>,
}

impl Study {
    /// The study of these photographs; `None` where none was measured with a scale.
    pub fn of(records: &[Record]) -> Option<Self> {
        let mut known = BTreeSet::new();
        let said =
            |r: &Record| (r.subject.file.clone(), r.subject.piece.clone(), r.subject.place, r.subject.by.clone());
        let once: Vec<&Record> = records.iter().filter(|&r| known.insert(said(r))).collect();
        let readings: Vec<Reading> = once.iter().filter_map(|r| reading(r)).collect();
        let tolerances = once.iter().filter_map(|r| Some(r.measured.as_ref()?.tolerance_mm));
        let tolerance_mm = tolerances.fold(f64::INFINITY, f64::min);
        if readings.is_empty() {
            return None;
        }
        let unmeasured = once.len() - readings.len();
        let again = records.len() - once.len();
        let people: BTreeSet<Option<String>> = readings.iter().map(|r| r.by.clone()).collect();
        let cells = cells(&readings);
        let (parts, people, used, components) = match common(&cells, people) {
            Some((parts, people)) => {
                let chosen = chosen(&cells, &parts, &people);
                let used = chosen.iter().flatten().map(Vec::len).sum();
                (parts, people, used, anova::crossed(&chosen, POOLED_FROM))
            }
            None => alone(&readings),
        };
        let left_out = readings.len() - used;
        Some(Self { tolerance_mm, readings, unmeasured, again, parts, people, left_out, components })
    }

    /// The measurement's spread as a share of the whole tolerance (from −t to +t), per cent, with its interval.
    pub fn percent_of_tolerance(&self) -> Option<[f64; 3]> {
        self.percent(self.components.as_ref()?.gauge)
    }

    fn percent(&self, of: Deviation) -> Option<[f64; 3]> {
        let percent = |mm: f64| 100.0 * SPREAD * mm / (2.0 * self.tolerance_mm);
        (self.tolerance_mm > 0.0).then(|| [of.value, of.interval[0], of.interval[1]].map(percent))
    }

    /// The standard deviation of a measurement that spreads over so many per cent of the whole tolerance, millimetres.
    pub fn deviation_at_mm(&self, percent: f64) -> f64 {
        percent / 100.0 * 2.0 * self.tolerance_mm / SPREAD
    }

    /// The measurement's share of all variation, per cent of the standard deviations; `None` with one seam.
    pub fn percent_of_variation(&self) -> Option<f64> {
        let components = self.components.as_ref()?;
        let all = components.gauge.value.hypot(components.parts?);
        (all > 0.0).then(|| 100.0 * components.gauge.value / all)
    }

    /// How many classes of seams the measurement tells apart, not rounded; `None` with one seam or without any scatter.
    pub fn classes(&self) -> Option<f64> {
        let components = self.components.as_ref()?;
        let classes = CLASSES * components.parts? / components.gauge.value;
        classes.is_finite().then_some(classes)
    }

    /// The answer; `None` where nothing was photographed twice.
    pub fn answer(&self) -> Option<Answer> {
        let [percent, ..] = self.percent_of_tolerance()?;
        Some(answer_at(percent))
    }

    /// Why another study of the same kind may well answer otherwise; `None` where all of the interval answers alike.
    pub fn doubt(&self) -> Option<Doubt> {
        let components = self.components.as_ref()?;
        let alike = |deviation: Deviation| {
            let [value, low, high] = self.percent(deviation)?;
            Some([low, high].iter().all(|&end| answer_at(end) == answer_at(value)))
        };
        match (alike(components.gauge)?, alike(components.repeatability)?) {
            (true, _) => None,
            (false, true) => Some(Doubt::FewPeople),
            (false, false) => Some(Doubt::FewPhotographs),
        }
    }

    /// How far photographs scatter as a multiple of the standard uncertainty told with them, with its interval; `None`
    /// where nothing was photographed twice or no uncertainty was told.
    pub fn scatter_to_told(&self) -> Option<[f64; 3]> {
        let gauge = self.components.as_ref()?.gauge;
        let told_mm = self.told_mm();
        (told_mm > 0.0).then(|| [gauge.value, gauge.interval[0], gauge.interval[1]].map(|mm| mm / told_mm))
    }

    /// The standard uncertainty that was told with the photographs, root mean square, millimetres.
    pub fn told_mm(&self) -> f64 {
        let squares: f64 = self.readings.iter().map(|r| r.told_mm.powi(2)).sum();
        (squares / self.readings.len().max(1) as f64).sqrt()
    }
}

fn reading(record: &Record) -> Option<Reading> {
    let lengths = record.measured.as_ref()?.lengths?;
    let subject = &record.subject;
    Some(Reading {
        part: Part { piece: subject.piece.clone(), place: subject.place },
        by: subject.by.clone(),
        mean_mm: lengths.mean_mm,
        told_mm: lengths.mean_standard_uncertainty_mm,
    })
}

/// Readings of each seam by each person, in the order in which they came.
type Cells = BTreeMap<Part, BTreeMap<Option<String>, Cell>>;

fn cells(readings: &[Reading]) -> Cells {
    let mut cells = Cells::new();
    for r in readings {
        cells.entry(r.part.clone()).or_default().entry(r.by.clone()).or_default().push(r.mean_mm);
    }
    cells
}

/// The readings of these parts by these people, who have all photographed all of them.
fn chosen(cells: &Cells, parts: &[Part], people: &[Option<String>]) -> Vec<Vec<Cell>> {
    parts.iter().map(|part| people.iter().map(|person| cells[part][person].clone()).collect()).collect()
}

/// Seams and people, two at least, such that all of these people photographed all of these seams, and one of them one of
/// the seams again. Of all the people one after the other is let go, each time the one without whom most readings are left
/// to compare; the company with most readings is taken. `None` where there is none.
fn common(cells: &Cells, mut people: BTreeSet<Option<String>>) -> Option<(Vec<Part>, Vec<Option<String>>)> {
    let shared = |people: &BTreeSet<Option<String>>| -> Vec<Part> {
        let all = cells.iter().filter(|(_, part)| people.iter().all(|person| part.contains_key(person)));
        all.map(|(part, _)| part.clone()).collect()
    };
    let readings = |people: &BTreeSet<Option<String>>| -> usize {
        shared(people).iter().flat_map(|part| people.iter().map(|person| cells[part][person].len())).sum()
    };
    let without = |people: &BTreeSet<Option<String>>, person: &Option<String>| {
        people.iter().filter(|p| *p != person).cloned().collect::<BTreeSet<_>>()
    };
    let mut best: Option<(usize, BTreeSet<Option<String>>)> = None;
    while people.len() > 1 {
        let (count, parts) = (readings(&people), shared(&people).len());
        if count > parts * people.len() && best.as_ref().is_none_or(|(most, _)| count > *most) {
            best = Some((count, people.clone()));
        }
        let fewer = people.iter().map(|person| without(&people, person));
        people = fewer.max_by_key(&readings)?;
    }
    let (_, people) = best?;
    Some((shared(&people), people.into_iter().collect()))
}

/// All readings as one person's.
fn alone(readings: &[Reading]) -> (Vec<Part>, Vec<Option<String>>, usize, Option<Components>) {
    let people: BTreeSet<Option<String>> = readings.iter().map(|r| r.by.clone()).collect();
    // Of several people who cannot be compared, the one with the most readings.
    let of = |person: &Option<String>| readings.iter().filter(|r| r.by == *person).count();
    let person = people.into_iter().max_by_key(|person| of(person)).flatten();
    let own: Vec<Reading> = readings.iter().filter(|r| r.by == person).cloned().collect();
    let cells = cells(&own);
    let lists: Vec<Cell> = cells.values().flat_map(BTreeMap::values).cloned().collect();
    (cells.into_keys().collect(), vec![person], own.len(), anova::one_person(&lists))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings(list: &[(&str, &str, f64)]) -> Vec<Reading> {
        let part = |piece: &str| Part { piece: Some(piece.to_owned()), place: None };
        let one = |&(piece, by, mean_mm): &(&str, &str, f64)| Reading {
            part: part(piece),
            by: Some(by.to_owned()),
            mean_mm,
            told_mm: 0.1,
        };
        list.iter().map(one).collect()
    }

    fn named(names: &[&str]) -> BTreeSet<Option<String>> {
        names.iter().map(|name| Some((*name).to_owned())).collect()
    }

    #[test]
    fn what_not_everybody_photographed_is_left_out() {
        let list = readings(&[
            ("a", "Ann", 1.0),
            ("a", "Ann", 1.1),
            ("a", "Ann", 1.2),
            ("a", "Bo", 1.0),
            ("a", "Bo", 1.3),
            ("b", "Ann", 2.0),
            ("b", "Bo", 2.2),
            ("c", "Ann", 3.0),
            ("a", "Cy", 9.0),
        ]);
        let cells = cells(&list);
        let (parts, people) = common(&cells, named(&["Ann", "Bo", "Cy"])).unwrap();
        assert_eq!((parts.len(), &people), (2, &named(&["Ann", "Bo"]).into_iter().collect()));
        assert_eq!(chosen(&cells, &parts, &people), [[vec![1.0, 1.1, 1.2], vec![1.0, 1.3]], [vec![2.0], vec![2.2]]]);
    }

    #[test]
    fn people_without_a_common_seam_are_not_compared() {
        let list = readings(&[("a", "Ann", 1.0), ("a", "Ann", 1.2), ("b", "Bo", 2.0)]);
        assert!(common(&cells(&list), named(&["Ann", "Bo"])).is_none());
        let (parts, people, used, components) = alone(&list);
        assert_eq!((parts.len(), people, used), (1, vec![Some("Ann".to_owned())], 2));
        assert!((components.unwrap().repeatability.value - 0.02_f64.sqrt()).abs() < 1e-12);
    }
}
