//! How freely the field varies, chosen and averaged by the evidence (marginal likelihood).

use super::field::{Freedom, Layout};
use super::jumps::{self, Steps, Told};
use super::linear::Linear;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

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
    linear: &'a Linear,
    theta: &'a DVector<f64>,
    /// Right side of the normal equations for the parameters themselves.
    pull: DVector<f64>,
    slopes: [f64; 2],
    /// The steps of δ that may be jumps.
    places: &'a [usize],
}

/// The normal equations of offset and jitter once slopes and bends are eliminated with the freedom they have.
struct Reduced {
    normal: DMatrix<f64>,
    right: DVector<f64>,
    /// The eliminated parameters' share of the logarithm of the evidence.
    log: f64,
}

/// Logarithm of the determinant of a matrix from its root.
fn log_determinant(root: &Cholesky<f64, Dyn>) -> f64 {
    2.0 * root.l_dirty().diagonal().iter().map(|x| x.ln()).sum::<f64>()
}

impl<'a> Evidence<'a> {
    /// From a linearisation around `theta` with the sides' slopes as first seen, and the steps of δ that may be jumps.
    pub fn new(
        layout: &'a Layout,
        linear: &'a Linear,
        theta: &'a DVector<f64>,
        slopes: [f64; 2],
        places: &'a [usize],
    ) -> Self {
        Self { layout, linear, theta, pull: &linear.normal * theta + &linear.right, slopes, places }
    }

    fn reduced(&self, freedom: &Freedom) -> Option<Reduced> {
        let (precision, centre) = self.layout.prior(freedom, self.slopes, None);
        let shapes = self.layout.shape_parameters();
        let (from, count) = (shapes.start, shapes.len());
        let own = precision.view((from, from), (count, count)).clone_owned();
        let root = (self.linear.normal.view((from, from), (count, count)) + &own).cholesky()?;
        let centre = centre.rows(from, count).clone_owned();
        let held = &own * &centre;
        let right = self.pull.rows(from, count) + &held;
        let rest = self.layout.offset_parameters();
        let across = self.linear.normal.select_columns(&rest).rows(from, count).clone_owned();
        let normal = self.linear.normal.select_columns(&rest).select_rows(&rest);
        let solved = root.solve(&right);
        Some(Reduced {
            normal: normal - across.transpose() * root.solve(&across),
            right: self.pull.select_rows(&rest) - across.transpose() * &solved,
            log: 0.5
                * (log_determinant(&own.cholesky()?) - log_determinant(&root) + right.dot(&solved) - centre.dot(&held)),
        })
    }

    /// What the data say with this freedom of walk and jitter, for every set of jumps that counts.
    fn told(&self, reduced: &Reduced, freedom: &Freedom) -> Option<Vec<Told>> {
        let rest = self.layout.offset_parameters();
        let (precision, _) = self.layout.prior(&Freedom { jumps: Vec::new(), ..freedom.clone() }, self.slopes, None);
        let precision = precision.select_columns(&rest).select_rows(&rest);
        let knots = self.layout.offset_knots();
        let posterior = (&reduced.normal + &precision).cholesky()?;
        let solved = posterior.solve(&reduced.right);
        let prior = log_determinant(&precision.cholesky()?);
        let told = Told {
            log: reduced.log + 0.5 * (prior - log_determinant(&posterior) + reduced.right.dot(&solved)),
            jumps: Vec::new(),
            mean: solved.rows(0, knots).clone_owned(),
            covariance: posterior.solve(&DMatrix::identity(rest.len(), knots)).rows(0, knots).clone_owned(),
        };
        Some(jumps::sets(told, self.places, &self.steps(freedom)))
    }

    fn steps(&self, freedom: &Freedom) -> Steps {
        Steps::new(self.layout.step_variance(freedom), self.layout.offset_spacing_mm())
    }

    /// Each of these freedoms, all of one drape, with the sets of jumps that count with it.
    fn all(&self, candidates: Vec<Freedom>) -> Option<Vec<(Freedom, Vec<Told>)>> {
        let reduced = self.reduced(candidates.first()?)?;
        Some(candidates.into_iter().filter_map(|f| Some((f.clone(), self.told(&reduced, &f)?))).collect())
    }

    /// The freedom with the largest evidence, searched one part after the other, and the jumps that go with it.
    pub fn best(&self, start: &Freedom) -> Option<Freedom> {
        let best = |told: Vec<(Freedom, Vec<Told>)>| {
            let (freedom, sets) = told.into_iter().max_by(|a, b| total(&a.1).total_cmp(&total(&b.1)))?;
            let set = sets.into_iter().max_by(|a, b| a.log.total_cmp(&b.log))?;
            Some(Freedom { jumps: set.jumps, ..freedom })
        };
        let mut freedom = start.clone();
        for _ in 0..2 {
            freedom = best(drapes(&freedom).into_iter().filter_map(|f| self.all(vec![f])).flatten().collect())?;
            freedom = best(self.all(walks_and_jitters(&freedom))?)?;
        }
        Some(freedom)
    }

    /// The parameters averaged over the freedoms around the best one, and over the jumps with each, by their evidence, with
    /// the covariance that not knowing them brings: a few edges often cannot tell an offset that wanders from lines that
    /// are uneven, and where no edge is the two differ.
    ///
    /// # Source
    /// Bayesian model averaging: Hoeting, Madigan, Raftery, Volinsky, Statistical Science 14, 1999 (from memory).
    pub fn averaged(&self, best: &Freedom) -> Option<(DVector<f64>, DMatrix<f64>)> {
        let mut candidates = self.all(walks_and_jitters(best))?;
        let others = drapes(best).into_iter().filter(|f| f.drape != best.drape);
        candidates.extend(others.filter_map(|f| self.all(vec![f])).flatten());
        let most = candidates.iter().map(|c| total(&c.1)).fold(f64::NEG_INFINITY, f64::max);
        let parts: Vec<Part> = candidates
            .into_iter()
            .map(|(freedom, sets)| ((total(&sets) - most).exp(), freedom, sets))
            .filter(|(share, ..)| *share > LEAST_EVIDENCE)
            .filter_map(|(share, freedom, sets)| {
                self.solved(freedom, &sets).map(|(mean, covariance)| Part { share, mean, covariance })
            })
            .collect();
        mixed(&parts)
    }

    /// Parameters and covariance with this freedom, averaged over the sets of jumps.
    fn solved(&self, freedom: Freedom, sets: &[Told]) -> Option<(DVector<f64>, DMatrix<f64>)> {
        let freedom = Freedom { jumps: Vec::new(), ..freedom };
        let (precision, centre) = self.layout.prior(&freedom, self.slopes, Some(self.theta));
        let posterior = (&self.linear.normal + &precision).cholesky()?;
        let (mean, covariance) = (posterior.solve(&(&self.pull + &precision * centre)), posterior.inverse());
        let knots = self.layout.offset_knots();
        let plain = Told {
            log: 0.0,
            jumps: Vec::new(),
            mean: mean.rows(0, knots).clone_owned(),
            covariance: covariance.view((0, 0), (knots, knots)).clone_owned(),
        };
        let (most, steps) = (total(sets), self.steps(&freedom));
        let parts: Vec<Part> = sets
            .iter()
            .map(|set| {
                let told = plain.with_all(&set.jumps, &steps);
                Part { share: (set.log - most).exp(), mean: told.mean, covariance: told.covariance }
            })
            .collect();
        let (knots_mean, knots_covariance) = mixed(&parts)?;
        // Given δ, the other parameters know nothing of its jumps: they follow it as they do without.
        let follow = plain.covariance.clone().cholesky()?.solve(&covariance.rows(0, knots).clone_owned()).transpose();
        Some((
            mean + &follow * (knots_mean - plain.mean),
            covariance + &follow * (knots_covariance - plain.covariance) * follow.transpose(),
        ))
    }
}

/// What one model says, and its share of the evidence.
struct Part {
    share: f64,
    mean: DVector<f64>,
    covariance: DMatrix<f64>,
}

/// Mean and covariance over all models; `None` of none.
fn mixed(parts: &[Part]) -> Option<(DVector<f64>, DMatrix<f64>)> {
    let total: f64 = parts.iter().map(|p| p.share).sum();
    let n = parts.first()?.mean.len();
    let mean = parts.iter().fold(DVector::zeros(n), |sum, p| sum + &p.mean * (p.share / total));
    let covariance = parts.iter().fold(DMatrix::zeros(n, n), |sum, p| {
        let apart = &p.mean - &mean;
        sum + (&p.covariance + &apart * apart.transpose()) * (p.share / total)
    });
    (total > 0.0).then_some((mean, covariance))
}

/// Logarithm of the evidence of all sets together.
fn total(sets: &[Told]) -> f64 {
    let most = sets.iter().map(|t| t.log).fold(f64::NEG_INFINITY, f64::max);
    most + sets.iter().map(|t| (t.log - most).exp()).sum::<f64>().ln()
}

fn drapes(freedom: &Freedom) -> Vec<Freedom> {
    DRAPES.iter().map(|&drape| Freedom { drape, ..freedom.clone() }).collect()
}

fn walks_and_jitters(freedom: &Freedom) -> Vec<Freedom> {
    let pairs = WALKS.iter().flat_map(|&walk| JITTERS_MM.iter().map(move |&jitter_mm| (walk, jitter_mm)));
    pairs.map(|(walk, jitter_mm)| Freedom { walk, jitter_mm, ..freedom.clone() }).collect()
}
