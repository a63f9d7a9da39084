//! How many stand how.

use crate::record::Standing;

/// A count for each standing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts([usize; Standing::ALL.len()]);

impl Counts {
    /// Counts these.
    pub fn of(standings: impl Iterator<Item = Standing>) -> Self {
        let mut counts = Self::default();
        standings.for_each(|standing| counts.0[standing as usize] += 1);
        counts
    }

    /// How many stand so.
    pub fn get(&self, standing: Standing) -> usize {
        self.0[standing as usize]
    }

    /// How many there are.
    pub fn total(&self) -> usize {
        self.0.iter().sum()
    }

    /// Those that nobody knows: unsure, refused, or in trouble.
    pub fn open(&self) -> usize {
        [Standing::Unsure, Standing::Refused, Standing::Trouble].map(|standing| self.get(standing)).iter().sum()
    }

    /// The worst that there is; matched where there is none.
    pub fn worst(&self) -> Standing {
        Standing::ALL.into_iter().rev().find(|standing| self.get(*standing) > 0).unwrap_or(Standing::Matched)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_is_counted_as_it_stands() {
        let counts = Counts::of(Standing::ALL.into_iter().chain([Standing::Off, Standing::Unsure]));
        assert_eq!(Standing::ALL.map(|standing| counts.get(standing)), [1, 2, 1, 2, 1]);
        assert_eq!((counts.total(), counts.open(), counts.worst()), (7, 4, Standing::Trouble));
        assert_eq!(Counts::default().worst(), Standing::Matched);
    }
}
