//! Medians of what is seen, a few values or many, one by one or side by side.

use super::grid::Light;
use std::cell::Cell;

thread_local! {
    /// Room for the values of which a median is taken: there are very many, of few values each.
    static VALUES: Cell<Vec<i32>> = const { Cell::new(Vec::new()) };
}

/// The median of what is no NaN; NaN where there is nothing.
pub fn median(values: impl Iterator<Item = f32>) -> f32 {
    let mut kept = VALUES.take();
    kept.clear();
    kept.extend(values.filter(|x| !x.is_nan()).map(|x| in_order(x.to_bits() as i32)));
    let middle = kept.len() / 2;
    let median = if kept.is_empty() { None } else { Some(*kept.select_nth_unstable(middle).1) };
    VALUES.set(kept);
    median.map_or(f32::NAN, |key| f32::from_bits(in_order(key) as u32))
}

/// [`median`] of so few values that they are put in order one by one.
pub fn of_few<const MOST: usize>(values: impl Iterator<Item = f32>) -> f32 {
    let mut kept = [0.0f32; MOST];
    let mut count = 0;
    for x in values.filter(|x| !x.is_nan()).take(MOST) {
        let mut k = count;
        while k > 0 && kept[k - 1] > x {
            kept[k] = kept[k - 1];
            k -= 1;
        }
        kept[k] = x;
        count += 1;
    }
    if count == 0 { f32::NAN } else { kept[count / 2] }
}

/// Columns of which the medians are taken side by side.
const LANES: usize = 16;

/// The medians of `width` columns of rows that follow each other, each [`median`]'s way with NaN.
///
/// Every column goes through the same exchanges, so that a processor works on several at once.
///
/// # Source
/// Batcher's merge exchange sort: Knuth, The Art of Computer Programming, vol. 3, 2nd ed. (1998), 5.2.2, algorithm M (from
/// memory).
pub fn down(values: &[f32], width: usize) -> Vec<f32> {
    let rows = values.len() / width.max(1);
    let exchanges = exchanges(rows);
    let mut medians = vec![f32::NAN; width];
    let mut held = vec![[f32::INFINITY; LANES]; rows];
    for (chunk, medians) in medians.chunks_mut(LANES).enumerate() {
        let mut counts = [0; LANES];
        for (r, held) in held.iter_mut().enumerate() {
            let from = r * width + chunk * LANES;
            for (l, &x) in values[from..from + medians.len()].iter().enumerate() {
                held[l] = if x.is_nan() { f32::INFINITY } else { x };
                counts[l] += usize::from(!x.is_nan());
            }
        }
        for &(i, j) in &exchanges {
            let (low, high) = (held[i], held[j]);
            held[i] = std::array::from_fn(|l| if low[l] < high[l] { low[l] } else { high[l] });
            held[j] = std::array::from_fn(|l| if low[l] < high[l] { high[l] } else { low[l] });
        }
        for (l, median) in medians.iter_mut().enumerate().filter(|(l, _)| counts[*l] > 0) {
            *median = held[counts[l] / 2][l];
        }
    }
    medians
}

/// Which of `n` values are to be put in order, one pair after the other, so that all are.
fn exchanges(n: usize) -> Vec<(usize, usize)> {
    let mut pairs = Vec::new();
    let top = n.next_power_of_two() / 2;
    let mut p = top;
    while p > 0 {
        let (mut q, mut r, mut d) = (top, 0, p);
        loop {
            pairs.extend((0..n.saturating_sub(d)).filter(|i| i & p == r).map(|i| (i, i + d)));
            if q == p {
                break;
            }
            (d, q, r) = (q - p, q / 2, p);
        }
        p /= 2;
    }
    pairs
}

/// The bits of a number as a whole number of the same order ([`f32::total_cmp`]), and back: whole ones are faster to
/// compare.
fn in_order(bits: i32) -> i32 {
    bits ^ (((bits >> 31) as u32) >> 1) as i32
}

/// [`median`] channel by channel.
pub fn median_light(values: impl Iterator<Item = Light> + Clone) -> Light {
    std::array::from_fn(|c| median(values.clone().map(|v| v[c])))
}

/// 1.4826 times the median size, [`median`]'s way with NaN.
pub fn spread(values: impl Iterator<Item = f32>) -> f32 {
    1.4826 * median(values.map(f32::abs))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::ChaCha8Rng;
    use rand_chacha::rand_core::{Rng, SeedableRng};

    #[test]
    fn however_they_are_taken_medians_are_the_same() {
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        let mut value = || match rng.next_u32() {
            x if x % 5 == 0 => f32::NAN,
            x => (x % 40) as f32 - 20.0,
        };
        for rows in 0..70 {
            let values: Vec<f32> = (0..rows * 37).map(|_| value()).collect();
            let down = down(&values, 37);
            for (k, down) in down.into_iter().enumerate() {
                let column = || values.iter().skip(k).step_by(37).copied().take(rows);
                let mut seen: Vec<f32> = column().filter(|x| !x.is_nan()).collect();
                seen.sort_by(f32::total_cmp);
                let told = seen.get(seen.len() / 2).copied();
                assert_eq!(Some(median(column())).filter(|m| !m.is_nan()), told, "{rows} {k}");
                assert_eq!(Some(of_few::<70>(column())).filter(|m| !m.is_nan()), told, "{rows} {k}");
                assert_eq!(Some(down).filter(|m| !m.is_nan()), told, "{rows} {k}");
            }
        }
    }
}
