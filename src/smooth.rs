//! Smoothing with weights, and the spread of values of which some do not belong: ground for every room.

/// Running sum of each channel over `half` samples to either side; at the ends over what there is.
///
/// Three passes are almost a Gaussian. Carry the weight in a channel of its own and divide by it afterwards.
pub fn boxed<const N: usize>(data: &[[f64; N]], half: usize) -> Vec<[f64; N]> {
    let n = data.len();
    let mut sums = Vec::with_capacity(n + 1);
    let mut sum = [0.0f64; N];
    sums.push(sum);
    for value in data {
        for c in 0..N {
            sum[c] += value[c];
        }
        sums.push(sum);
    }
    // Plain loops: the compiler does not unroll a closure for each channel here, and rooms run through this for long.
    let mut boxes = Vec::with_capacity(n);
    for k in 0..n {
        let (before, mut all) = (&sums[k.saturating_sub(half)], sums[(k + half + 1).min(n)]);
        for c in 0..N {
            all[c] -= before[c];
        }
        boxes.push(all);
    }
    boxes
}

/// Half the width, samples, of the three boxes that together have the standard deviation `sigma`, samples.
///
/// Three boxes of half-width h have variance 3 · ((2h+1)² − 1)/12.
pub fn half_of(sigma: f64) -> usize {
    (((4.0 * sigma * sigma + 1.0).sqrt() - 1.0) / 2.0).round().max(0.0) as usize
}

/// 1.4826 times the median of the sizes of values around zero: their standard deviation if they are normal, whatever a
/// few of them are. `None` for no values.
pub fn spread(values: impl Iterator<Item = f64>) -> Option<f64> {
    median(values.map(f64::abs).collect()).map(|middle| 1.4826 * middle)
}

/// The median, of an even number the upper of the two in the middle; `None` for no values.
pub fn median(mut values: Vec<f64>) -> Option<f64> {
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// Tukey's biweight of a squared residual in standard deviations: 4.685 of them wide (95 % efficient on normal noise).
pub fn biweight(z_squared: f64) -> f64 {
    (1.0 - z_squared / (4.685 * 4.685)).max(0.0).powi(2)
}

/// The cost whose weight [`biweight`] is: 0 for no residual, 1 for any beyond its width.
pub fn biweight_cost(z_squared: f64) -> f64 {
    1.0 - (1.0 - z_squared / (4.685 * 4.685)).max(0.0).powi(3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_box_sums_what_is_there() {
        let data: Vec<[f64; 4]> = (1..=5).map(|k| [f64::from(k), 0.0, 0.0, 1.0]).collect();
        let sums = boxed(&data, 1);
        assert_eq!(sums.iter().map(|s| s[0]).collect::<Vec<_>>(), [3.0, 6.0, 9.0, 12.0, 9.0]);
        assert_eq!(sums.iter().map(|s| s[3]).collect::<Vec<_>>(), [2.0, 3.0, 3.0, 3.0, 2.0]);
    }

    #[test]
    fn the_spread_does_not_see_a_few_strangers() {
        let values = [-1.0, 0.5, 1.0, -0.7, 100.0];
        assert!((spread(values.into_iter()).unwrap() - 1.4826).abs() < 1e-12);
        assert!(spread(std::iter::empty()).is_none());
    }
}
