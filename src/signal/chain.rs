//! The lag along two signals as a hidden Markov chain: it stays, wanders a little, or, once in half a metre, jumps.
//!
//! Viterbi's path is the best account of it; the forward and backward sums say how probable every lag is at every place.
//!
//! # Source
//! A. J. Viterbi, IEEE Transactions on Information Theory 13, 1967; L. R. Rabiner, Proceedings of the IEEE 77, 1989 (both from
//! memory).

use super::score::Scores;

/// A lag jumps once in so many millimetres, by this much in the mean: one pin that let go to half a metre of seam, common practice,
/// no source.
const RARE_MM: f64 = 500.0;
const JUMP_MM: f64 = 2.0;
/// It wanders once in so many millimetres, by this much in the mean: a hand that pins wanders by a few per cent of the way.
const WANDER_EVERY_MM: f64 = 2.0;
const WANDER_MM: f64 = 0.6;
/// Where alignments are weighed against each other it wanders once in so many millimetres: to stay costs something at every place, and
/// a lag at which half of the places are not compared would have the better of one at which all agree. So weighed, rendered seams with
/// lines across have odds of ten to one and more, those without fewer.
const SELDOM_MM: f64 = 10.0;
/// Something strange begins once in so many millimetres, and is so long in the mean: of a seam one place in twenty, common practice, no
/// source.
const STRANGE_EVERY_MM: f64 = 200.0;
const STRANGE_MM: f64 = 10.0;
/// People are mostly out by no more than this, millimetres: a Laplace density of this mean size, too broad to decide.
const MOSTLY_MM: f64 = 20.0;
/// Lags move by this at a step: `share` of them, each further lag `further` times as likely.
#[derive(Clone, Copy)]
struct Moves {
    share: f64,
    further: f64,
}

impl Moves {
    /// Of a Laplace density of this mean size.
    fn new(share: f64, step_mm: f64, mean_mm: f64) -> Self {
        let further = (-step_mm / mean_mm).exp();
        Self { share: 0.5 * share * (1.0 - further) / further.max(1e-12), further }
    }
}

/// Probabilities of a step from one place to the next.
pub struct Steps {
    stay: f64,
    /// Wandering and jumping.
    moves: [Moves; 2],
    step_mm: f64,
}

impl Steps {
    /// Between places `step_mm` apart, of lags as far apart.
    pub fn new(step_mm: f64) -> Self {
        Self::wandering(step_mm, WANDER_EVERY_MM)
    }

    /// Of a lag that seldom wanders.
    pub fn seldom(step_mm: f64) -> Self {
        Self::wandering(step_mm, SELDOM_MM)
    }

    fn wandering(step_mm: f64, every_mm: f64) -> Self {
        let (wander, jump) = ((step_mm / every_mm).min(0.3), (step_mm / RARE_MM).min(0.1));
        let moves = [Moves::new(wander, step_mm, WANDER_MM), Moves::new(jump, step_mm, JUMP_MM)];
        Self { stay: 1.0 - wander - jump, moves, step_mm }
    }

    /// Probabilities of the lags after a step, from those before.
    fn carried(&self, from: &[f64]) -> Vec<f64> {
        let mut to: Vec<f64> = from.iter().map(|p| self.stay * p).collect();
        for Moves { share, further } in self.moves {
            let mut sweep = |order: &mut dyn Iterator<Item = usize>| {
                let mut run = 0.0;
                for l in order {
                    to[l] += share * run;
                    run = further * (run + from[l]);
                }
            };
            sweep(&mut (0..from.len()));
            sweep(&mut (0..from.len()).rev());
        }
        to
    }

    /// The best logarithm of the lags after a step, and from which lag.
    fn best(&self, from: &[f64]) -> (Vec<f64>, Vec<u32>) {
        let mut best: Vec<f64> = from.iter().map(|p| self.stay.ln() + p).collect();
        let mut origin: Vec<u32> = (0..from.len() as u32).collect();
        for Moves { share, further } in self.moves {
            let (share, further) = (share.ln(), further.ln());
            let mut sweep = |order: &mut dyn Iterator<Item = usize>| {
                let mut run = (f64::NEG_INFINITY, 0u32);
                for l in order {
                    if share + run.0 > best[l] {
                        (best[l], origin[l]) = (share + run.0, run.1);
                    }
                    run = if from[l] > run.0 { (from[l] + further, l as u32) } else { (run.0 + further, run.1) };
                }
            };
            sweep(&mut (0..from.len()));
            sweep(&mut (0..from.len()).rev());
        }
        (best, origin)
    }

    /// The logarithm of the prior probability of each lag, of all that there are.
    fn prior(&self, scores: &Scores) -> Vec<f64> {
        let further = self.step_mm / MOSTLY_MM;
        let none = (0.5 * further).tanh().ln();
        (0..scores.lags).map(|l| none - (scores.first_lag + l as isize).unsigned_abs() as f64 * further).collect()
    }
}

/// The most probable path: a lag (an index) for each place.
pub fn viterbi(scores: &Scores, steps: &Steps) -> Vec<usize> {
    let with = |mut before: Vec<f64>, place: usize| {
        before.iter_mut().enumerate().for_each(|(l, p)| *p += f64::from(scores.at(place, l)));
        before
    };
    let mut best = with(steps.prior(scores), 0);
    let mut origins = Vec::with_capacity(scores.places);
    for place in 1..scores.places {
        let (next, origin) = steps.best(&best);
        best = with(next, place);
        origins.push(origin);
    }
    let mut lag = (0..scores.lags).max_by(|&a, &b| best[a].total_cmp(&best[b])).expect("there are lags");
    let mut path = vec![lag];
    for origin in origins.iter().rev() {
        lag = origin[lag] as usize;
        path.push(lag);
    }
    path.reverse();
    path
}

/// How likely the signals are, over all paths, against that they have nothing to do with one another: a logarithm. A path that wanders
/// is one of many like it, so the best path alone would count against them; and here and there one side shows something strange, a
/// thing on the cloth or its edge, where they have nothing to do with one another on any path.
pub fn evidence(scores: &Scores, steps: &Steps) -> f64 {
    let begins = (steps.step_mm / STRANGE_EVERY_MM).min(0.5);
    let ends = (steps.step_mm / STRANGE_MM).min(0.5);
    let share = begins / (begins + ends);
    let prior: Vec<f64> = steps.prior(scores).into_iter().map(f64::exp).collect();
    let mut alike: Vec<f64> = prior.iter().map(|p| (1.0 - share) * p).collect();
    let mut strange: Vec<f64> = prior.iter().map(|p| share * p).collect();
    let mut evidence = 0.0;
    for place in 0..scores.places {
        if place > 0 {
            let both = |a: f64, of: &[f64], b: f64, with: &[f64]| -> Vec<f64> {
                of.iter().zip(with).map(|(x, y)| a * x + b * y).collect()
            };
            let goes_on = steps.carried(&both(1.0 - begins, &alike, ends, &strange));
            strange = both(begins, &alike, 1.0 - ends, &strange);
            alike = goes_on;
        }
        alike.iter_mut().enumerate().for_each(|(l, p)| *p *= ratio(scores, place, l));
        let sum: f64 = alike.iter().chain(&strange).sum();
        alike.iter_mut().chain(&mut strange).for_each(|p| *p /= sum);
        evidence += sum.ln();
    }
    evidence
}

/// The probability of each lag at each place, at place · lags + lag.
pub fn probabilities(scores: &Scores, steps: &Steps) -> Vec<f64> {
    let (places, lags) = (scores.places, scores.lags);
    let mut forward = Vec::with_capacity(places * lags);
    let mut now: Vec<f64> = steps.prior(scores).into_iter().map(f64::exp).collect();
    for place in 0..places {
        if place > 0 {
            now = steps.carried(&now);
        }
        now.iter_mut().enumerate().for_each(|(l, p)| *p *= ratio(scores, place, l));
        normalise(&mut now);
        forward.extend_from_slice(&now);
    }
    let mut behind = vec![1.0; lags];
    for place in (0..places).rev() {
        let here = &mut forward[place * lags..(place + 1) * lags];
        here.iter_mut().zip(&behind).for_each(|(p, b)| *p *= b);
        normalise(here);
        let seen: Vec<f64> = behind.iter().enumerate().map(|(l, b)| b * ratio(scores, place, l)).collect();
        behind = steps.carried(&seen);
        normalise(&mut behind);
    }
    forward
}

/// How much likelier a place is at a lag (an index) than by chance.
fn ratio(scores: &Scores, place: usize, lag: usize) -> f64 {
    f64::from(scores.at(place, lag)).clamp(-300.0, 300.0).exp()
}

/// Makes the sum 1.
fn normalise(of: &mut [f64]) {
    let total: f64 = of.iter().sum();
    of.iter_mut().for_each(|p| *p /= total);
}
