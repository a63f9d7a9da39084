//! What the cards hide of the cloth.

use crate::units::PxPoint;

/// The places of the picture over which a card lies.
#[derive(Clone, Copy, Debug)]
pub struct Covered<'a> {
    cards: &'a [[PxPoint; 4]],
    /// Low and high corner of what holds all cards: most places are told by it.
    bounds: [PxPoint; 2],
}

/// How much of something is seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    /// All of it.
    All,
    /// Perhaps a part.
    Some,
    /// None of it.
    Nothing,
}

impl<'a> Covered<'a> {
    /// By cards with these outlines: four corners each, in order.
    pub(super) fn by(cards: &'a [[PxPoint; 4]]) -> Self {
        let bound = |from: f64, pick: fn(f64, f64) -> f64| {
            let corners = || cards.iter().flatten();
            PxPoint::new(corners().map(|p| p.x).fold(from, pick), corners().map(|p| p.y).fold(from, pick))
        };
        Self { cards, bounds: [bound(f64::INFINITY, f64::min), bound(f64::NEG_INFINITY, f64::max)] }
    }

    /// Whether a card lies over this point of the picture.
    #[inline]
    pub fn holds(&self, p: PxPoint) -> bool {
        let [low, high] = self.bounds;
        p.x >= low.x
            && p.x <= high.x
            && p.y >= low.y
            && p.y <= high.y
            && self.cards.iter().any(|card| encloses(card, &[p]))
    }

    /// What of a straight line between two points of the picture the cards leave to be seen.
    #[inline]
    pub fn leave(&self, from: PxPoint, to: PxPoint) -> Shown {
        let [low, high] = self.bounds;
        let beside_all = from.x.max(to.x) < low.x
            || from.x.min(to.x) > high.x
            || from.y.max(to.y) < low.y
            || from.y.min(to.y) > high.y;
        let ends = [from, to];
        if beside_all || self.cards.iter().all(|card| is_beside(card, &ends)) {
            Shown::All
        } else if self.cards.iter().any(|card| encloses(card, &ends)) {
            Shown::Nothing
        } else {
            Shown::Some
        }
    }
}

/// On which side of an edge of a convex quadrilateral, corners in order, a place is: above 0 on the inner one.
fn inward(corners: &[PxPoint; 4], edge: usize, p: PxPoint) -> f64 {
    let (a, b, opposite) = (corners[edge], corners[(edge + 1) % 4], corners[(edge + 2) % 4]);
    let turn = |q: PxPoint| (b.x - a.x) * (q.y - a.y) - (b.y - a.y) * (q.x - a.x);
    turn(p) * turn(opposite).signum()
}

/// Whether a convex quadrilateral encloses all of these points, and so what lies between them.
fn encloses(corners: &[PxPoint; 4], points: &[PxPoint]) -> bool {
    (0..4).all(|k| points.iter().all(|&p| inward(corners, k, p) >= 0.0))
}

/// Whether one of its edges has all of these points on its outer side.
fn is_beside(corners: &[PxPoint; 4], points: &[PxPoint]) -> bool {
    (0..4).any(|k| points.iter().all(|&p| inward(corners, k, p) < 0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_beside_a_card_is_seen_whole_and_one_within_it_not_at_all() {
        let mut card = [(10.0, 10.0), (30.0, 14.0), (26.0, 34.0), (6.0, 30.0)].map(|(x, y)| PxPoint::new(x, y));
        // Whichever way round the corners come.
        for _ in 0..2 {
            let cards = [card];
            let covered = Covered::by(&cards);
            let leave = |from: (f64, f64), to: (f64, f64)| {
                covered.leave(PxPoint::new(from.0, from.1), PxPoint::new(to.0, to.1))
            };
            assert_eq!(leave((40.0, 0.0), (40.0, 90.0)), Shown::All);
            assert_eq!(leave((28.0, 11.0), (31.0, 12.0)), Shown::All);
            assert_eq!(leave((12.0, 14.0), (24.0, 28.0)), Shown::Nothing);
            assert_eq!(leave((0.0, 20.0), (40.0, 20.0)), Shown::Some);
            assert_eq!(leave((20.0, 20.0), (40.0, 20.0)), Shown::Some);
            card.reverse();
        }
        assert_eq!(Covered::by(&[]).leave(PxPoint::new(0.0, 0.0), PxPoint::new(9.0, 9.0)), Shown::All);
    }

    #[test]
    fn a_card_covers_what_lies_within_its_corners() {
        let at = |x: f64, y: f64| PxPoint::new(x, y);
        let cards = [[at(10.0, 0.0), at(20.0, 10.0), at(10.0, 20.0), at(0.0, 10.0)]];
        let covered = Covered::by(&cards);
        assert!(covered.holds(at(10.0, 10.0)) && covered.holds(at(10.0, 0.0)));
        assert!(!covered.holds(at(1.0, 1.0)) && !covered.holds(at(30.0, 10.0)));
        assert!(!Covered::by(&[]).holds(at(10.0, 10.0)));
    }
}
