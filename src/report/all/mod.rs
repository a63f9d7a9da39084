//! Every place of one photograph where a seam may be, in one table, one object and one picture.

pub mod json;

pub mod picture;

pub mod text;

use crate::inspect::OneOfAll;
use crate::record::Standing;
use crate::report::phrase;

/// How a place stands.
pub fn standing(one: &OneOfAll) -> Standing {
    one.came.as_ref().map_or(Standing::Refused, |finding| finding.verdict.result.into())
}

/// Its worst jump with its uncertainty; `None` where it cannot be judged.
fn jump(one: &OneOfAll) -> Option<String> {
    let finding = one.came.as_ref().ok()?;
    let worst = phrase::worst(finding);
    Some(format!("{} ± {} {}", worst.value, worst.uncertainty, finding.unit().after()))
}

/// The same places, the worst first: by how they stand, then by how far they jump. Those that cannot be judged come last, for most of
/// them are no seams.
pub fn worst_first(mut seams: Vec<OneOfAll>) -> Vec<OneOfAll> {
    let size = |one: &OneOfAll| one.came.as_ref().map_or(0.0, |finding| finding.offset.worst_mm.abs());
    let judged = |one: &OneOfAll| one.came.as_ref().ok().map(|_| standing(one));
    seams.sort_by(|a, b| judged(b).cmp(&judged(a)).then(size(b).total_cmp(&size(a))));
    seams
}

/// How the photograph stands: as the worst of the places that can be judged, refused where none can.
pub fn overall(seams: &[OneOfAll]) -> Standing {
    seams.iter().filter(|one| one.came.is_ok()).map(standing).max().unwrap_or(Standing::Refused)
}
