//! The crease of a seam: a narrow dark line without colour that keeps its darkness across every line of the cloth.

use super::raster::Raster;

/// The flanks that it is compared with, millimetres from it.
const NEAR_MM: f64 = 0.9;
const FAR_MM: f64 = 2.6;
/// How much of its colour is taken off its darkness: a woven line has the one with the other.
const COLOUR_SHARE: f32 = 0.9;
/// Darkness (logarithm of light) is clipped: one black thing across it must not outweigh a whole seam.
const CLIP: (f32, f32) = (-0.12, 0.3);

/// How much darker every cell of the raster is than both its flanks; NaN where that is not seen.
pub fn of(raster: &Raster) -> Vec<f32> {
    let (width, near) = (raster.width, (NEAR_MM / raster.step_mm).round() as usize);
    let far = (FAR_MM / raster.step_mm).round() as usize;
    let mut darkness = vec![f32::NAN; raster.value.len()];
    let mut sums = vec![[0.0f32; 4]; width + 1];
    for (row, (value, weight)) in raster.value.chunks(width).zip(raster.weight.chunks(width)).enumerate() {
        let mut sum = [0.0f32; 4];
        for i in 0..width {
            for c in 0..3 {
                sum[c] += value[i][c] * weight[i];
            }
            sum[3] += weight[i];
            sums[i + 1] = sum;
        }
        let mean = |from: usize, to: usize| -> Option<[f32; 3]> {
            let (a, b) = (sums[from], sums[to]);
            let w = b[3] - a[3];
            let seen = 2.0 * w >= (to - from) as f32;
            seen.then(|| [(b[0] - a[0]) / w, (b[1] - a[1]) / w, (b[2] - a[2]) / w])
        };
        for i in far..width.saturating_sub(far) {
            if weight[i] == 0.0 {
                continue;
            }
            let (Some(left), Some(right)) = (mean(i - far, i - near + 1), mean(i + near, i + far + 1)) else {
                continue;
            };
            // Beside the edge of a dark bar only one flank is lighter: the darker flank counts.
            let grey = |v: [f32; 3]| v[0] + v[1] + v[2];
            let flank = if grey(left) < grey(right) { left } else { right };
            let darker = [flank[0] - value[i][0], flank[1] - value[i][1], flank[2] - value[i][2]];
            let grey = (darker[0] + darker[1] + darker[2]) / 3.0;
            let colour = darker.iter().map(|d| (d - grey).abs()).fold(0.0, f32::max);
            darkness[row * width + i] = (grey - COLOUR_SHARE * colour).clamp(CLIP.0, CLIP.1);
        }
    }
    darkness
}
