//! Room 7: [`Offset`](crate::offset::Offset) → [`Verdict`].

use serde::Serialize;

/// The three answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Judgement {
    /// Within tolerance everywhere, the uncertainty included.
    Matched,
    /// Out of tolerance over a stretch of a line or more, the uncertainty included.
    Off,
    /// The measurement cannot tell; the reason says what would.
    Unsure,
}

/// Where the tolerance came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ToleranceSource {
    /// The user's own figure.
    Given,
    /// The table of places: common practice, no source.
    CommonPractice,
}

/// A stretch of the seam that is out of tolerance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Stretch {
    /// Where it begins, u.
    pub from_mm: f64,
    /// Where it ends, u.
    pub to_mm: f64,
    /// The offset furthest from zero in it (signed).
    pub worst_mm: f64,
}

/// The answer to "is it within tolerance?".
#[derive(Clone, Debug)]
pub struct Verdict {
    /// The answer for the whole seam.
    pub result: Judgement,
    /// Where on the garment, in the trade's words.
    pub place: Place,
    /// The tolerance used: |offset| up to this is accepted. Millimetres.
    pub tolerance_mm: f64,
    /// Where the tolerance came from.
    pub tolerance_source: ToleranceSource,
    /// One sentence with the figures that decided.
    pub reason: String,
    /// What would settle an `unsure`; `None` otherwise.
    pub cure: Option<String>,
    /// Out-of-tolerance stretches, in the order of u.
    pub stretches: Vec<Stretch>,
    /// The judgement of each line of [`Offset::lines`](crate::offset::Offset::lines), in the same order.
    pub lines: Vec<Judgement>,
}

/// Places on a garment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// Centre back.
    CentreBack,
    /// Centre front.
    CentreFront,
    /// Side seam.
    SideSeam,
    /// A zip.
    Zip,
    /// Waistband join.
    Waistband,
    /// Pocket.
    Pocket,
    /// Yoke.
    Yoke,
    /// Sleeve.
    Sleeve,
    /// Collar.
    Collar,
    /// Hem.
    Hem,
    /// Inside: not seen when worn.
    Inside,
    /// Anywhere else.
    Other,
}

impl Judgement {
    /// The word of the JSON contract.
    pub fn word(self) -> &'static str {
        match self {
            Judgement::Matched => "matched",
            Judgement::Off => "off",
            Judgement::Unsure => "unsure",
        }
    }
}
