//! What the user wants the seam judged by: place, tolerance, and where the tolerance comes from.

use super::place::Place;
use crate::digits::Unit;
use crate::problem::Problem;
use serde::Serialize;
use std::collections::BTreeMap;

/// The largest tolerance that makes sense, millimetres.
pub const MOST_TOLERANCE_MM: f64 = 1000.0;

/// Where the tolerance came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ToleranceSource {
    /// The user's own figure, given with the question.
    Given,
    /// The user's own table of places, [`OwnTolerances`].
    Settings,
    /// The table of places: common practice, no source.
    CommonPractice,
}

/// The user's own tolerances by place, which go before the trade's.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OwnTolerances {
    /// The file that they were read from.
    pub file: String,
    /// Millimetres by place.
    pub by_place_mm: BTreeMap<Place, f64>,
}

/// What the user wants the seam judged by.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Demand {
    /// Where on the garment; `None`: not said.
    pub place: Option<Place>,
    /// The user's own tolerance, millimetres; `None`: the place's.
    pub tolerance_mm: Option<f64>,
    /// The user's own table of places.
    pub own: OwnTolerances,
    /// What lengths are told in.
    pub unit: Unit,
}

impl Demand {
    /// The place, [`Place::Other`] where none is said.
    pub fn place(&self) -> Place {
        self.place.unwrap_or(Place::Other)
    }

    /// The tolerance that is judged by, millimetres, and where it comes from: the user's own figure, else the user's own
    /// table, else the trade's.
    pub fn tolerance(&self) -> (f64, ToleranceSource) {
        let place = self.place();
        match (self.tolerance_mm, self.own.by_place_mm.get(&place)) {
            (Some(own), _) => (own, ToleranceSource::Given),
            (None, Some(own)) => (*own, ToleranceSource::Settings),
            (None, None) => (place.custom().tolerance_mm, ToleranceSource::CommonPractice),
        }
    }

    /// Refuses a tolerance that cannot be one.
    ///
    /// # Errors
    /// Usage when the tolerance is negative, not a number, or absurdly large.
    pub fn check(&self) -> Result<(), Problem> {
        match self.tolerance_mm {
            Some(t) if !is_tolerance(t) => Err(Problem::usage(
                format!("--tolerance: {t} mm cannot be a tolerance"),
                format!("give millimetres from 0 to {MOST_TOLERANCE_MM}, for example 1.5, or inches as 1/16in"),
            )),
            _ => Ok(()),
        }
    }
}

/// Whether this many millimetres can be a tolerance.
pub fn is_tolerance(mm: f64) -> bool {
    (0.0..=MOST_TOLERANCE_MM).contains(&mm)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nonsense_tolerances_are_refused() {
        let given = |t| Demand { tolerance_mm: Some(t), ..Demand::default() }.check();
        for t in [-1.0, f64::NAN, f64::INFINITY, 1e308] {
            assert!(given(t).is_err(), "{t}");
        }
        for t in [0.0, 1.5, 25.4] {
            assert!(given(t).is_ok(), "{t}");
        }
    }

    #[test]
    fn the_nearest_figure_wins() {
        let own = OwnTolerances { file: "a.toml".into(), by_place_mm: [(Place::Zip, 0.8)].into() };
        let demand =
            |place, tolerance_mm| Demand { place: Some(place), tolerance_mm, own: own.clone(), unit: Unit::default() };
        assert_eq!(demand(Place::Zip, Some(0.5)).tolerance(), (0.5, ToleranceSource::Given));
        assert_eq!(demand(Place::Zip, None).tolerance(), (0.8, ToleranceSource::Settings));
        assert_eq!(demand(Place::Hem, None).tolerance(), (3.0, ToleranceSource::CommonPractice));
    }
}
