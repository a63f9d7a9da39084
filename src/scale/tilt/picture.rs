//! The photograph made small: tone at a few hundred pixels a side.

use crate::light;
use crate::photo::Photo;
use crate::units::PxPoint;

/// Longest side of the small picture, pixels.
const LONGEST_PX: u32 = 900;
/// The small picture. Coordinates are its pixels about the middle of the photograph.
pub struct Picture {
    /// Photograph pixels to one of the small picture.
    pub shrink: f64,
    width: usize,
    height: usize,
    /// Row by row; not a number where no cloth is seen.
    tone: Vec<[f32; 3]>,
}

impl Picture {
    /// Makes a photograph small by averaging its linear light; what `covered` says of it is left out.
    pub fn new(photo: &Photo, covered: impl Fn(PxPoint) -> bool) -> Self {
        let long = photo.width_px().max(photo.height_px());
        let shrink = long.div_ceil(LONGEST_PX).max(1) as usize;
        let (width, height) = (photo.width_px() as usize / shrink, photo.height_px() as usize / shrink);
        let stride = 3 * photo.width_px() as usize;
        let bytes = photo.pixels.as_raw();
        let mut tone = Vec::with_capacity(width * height);
        let count = (shrink * shrink) as f32;
        for j in 0..height {
            for i in 0..width {
                let mut sum = [0.0f32; 3];
                for y in j * shrink..(j + 1) * shrink {
                    let from = y * stride + 3 * i * shrink;
                    for pixel in bytes[from..from + 3 * shrink].chunks_exact(3) {
                        for c in 0..3 {
                            sum[c] += light::linear(pixel[c]);
                        }
                    }
                }
                let middle = |k: usize| (k as f64 + 0.5) * shrink as f64 - 0.5;
                let seen = !covered(PxPoint::new(middle(i), middle(j)));
                tone.push(if seen { sum.map(|s| light::tone(s / count)) } else { [f32::NAN; 3] });
            }
        }
        Self { shrink: shrink as f64, width, height, tone }
    }

    /// Half the small picture's width and height, pixels.
    pub fn half(&self) -> [f64; 2] {
        [(self.width as f64 - 1.0) / 2.0, (self.height as f64 - 1.0) / 2.0]
    }

    /// Tone at a place, bilinear; `None` outside the picture, not a number where no cloth is seen.
    pub fn at(&self, x: f64, y: f64) -> Option<[f32; 3]> {
        let [hx, hy] = self.half();
        let (x, y) = (x + hx, y + hy);
        if !(x >= 0.0 && y >= 0.0 && x < self.width as f64 - 1.0 && y < self.height as f64 - 1.0) {
            return None;
        }
        let (i, j) = (x as usize, y as usize);
        let (fx, fy) = ((x - i as f64) as f32, (y - j as f64) as f32);
        let k = j * self.width + i;
        let (a, b) = (self.tone[k], self.tone[k + 1]);
        let (c, d) = (self.tone[k + self.width], self.tone[k + self.width + 1]);
        Some(std::array::from_fn(|n| {
            let (top, low) = (a[n] + fx * (b[n] - a[n]), c[n] + fx * (d[n] - c[n]));
            top + fy * (low - top)
        }))
    }

    /// The picture at half its size, smoothed over the threads of a twill.
    pub fn coarse(&self) -> Self {
        self.smoothed().halved()
    }

    /// Every other pixel of a smoothed picture.
    fn halved(&self) -> Self {
        let rows = self.tone.chunks_exact(self.width.max(1)).step_by(2);
        Self {
            shrink: 2.0 * self.shrink,
            width: self.width.div_ceil(2),
            height: self.height.div_ceil(2),
            tone: rows.flat_map(|row| row.iter().copied().step_by(2)).collect(),
        }
    }

    /// Two passes of a box of five pixels both ways.
    fn smoothed(&self) -> Self {
        let (w, h) = (self.width, self.height);
        let mut tone = self.tone.clone();
        for _ in 0..2 {
            let across: Vec<[f32; 3]> = (0..w * h)
                .map(|k| if k % w < 2 || k % w + 2 >= w { [f32::NAN; 3] } else { sum5(|d| tone[k + d - 2]) })
                .collect();
            tone = (0..w * h)
                .map(|k| if k / w < 2 || k / w + 2 >= h { [f32::NAN; 3] } else { sum5(|d| across[k + d * w - 2 * w]) })
                .collect();
        }
        Self { tone, ..*self }
    }
}

fn sum5(at: impl Fn(usize) -> [f32; 3]) -> [f32; 3] {
    let mut sum = [0.0; 3];
    for d in 0..5 {
        let value = at(d);
        for c in 0..3 {
            sum[c] += 0.2 * value[c];
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{Rgb, RgbImage};

    #[test]
    fn the_small_picture_is_the_mean_light_about_the_middle() {
        // 1802 pixels become 600 by threes; a step of light stands at the middle.
        let pixels = RgbImage::from_fn(1802, 903, |x, _| Rgb(if x < 900 { [40; 3] } else { [200; 3] }));
        let picture = Picture::new(&Photo::new("", pixels), |p| p.y > 850.0);
        assert_eq!((picture.shrink, picture.half()), (3.0, [299.5, 150.0]));
        let tone = |code: u8| light::tone(light::linear(code));
        assert!((picture.at(-20.0, 0.0).unwrap()[1] - tone(40)).abs() < 1e-5);
        assert!((picture.at(20.0, 0.0).unwrap()[1] - tone(200)).abs() < 1e-5);
        let middle = picture.at(0.0, 0.0).unwrap()[1];
        assert!((middle - 0.5 * (tone(40) + tone(200))).abs() < 1e-5, "{middle}");
        assert!(picture.at(0.0, 145.0).unwrap()[0].is_nan(), "covered");
        assert!(picture.at(299.6, 0.0).is_none() && picture.at(f64::NAN, 0.0).is_none(), "outside");
        let coarse = picture.coarse();
        assert_eq!((coarse.shrink, coarse.half()), (6.0, [149.5, 75.0]));
    }
}
