//! How alike two signals are, all channels together: their correlation, −1 to 1, and how many pairs of samples both show.

use super::Signal;
use super::score::pair;

/// Of pairs of samples.
pub fn of_pairs(first: &Signal, second: &Signal, pairs: impl Iterator<Item = [usize; 2]>) -> (f64, usize) {
    let (mut cross, mut one, mut two, mut count) = (0.0f64, 0.0f64, 0.0f64, 0);
    for [i, j] in pairs {
        if first.1[i] > 0.0 && second.1[j] > 0.0 {
            count += 1;
            for c in 0..3 {
                let (a, b) = (f64::from(first.0[i][c]), f64::from(second.0[j][c]));
                cross += a * b;
                one += a * a;
                two += b * b;
            }
        }
    }
    (if one > 0.0 && two > 0.0 { cross / (one * two).sqrt() } else { 0.0 }, count)
}

/// Of the first signal with the second moved back by `lag` samples.
///
/// The real correlation, not its size: the negative peak of a pure sinusoid is as high as its positive one, and half a repeat
/// wrong.
pub fn at(first: &Signal, second: &Signal, lag: isize) -> (f64, usize) {
    let n = first.0.len();
    of_pairs(first, second, (0..n).filter_map(|k| pair(k, lag, n)))
}
