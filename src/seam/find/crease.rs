//! The crease of a seam: a narrow dark line without colour that keeps its darkness across every line of the cloth.

use super::raster::Raster;
use crate::threads;

/// The flanks that it is compared with, millimetres from it.
const NEAR_MM: f64 = 0.9;
const FAR_MM: f64 = 2.6;
/// How much of its colour is taken off its darkness: a woven line has the one with the other.
const COLOUR_SHARE: f32 = 0.9;
/// Darkness (logarithm of light) is clipped: one black thing across it must not outweigh a whole seam.
const CLIP: (f32, f32) = (-0.12, 0.3);

/// How much darker every cell of the raster is than both its flanks; NaN where that is not seen.
pub fn of(raster: &Raster) -> Vec<f32> {
    let mut darkness = vec![f32::NAN; raster.weight.len()];
    let half = raster.height / 2;
    let (upper, lower) = darkness.split_at_mut(half * raster.width);
    threads::both(|| rows_from(raster, 0, upper), || rows_from(raster, half, lower));
    darkness
}

/// The same of some rows, from the first of them on.
fn rows_from(raster: &Raster, first: usize, darkness: &mut [f32]) {
    let (width, near) = (raster.width, (NEAR_MM / raster.step_mm).round() as usize);
    let far = (FAR_MM / raster.step_mm).round() as usize;
    if width <= 2 * far {
        return;
    }
    let mut sums = [const { Vec::new() }; 4];
    // Of the cells that have both flanks.
    let inner = width - 2 * far;
    let [mut left, mut right] = [(); 2].map(|()| [(); 4].map(|()| vec![0.0f32; inner]));
    for (row, darkness) in darkness.chunks_exact_mut(width).enumerate() {
        let cells = (first + row) * width..(first + row + 1) * width;
        let weight = &raster.weight[cells.clone()];
        running(weight.iter().copied(), &mut sums[3]);
        for c in 0..3 {
            running(
                raster.value[c][cells.clone()].iter().zip(weight).map(|(value, weight)| value * weight),
                &mut sums[c],
            );
        }
        // The means over one flank of every cell.
        let reach = far - near + 1;
        for (from, flank) in [(0, &mut left), (far + near, &mut right)] {
            let [red, green, blue, share] = flank;
            let window = |c: usize| (&sums[c][from..][..inner], &sums[c][from + reach..][..inner]);
            shares(share, window(3), reach as f32);
            for (c, colour) in [red, green, blue].into_iter().enumerate() {
                means(colour, window(c), share);
            }
        }
        let [red, green, blue] = raster.value.each_ref().map(|plane| &plane[cells.clone()][far..][..inner]);
        darker(&mut darkness[far..][..inner], &left, &right, [red, green, blue, &weight[far..][..inner]]);
    }
}

/// One over how many cells are seen; not a number where less than half are.
fn shares(share: &mut [f32], (before, after): (&[f32], &[f32]), reach: f32) {
    for ((share, a), b) in share.iter_mut().zip(before).zip(after) {
        let seen = b - a;
        *share = if 2.0 * seen >= reach { 1.0 / seen } else { f32::NAN };
    }
}

fn means(mean: &mut [f32], (before, after): (&[f32], &[f32]), share: &[f32]) {
    for (((mean, a), b), share) in mean.iter_mut().zip(before).zip(after).zip(share) {
        *mean = (b - a) * share;
    }
}

/// How much darker cells (R, G, B and weight) are than their flanks.
fn darker(darkness: &mut [f32], left: &[Vec<f32>; 4], right: &[Vec<f32>; 4], here: [&[f32]; 4]) {
    let count = darkness.len();
    let [[lr, lg, lb, ls], [rr, rg, rb, rs]] = [left, right].map(|side| side.each_ref().map(|plane| &plane[..count]));
    let [red, green, blue, weight] = here.map(|plane| &plane[..count]);
    for i in 0..count {
        // Beside the edge of a dark bar only one flank is lighter: the darker flank counts.
        let is_left = lr[i] + lg[i] + lb[i] < rr[i] + rg[i] + rb[i];
        let r = if is_left { lr[i] } else { rr[i] } - red[i];
        let g = if is_left { lg[i] } else { rg[i] } - green[i];
        let b = if is_left { lb[i] } else { rb[i] } - blue[i];
        let grey = (r + g + b) / 3.0;
        let colour = (r - grey).abs().max((g - grey).abs()).max((b - grey).abs());
        let clipped = (grey - COLOUR_SHARE * colour).max(CLIP.0).min(CLIP.1);
        // Not a number where a flank is not seen.
        let seen = weight[i] * ls[i] * rs[i];
        darkness[i] = if seen > 0.0 { clipped } else { f32::NAN };
    }
}

/// Sums of the values before each place and at the end.
fn running(values: impl Iterator<Item = f32>, sums: &mut Vec<f32>) {
    sums.clear();
    let mut sum = 0.0;
    sums.push(sum);
    sums.extend(values.map(|value| {
        sum += value;
        sum
    }));
}
