//! A map's means along a path, moved to every column of the picture, block by block; and how they stand out.

use super::course::Course;
use super::profile::add;
use super::{BLOCKS, rows};

/// Highest score of one kind of evidence in one block.
const CLIP: f32 = 6.0;
/// The spread is at least this share of the third highest peak: a pattern that returns is no seam.
const RETURNING_SHARE: f32 = 0.35;

/// Means along a path moved to every column, block by block; [`UNSEEN`] where less than a quarter is seen.
pub type Blocks = [Vec<f32>; BLOCKS];
/// See [`Blocks`].
pub const UNSEEN: f32 = f32::NEG_INFINITY;

/// Means of a map along a path moved to every column. A row of the map stands for `rows_each` of the path's.
///
/// The layers are the map's values, their weights, and 1 where it is seen (the weights, where there are but two), all of
/// them 0 elsewhere.
pub fn sums<const N: usize>(
    [width, height]: [usize; 2],
    rows_each: usize,
    course: &Course,
    layers: [&[f32]; N],
) -> Blocks {
    let middle = (rows_each as f64 - 1.0) / 2.0;
    std::array::from_fn(|b| {
        let mut sums = [const { Vec::new() }; N];
        for sum in &mut sums {
            sum.resize(width, 0.0f32);
        }
        for j in rows(height, b) {
            let shift = course.at((j * rows_each) as f64 + middle, height * rows_each).round() as isize;
            let from = (-shift).clamp(0, width as isize) as usize;
            let to = (width as isize - shift).clamp(from as isize, width as isize) as usize;
            let first = (j * width + from).saturating_add_signed(shift);
            for (sum, layer) in sums.iter_mut().zip(layers) {
                add(&mut sum[from..to], &layer[first.min(layer.len())..]);
            }
        }
        let needed = (rows_each * rows(height, b).len() / 4 + 1) as f32;
        let mean = |x: usize| if sums[N - 1][x] >= needed { sums[0][x] / sums[1][x] } else { UNSEEN };
        (0..width).map(mean).collect()
    })
}

/// Mean over the blocks of robust scores over all columns: how many spreads above the median, clipped to 0..=6.
///
/// A pattern that returns is no seam: where the third highest of peaks at least `apart` columns apart is high, the
/// spread grows with it.
pub fn scores(blocks: &Blocks, least_spread: f32, apart: usize) -> Vec<f32> {
    let mut scores = vec![0.0f32; blocks[0].len()];
    let (mut known, mut off) = (Vec::new(), Vec::new());
    for values in blocks {
        known.clear();
        known.extend(values.iter().filter(|v| **v > UNSEEN));
        if known.len() < 10 {
            continue;
        }
        let middle = known.len() / 2;
        let median = *known.select_nth_unstable_by(middle, f32::total_cmp).1;
        off.clear();
        off.extend(known.iter().map(|v| (v - median).abs()));
        let spread = (1.4826 * *off.select_nth_unstable_by(middle, f32::total_cmp).1).max(least_spread);
        let spread = spread.max(RETURNING_SHARE * (third_peak(values, apart) - median));
        for (score, value) in scores.iter_mut().zip(values) {
            *score += ((value - median) / spread).clamp(0.0, CLIP) / BLOCKS as f32;
        }
    }
    scores
}

/// How far the mean over the blocks stands above the highest that is at least `apart` columns away; 0 where it is not
/// seen.
pub fn leads(blocks: &Blocks, apart: usize) -> Vec<f32> {
    let mut means = vec![(0.0f32, 0.0f32); blocks[0].len()];
    for values in blocks {
        for ((sum, count), value) in means.iter_mut().zip(values) {
            let seen = *value > UNSEEN;
            *sum += if seen { *value } else { 0.0 };
            *count += if seen { 1.0 } else { 0.0 };
        }
    }
    let mean = |(sum, count): (f32, f32)| if 2.0 * count > BLOCKS as f32 { sum / count } else { UNSEEN };
    let means: Vec<f32> = means.into_iter().map(mean).collect();
    let mut before = vec![UNSEEN; means.len()];
    let mut after = before.clone();
    for x in apart.max(1)..means.len() {
        before[x] = before[x - 1].max(means[x - apart]);
        let y = means.len() - 1 - x;
        after[y] = after[y + 1].max(means[y + apart]);
    }
    let lead = |x: usize| means[x] - before[x].max(after[x]).max(0.0);
    (0..means.len()).map(|x| if means[x] > UNSEEN { lead(x) } else { 0.0 }).collect()
}

/// The third highest peak of one block, peaks standing apart; below everything where there are fewer.
fn third_peak(values: &[f32], apart: usize) -> f32 {
    // The runs of columns, first and after the last, that stand apart from the peaks so far.
    let mut free = vec![(0, values.len())];
    let mut third = f32::MIN;
    for _ in 0..3 {
        let (mut peak, mut at) = (UNSEEN, 0);
        for x in free.iter().flat_map(|&(from, to)| from..to) {
            if values[x] > peak {
                (peak, at) = (values[x], x);
            }
        }
        if peak == UNSEEN {
            return f32::MIN;
        }
        third = peak;
        let (before, after) = ((at + 1).saturating_sub(apart), at + apart);
        free = free.into_iter().flat_map(|(from, to)| [(from, to.min(before)), (from.max(after), to)]).collect();
    }
    third
}
