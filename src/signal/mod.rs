//! Signals along a line: three channels at even steps, with a weight that says where they are seen.
//!
//! Ground for every room that compares lines with lines: how alike two of them are ([`correlation`]), what noise they differ by ([`noise`]), how well they agree at
//! every lag ([`score`]), the lag as a chain along them ([`chain`]), the alignment of one with the other along a path, with the odds of every other ([`alignment`]), and
//! the repeat of one with itself ([`repeat`]).

pub mod noise;

pub mod score;

pub mod chain;

pub mod correlation;

mod settled;

pub mod alignment;

pub mod repeat;

/// Values at each sample, R, G, B, and their weights; a weight of 0 says that nothing is seen there, whatever the value.
pub type Signal = (Vec<[f32; 3]>, Vec<f32>);

/// Lines are compared in samples of about this length, millimetres: finer ones tell of single threads.
const COMPARED_MM: f64 = 0.3;

/// How many samples of this length are taken together where signals are compared.
pub fn samples_compared(step_mm: f64) -> usize {
    ((COMPARED_MM / step_mm).round() as usize).max(1)
}

/// Samples of signals that are compared, and how long they are, in samples of the signals.
pub fn compared(signals: &[&Signal], step_mm: f64) -> (Vec<Signal>, usize) {
    let count = samples_compared(step_mm);
    (signals.iter().map(|(value, weight)| pooled(value, weight, count)).collect(), count)
}

/// The repeat that signals share, samples; `None` where none is seen once and a third.
pub fn repeat_of(signals: &[&Signal], step_mm: f64) -> Option<f64> {
    let (few, count) = compared(signals, step_mm);
    let found = repeat::shared(&few.iter().collect::<Vec<_>>(), step_mm * count as f64)?;
    Some(found.samples * count as f64)
}

/// Means of `count` samples each, with weight 1 where all of them are seen.
pub fn pooled(value: &[[f32; 3]], weight: &[f32], count: usize) -> Signal {
    let mean =
        |of: &[[f32; 3]]| -> [f32; 3] { std::array::from_fn(|c| of.iter().map(|v| v[c]).sum::<f32>() / count as f32) };
    let all = |weight: &[f32]| if weight.contains(&0.0) { 0.0 } else { 1.0 };
    (value.chunks_exact(count).map(mean).collect(), weight.chunks_exact(count).map(all).collect())
}
