//! What speaks for a seam at each column of a leaned relief, block by block along u.
//!
//! Jump: the lines left of the column, averaged along their own slope and carried to it, disagree with those right of
//! it. Crease: a narrow dark line without colour that keeps its darkness across every line. Both are turned into robust
//! scores over all columns and clipped, so that one kind of evidence cannot drown the lack of the other.

use super::raster::Raster;
use super::relief::{Relief, Sums};

/// Blocks along u.
pub const BLOCKS: usize = 8;
/// Width of the windows on both sides, millimetres, and the half-gaps that they keep from the column.
const WINDOW_MM: f64 = 11.0;
/// Half-gaps tried: a sewn seam's ridge, and a zip's tape.
pub const HALF_GAPS_MM: [f64; 4] = [1.0, 3.0, 4.5, 6.0];
/// Slopes tried, du/dv.
const SLOPE_STEP: f64 = 0.04;
const STEEPEST: f64 = 0.24;
/// Spreads below these are noise of the method, not of the cloth.
const LEAST_CREASE_SPREAD: f32 = 0.01;
const LEAST_JUMP_SPREAD: f32 = 0.03;
/// Highest score of one kind of evidence in one block.
const CLIP: f32 = 6.0;
/// Creases closer than this are one, millimetres; jumps are as wide as their windows.
const CREASE_APART_MM: f64 = 5.0;
/// The spread is at least this share of the third highest peak.
const RETURNING_SHARE: f32 = 0.35;
/// A window needs this share of the typical relief to count as showing lines.
const LEAST_SHARE: f32 = 0.25;

/// The sums of a relief for all slopes that lines may have.
pub fn sums_for(relief: &Relief) -> Vec<Sums> {
    let count = (STEEPEST / SLOPE_STEP).round() as i32;
    (-count..=count).map(|k| relief.sums(f64::from(k) * SLOPE_STEP)).collect()
}

/// Scores of the crease at every column of a leaned raster.
pub fn crease_scores(raster: &Raster, lean: f64) -> Vec<[f32; BLOCKS]> {
    scores(&creases(raster, lean), LEAST_CREASE_SPREAD, (CREASE_APART_MM / raster.step_mm).round() as usize)
}

/// Scores of the jump at every column of a leaned relief.
pub fn jump_scores(relief: &Relief, sums: &[Sums], step_mm: f64, half_gap_mm: f64) -> Vec<[f32; BLOCKS]> {
    let apart_mm = 2.0 * (WINDOW_MM + half_gap_mm) + 2.0;
    let jumps = jumps(relief, sums, step_mm, half_gap_mm);
    scores(&jumps, LEAST_JUMP_SPREAD, (apart_mm / step_mm).round() as usize)
}

/// One window's lines in one block: the slope that gives its mean the most energy, and that energy.
#[derive(Clone, Copy)]
struct Window {
    best: usize,
    energy: f32,
}

/// Disagreement of both sides' lines at every column.
fn jumps(relief: &Relief, sums: &[Sums], step_mm: f64, half_gap_mm: f64) -> Vec<[f32; BLOCKS]> {
    let width = relief.width;
    let reach = (WINDOW_MM / step_mm).round() as usize;
    let gap = (half_gap_mm / step_mm).round() as usize;
    let mut jump = vec![[f32::NAN; BLOCKS]; width];
    // A window is used as the left one of one column and the right one of another: look once.
    let windows: Vec<[Option<Window>; BLOCKS]> = (0..width.saturating_sub(reach))
        .map(|from| std::array::from_fn(|b| window(relief, sums, from, from + reach, b)))
        .collect();
    let mut energies: Vec<f32> = windows.iter().flatten().flatten().map(|w| w.energy).collect();
    if energies.is_empty() {
        return jump;
    }
    let middle = energies.len() / 2;
    let typical = *energies.select_nth_unstable_by(middle, f32::total_cmp).1;
    for x in (reach + gap)..width.saturating_sub(reach + gap + 1) {
        let (left, right) = (x - gap - reach, x + gap + 1);
        for b in 0..BLOCKS {
            let (Some(l), Some(r)) = (windows[left][b], windows[right.min(windows.len() - 1)][b]) else { continue };
            if l.energy < LEAST_SHARE * typical || r.energy < LEAST_SHARE * typical {
                continue;
            }
            let likeness = likeness(relief.height, b, |j| {
                Some((sums[l.best].mean(left, left + reach, x, j)?, sums[r.best].mean(right, right + reach, x, j)?))
            });
            jump[x][b] = 1.0 - likeness.max(0.0);
        }
    }
    jump
}

fn rows(height: usize, block: usize) -> std::ops::Range<usize> {
    block * height / BLOCKS..(block + 1) * height / BLOCKS
}

fn window(relief: &Relief, sums: &[Sums], from: usize, to: usize, block: usize) -> Option<Window> {
    let at = (from + to) / 2;
    let mut best: Option<Window> = None;
    for (k, s) in sums.iter().enumerate() {
        let (mut energy, mut count) = (0.0f32, 0);
        for j in rows(relief.height, block).step_by(2) {
            if let Some(v) = s.mean(from, to, at, j) {
                energy += v.iter().map(|x| x * x).sum::<f32>();
                count += 1;
            }
        }
        let needed = rows(relief.height, block).len() / 4;
        if count >= needed.max(1) {
            let energy = energy / count as f32;
            if best.is_none_or(|b| energy > b.energy) {
                best = Some(Window { best: k, energy });
            }
        }
    }
    best
}

fn likeness(height: usize, block: usize, pair: impl Fn(usize) -> Option<([f32; 3], [f32; 3])>) -> f32 {
    let (mut cross, mut a2, mut b2) = (0.0f32, 0.0f32, 0.0f32);
    for j in rows(height, block) {
        if let Some((a, b)) = pair(j) {
            for c in 0..3 {
                cross += a[c] * b[c];
                a2 += a[c] * a[c];
                b2 += b[c] * b[c];
            }
        }
    }
    if a2 > 0.0 && b2 > 0.0 { cross / (a2 * b2).sqrt() } else { 0.0 }
}

/// Darkness of a crease at every column of a leaned raster: the median over a block's rows of how much darker it is
/// than both flanks, less its spread over the rows and its colour (a woven line changes with the lines that cross it).
pub fn creases(raster: &Raster, lean: f64) -> Vec<[f32; BLOCKS]> {
    let (width, height) = (raster.width, raster.height);
    let step_mm = raster.step_mm;
    let near = (1.5 / step_mm).round() as isize;
    let far = (4.0 / step_mm).round() as isize;
    let mut crease = vec![[0.0f32; BLOCKS]; width];
    let mut darkness: Vec<f32> = Vec::new();
    let mut colour: Vec<f32> = Vec::new();
    for (x, slot) in crease.iter_mut().enumerate() {
        for (b, score) in slot.iter_mut().enumerate() {
            darkness.clear();
            colour.clear();
            for j in rows(height, b) {
                let centre = x as isize + (lean * (j as f64 - height as f64 / 2.0)).round() as isize;
                let Some(here) = mean(raster, j, centre, centre) else { continue };
                let Some(left) = mean(raster, j, centre - far, centre - near) else { continue };
                let Some(right) = mean(raster, j, centre + near, centre + far) else { continue };
                let d: [f32; 3] = std::array::from_fn(|c| 0.5 * (left[c] + right[c]) - here[c]);
                let mid = (d[0] + d[1] + d[2]) / 3.0;
                darkness.push(mid);
                colour.push(d.iter().map(|x| (x - mid).abs()).fold(0.0, f32::max));
            }
            if darkness.len() < rows(height, b).len() / 4 + 1 {
                continue;
            }
            let median = |v: &mut Vec<f32>, q: f64| {
                let k = ((v.len() - 1) as f64 * q) as usize;
                *v.select_nth_unstable_by(k, f32::total_cmp).1
            };
            let mid = median(&mut darkness, 0.5);
            let low = median(&mut darkness, 0.15);
            // Dark across nearly every row, and without colour.
            *score = (0.5 * (mid + low) - 0.5 * median(&mut colour, 0.5)).max(0.0).min(mid.max(0.0));
        }
    }
    crease
}

fn mean(raster: &Raster, j: usize, from: isize, to: isize) -> Option<[f32; 3]> {
    let mut sum = [0.0f32; 3];
    let mut count = 0.0f32;
    for i in from..=to {
        if i < 0 || i as usize >= raster.width {
            return None;
        }
        let at = j * raster.width + i as usize;
        if raster.weight[at] > 0.0 {
            for c in 0..3 {
                sum[c] += raster.value[at][c];
            }
            count += 1.0;
        }
    }
    (count > 0.0).then(|| sum.map(|s| s / count))
}

/// Robust scores over all columns: how many spreads above the median, clipped to 0..=6.
///
/// A pattern that returns is no seam: where the third highest of peaks at least `apart_columns` apart is high, the spread
/// grows with it.
fn scores(values: &[[f32; BLOCKS]], least_spread: f32, apart_columns: usize) -> Vec<[f32; BLOCKS]> {
    let mut scores = vec![[0.0f32; BLOCKS]; values.len()];
    for b in 0..BLOCKS {
        let mut known: Vec<f32> = values.iter().map(|v| v[b]).filter(|v| v.is_finite()).collect();
        if known.len() < 10 {
            continue;
        }
        let middle = known.len() / 2;
        let median = *known.select_nth_unstable_by(middle, f32::total_cmp).1;
        let mut apart: Vec<f32> = known.iter().map(|v| (v - median).abs()).collect();
        let spread = (1.4826 * *apart.select_nth_unstable_by(middle, f32::total_cmp).1).max(least_spread);
        let spread = spread.max(RETURNING_SHARE * (third_peak(values, b, apart_columns) - median));
        for (score, value) in scores.iter_mut().zip(values) {
            if value[b].is_finite() {
                score[b] = ((value[b] - median) / spread).clamp(0.0, CLIP);
            }
        }
    }
    scores
}

/// The third highest peak of one block, peaks standing apart; 0 where there are fewer.
fn third_peak(values: &[[f32; BLOCKS]], block: usize, apart: usize) -> f32 {
    let mut order: Vec<usize> = (0..values.len()).filter(|&x| values[x][block].is_finite()).collect();
    order.sort_by(|&a, &b| values[b][block].total_cmp(&values[a][block]));
    let mut peaks: Vec<usize> = Vec::new();
    for x in order {
        if peaks.iter().all(|&p| p.abs_diff(x) >= apart) {
            peaks.push(x);
            if peaks.len() == 3 {
                return values[x][block];
            }
        }
    }
    0.0
}
