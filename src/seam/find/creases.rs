//! How plainly a crease runs along every course through the picture.

use super::blocks::{Blocks, leads, scores, sums};
use super::course::{BOWS_MM, Course, leans};
use crate::threads;

/// A spread below this is noise of the method, not of the cloth.
const LEAST_SPREAD: f32 = 0.01;
/// The crease may stand this far aside of a path in a block: the paths tried are no denser, millimetres.
const SLACK_MM: f64 = 0.75;
/// So only every second column is scored.
pub const STRIDE: usize = 2;
/// Creases closer than this are one, millimetres.
const APART_MM: f64 = 5.0;

/// The crease along one course, moved to every [`STRIDE`]th column.
pub struct Along {
    /// The steps of lean.
    pub lean: i32,
    /// Through the first column.
    pub course: Course,
    /// Mean score over the blocks, 0 to 6.
    pub scores: Vec<f32>,
    /// How much darker it is than the darkest parallel line elsewhere in the picture, logarithm of light.
    pub leads: Vec<f32>,
}

/// The creases of a raster of these cells of `step_mm` from how dark each is, row by row (NaN where that is not seen), which
/// is let go.
pub fn of(darkness: Vec<f32>, [width, height]: [usize; 2], step_mm: f64) -> Vec<Along> {
    let cells = |mm: f64| (mm / step_mm).round() as usize;
    // No path leans by more than a part of a cell from one row to the next: two rows are gone through as one.
    let (mut dark, mut seen) = (Vec::with_capacity(width * height / 2), Vec::with_capacity(width * height / 2));
    for pair in darkness.chunks_exact(2 * width) {
        let (one, two) = pair.split_at(width);
        for (a, b) in one.iter().zip(two) {
            let known = |d: &f32| if d.is_finite() { (*d, 1.0) } else { (0.0, 0.0) };
            let (a, b) = (known(a), known(b));
            dark.push(a.0 + b.0);
            seen.push(a.1 + b.1);
        }
    }
    drop(darkness);
    let along = |&(lean, bow_mm): &(i32, f64)| {
        let course = Course::new(lean, bow_mm, step_mm);
        let blocks = widened(sums([width, height / 2], 2, &course, [&dark, &seen]), cells(SLACK_MM));
        let apart = cells(APART_MM) / STRIDE;
        Along { lean, course, scores: scores(&blocks, LEAST_SPREAD, apart), leads: leads(&blocks, apart) }
    };
    let courses: Vec<(i32, f64)> = leans().flat_map(|lean| BOWS_MM.map(|bow_mm| (lean, bow_mm))).collect();
    threads::halves(&courses, |some| some.iter().map(along).collect())
}

/// The highest value within `slack` columns of every [`STRIDE`]th one.
fn widened(blocks: Blocks, slack: usize) -> Blocks {
    blocks.map(|mut values| {
        let count = values.len();
        // Of the value at hand and `width` after it.
        let mut width = 0;
        while width < 2 * slack {
            let step = (2 * slack - width).min(width + 1);
            for x in 0..count.saturating_sub(step) {
                values[x] = values[x].max(values[x + step]);
            }
            width += step;
        }
        // Before the first column there is nothing.
        let at = |x: usize| values[x.saturating_sub(slack)];
        (0..count).step_by(STRIDE).map(at).collect()
    })
}
