//! What the cards hide of the cloth.

use crate::units::PxPoint;

/// The places of the picture over which a card lies.
#[derive(Clone, Copy, Debug)]
pub struct Covered<'a> {
    cards: &'a [[PxPoint; 4]],
    /// Low and high corner of what holds all cards: most places are told by it.
    bounds: [PxPoint; 2],
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
            && self.cards.iter().any(|card| encloses(card, p))
    }
}

/// Whether a convex quadrilateral, corners in order, encloses a point.
fn encloses(corners: &[PxPoint; 4], p: PxPoint) -> bool {
    let turn = |k: usize| {
        let (a, b) = (corners[k], corners[(k + 1) % 4]);
        (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x)
    };
    let signs = [turn(0), turn(1), turn(2), turn(3)];
    signs.iter().all(|&s| s >= 0.0) || signs.iter().all(|&s| s <= 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

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
