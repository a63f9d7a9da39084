//! How well the sewing keeps the tolerance, place by place: the capability of the mean offsets.

use super::line::Line;
use crate::capability::{self, Capability, LEAST, LEVEL};
use crate::verdict::Place;
use std::collections::BTreeMap;

/// The capability of one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Keeping {
    /// The place.
    pub place: Place,
    /// The tolerance, millimetres: the limits are this much to both sides of zero.
    pub tolerance_mm: f64,
    /// The capability of the mean offsets there, millimetres.
    pub capability: Capability,
}

/// The places, each with every tolerance that it was judged by, that have at least [`LEAST`] mean offsets.
pub fn of(lines: &[Line]) -> Vec<Keeping> {
    let mut groups: BTreeMap<(Place, u64), Vec<f64>> = BTreeMap::new();
    for measured in lines.iter().filter_map(|line| line.record.measured.as_ref()) {
        if let Some(lengths) = measured.lengths {
            // Of numbers that are not negative, the bits have the numbers' order.
            groups.entry((measured.place, measured.tolerance_mm.to_bits())).or_default().push(lengths.mean_mm);
        }
    }
    let told = groups.into_iter().filter(|(_, means)| means.len() >= LEAST);
    told.filter_map(|((place, bits), means)| {
        let tolerance_mm = f64::from_bits(bits);
        let capability = capability::of(&means, [-tolerance_mm, tolerance_mm], LEVEL)?;
        Some(Keeping { place, tolerance_mm, capability })
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::super::line::tests::measured;
    use super::*;
    use crate::verdict::Judgement::Matched;

    #[test]
    fn each_place_is_held_against_its_own_tolerance() {
        let place = |k: usize| if k.is_multiple_of(3) { Place::Hem } else { Place::Zip };
        let means = [0.2, -0.1, 0.4, 0.0, 0.3];
        let lines: Vec<Line> =
            (0..30).map(|k| measured(&format!("{k}.jpg"), "", place(k), means[k % 5], Matched)).collect();
        let told = of(&lines);
        assert_eq!(
            told.iter().map(|k| (k.place, k.capability.count)).collect::<Vec<_>>(),
            [(Place::Zip, 20), (Place::Hem, 10)]
        );
        for keeping in told {
            let Keeping { tolerance_mm, capability, .. } = keeping;
            assert!((capability.cp.value - tolerance_mm / (3.0 * capability.deviation)).abs() < 1e-12);
            assert!((capability.mean - 0.16).abs() < 1e-12);
        }
        assert!(of(&lines[..12]).is_empty());
    }
}
