//! A path laid smooth through places that are read along it, by how sharply each shows.

use nalgebra::{DMatrix, DVector};

/// How much the bow of a path may change from one piece to the next, standard deviations that are tried, millimetres, and that change:
/// the third difference of the places. A straight line and an even bow cost nothing: most seams are one of them.
const BENDS_MM: [f64; 6] = [0.0003, 0.001, 0.003, 0.01, 0.03, 0.1];
const CHANGE: [(usize, f64); 4] = [(0, -1.0), (1, 3.0), (2, -3.0), (3, 1.0)];

/// Places across of the pieces of a path, millimetres, laid smooth, from those that were read and their weights (one over the variance);
/// and the standard uncertainty of the place, root mean square over the pieces. How much the path bends is what makes the places
/// likeliest; before anything is read each is 0, give or take `unread_mm`.
pub fn smoothed(read: &[(f64, f64)], unread_mm: f64) -> (Vec<f64>, f64) {
    let pieces = read.len();
    let shown = DMatrix::from_diagonal(&DVector::from_iterator(pieces, read.iter().map(|(_, weight)| *weight)));
    let right = DVector::from_iterator(pieces, read.iter().map(|(place, weight)| place * weight));
    let mut likeliest: Option<(f64, Vec<f64>, f64)> = None;
    for bend_mm in BENDS_MM {
        let mut price = DMatrix::from_diagonal_element(pieces, pieces, 1.0 / (pieces as f64 * unread_mm * unread_mm));
        for (p, (i, a), (j, b)) in
            (3..pieces).flat_map(|p| CHANGE.iter().flat_map(move |a| CHANGE.iter().map(move |b| (p - 3, *a, *b))))
        {
            price[(p + i, p + j)] += a * b / (bend_mm * bend_mm);
        }
        let (Some(before), Some(after)) = (price.clone().cholesky(), (price + &shown).cholesky()) else { continue };
        let places = after.solve(&right);
        let likely = 0.5 * (before.ln_determinant() - after.ln_determinant() + right.dot(&places));
        if likeliest.as_ref().is_none_or(|(most, ..)| likely > *most) {
            let u_mm = after.inverse().diagonal().mean().sqrt();
            likeliest = Some((likely, places.iter().copied().collect(), u_mm));
        }
    }
    likeliest.map_or((vec![0.0; pieces], unread_mm), |(_, places, u_mm)| (places, u_mm))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A fixed pattern without order, of about one in size.
    fn noise(k: usize) -> f64 {
        1.4 * (12.9898 * (k * k) as f64).sin()
    }

    #[test]
    fn an_even_bow_is_laid_straight_through_noise() {
        let bow = |k: usize| 4.0 - 0.02 * (k as f64 - 10.0).powi(2);
        let read: Vec<(f64, f64)> = (0..21).map(|k| (bow(k) + 0.2 * noise(k), 25.0)).collect();
        let (places, u_mm) = smoothed(&read, 100.0);
        for (k, place) in places.iter().enumerate() {
            assert!((place - bow(k)).abs() < 0.25, "{k}: {place} for {}", bow(k));
        }
        // Three numbers from 21 readings of 0.2 mm each.
        assert!((u_mm - 0.2 * (3.0f64 / 21.0).sqrt()).abs() < 0.02, "{u_mm}");
    }

    #[test]
    fn a_path_that_turns_is_followed() {
        let turned = |k: usize| if k < 10 { 0.0 } else { 0.8 * (k as f64 - 10.0) };
        let read: Vec<(f64, f64)> = (0..21).map(|k| (turned(k) + 0.05 * noise(k), 400.0)).collect();
        for (k, place) in smoothed(&read, 100.0).0.iter().enumerate() {
            assert!((place - turned(k)).abs() < 0.2, "{k}: {place} for {}", turned(k));
        }
    }
}
