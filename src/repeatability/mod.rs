//! Is this way of photographing good enough? The same seams photographed several times, by one or more people: how far
//! apart are the offsets that are measured?
//!
//! What is compared is the mean offset of each seam. Its scatter from photograph to photograph is the repeatability, from
//! person to person the reproducibility; both together ([`anova`]) are held against the tolerance, and against the
//! uncertainty that was told with every photograph.

pub mod anova;

use crate::record::Record;
use crate::verdict::Place;
use anova::{Cell, Components};
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
const CLASSES: f64 = 1.41;

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

/// The study.
#[derive(Clone, Debug)]
pub struct Study {
    /// The tolerance, ± millimetres: the smallest of the seams'.
    pub tolerance_mm: f64,
    /// What was measured with a scale, in the order in which it came.
    pub readings: Vec<Reading>,
    /// Photographs that were not measured, or had no scale.
    pub unmeasured: usize,
    /// The seams that were compared.
    pub parts: Vec<Part>,
    /// The people who were compared; one who is not named is `None`.
    pub people: Vec<Option<String>>,
    /// Readings that had to be left out so that every one of the people had as many of every seam.
    pub left_out: usize,
    /// Where the variation comes from; `None` where nothing was photographed twice.
    pub components: Option<Components>,
}

impl Study {
    /// The study of these photographs; `None` where none was measured with a scale.
    pub fn of(records: &[Record]) -> Option<Self> {
        let readings: Vec<Reading> = records.iter().filter_map(reading).collect();
        let tolerances = records.iter().filter_map(|r| Some(r.measured.as_ref()?.tolerance_mm));
        let tolerance_mm = tolerances.fold(f64::INFINITY, f64::min);
        if readings.is_empty() {
            return None;
        }
        let unmeasured = records.len() - readings.len();
        let people: BTreeSet<Option<String>> = readings.iter().map(|r| r.by.clone()).collect();
        let crossed = if people.len() > 1 { balanced(&readings, people.into_iter().collect()) } else { None };
        let (parts, people, used, components) = match crossed {
            Some((parts, people, cells)) => {
                let used = cells.iter().flatten().map(Vec::len).sum();
                let components = anova::crossed(&cells);
                (parts, people, used, components)
            }
            None => alone(&readings),
        };
        let left_out = readings.len() - used;
        Some(Self { tolerance_mm, readings, unmeasured, parts, people, left_out, components })
    }

    /// The measurement's spread as a share of the whole tolerance (from −t to +t), per cent, with its interval.
    pub fn percent_of_tolerance(&self) -> Option<[f64; 3]> {
        let gauge = self.components.as_ref()?.gauge;
        let percent = |mm: f64| 100.0 * SPREAD * mm / (2.0 * self.tolerance_mm);
        (self.tolerance_mm > 0.0).then(|| [gauge.value, gauge.interval[0], gauge.interval[1]].map(percent))
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
        Some(match percent {
            p if p <= GOOD_PERCENT => Answer::Good,
            p if p <= POOR_PERCENT => Answer::Fair,
            _ => Answer::Poor,
        })
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

/// The seams that all of these people photographed twice or more, as often as the fewest of them; whoever photographed the
/// fewest seams is left out until there are two such seams. `None` with fewer than two people left.
#[expect(clippy::type_complexity, reason = "within this file, and taken apart at once")]
fn balanced(
    readings: &[Reading],
    mut people: Vec<Option<String>>,
) -> Option<(Vec<Part>, Vec<Option<String>>, Vec<Vec<Cell>>)> {
    let cells = cells(readings);
    let often = |part: &BTreeMap<Option<String>, Cell>, person: &Option<String>| part.get(person).map_or(0, Vec::len);
    while people.len() > 1 {
        let common: Vec<_> = cells.iter().filter(|(_, part)| people.iter().all(|p| often(part, p) >= 2)).collect();
        if common.len() > 1 {
            let repeats = common.iter().flat_map(|(_, part)| people.iter().map(|p| often(part, p))).min()?;
            let chosen =
                common.iter().map(|(_, part)| people.iter().map(|p| part[p][..repeats].to_vec()).collect()).collect();
            return Some((common.iter().map(|(part, _)| (*part).clone()).collect(), people, chosen));
        }
        let seams = |person: &Option<String>| cells.values().filter(|part| often(part, person) >= 2).count();
        let fewest = (0..people.len()).min_by_key(|&k| seams(&people[k]))?;
        people.remove(fewest);
    }
    None
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

    #[test]
    fn what_not_everybody_photographed_twice_is_left_out() {
        let list = readings(&[
            ("a", "Ann", 1.0),
            ("a", "Ann", 1.1),
            ("a", "Ann", 1.2),
            ("a", "Bo", 1.0),
            ("a", "Bo", 1.3),
            ("b", "Ann", 2.0),
            ("b", "Ann", 2.1),
            ("b", "Bo", 2.0),
            ("b", "Bo", 2.2),
            ("c", "Ann", 3.0),
            ("a", "Cy", 9.0),
        ]);
        let people = ["Ann", "Bo", "Cy"].map(|n| Some(n.to_owned())).to_vec();
        let (parts, people, cells) = balanced(&list, people).unwrap();
        assert_eq!((parts.len(), people.len()), (2, 2));
        assert_eq!(cells, [[vec![1.0, 1.1], vec![1.0, 1.3]], [vec![2.0, 2.1], vec![2.0, 2.2]]]);
    }

    #[test]
    fn people_without_a_common_seam_are_not_compared() {
        let list = readings(&[("a", "Ann", 1.0), ("a", "Ann", 1.2), ("b", "Bo", 2.0)]);
        let people = ["Ann", "Bo"].map(|n| Some(n.to_owned())).to_vec();
        assert!(balanced(&list, people).is_none());
        let (parts, people, used, components) = alone(&list);
        assert_eq!((parts.len(), people, used), (1, vec![Some("Ann".to_owned())], 2));
        assert!((components.unwrap().repeatability.value - 0.02_f64.sqrt()).abs() < 1e-12);
    }
}
