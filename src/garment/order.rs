//! In which order the seams of a piece are redone: a seam before the one that closes it.

use crate::verdict::Place;

/// A seam at `first` is closed, over an end or an edge, by a seam at `then`: it is redone before that one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Closing {
    /// The place that is closed.
    pub first: Place,
    /// The place that closes it.
    pub then: Place,
    /// What `then` does to it: `covers its upper end`.
    pub does: &'static str,
}

/// Which place closes which. Common practice, no source, every row.
pub const CLOSINGS: [Closing; 20] = {
    const fn row(first: Place, then: Place, does: &'static str) -> Closing {
        Closing { first, then, does }
    }
    use Place::{CentreBack, CentreFront, Collar, Hem, Pocket, SideSeam, Sleeve, Waistband, Yoke, Zip};
    [
        row(Pocket, SideSeam, "catches its edge"),
        row(Pocket, Waistband, "catches its upper edge"),
        row(CentreBack, Zip, "is set into it"),
        row(CentreBack, Yoke, "covers its upper end"),
        row(CentreBack, Waistband, "covers its end"),
        row(CentreBack, Collar, "covers its upper end"),
        row(CentreBack, Hem, "turns up its lower end"),
        row(CentreFront, Zip, "is set into it"),
        row(CentreFront, Waistband, "covers its end"),
        row(CentreFront, Collar, "covers its upper end"),
        row(CentreFront, Hem, "turns up its lower end"),
        row(SideSeam, Sleeve, "covers its upper end"),
        row(SideSeam, Waistband, "covers its end"),
        row(SideSeam, Hem, "turns up its lower end"),
        row(Zip, Waistband, "covers its upper end"),
        row(Zip, Collar, "covers its upper end"),
        row(Yoke, SideSeam, "catches its end"),
        row(Yoke, Sleeve, "catches its end"),
        row(Yoke, Collar, "covers its upper edge"),
        row(Waistband, Hem, "is levelled from it"),
    ]
};

/// The row for these two places; `None` where the one does not close the other.
pub fn closing(first: Place, then: Place) -> Option<&'static Closing> {
    CLOSINGS.iter().find(|row| row.first == first && row.then == then)
}

/// The order in which seams at these places are redone, as indices: each after all those that it closes, and of those that
/// are free the worst first. `badness` tells how bad each is (more is worse); of equals the earlier comes first.
pub fn order(places: &[Place], badness: &[f64]) -> Vec<usize> {
    let mut left: Vec<usize> = (0..places.len()).collect();
    let mut order = Vec::with_capacity(left.len());
    while !left.is_empty() {
        let free = |&k: &usize| !left.iter().any(|&other| closing(places[other], places[k]).is_some());
        // The table has no circle, so that one is always free.
        let next = left.iter().copied().filter(free).reduce(|a, b| if badness[b] > badness[a] { b } else { a });
        let next = next.unwrap_or(left[0]);
        left.retain(|&k| k != next);
        order.push(next);
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::ValueEnum;

    #[test]
    fn the_table_has_no_circle_and_no_row_twice() {
        let places = Place::value_variants();
        let none = vec![0.0; places.len()];
        let order = order(places, &none);
        let at = |place: Place| order.iter().position(|&k| places[k] == place).unwrap();
        for row in &CLOSINGS {
            assert!(at(row.first) < at(row.then), "{row:?}");
            assert_eq!(CLOSINGS.iter().filter(|r| (r.first, r.then) == (row.first, row.then)).count(), 1, "{row:?}");
        }
    }

    #[test]
    fn what_is_closed_comes_first_and_then_the_worst() {
        use Place::{CentreBack, Hem, Pocket, SideSeam, Waistband};
        // The waistband is worst, but covers the centre back; hem after all.
        assert_eq!(order(&[Hem, Waistband, CentreBack], &[9.0, 8.0, 1.0]), [2, 1, 0]);
        // Two sides are free of one another: the worse first, of equals the first.
        assert_eq!(order(&[SideSeam, SideSeam, Pocket], &[1.0, 2.0, 0.5]), [2, 1, 0]);
        assert_eq!(order(&[SideSeam, SideSeam], &[1.0, 1.0]), [0, 1]);
        assert_eq!(order(&[CentreBack, Pocket], &[1.0, 3.0]), [1, 0]);
        assert!(order(&[], &[]).is_empty());
    }
}
