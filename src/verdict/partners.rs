//! Whether the answer would be another one if the lines belonged to one another otherwise.

use super::{Judgement, judge};
use crate::conventions::wrap;
use crate::offset::Offset;
use crate::offset::sources::PARTNER;
use crate::signal::alignment::{LEAST_PROBABLE, Other};

/// The most probable other answer to which line belongs to which with which the seam would be judged otherwise, or that by itself
/// leaves the jump open; `None` where no probable one changes the answer.
pub fn doubt(offset: &Offset, tolerance_mm: f64) -> Option<Other> {
    let told = all(offset, 0.0, tolerance_mm);
    let differs = |other: &Other| {
        let moved = offset.mean_mm + other.apart_mm;
        let nearest = offset.modulo_mm.map_or(moved, |repeat| wrap(moved, repeat));
        all(offset, nearest - offset.mean_mm, tolerance_mm) != told
    };
    let leaves_open = told == Judgement::Unsure && offset.between_lines().iter().any(|r| r.chief_source == PARTNER);
    let mut probable = offset.others.iter().copied().filter(|other| other.probability >= LEAST_PROBABLE);
    probable.find(|other| leaves_open || differs(other))
}

/// All readings between the outermost lines together, `further_mm` added to each: the worst of them.
fn all(offset: &Offset, further_mm: f64, tolerance_mm: f64) -> Judgement {
    let of = offset.between_lines().iter();
    let judged: Vec<Judgement> =
        of.map(|r| judge(r.offset_mm + further_mm, r.expanded_uncertainty_mm, tolerance_mm)).collect();
    match judged.contains(&Judgement::Off) {
        true => Judgement::Off,
        false if judged.contains(&Judgement::Unsure) => Judgement::Unsure,
        false => Judgement::Matched,
    }
}
