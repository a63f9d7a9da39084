//! How sharp a plan is: the operating characteristic, the probability that a lot is accepted by its share of failing pieces.

use super::Plan;
use statrs::distribution::{Binomial, DiscreteCDF, Hypergeometric};

/// Steps of the bisection: beyond them a double cannot be halved further.
const HALVINGS: usize = 60;

/// The probability that a sample of `sample` pieces has at most `accept` failing ones, out of endlessly many pieces of
/// which a share (0 to 1) fails: the binomial distribution. Not a number where the share is none.
pub fn binomial(sample: u64, accept: u64, share: f64) -> f64 {
    Binomial::new(share, sample).map_or(f64::NAN, |d| d.cdf(accept))
}

/// The same out of a lot of `lot` pieces of which `failing` fail: the hypergeometric distribution. Not a number where the
/// lot has fewer pieces than the sample.
pub fn hypergeometric(lot: u64, failing: u64, sample: u64, accept: u64) -> f64 {
    Hypergeometric::new(lot, failing, sample).map_or(f64::NAN, |d| d.cdf(accept))
}

/// The share of failing pieces at which a lot is accepted with this probability (between 0 and 1), by the binomial
/// distribution; 1 where every lot is accepted as surely.
pub fn share_accepted_with(sample: u64, accept: u64, probability: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if binomial(sample, accept, middle) >= probability { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

impl Plan {
    /// The probability that this plan accepts its lot when so many pieces of it fail.
    pub fn accepted_with(&self, failing: u64) -> f64 {
        hypergeometric(self.lot, failing.min(self.lot), self.sample, self.accept)
    }
}
