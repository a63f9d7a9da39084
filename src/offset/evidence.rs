//! How freely the field varies, chosen and averaged by the evidence (marginal likelihood).

use super::field::{Freedom, Layout};
use super::jumps::{self, Set, Steps, Told};
use super::linear::Linear;
use crate::lines::relief::Slope;
use crate::threads;
use nalgebra::allocator::Allocator;
use nalgebra::{Cholesky, DMatrix, DVector, DefaultAllocator, Dim, Dyn, OMatrix};
use std::sync::OnceLock;

/// Random walks tried for the offset, mm per √mm.
const WALKS: [f64; 6] = [0.001, 0.006, 0.02, 0.06, 0.16, 0.4];
/// Jitters tried, millimetres.
const JITTERS_MM: [f64; 5] = [0.002, 0.01, 0.03, 0.08, 0.2];
/// Freedoms of slope and bend tried.
const DRAPES: [f64; 4] = [0.03, 0.3, 1.0, 3.0];
/// A freedom with less evidence than this share of the best one's is left out.
const LEAST_EVIDENCE: f64 = 0.02;

/// How well the linearised model explains the data with each freedom, and what it then says.
pub struct Evidence<'a> {
    layout: &'a Layout,
    theta: &'a DVector<f64>,
    /// Information matrix, and the right side of the normal equations for the parameters themselves: δ's knots, then the
    /// jitter's, then the shapes'.
    normal: DMatrix<f64>,
    pull: DVector<f64>,
    slopes: [Slope; 2],
    /// The steps of δ that may be jumps.
    places: &'a [usize],
    /// Of each drape, once it is asked for, the normal equations of offset and jitter, slopes and bends eliminated.
    shapeless: [OnceLock<Option<Reduced>>; DRAPES.len()],
}

/// The normal equations of some parameters once others are eliminated with the freedom these have.
struct Reduced {
    /// Of those that are left.
    normal: DMatrix<f64>,
    right: DVector<f64>,
    /// The eliminated parameters' share of the logarithm of the evidence.
    log: f64,
    /// What the eliminated parameters are, given those left: Lᵀ of them is `own` minus `follow` times those left.
    root: Cholesky<f64, Dyn>,
    own: DVector<f64>,
    follow: DMatrix<f64>,
}

impl Reduced {
    /// Eliminates the last parameters, of which `precision` and `pull` (precision times centre) are the prior, from normal
    /// equations. `prior_log`: the logarithm of the prior's density at zero, its constant left out.
    fn new(
        normal: &DMatrix<f64>,
        right: &DVector<f64>,
        precision: &DMatrix<f64>,
        pull: &DVector<f64>,
        prior_log: f64,
    ) -> Option<Self> {
        let gone = precision.nrows();
        let left = normal.nrows() - gone;
        let root = (normal.view((left, left), (gone, gone)) + precision).cholesky()?;
        let lower = root.l_dirty();
        let mut follow = normal.view((left, 0), (gone, left)).clone_owned();
        lower.solve_lower_triangular_unchecked_mut(&mut follow);
        let mut own = right.rows(left, gone) + pull;
        lower.solve_lower_triangular_unchecked_mut(&mut own);
        Some(Self {
            normal: normal.view((0, 0), (left, left)) - follow.transpose() * &follow,
            right: right.rows(0, left) - follow.tr_mul(&own),
            log: prior_log + 0.5 * (own.norm_squared() - log_determinant(&root)),
            root,
            own,
            follow,
        })
    }

    /// The eliminated parameters, given those left.
    fn eliminated(&self, left: &DVector<f64>) -> DVector<f64> {
        let mut gone = &self.own - &self.follow * left;
        self.root.l_dirty().ad_solve_lower_triangular_unchecked_mut(&mut gone);
        gone
    }
}

/// Logarithm of the determinant of a matrix from its root.
fn log_determinant(root: &Cholesky<f64, Dyn>) -> f64 {
    2.0 * root.l_dirty().diagonal().iter().map(|x| x.ln()).sum::<f64>()
}

/// Logarithm of the determinant of a matrix with nothing beside its diagonal and the two next to it.
fn tridiagonal_log_determinant(matrix: &DMatrix<f64>) -> f64 {
    let (mut pivot, mut log) = (matrix[(0, 0)], matrix[(0, 0)].ln());
    for k in 1..matrix.nrows() {
        pivot = matrix[(k, k)] - matrix[(k, k - 1)].powi(2) / pivot;
        log += pivot.ln();
    }
    log
}

/// The inverse of a matrix from its root L: L⁻ᵀ L⁻¹, each column of L⁻¹ solved from its diagonal on. Several times faster
/// than solving for every column of one.
fn inverse(root: &Cholesky<f64, Dyn>) -> DMatrix<f64> {
    let lower = root.l_dirty();
    let n = lower.nrows();
    let mut half = DMatrix::identity(n, n);
    for k in 0..n {
        let mut column = half.view_mut((k, k), (n - k, 1));
        lower.view((k, k), (n - k, n - k)).solve_lower_triangular_unchecked_mut(&mut column);
    }
    half.transpose() * half
}

impl<'a> Evidence<'a> {
    /// From a linearisation around `theta` with the sides' slopes as first seen, and the steps of δ that may be jumps.
    pub fn new(
        layout: &'a Layout,
        linear: &'a Linear,
        theta: &'a DVector<f64>,
        slopes: [Slope; 2],
        places: &'a [usize],
    ) -> Self {
        let pull = &linear.normal * theta + &linear.right;
        // δ's knots, then the jitter's, then the shapes': each is eliminated from the end.
        let order: Vec<usize> =
            (0..layout.offset_knots()).chain(layout.jitter_parameters()).chain(layout.shape_parameters()).collect();
        Self {
            layout,
            normal: linear.normal.select_columns(&order).select_rows(&order),
            pull: pull.select_rows(&order),
            theta,
            slopes,
            places,
            shapeless: Default::default(),
        }
    }

    /// The normal equations of offset and jitter with one of the [`DRAPES`], worked out once.
    fn shapeless(&self, drape: f64) -> Option<&Reduced> {
        let place = DRAPES.iter().position(|&d| d == drape)?;
        self.shapeless[place].get_or_init(|| self.without_shapes(drape)).as_ref()
    }

    /// The normal equations of offset and jitter, slopes and bends eliminated.
    fn without_shapes(&self, drape: f64) -> Option<Reduced> {
        let precision = self.layout.shape_precision(drape);
        let shapes = self.layout.shape_parameters();
        let centre = self.layout.constant(0.0, self.slopes).rows(shapes.start, shapes.len()).clone_owned();
        let held = &precision * &centre;
        let prior_log = 0.5 * (log_determinant(&precision.clone().cholesky()?) - centre.dot(&held));
        Reduced::new(&self.normal, &self.pull, &precision, &held, prior_log)
    }

    /// The normal equations of δ alone, from those of offset and jitter; `theta` as for [`Layout::prior`].
    fn without_jitter(
        &self,
        normal: &DMatrix<f64>,
        right: &DVector<f64>,
        jitter_mm: f64,
        theta: Option<&DVector<f64>>,
    ) -> Option<Reduced> {
        let precision = self.layout.jitter_precision(jitter_mm, theta);
        let prior_log = 0.5 * precision.iter().map(|p| p.ln()).sum::<f64>();
        let none = DVector::zeros(precision.len());
        Reduced::new(normal, right, &DMatrix::from_diagonal(&precision), &none, prior_log)
    }

    /// δ's knots with a walk that nowhere jumps: the root of their precision, and their means.
    fn posterior(&self, reduced: &Reduced, walk: &DMatrix<f64>) -> Option<(Cholesky<f64, Dyn>, DVector<f64>)> {
        let root = (&reduced.normal + walk).cholesky()?;
        let mean = root.solve(&reduced.right);
        Some((root, mean))
    }

    /// What the data say of them.
    fn told(&self, reduced: &Reduced, freedom: &Freedom) -> Option<Told> {
        let (root, mean) = self.posterior(reduced, &self.walk(freedom))?;
        Some(Told { mean, covariance: inverse(&root) })
    }

    /// The sets of jumps that count.
    fn sets(&self, reduced: &Reduced, freedom: &Freedom) -> Option<Vec<Set>> {
        let walk = self.walk(freedom);
        let (root, mean) = self.posterior(reduced, &walk)?;
        let log = reduced.log
            + 0.5 * (tridiagonal_log_determinant(&walk) - log_determinant(&root) + reduced.right.dot(&mean));
        // The steps at the places, and their covariance DᵀL⁻ᵀL⁻¹D.
        let mut half = DMatrix::zeros(mean.len(), self.places.len());
        for (k, &place) in self.places.iter().enumerate() {
            (half[(place, k)], half[(place + 1, k)]) = (-1.0, 1.0);
        }
        let size = half.tr_mul(&mean);
        root.l_dirty().solve_lower_triangular_unchecked_mut(&mut half);
        let steps = Told { mean: size, covariance: half.tr_mul(&half) };
        Some(jumps::sets(steps, log, self.places, &self.steps(freedom)))
    }

    /// The precision of a walk that nowhere jumps.
    fn walk(&self, freedom: &Freedom) -> DMatrix<f64> {
        self.layout.walk_precision(&Freedom { jumps: Vec::new(), ..freedom.clone() })
    }

    fn steps(&self, freedom: &Freedom) -> Steps {
        Steps::new(self.layout.step_variance(freedom), self.layout.offset_spacing_mm())
    }

    /// Every walk and jitter of these with one drape, with the sets of jumps that count with it.
    fn all(&self, drape: f64, walks: &[f64], jitters_mm: &[f64]) -> Vec<Model> {
        let Some(shapeless) = self.shapeless(drape) else { return Vec::new() };
        let of_jitter = |&jitter_mm: &f64| {
            let reduced = self.without_jitter(&shapeless.normal, &shapeless.right, jitter_mm, None);
            let models = reduced.iter().flat_map(|reduced| {
                walks.iter().filter_map(move |&walk| {
                    let freedom = Freedom { walk, drape, jitter_mm, jumps: Vec::new() };
                    let mut sets = self.sets(reduced, &freedom)?;
                    sets.iter_mut().for_each(|set| set.log += shapeless.log);
                    Some(Model { freedom, sets })
                })
            });
            models.collect::<Vec<Model>>()
        };
        threads::halves(jitters_mm, |jitters_mm| jitters_mm.iter().flat_map(of_jitter).collect())
    }

    /// One walk and jitter with every drape but one.
    fn other_drapes(&self, freedom: &Freedom, but: Option<f64>) -> Vec<Model> {
        threads::halves(&DRAPES, |drapes| {
            let drapes = drapes.iter().filter(|&&drape| Some(drape) != but);
            drapes.flat_map(|&drape| self.all(drape, &[freedom.walk], &[freedom.jitter_mm])).collect()
        })
    }

    /// The freedom with the largest evidence, searched one part after the other, and the jumps that go with it.
    pub fn best(&self, start: &Freedom) -> Option<Freedom> {
        let best = |models: Vec<Model>| {
            let model = models.into_iter().max_by(|a, b| a.log().total_cmp(&b.log()))?;
            let set = model.sets.into_iter().max_by(|a, b| a.log.total_cmp(&b.log))?;
            Some(Freedom { jumps: set.jumps, ..model.freedom })
        };
        let at_first = best(self.other_drapes(start, None))?;
        let freedom = best(self.all(at_first.drape, &WALKS, &JITTERS_MM))?;
        let then = best(self.other_drapes(&freedom, None))?;
        if then.drape == freedom.drape { Some(freedom) } else { best(self.all(then.drape, &WALKS, &JITTERS_MM)) }
    }

    /// The parameters averaged over the freedoms around the best one, and over the jumps with each, by their evidence, with
    /// the covariance that not knowing them brings: a few edges often cannot tell an offset that wanders from lines that
    /// are uneven, and where no edge is the two differ.
    ///
    /// # Source
    /// Bayesian model averaging: Hoeting, Madigan, Raftery, Volinsky, Statistical Science 14, 1999 (from memory).
    pub fn averaged(&self, best: &Freedom) -> Option<Average> {
        let mut models = self.all(best.drape, &WALKS, &JITTERS_MM);
        models.extend(self.other_drapes(best, Some(best.drape)));
        let most = models.iter().map(Model::log).fold(f64::NEG_INFINITY, f64::max);
        models.retain(|model| (model.log() - most).exp() > LEAST_EVIDENCE);
        let part = |model: &Model| Some(((model.log() - most).exp(), self.solved(model)?));
        let parts: Vec<(f64, Average)> = models.iter().filter_map(part).collect();
        let theta = mean(parts.iter().map(|(share, part)| (*share, &part.theta)))?;
        let knots = self.layout.offset_knots();
        let told = parts.iter().map(|(share, p)| (*share, p.theta.rows(0, knots).clone_owned(), &p.covariance));
        let (_, covariance) = mixed(&told.collect::<Vec<_>>())?;
        let carried = mean(parts.iter().map(|(share, part)| (*share, &part.carried)))?;
        Some(Average { theta, covariance, carried })
    }

    /// What one model says, averaged over its sets of jumps, with heavy tails of the jitter.
    fn solved(&self, model: &Model) -> Option<Average> {
        let freedom = &model.freedom;
        let shapeless = self.shapeless(freedom.drape)?;
        let tails = Some(self.theta);
        let reduced = self.without_jitter(&shapeless.normal, &shapeless.right, freedom.jitter_mm, tails)?;
        let plain = self.told(&reduced, freedom)?;
        let (most, steps) = (model.log(), self.steps(freedom));
        let told: Vec<(f64, Told)> =
            model.sets.iter().map(|set| ((set.log - most).exp(), plain.with_all(&set.jumps, &steps))).collect();
        let parts: Vec<_> = told.iter().map(|(share, told)| (*share, told.mean.clone(), &told.covariance)).collect();
        let (offset, covariance) = mixed(&parts)?;
        // Given δ, the other parameters know nothing of its jumps: they follow it as they do without.
        let jitter = reduced.eliminated(&offset);
        let rest = DVector::from_iterator(offset.len() + jitter.len(), offset.iter().chain(jitter.iter()).copied());
        let shapes = shapeless.eliminated(&rest);
        let all = offset.iter().chain(shapes.iter()).chain(jitter.iter()).copied();
        let theta = DVector::from_iterator(self.layout.total(), all);
        // As it would be if slopes and bends were known.
        let left = self.pull.len() - shapes.len();
        let (normal, right) =
            (self.normal.view((0, 0), (left, left)).clone_owned(), self.pull.rows(0, left).clone_owned());
        let held = self.told(&self.without_jitter(&normal, &right, freedom.jitter_mm, tails)?, freedom)?;
        Some(Average { theta, covariance, carried: plain.covariance - held.covariance })
    }
}

/// What the data say, over all models.
pub struct Average {
    /// All parameters of the field.
    pub theta: DVector<f64>,
    /// Covariance of δ's knots, mm².
    pub covariance: DMatrix<f64>,
    /// The part of it that slope and drape bring, which carry the lines to the seam.
    pub carried: DMatrix<f64>,
}

/// One freedom, and the sets of jumps that count with it.
struct Model {
    freedom: Freedom,
    sets: Vec<Set>,
}

impl Model {
    /// Logarithm of the evidence of all sets together.
    fn log(&self) -> f64 {
        let most = self.sets.iter().map(|t| t.log).fold(f64::NEG_INFINITY, f64::max);
        most + self.sets.iter().map(|t| (t.log - most).exp()).sum::<f64>().ln()
    }
}

/// The mean of some with their shares; `None` of none.
fn mean<'m, C: Dim>(parts: impl Iterator<Item = (f64, &'m OMatrix<f64, Dyn, C>)>) -> Option<OMatrix<f64, Dyn, C>>
where
    DefaultAllocator: Allocator<Dyn, C>,
{
    let (mut sum, mut total) = (None, 0.0);
    for (share, part) in parts {
        sum = Some(sum.map_or_else(|| part * share, |sum: OMatrix<f64, Dyn, C>| sum + part * share));
        total += share;
    }
    sum.filter(|_| total > 0.0).map(|sum| sum / total)
}

/// Mean and covariance over models, of which each has a share, a mean and a covariance; `None` of none.
fn mixed(parts: &[(f64, DVector<f64>, &DMatrix<f64>)]) -> Option<(DVector<f64>, DMatrix<f64>)> {
    let middle = mean(parts.iter().map(|(share, mean, _)| (*share, mean)))?;
    let mut covariance = mean(parts.iter().map(|(share, _, covariance)| (*share, *covariance)))?;
    let total: f64 = parts.iter().map(|p| p.0).sum();
    for (share, mean, _) in parts {
        let apart = mean - &middle;
        covariance.ger(share / total, &apart, &apart, 1.0);
    }
    Some((middle, covariance))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::ops::AddAssign;

    #[test]
    fn what_is_eliminated_leaves_the_solution_the_covariance_and_the_determinant_of_the_whole() {
        let (n, gone) = (7, 3);
        let a = DMatrix::from_fn(n, n, |i, j| ((i * 5 + j * 3) as f64 * 0.7).sin());
        let normal = &a * a.transpose() + DMatrix::identity(n, n);
        let right = DVector::from_fn(n, |i, _| (i as f64).cos());
        let precision = DMatrix::from_diagonal(&DVector::from_vec(vec![2.0, 0.5, 1.0]));
        let pull = DVector::from_vec(vec![0.3, -0.2, 0.1]);
        let reduced = Reduced::new(&normal, &right, &precision, &pull, 0.0).unwrap();
        let (mut whole, mut all) = (normal.clone(), right.clone());
        let mut corner = whole.view_mut((n - gone, n - gone), (gone, gone));
        corner += &precision;
        all.rows_mut(n - gone, gone).add_assign(&pull);
        let root = whole.cholesky().unwrap();
        let solution = root.solve(&all);
        let own = reduced.normal.clone().cholesky().unwrap();
        let left = own.solve(&reduced.right);
        assert!((&left - solution.rows(0, n - gone)).norm() < 1e-12);
        assert!((reduced.eliminated(&left) - solution.rows(n - gone, gone)).norm() < 1e-12);
        let covariance = root.inverse().view((0, 0), (n - gone, n - gone)).clone_owned();
        assert!((inverse(&own) - covariance).norm() < 1e-12);
        let log = reduced.log + 0.5 * (reduced.right.dot(&left) - log_determinant(&own));
        assert!((log - 0.5 * (all.dot(&solution) - log_determinant(&root))).abs() < 1e-12);
    }
}
