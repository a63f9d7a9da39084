//! Several pieces beside each other: [`Given`] pieces → [`Comparison`], place by place ([`join`]) and over all seams.
//!
//! What is compared is the size of the mean jump: which way a seam jumps says nothing of how well it was matched, and the
//! signs of different seams mean nothing together. At one place the question is whether the two mean jumps differ in size
//! by more than the measurement: Welch's test with the told uncertainties and their effective degrees of freedom. Where a
//! mean lies within its uncertainty of zero its size is folded at zero and the test errs towards finding no difference.
//! Over all seams each piece's mean jumps are taken as a sample of how it was made: Welch's test with the scatter from
//! seam to seam, in which the measurement's own is contained. Several tests are adjusted after Holm ([`welch`]).

pub mod given;

pub mod join;

pub mod welch;

use crate::problem::Problem;
use crate::record::{Lengths, Share, Standing};
pub use given::{Given, Seam};
pub use join::Joint;
use welch::Mean;

/// The chance below which a difference is called more than chance, all tests of its kind taken together.
pub const LEVEL: f64 = 0.05;
/// How many pieces can be set beside each other: more marks and dashes cannot be told apart.
pub const MOST_PIECES: usize = 6;

/// Several pieces beside each other.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// The pieces, as they were given.
    pub pieces: Vec<Piece>,
    /// Place by place.
    pub places: Vec<Compared>,
    /// Every two pieces over all their seams; empty where that cannot be told.
    pub overall: Vec<Difference>,
}

/// One piece and what its seams come to.
#[derive(Clone, Debug)]
pub struct Piece {
    /// The piece, seam by seam.
    pub given: Given,
    /// All its seams that were measured in millimetres together; `None` where none was.
    pub all: Option<All>,
}

/// All measured seams of a piece together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct All {
    /// How many.
    pub seams: usize,
    /// Mean size of their mean jumps, millimetres.
    pub size_mm: f64,
    /// Its expanded uncertainty (95 %) from the measurement alone: of these seams, not of how the piece was made.
    pub size_expanded_mm: f64,
    /// Size of the worst jump, millimetres.
    pub worst_mm: f64,
    /// Its expanded uncertainty.
    pub worst_expanded_mm: f64,
    /// Which seam that is on, a number into its seams.
    pub worst_seam: usize,
    /// The share within tolerance, each seam counted by its length.
    pub within: Share,
    /// From how far the worst is seen, metres: a guide; `None` where it is not known.
    pub visible_from_m: Option<f64>,
}

/// One place of all pieces.
#[derive(Clone, Debug)]
pub struct Compared {
    /// Which seams.
    pub joint: Joint,
    /// Every two pieces that have it and were measured there.
    pub differences: Vec<Difference>,
}

/// How far two pieces differ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// Which pieces, numbers into [`Comparison::pieces`].
    pub pieces: [usize; 2],
    /// Size of the first's mean jump less that of the second's, millimetres, with Welch's test.
    pub welch: welch::Difference,
    /// The chance adjusted for all tests of its kind.
    pub p_adjusted: f64,
}

impl Difference {
    /// Whether it is more than chance would make it.
    pub fn is_told(&self) -> bool {
        self.p_adjusted < LEVEL
    }
}

/// Sets the pieces beside each other.
///
/// # Errors
/// [`Problem::Usage`] for fewer than two pieces or more than [`MOST_PIECES`].
pub fn compare(pieces: Vec<Given>) -> Result<Comparison, Problem> {
    if pieces.len() < 2 || pieces.len() > MOST_PIECES {
        return Err(Problem::usage(
            format!("{} pieces cannot be set beside each other", pieces.len()),
            format!("give from two to {MOST_PIECES} garment files or photographs"),
        ));
    }
    let joints = join::join(&pieces);
    let mut places: Vec<Compared> = joints
        .into_iter()
        .map(|joint| {
            let means: Vec<Option<Mean>> = (joint.seams.iter().zip(&pieces))
                .map(|(seam, given)| Some(size(given.seams[(*seam)?].lengths()?)))
                .collect();
            Compared { joint, differences: pairs(&means) }
        })
        .collect();
    adjust(&mut places.iter_mut().flat_map(|place| &mut place.differences).collect::<Vec<_>>());
    let sizes: Vec<Option<Mean>> = pieces.iter().map(made).collect();
    let mut overall = pairs(&sizes);
    adjust(&mut overall.iter_mut().collect::<Vec<_>>());
    let pieces = pieces.into_iter().map(|given| Piece { all: All::of(&given), given }).collect();
    Ok(Comparison { pieces, places, overall })
}

impl Comparison {
    /// The worst standing of all pieces.
    pub fn standing(&self) -> Standing {
        self.pieces.iter().map(|piece| piece.given.standing()).max().unwrap_or(Standing::Matched)
    }

    /// Numbers into [`Self::pieces`], the one that jumps least (in the mean size) first; those without figures left out.
    pub fn best_first(&self) -> Vec<usize> {
        let size = |k: usize| self.pieces[k].all.map(|all| all.size_mm);
        let mut order: Vec<usize> = (0..self.pieces.len()).filter(|&k| size(k).is_some()).collect();
        order.sort_by(|&a, &b| size(a).unwrap_or(0.0).total_cmp(&size(b).unwrap_or(0.0)));
        order
    }
}

/// The size of a seam's mean jump, with the uncertainty that is told of it.
fn size(lengths: &Lengths) -> Mean {
    Mean {
        value: lengths.mean_mm.abs(),
        standard: lengths.mean_standard_uncertainty_mm,
        freedom: lengths.mean_freedom.unwrap_or(f64::INFINITY),
    }
}

/// The sizes of a piece's mean jumps as a sample of how it was made; `None` of fewer than two seams.
fn made(given: &Given) -> Option<Mean> {
    let sizes: Vec<f64> = given.seams.iter().filter_map(|s| Some(s.lengths()?.mean_mm.abs())).collect();
    Mean::of(&sizes)
}

/// Every two of these that there are.
fn pairs(means: &[Option<Mean>]) -> Vec<Difference> {
    let both = (0..means.len()).flat_map(|a| (a + 1..means.len()).map(move |b| [a, b]));
    both.filter_map(|pieces @ [a, b]| {
        let welch = welch::difference(means[a]?, means[b]?)?;
        Some(Difference { pieces, welch, p_adjusted: welch.p })
    })
    .collect()
}

fn adjust(differences: &mut [&mut Difference]) {
    let adjusted = welch::holm(&differences.iter().map(|d| d.welch.p).collect::<Vec<_>>());
    differences.iter_mut().zip(adjusted).for_each(|(difference, p)| difference.p_adjusted = p);
}

impl All {
    fn of(given: &Given) -> Option<Self> {
        let measured: Vec<(usize, &Lengths)> =
            given.seams.iter().enumerate().filter_map(|(k, s)| Some((k, s.lengths()?))).collect();
        let (worst_seam, worst) =
            *measured.iter().max_by(|(_, a), (_, b)| a.worst_mm.abs().total_cmp(&b.worst_mm.abs()))?;
        let n = measured.len() as f64;
        let zero = Mean { value: 0.0, standard: 0.0, freedom: f64::INFINITY };
        // The sum of all, uncertainty by uncertainty: the difference of means of opposite sign.
        let sum = measured.iter().map(|(_, lengths)| size(lengths)).try_fold(zero, |sum, one| {
            let both = welch::difference(sum, Mean { value: -one.value, ..one })?;
            Some(Mean { value: both.value, standard: both.standard, freedom: both.freedom })
        })?;
        let expanded = welch::difference(sum, zero)?.expanded();
        let length_mm: f64 = measured.iter().map(|(_, l)| l.seam_mm).sum();
        let share =
            |of: fn(&Share) -> f64| measured.iter().map(|(_, l)| l.seam_mm * of(&l.within)).sum::<f64>() / length_mm;
        let seen = given.seams.iter().filter(|s| s.lengths().is_some());
        Some(All {
            seams: measured.len(),
            size_mm: sum.value / n,
            size_expanded_mm: expanded / n,
            worst_mm: worst.worst_mm.abs(),
            worst_expanded_mm: worst.worst_expanded_uncertainty_mm,
            worst_seam,
            within: Share { best: share(|s| s.best), least: share(|s| s.least), most: share(|s| s.most) },
            visible_from_m: seen.filter_map(|s| s.record.measured.as_ref()?.visible_from_m).max_by(f64::total_cmp),
        })
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::record::{Record, Subject, Summary};
    use crate::remedy::Action;
    use crate::verdict::Place::{CentreBack, Pocket, SideSeam};
    use crate::verdict::{Judgement, Place};

    /// A seam that was measured: its mean and worst jump, and the standard uncertainty of both.
    pub fn measured(name: &str, place: Place, mean_mm: f64, u_mm: f64) -> Seam {
        let tolerance_mm = 1.5;
        let off = mean_mm.abs() > tolerance_mm;
        let result = if off { Judgement::Off } else { Judgement::Matched };
        let share = f64::from(u8::from(!off));
        let lengths = Lengths {
            seam_mm: 120.0,
            repeat_mm: Some(30.0),
            mean_mm,
            mean_standard_uncertainty_mm: u_mm,
            mean_freedom: None,
            mean_expanded_uncertainty_mm: 2.0 * u_mm,
            worst_mm: mean_mm,
            worst_expanded_uncertainty_mm: 2.0 * u_mm,
            worst_at_mm: 60.0,
            within: Share { best: share, least: share, most: share },
        };
        let measured = Summary {
            result,
            place,
            tolerance_mm,
            reason: "as it was made".into(),
            action: if off { Action::RepinWhole } else { Action::Leave },
            worth_unpicking: Some(off),
            minutes: off.then_some(12.0),
            visible_from_m: Some(3.0 * mean_mm.abs()),
            lengths: Some(lengths),
        };
        stood(name, place, result.into(), Some(measured))
    }

    /// A seam that stands so.
    pub fn stood(name: &str, place: Place, standing: Standing, measured: Option<Summary>) -> Seam {
        let subject = Subject { file: format!("{name}.jpg"), place: Some(place), ..Subject::default() };
        Seam { name: name.into(), place, record: Record { subject, standing, measured, instead: None } }
    }

    /// A piece of these seams.
    pub fn given(name: &str, seams: Vec<Seam>) -> Given {
        Given { name: name.into(), seams }
    }

    const PLACES: [(&str, Place); 4] =
        [("back", CentreBack), ("left", SideSeam), ("right", SideSeam), ("pocket", Pocket)];

    fn piece(means_mm: [f64; 4], u_mm: f64) -> Given {
        let seams = PLACES.iter().zip(means_mm).map(|((name, place), mean)| measured(name, *place, mean, u_mm));
        given("piece", seams.collect())
    }

    #[test]
    fn sizes_are_compared_whatever_their_signs() {
        let found = compare(vec![piece([3.0, -5.0, 4.0, 7.0], 0.05), piece([-0.3, 0.8, 5.0, -0.2], 0.05)]).unwrap();
        let by: Vec<f64> = found.places.iter().map(|place| place.differences[0].welch.value).collect();
        assert!(by.iter().zip([2.7, 4.2, -1.0, 6.8]).all(|(a, b)| (a - b).abs() < 1e-12), "{by:?}");
        assert!(found.places.iter().all(|place| place.differences[0].is_told()));
        assert_eq!(found.best_first(), [1, 0]);
        let all = found.pieces[0].all.unwrap();
        assert!((all.size_mm - 4.75).abs() < 1e-12 && all.worst_seam == 3 && all.worst_mm == 7.0);
        // Four means of U = 1.96 × 0.05 each.
        assert!((all.size_expanded_mm - 1.959964 * 0.05 / 2.0).abs() < 1e-6, "{all:?}");
        // Three of the first's four seams of equal length are out of tolerance everywhere.
        assert_eq!((all.within.best, found.pieces[1].all.unwrap().within.best), (0.0, 0.75));
    }

    #[test]
    fn what_the_measurement_cannot_tell_is_not_told() {
        let found = compare(vec![piece([0.30; 4], 0.05), piece([0.35; 4], 0.05)]).unwrap();
        assert!(found.places.iter().all(|place| !place.differences[0].is_told()));
        // The seams of each scatter by nothing: the difference of samples cannot be tested.
        assert!(found.overall.is_empty());
    }

    #[test]
    fn over_all_seams_the_scatter_from_seam_to_seam_counts() {
        let found = compare(vec![piece([2.0, 4.0, 6.0, 8.0], 0.01), piece([1.0, 3.0, 5.0, 7.0], 0.01)]).unwrap();
        let [overall] = found.overall[..] else { panic!("{:?}", found.overall) };
        // Scatter of √(20/3) of either: u = √(2 · 20/3 / 4), six degrees of freedom.
        assert!((overall.welch.standard - (10.0f64 / 3.0).sqrt()).abs() < 1e-12);
        assert!((overall.welch.freedom - 6.0).abs() < 1e-9 && !overall.is_told());
    }

    #[test]
    fn three_pieces_have_three_differences_adjusted_together() {
        let found = compare(vec![piece([1.0; 4], 0.1), piece([1.3; 4], 0.1), piece([1.6; 4], 0.1)]).unwrap();
        assert!(found.places.iter().all(|place| place.differences.len() == 3));
        let difference = found.places[0].differences[0];
        assert_eq!(difference.pieces, [0, 1]);
        assert!(difference.welch.p < LEVEL && difference.p_adjusted > difference.welch.p, "{difference:?}");
    }

    #[test]
    fn what_was_not_measured_stands_beside_without_figures() {
        let refused = given("b", vec![stood("back", CentreBack, Standing::Refused, None)]);
        let found = compare(vec![piece([0.1; 4], 0.1), refused]).unwrap();
        assert_eq!(found.places[0].joint.seams, [Some(0), Some(0)]);
        assert!(found.places.iter().all(|place| place.differences.is_empty()) && found.overall.is_empty());
        assert_eq!((found.pieces[1].all, found.standing()), (None, Standing::Refused));
        assert_eq!(found.best_first(), [0]);
        assert!(compare(vec![piece([0.1; 4], 0.1)]).is_err());
    }
}
