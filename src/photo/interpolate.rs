//! Interpolation between pixels, in linear light.

/// What is at (x, y) by Catmull-Rom over the 4 × 4 neighbours of a picture of `width` by `height` pixels; `None` outside the
/// outermost pixel centres. `four` tells four pixels of a row from one on by its number, row by row, `pixel` that one alone.
#[inline]
pub fn catmull_rom(
    [width, height]: [usize; 2],
    x: f64,
    y: f64,
    four: impl Fn(usize) -> [f32; 12],
    pixel: impl Fn(usize) -> [f32; 3],
) -> Option<[f32; 3]> {
    if !(x >= 0.0 && y >= 0.0 && x <= width as f64 - 1.0 && y <= height as f64 - 1.0) {
        return None;
    }
    // Not negative: a whole number by cutting off. Of 32 bits, which processors convert in one step.
    let (whole_x, whole_y) = (x as i32, y as i32);
    let (wx, wy) = (weights((x - f64::from(whole_x)) as f32), weights((y - f64::from(whole_y)) as f32));
    let (x0, y0) = (whole_x as usize, whole_y as usize);
    let mut sum = [0.0f32; 3];
    if x0 >= 1 && y0 >= 1 && x0 + 2 < width && y0 + 2 < height {
        // Down first: twelve numbers at a time, which a processor has lanes for, and three it has not.
        let mut down = [0.0f32; 12];
        for (j, &wj) in wy.iter().enumerate() {
            let row = four((y0 + j - 1) * width + x0 - 1);
            (0..12).for_each(|k| down[k] += wj * row[k]);
        }
        for (i, &wi) in wx.iter().enumerate() {
            (0..3).for_each(|c| sum[c] += wi * down[3 * i + c]);
        }
        return Some(sum);
    }
    let held = |k: usize, offset: usize, size: usize| (k + offset).saturating_sub(1).min(size - 1);
    for (j, &wj) in wy.iter().enumerate() {
        for (i, &wi) in wx.iter().enumerate() {
            let light = pixel(held(y0, j, height) * width + held(x0, i, width));
            (0..3).for_each(|c| sum[c] += wi * wj * light[c]);
        }
    }
    Some(sum)
}

/// The four Catmull-Rom weights for a place `f` (0 to 1) between the middle two samples.
fn weights(f: f32) -> [f32; 4] {
    let (f2, f3) = (f * f, f * f * f);
    [0.5 * (-f3 + 2.0 * f2 - f), 0.5 * (3.0 * f3 - 5.0 * f2 + 2.0), 0.5 * (-3.0 * f3 + 4.0 * f2 + f), 0.5 * (f3 - f2)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_ramp_is_reproduced_between_pixels() {
        let ramp = |i: usize| [0.0, 0.02 + 0.06 * (i % 16) as f32, 1.0];
        let four = |i: usize| std::array::from_fn(|k| ramp(i + k / 3)[k % 3]);
        let at = |x: f64, y: f64| catmull_rom([16, 16], x, y, four, ramp);
        for (x, y) in [(7.5, 7.3), (7.5, 0.2), (7.5, 14.9), (3.25, 15.0)] {
            let [r, g, b] = at(x, y).unwrap();
            assert!(r == 0.0 && (f64::from(g) - (0.02 + 0.06 * x)).abs() < 1e-5 && (b - 1.0).abs() < 1e-6);
        }
        assert!(at(15.01, 3.0).is_none() && at(f64::NAN, 3.0).is_none() && at(-0.01, 3.0).is_none());
    }
}
