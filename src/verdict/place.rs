//! Places on a garment, in the trade's words: the jump that is usually accepted there, and how much the place shows.
//!
//! Common practice, no source, every row: 1/16 inch (1.5 mm) where it is looked at, 1/8 inch (3 mm) where it is not, twice
//! that inside. The user's own figures, and the maker's or buyer's specification, go before it.

use serde::{Deserialize, Serialize};

/// Places on a garment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// The seam down the middle of the back
    CentreBack,
    /// The seam down the middle of the front
    CentreFront,
    /// A side seam
    SideSeam,
    /// The two edges of a zip
    Zip,
    /// Where the waistband joins
    Waistband,
    /// A pocket on its ground
    Pocket,
    /// A yoke
    Yoke,
    /// A sleeve against the body
    Sleeve,
    /// A collar
    Collar,
    /// A hem
    Hem,
    /// Inside: not seen when worn
    Inside,
    /// Anywhere else
    Other,
}

/// How much a place shows when the garment is worn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Showing {
    /// It is looked at.
    Plainly,
    /// An arm, a fold, a belt or the eye's height hides it half of the time.
    HalfHidden,
    /// Nobody sees it.
    Hidden,
}

/// One row of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Custom {
    /// The place.
    pub place: Place,
    /// The largest jump usually accepted, millimetres.
    pub tolerance_mm: f64,
    /// How much it shows.
    pub showing: Showing,
    /// The place as a sentence says it: `at the centre back`.
    pub words: &'static str,
}

/// The table, a row a place, in the order of [`Place`]. Common practice, no source.
pub const CUSTOMS: [Custom; 12] = {
    const fn row(place: Place, tolerance_mm: f64, showing: Showing, words: &'static str) -> Custom {
        Custom { place, tolerance_mm, showing, words }
    }
    use Showing::{HalfHidden, Hidden, Plainly};
    [
        row(Place::CentreBack, 1.5, Plainly, "at the centre back"),
        row(Place::CentreFront, 1.5, Plainly, "at the centre front"),
        row(Place::SideSeam, 3.0, HalfHidden, "at a side seam"),
        row(Place::Zip, 1.5, Plainly, "at a zip"),
        row(Place::Waistband, 3.0, HalfHidden, "at the waistband join"),
        row(Place::Pocket, 1.5, Plainly, "at a pocket"),
        row(Place::Yoke, 3.0, Plainly, "at the yoke"),
        row(Place::Sleeve, 3.0, HalfHidden, "at a sleeve"),
        row(Place::Collar, 1.5, Plainly, "at the collar"),
        row(Place::Hem, 3.0, HalfHidden, "at the hem"),
        row(Place::Inside, 6.0, Hidden, "on the inside"),
        row(Place::Other, 1.5, Plainly, "at this place"),
    ]
};

impl Place {
    /// The word of the command line, the settings and the JSON contract: `centre-back`.
    pub fn word(self) -> &'static str {
        match self {
            Place::CentreBack => "centre-back",
            Place::CentreFront => "centre-front",
            Place::SideSeam => "side-seam",
            Place::Zip => "zip",
            Place::Waistband => "waistband",
            Place::Pocket => "pocket",
            Place::Yoke => "yoke",
            Place::Sleeve => "sleeve",
            Place::Collar => "collar",
            Place::Hem => "hem",
            Place::Inside => "inside",
            Place::Other => "other",
        }
    }

    /// The place as a heading: `Centre back`.
    pub fn heading(self) -> String {
        let words = self.word().replace('-', " ");
        words[..1].to_uppercase() + &words[1..]
    }

    /// The row of the table.
    pub fn custom(self) -> &'static Custom {
        &CUSTOMS[self as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::ValueEnum;

    #[test]
    fn every_place_has_its_own_row() {
        for place in Place::value_variants() {
            assert_eq!(place.custom().place, *place);
            assert_eq!(place.to_possible_value().unwrap().get_name(), place.word());
            assert_eq!(serde_json::to_value(place).unwrap(), place.word());
        }
        assert_eq!(Place::value_variants().len(), CUSTOMS.len());
    }

    #[test]
    fn less_is_accepted_where_it_shows_more() {
        let most =
            |showing| CUSTOMS.iter().filter(|c| c.showing == showing).map(|c| c.tolerance_mm).fold(0.0, f64::max);
        assert!(
            most(Showing::Plainly) <= most(Showing::HalfHidden) && most(Showing::HalfHidden) < most(Showing::Hidden)
        );
    }
}
