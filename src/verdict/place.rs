//! Places on a garment, in the trade's words, each with the jump that is usually accepted there.

use serde::Serialize;

/// Places on a garment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, clap::ValueEnum)]
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

impl Place {
    /// The jump usually accepted there, millimetres: 1/16 inch (1.5 mm) where it is looked at, 1/8 inch (3 mm) where
    /// it is not, twice that inside. Common practice, no source.
    pub fn tolerance_mm(self) -> f64 {
        match self {
            Place::CentreBack | Place::CentreFront | Place::Zip | Place::Pocket | Place::Collar | Place::Other => 1.5,
            Place::SideSeam | Place::Waistband | Place::Yoke | Place::Sleeve | Place::Hem => 3.0,
            Place::Inside => 6.0,
        }
    }
}
