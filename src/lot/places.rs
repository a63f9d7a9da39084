//! Which places bring most of what is off: a Pareto analysis.
//!
//! # Source
//! J. M. Juran, Universals in Management Planning and Controlling, 1954 (the vital few and the trivial many), from memory.

use super::counts::Counts;
use super::line::Line;
use crate::record::Standing;
use crate::verdict::Place;
use std::collections::BTreeMap;

/// The photographs of one place.
#[derive(Clone, Debug, PartialEq)]
pub struct PlaceCounts {
    /// The place; `None`: not said.
    pub place: Option<Place>,
    /// How they stand.
    pub photographs: Counts,
    /// The share of all photographs that are off which this place and those before it bring, 0 to 1; `None` where none is.
    pub off_so_far: Option<f64>,
}

/// The places, the one with most that is off first, then in the order of [`Place`].
pub fn of(lines: &[Line]) -> Vec<PlaceCounts> {
    let mut by_place: BTreeMap<Option<Place>, Vec<Standing>> = BTreeMap::new();
    for line in lines {
        by_place.entry(line.record.subject.place).or_default().push(line.record.standing);
    }
    let mut places: Vec<(Option<Place>, Counts)> =
        by_place.into_iter().map(|(place, standings)| (place, Counts::of(standings.into_iter()))).collect();
    let off = |counts: &Counts| counts.get(Standing::Off);
    places.sort_by_key(|(_, counts)| std::cmp::Reverse(off(counts)));
    let all: usize = places.iter().map(|(_, counts)| off(counts)).sum();
    let mut so_far = 0;
    places
        .into_iter()
        .map(|(place, photographs)| {
            so_far += off(&photographs);
            PlaceCounts { place, photographs, off_so_far: (all > 0).then(|| so_far as f64 / all as f64) }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::line::tests::measured;
    use super::*;
    use crate::verdict::Judgement::{Matched, Off};

    #[test]
    fn the_place_that_brings_most_comes_first() {
        let line = |place, judgement, k: usize| measured(&format!("{k}.jpg"), "", place, 0.0, judgement);
        let mut lines: Vec<Line> = (0..3).map(|k| line(Place::Hem, Off, k)).collect();
        lines.extend([line(Place::Zip, Off, 3), line(Place::Zip, Matched, 4), line(Place::CentreBack, Matched, 5)]);
        let told: Vec<_> = of(&lines).into_iter().map(|p| (p.place, p.photographs.total(), p.off_so_far)).collect();
        assert_eq!(
            told,
            [
                (Some(Place::Hem), 3, Some(0.75)),
                (Some(Place::Zip), 2, Some(1.0)),
                (Some(Place::CentreBack), 1, Some(1.0))
            ]
        );
        assert_eq!(of(&lines[5..])[0].off_so_far, None);
    }
}
