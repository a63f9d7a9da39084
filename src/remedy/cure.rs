//! What each cure can reach, worked out from the readings: simplest first.

use super::Action;
use super::custom::Rules;
use crate::conventions::{Direction, Runs, Side};
use crate::offset::Reading;
use crate::verdict::{Judgement, Stretch, judge};

/// How much of a reading's uncertainty is given to the cloth when what a cure leaves is worked out: none of it, or all.
const OF_THE_READING: f64 = 0.0;
const ON_THE_CLOTHS_SIDE: f64 = 1.0;
/// Readings stand at even steps, so that a share of the seam is often right at its limit: how it is rounded must not decide.
const ROUNDING: f64 = 1e-9;

/// One cure: what it takes, and what it leaves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cure {
    /// Which cure.
    pub action: Action,
    /// Where the work begins, u.
    pub from_mm: f64,
    /// Where it ends, u.
    pub to_mm: f64,
    /// Where the shift begins and ends to be full: nearer than that to either end it runs out evenly to nothing. The same
    /// as `from_mm` and `to_mm` where the whole seam is pinned again.
    pub full_mm: [f64; 2],
    /// The offset that is taken away; at the middle of the work, where ease makes it change.
    pub shift_mm: f64,
    /// What ease takes away beside it, millimetres of offset to a millimetre of seam; positive where the second side is the
    /// longer one.
    pub ease: f64,
    /// The largest |offset| that is left.
    pub leaves_mm: f64,
    /// Where that is, u.
    pub leaves_at_mm: f64,
    /// Expanded uncertainty (about 95 %) of the largest |offset| that is left, wherever it may be.
    pub expanded_uncertainty_mm: f64,
    /// Whether what is left is within tolerance, at every reading and its uncertainty included.
    pub inside: Judgement,
    /// Whether some shift, and some ease within its limit, may bring every reading inside, each as far to the good side as
    /// its uncertainty allows. Where not, this cure surely fails.
    pub may_do: bool,
}

/// The side that moves, and which way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Move {
    /// The side whose lines stand further along the seam.
    pub side: Side,
    /// Back against the run of the seam: up, or to the left.
    pub direction: Direction,
}

impl Cure {
    /// What is taken off the offset at u, millimetres.
    pub fn taken_at(&self, u_mm: f64) -> f64 {
        if self.action == Action::RepinStretch {
            let ramp = |u: f64, a: f64, b: f64| if b > a { ((u - a) / (b - a)).clamp(0.0, 1.0) } else { 1.0 };
            let [full, last] = self.full_mm;
            let share = ramp(u_mm, self.from_mm, full).min(ramp(-u_mm, -self.to_mm, -last));
            let touched = (self.from_mm..=self.to_mm).contains(&u_mm);
            return if touched { self.shift_mm * share } else { 0.0 };
        }
        self.shift_mm + self.ease * (u_mm - 0.5 * (self.from_mm + self.to_mm))
    }

    /// What moves: the side whose lines stand further along moves back, so that a mirrored picture names the other side
    /// and the same direction.
    pub fn moves(&self, runs: Runs) -> Move {
        let [first, second] = runs.sides();
        Move { side: if self.shift_mm > 0.0 { second } else { first }, direction: runs.direction(false) }
    }

    /// The longer side, which is eased into the other; `None` where nothing is eased.
    pub fn longer(&self, runs: Runs) -> Option<Side> {
        let [first, second] = runs.sides();
        (self.ease != 0.0).then_some(if self.ease > 0.0 { second } else { first })
    }

    /// The step that the two sides' edges get at the start and the end of a seam of this length (waist and hem, say),
    /// beside what they have: millimetres, signed as an offset. 0 where the ends stay untouched.
    pub fn ends_mm(&self, length_mm: f64) -> [f64; 2] {
        [-self.taken_at(0.0), -self.taken_at(length_mm)]
    }

    /// With what is left of these readings worked out.
    fn judged(self, readings: &[Reading], tolerance_mm: f64) -> Self {
        let left = |r: &Reading| r.offset_mm - self.taken_at(r.along_mm);
        let Some(worst) = readings.iter().max_by(|a, b| left(a).abs().total_cmp(&left(b).abs())) else { return self };
        let states = || readings.iter().map(|r| judge(left(r), r.expanded_uncertainty_mm, tolerance_mm));
        let inside = if states().all(|s| s == Judgement::Matched) {
            Judgement::Matched
        } else if states().any(|s| s == Judgement::Off) {
            Judgement::Off
        } else {
            Judgement::Unsure
        };
        let reach = readings.iter().map(|r| left(r).abs() + r.expanded_uncertainty_mm).fold(0.0, f64::max);
        let leaves_mm = left(worst).abs();
        let expanded_uncertainty_mm = reach - leaves_mm;
        Self { leaves_mm, leaves_at_mm: worst.along_mm, expanded_uncertainty_mm, inside, ..self }
    }
}

/// Every cure that can be tried, simplest first: leave, pin one stretch again, pin the whole seam again with one shift,
/// and with ease. Empty without readings. Lengths are those of the readings; `seam_mm` is the seam's.
pub fn all(readings: &[Reading], stretches: &[Stretch], seam_mm: f64, tolerance_mm: f64, rules: &Rules) -> Vec<Cure> {
    let (Some(first), Some(last)) = (readings.first(), readings.last()) else { return Vec::new() };
    let nothing = Cure {
        action: Action::Leave,
        from_mm: 0.0,
        to_mm: seam_mm,
        full_mm: [0.0, seam_mm],
        shift_mm: 0.0,
        ease: 0.0,
        leaves_mm: 0.0,
        leaves_at_mm: first.along_mm,
        expanded_uncertainty_mm: 0.0,
        inside: Judgement::Unsure,
        may_do: true,
    };
    let whole = |action, ease| Cure { action, ease, ..nothing };
    let most = rules.most_ease_percent / 100.0;
    let eased = |given| {
        let ease = least(-most, most, |ease| shifted(readings, whole(Action::Ease, ease), given).1);
        shifted(readings, whole(Action::Ease, ease), given)
    };
    let stretch = |given| one_stretch(readings, stretches, tolerance_mm, rules, nothing, given);
    let one_shift = |given| shifted(readings, whole(Action::RepinWhole, 0.0), given);
    // Each as the readings have it, and what it leaves with their uncertainty on the cloth's side.
    let cure = |(cure, _): (Cure, f64), (_, kindly_mm): (Cure, f64)| Cure { may_do: kindly_mm <= tolerance_mm, ..cure };
    let cures = [
        Some(nothing),
        stretch(OF_THE_READING).zip(stretch(ON_THE_CLOTHS_SIDE)).map(|(firm, kind)| cure(firm, kind)),
        Some(cure(one_shift(OF_THE_READING), one_shift(ON_THE_CLOTHS_SIDE))),
        (last.along_mm > first.along_mm).then(|| cure(eased(OF_THE_READING), eased(ON_THE_CLOTHS_SIDE))),
    ];
    cures.into_iter().flatten().map(|cure| cure.judged(readings, tolerance_mm)).collect()
}

/// Pins the stretches that are out again, as one piece of work: the shift is full over them and runs out to nothing at
/// the nearest good reading on either side; where there is none, to the seam's end in full. `None` when too little of the
/// seam would stay untouched.
///
/// No ease limit: a slip has eased one side into the other already, and taking it back lets that ease out.
fn one_stretch(
    readings: &[Reading],
    stretches: &[Stretch],
    tolerance_mm: f64,
    rules: &Rules,
    nothing: Cure,
    given: f64,
) -> Option<(Cure, f64)> {
    let (first, last) = (stretches.first()?, stretches.last()?);
    let (begin, end) = (readings.first()?.along_mm, readings.last()?.along_mm);
    let good = |r: &&Reading| r.offset_mm.abs() + r.expanded_uncertainty_mm <= tolerance_mm / 2.0;
    let before = readings.iter().rev().filter(|r| r.along_mm < first.from_mm).find(good).map(|r| r.along_mm);
    let after = readings.iter().filter(|r| r.along_mm > last.to_mm).find(good).map(|r| r.along_mm);
    let touched_mm = after.unwrap_or(end) - before.unwrap_or(begin);
    if touched_mm / (end - begin) > 1.0 - rules.untouched_percent / 100.0 + ROUNDING {
        return None;
    }
    let [from_mm, to_mm] = [before.unwrap_or(nothing.from_mm), after.unwrap_or(nothing.to_mm)];
    // The shift runs out no faster than cloth can.
    let run_out_mm = |shift_mm: f64| shift_mm.abs() / (rules.run_out_percent / 100.0);
    let with = |shift_mm: f64| Cure {
        action: Action::RepinStretch,
        from_mm: from_mm.min(first.from_mm - run_out_mm(shift_mm)).max(nothing.from_mm),
        to_mm: to_mm.max(last.to_mm + run_out_mm(shift_mm)).min(nothing.to_mm),
        full_mm: [before.map_or(from_mm, |_| first.from_mm), after.map_or(to_mm, |_| last.to_mm)],
        shift_mm,
        ..nothing
    };
    let farthest = stretches.iter().map(|s| s.worst_mm.abs()).fold(0.0, f64::max);
    let best = with(least(-farthest, farthest, |shift| left_over(readings, &with(shift), given)));
    Some((best, left_over(readings, &best, given)))
}

/// The cure with the one shift that leaves least, half the range of what its ease leaves; and what it leaves, with this
/// share of each reading's uncertainty given to the cloth.
fn shifted(readings: &[Reading], cure: Cure, given: f64) -> (Cure, f64) {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for r in readings {
        let (left, given_mm) = (r.offset_mm - cure.taken_at(r.along_mm), given * r.expanded_uncertainty_mm);
        (low, high) = (low.min(left + given_mm), high.max(left - given_mm));
    }
    (Cure { shift_mm: 0.5 * (low + high), ..cure }, 0.5 * (high - low))
}

/// The largest |offset| that is left, with this share of each reading's uncertainty given to the cloth, and a little of
/// their root mean square: where several shifts leave the same at the worst place, the one that leaves least elsewhere.
fn left_over(readings: &[Reading], cure: &Cure, given: f64) -> f64 {
    let left =
        |r: &Reading| ((r.offset_mm - cure.taken_at(r.along_mm)).abs() - given * r.expanded_uncertainty_mm).max(0.0);
    let mean_square = readings.iter().map(|r| left(r).powi(2)).sum::<f64>() / readings.len() as f64;
    readings.iter().map(left).fold(0.0, f64::max) + 1e-3 * mean_square.sqrt()
}

/// Where a convex function has its least value between two ends; golden section, to a billionth of the range.
fn least(mut low: f64, mut high: f64, value: impl Fn(f64) -> f64) -> f64 {
    let golden = 0.5 * (5f64.sqrt() - 1.0);
    for _ in 0..45 {
        let (a, b) = (high - golden * (high - low), low + golden * (high - low));
        if value(a) <= value(b) { high = b } else { low = a }
    }
    0.5 * (low + high)
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
                chief_source: "",
            })
            .collect()
    }

    fn cure(action: Action, readings: &[Reading], stretches: &[Stretch]) -> Option<Cure> {
        all(readings, stretches, 200.0, 1.5, &Rules::default()).into_iter().find(|c| c.action == action)
    }

    #[test]
    fn one_shift_takes_an_even_shift_away() {
        let cure = cure(Action::RepinWhole, &readings(|_| 2.4), &[]).unwrap();
        assert!((cure.shift_mm - 2.4).abs() < 1e-12 && cure.leaves_mm < 1e-12 && cure.inside == Judgement::Matched);
        assert_eq!(cure.moves(Runs::Down), Move { side: Side::Right, direction: Direction::Up });
        assert_eq!(cure.ends_mm(200.0), [-2.4, -2.4]);
    }

    #[test]
    fn a_slip_is_one_stretch_and_the_rest_stays() {
        let slip = readings(|u| 3.0 * (-((u - 100.0) / 15.0f64).powi(2)).exp());
        let stretch = Stretch { from_mm: 87.5, to_mm: 112.5, worst_mm: 3.0 };
        let again = cure(Action::RepinStretch, &slip, &[stretch]).unwrap();
        assert!(again.from_mm < 87.5 && again.to_mm > 112.5 && again.leaves_mm < 1.0, "{again:?}");
        assert_eq!((again.taken_at(20.0), again.taken_at(180.0)), (0.0, 0.0));
        assert!((again.taken_at(100.0) - again.shift_mm).abs() < 1e-12);
        let everywhere = [Stretch { from_mm: 0.0, to_mm: 200.0, worst_mm: 3.0 }];
        assert!(cure(Action::RepinStretch, &readings(|_| 3.0), &everywhere).is_none());
    }

    #[test]
    fn a_stretch_right_at_the_limit_is_pinned_again_at_every_scale() {
        // Out up to 100 mm, good from 120 mm on: 60 % of the seam is touched and 40 % is not.
        let at_the_limit = readings(|u| if u < 120.0 { 2.0 } else { 0.0 });
        for factor in (30..400).map(|k| f64::from(k) / 100.0) {
            let times = |r: &Reading| Reading {
                along_mm: factor * r.along_mm,
                offset_mm: factor * r.offset_mm,
                expanded_uncertainty_mm: factor * r.expanded_uncertainty_mm,
                ..*r
            };
            let scaled: Vec<Reading> = at_the_limit.iter().map(times).collect();
            let stretch = Stretch { from_mm: 0.0, to_mm: 100.0 * factor, worst_mm: 2.0 * factor };
            let cures = all(&scaled, &[stretch], 200.0 * factor, 1.5 * factor, &Rules::default());
            assert!(cures.iter().any(|c| c.action == Action::RepinStretch), "{factor}");
        }
    }

    #[test]
    fn drift_within_the_ease_limit_is_eased_and_beyond_it_is_not() {
        let gentle = cure(Action::Ease, &readings(|u| 0.015 * u), &[]).unwrap();
        assert!(gentle.leaves_mm < 1e-5 && (gentle.ease - 0.015).abs() < 1e-6);
        assert_eq!(gentle.longer(Runs::Down), Some(Side::Right));
        let steep = cure(Action::Ease, &readings(|u| 0.05 * u), &[]).unwrap();
        assert!((steep.leaves_mm - 3.0).abs() < 1e-4 && steep.inside == Judgement::Off);
    }

    #[test]
    fn a_cure_fails_surely_only_where_the_sure_readings_say_so() {
        let steep = |u: f64| 0.05 * u;
        let of_sure = all(&readings(steep), &[], 200.0, 1.5, &Rules::default());
        assert!(of_sure[1..].iter().all(|c| !c.may_do && c.inside == Judgement::Off));
        // The same jumps where only the first half is known well: that half can be eased.
        let half: Vec<Reading> = readings(steep)
            .into_iter()
            .map(|r| Reading { expanded_uncertainty_mm: if r.along_mm <= 80.0 { 0.05 } else { 6.5 }, ..r })
            .collect();
        let of_half = all(&half, &[], 200.0, 1.5, &Rules::default());
        let eased = of_half.iter().find(|c| c.action == Action::Ease).unwrap();
        assert!(eased.may_do && eased.leaves_mm > 2.9, "{eased:?}");
    }

    #[test]
    fn no_line_of_shift_and_ease_leaves_less() {
        let bent = readings(|u| 0.01 * u + 1.2 * (u / 31.0).sin() - 0.4);
        let best = cure(Action::Ease, &bent, &[]).unwrap();
        for j in -40..=40 {
            for k in -60..=60 {
                let (ease, shift) = (f64::from(j) * 0.0005, f64::from(k) * 0.05);
                let left =
                    bent.iter().map(|r| (r.offset_mm - shift - ease * (r.along_mm - 100.0)).abs()).fold(0.0, f64::max);
                assert!(left >= best.leaves_mm - 1e-6, "{ease} {shift}: {left} < {}", best.leaves_mm);
            }
        }
    }
}
