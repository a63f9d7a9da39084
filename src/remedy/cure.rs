//! What each cure can reach, worked out from the readings: simplest first.

use super::custom;
use crate::offset::{Reading, drift};
use crate::verdict::Stretch;

/// One cure, with what it asks for and what it leaves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cure {
    /// Where the work begins, u.
    pub from_mm: f64,
    /// Where it ends, u.
    pub to_mm: f64,
    /// The offset that is taken away (in the middle of the work, when it changes along it).
    pub taken_mm: f64,
    /// Drift it takes away by ease, mm per mm, positive where the second side is the longer one.
    pub drift: f64,
    /// The |offset| that is left at the worst place.
    pub leaves_mm: f64,
}

/// Leaves everything as it is.
pub fn leave(readings: &[Reading]) -> f64 {
    worst_after(readings, |_| 0.0)
}

/// Re-pins the stretches that are out, as one piece of work: the correction is full over them and runs out to nothing at
/// the nearest good reading on either side. `None` when too little of the seam would stay untouched.
///
/// No ease limit: a slip has eased one side into the other already, and taking it back lets that ease out.
pub fn one_stretch(readings: &[Reading], stretches: &[Stretch], tolerance_mm: f64) -> Option<Cure> {
    let (first, last) = (stretches.first()?, stretches.last()?);
    let (begin, end) = (readings.first()?.along_mm, readings.last()?.along_mm);
    let good = |r: &&Reading| r.offset_mm.abs() + r.expanded_uncertainty_mm <= tolerance_mm / 2.0;
    let from_mm = readings.iter().rev().filter(|r| r.along_mm < first.from_mm).find(good).map_or(begin, |r| r.along_mm);
    let to_mm = readings.iter().filter(|r| r.along_mm > last.to_mm).find(good).map_or(end, |r| r.along_mm);
    if to_mm - from_mm > (1.0 - custom::LEAST_UNTOUCHED_SHARE) * (end - begin) {
        return None;
    }
    let inside = |r: &&Reading| (first.from_mm..=last.to_mm).contains(&r.along_mm);
    let taken_mm = middle_of_range(readings.iter().filter(inside).map(|r| r.offset_mm));
    let ramp = |u: f64, a: f64, b: f64| if b > a { ((u - a) / (b - a)).clamp(0.0, 1.0) } else { 1.0 };
    let share = |u: f64| ramp(u, from_mm, first.from_mm).min(1.0 - ramp(u, last.to_mm, to_mm.max(last.to_mm + 1e-9)));
    Some(Cure { from_mm, to_mm, taken_mm, drift: 0.0, leaves_mm: worst_after(readings, |u| taken_mm * share(u)) })
}

/// Re-pins the whole seam with one shift: half the range is left.
pub fn one_shift(readings: &[Reading]) -> Option<Cure> {
    let taken_mm = middle_of_range(readings.iter().map(|r| r.offset_mm));
    Some(Cure {
        from_mm: readings.first()?.along_mm,
        to_mm: readings.last()?.along_mm,
        taken_mm,
        drift: 0.0,
        leaves_mm: worst_after(readings, |_| taken_mm),
    })
}

/// Re-pins the whole seam with one shift and eases one side into the other evenly, as much as the cloth takes.
pub fn shift_and_ease(readings: &[Reading]) -> Option<Cure> {
    let (from_mm, to_mm) = (readings.first()?.along_mm, readings.last()?.along_mm);
    let drift = drift(readings).clamp(-custom::MOST_EASE, custom::MOST_EASE);
    if !drift.is_finite() {
        return None;
    }
    let middle = 0.5 * (from_mm + to_mm);
    let taken_mm = middle_of_range(readings.iter().map(|r| r.offset_mm - drift * (r.along_mm - middle)));
    Some(Cure {
        from_mm,
        to_mm,
        taken_mm,
        drift,
        leaves_mm: worst_after(readings, |u| taken_mm + drift * (u - middle)),
    })
}

fn worst_after(readings: &[Reading], correction: impl Fn(f64) -> f64) -> f64 {
    readings.iter().map(|r| (r.offset_mm - correction(r.along_mm)).abs()).fold(0.0, f64::max)
}

fn middle_of_range(values: impl Iterator<Item = f64>) -> f64 {
    let (low, high) = values.fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
    if low <= high { 0.5 * (low + high) } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::PxPoint;

    fn readings(offset: impl Fn(f64) -> f64) -> Vec<Reading> {
        (0..=80)
            .map(|k| f64::from(k) * 2.5)
            .map(|u| Reading {
                along_mm: u,
                at_px: PxPoint::new(0.0, u),
                offset_mm: offset(u),
                expanded_uncertainty_mm: 0.05,
            })
            .collect()
    }

    #[test]
    fn one_shift_takes_an_even_shift_away() {
        let cure = one_shift(&readings(|_| 2.4)).unwrap();
        assert!((cure.taken_mm - 2.4).abs() < 1e-12 && cure.leaves_mm < 1e-12);
    }

    #[test]
    fn a_slip_is_one_stretch_and_the_rest_stays() {
        let slip = readings(|u| 3.0 * (-((u - 100.0) / 15.0f64).powi(2)).exp());
        let stretch = Stretch { from_mm: 87.5, to_mm: 112.5, worst_mm: 3.0 };
        let cure = one_stretch(&slip, &[stretch], 1.5).unwrap();
        assert!(cure.from_mm < 87.5 && cure.to_mm > 112.5 && cure.leaves_mm < 1.0, "{cure:?}");
        assert!(
            one_stretch(&readings(|_| 3.0), &[Stretch { from_mm: 0.0, to_mm: 200.0, worst_mm: 3.0 }], 1.5).is_none()
        );
    }

    #[test]
    fn drift_within_the_ease_limit_is_eased_and_beyond_it_is_not() {
        let gentle = shift_and_ease(&readings(|u| 0.015 * u)).unwrap();
        assert!(gentle.leaves_mm < 1e-9 && (gentle.drift - 0.015).abs() < 1e-12);
        let steep = shift_and_ease(&readings(|u| 0.05 * u)).unwrap();
        assert!((steep.leaves_mm - 3.0).abs() < 1e-9);
    }
}
