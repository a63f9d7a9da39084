//! How close to photograph: the distances side by side.

use super::Distance;
use super::figures::SERVED_SHARE;

/// The largest of the tried distances that is close enough for a tolerance.
///
/// The rule: a seam no further out than half the tolerance must be called matched in [`SERVED_SHARE`] of the photographs
/// taken, the refused ones counted as failures; where the seam was only assumed, its place is taken to be marked then.
/// Guarded acceptance ([`crate::verdict::judge`]) calls it so where the
/// other half of the tolerance holds the reading's error and its expanded uncertainty, at every reading between the
/// first and the last line. The rule is the project's own; that the guard band is U follows JCGM 106:2012, 8.3.2 (from
/// memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Closeness {
    /// The tolerance, millimetres.
    pub tolerance_mm: f64,
    /// The furthest distance that is close enough, and all nearer ones too, millimetres to a pixel; `None`: not even the
    /// nearest.
    pub at_most_mm_per_px: Option<f64>,
    /// The nearest distance that is too far, millimetres to a pixel; `None`: all that were tried are close enough.
    pub too_far_mm_per_px: Option<f64>,
}

/// The share of the tolerance within which a seam must be called matched.
pub const MATCHED_SHARE: f64 = 0.5;

/// How close is close enough; `distances` from the nearest on.
pub(super) fn closeness(distances: &[Distance], tolerance_mm: f64) -> Closeness {
    let room_mm = (1.0 - MATCHED_SHARE) * tolerance_mm;
    let serves = |distance: &&Distance| distance.figures.room_mm.is_some_and(|needed| needed <= room_mm);
    Closeness {
        tolerance_mm,
        at_most_mm_per_px: distances.iter().take_while(serves).last().map(|d| d.mm_per_px),
        too_far_mm_per_px: distances.iter().find(|d| !serves(d)).map(|d| d.mm_per_px),
    }
}

/// The rule in words.
pub fn rule(tolerance_mm: f64) -> String {
    format!(
        "a seam out by no more than half the tolerance ({} mm) must be called matched in {:.0} of 100 \
         photographs taken, an assumed seam once its place is marked",
        (tolerance_mm * MATCHED_SHARE * 1000.0).round() / 1000.0,
        SERVED_SHARE * 100.0
    )
}

#[cfg(test)]
mod tests {
    use super::super::figures::Figures;
    use super::*;

    fn at(mm_per_px: f64, room_mm: Option<f64>) -> Distance {
        Distance { mm_per_px, outcomes: Vec::new(), figures: Figures { room_mm, ..Figures::of(&[], 1.5) } }
    }

    #[test]
    fn close_enough_ends_at_the_first_distance_that_is_not() {
        let distances = [at(0.1, Some(0.2)), at(0.2, Some(0.75)), at(0.3, Some(0.8)), at(0.4, Some(0.1))];
        let told = closeness(&distances, 1.5);
        assert_eq!((told.at_most_mm_per_px, told.too_far_mm_per_px), (Some(0.2), Some(0.3)));
        let told = closeness(&distances[..2], 1.5);
        assert_eq!((told.at_most_mm_per_px, told.too_far_mm_per_px), (Some(0.2), None));
        let told = closeness(&[at(0.1, None)], 1.5);
        assert_eq!((told.at_most_mm_per_px, told.too_far_mm_per_px), (None, Some(0.1)));
    }
}
