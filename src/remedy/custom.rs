//! Rules of thumb of the sewing table: common practice, no source. One table, so that each can be found and changed.

use super::Stage;

/// Most ease that firm woven cloth takes without puckering, millimetres a millimetre (1 to 2 %).
pub const MOST_EASE: f64 = 0.02;
/// A stretch that is re-pinned alone must leave this much of the seam untouched.
pub const LEAST_UNTOUCHED_SHARE: f64 = 0.4;
/// A finished seam that is out by less than this many tolerances is left: lining and pressing cost more than it shows.
pub const FINISHED_WORTH_TOLERANCES: f64 = 2.0;
/// One minute of arc: what a normal eye tells apart. Metres of distance to a millimetre of step.
///
/// # Source
/// Normal visual acuity, a stroke of 1′ (ISO 8596; read in secondary sources): 1 mm at 1/tan(1′) = 3438 mm.
pub const SEEN_FROM_M_PER_MM: f64 = 3.438;

/// Length of one stitch, millimetres: machine 2.5, basting 4.5.
pub fn stitch_mm(stage: Stage) -> f64 {
    match stage {
        Stage::Basted => 4.5,
        Stage::Sewn | Stage::Finished => 2.5,
    }
}

/// Minutes to set up, and minutes for 100 mm of seam: unpick, pin again, and sew or baste again.
pub fn minutes(stage: Stage, length_mm: f64) -> f64 {
    let (start, per_100_mm) = match stage {
        Stage::Basted => (3.0, 3.0),
        Stage::Sewn => (5.0, 7.0),
        Stage::Finished => (20.0, 12.0),
    };
    start + per_100_mm * length_mm / 100.0
}

/// Cautions that apply when a seam is opened and pinned again at this stage.
pub fn cautions(stage: Stage) -> Vec<&'static str> {
    let mut cautions = vec![
        "Unpick away from your body; the blade is sharp.",
        "Pins across the seam, and out a stitch or two before the needle: a needle that hits a pin can break and fly.",
    ];
    if stage != Stage::Basted {
        cautions.push("Needle marks may stay in fine or coated cloth: try a hidden place first.");
        cautions.push("Test the iron on a scrap; press, do not slide.");
    }
    cautions.push("The maker's or buyer's own specification comes before these figures.");
    cautions
}
