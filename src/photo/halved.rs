//! The photograph in linear light at half, a quarter, an eighth … of its size: each pixel is the mean of two by two.
//!
//! What is measured at a tenth of a millimetre need not read pixels of a thirtieth one by one: their mean says the same, with
//! their noise averaged and with a fraction of the work.

use super::interpolate;
use crate::light::{linear, luminance};
use crate::threads;
use image::RgbImage;

/// The photograph in linear light, made smaller by whole halvings.
#[derive(Clone, Debug)]
pub struct Halved {
    /// Pixels of the photograph along one side of a pixel of this: 2, 4, 8 …
    pub block: usize,
    /// Pixels along a row; what is left over at the right is left out.
    pub width: usize,
    /// Rows; what is left over at the bottom is left out.
    pub height: usize,
    /// Linear light (R G B), row by row, [`FULL`] the lightest: finer than the darkest code of a pixel by twenty times.
    codes: Vec<[u16; 3]>,
}

/// The code of the lightest light.
const FULL: f32 = u16::MAX as f32;

impl Halved {
    /// Half the size of the photograph itself.
    pub(super) fn of(pixels: &RgbImage) -> Self {
        let (width, height) = (pixels.width() as usize / 2, pixels.height() as usize / 2);
        let (raw, stride) = (pixels.as_raw(), 3 * pixels.width() as usize);
        let codes: [u32; 256] = std::array::from_fn(|code| (linear(code as u8) * FULL).round() as u32);
        let codes = by_rows(width, height, |y, row: &mut [[u16; 3]]| {
            let (top, low) = (&raw[2 * y * stride..][..stride], &raw[(2 * y + 1) * stride..][..stride]);
            for ((out, a), b) in row.iter_mut().zip(top.chunks_exact(6)).zip(low.chunks_exact(6)) {
                for c in 0..3 {
                    let sum: u32 = [a[c], a[c + 3], b[c], b[c + 3]].map(|code| codes[usize::from(code)]).iter().sum();
                    out[c] = ((sum + 2) / 4) as u16;
                }
            }
        });
        Self { block: 2, width, height, codes }
    }

    /// Half the size of this.
    pub(super) fn halved(&self) -> Self {
        let (width, height) = (self.width / 2, self.height / 2);
        let codes = by_rows(width, height, |y, row: &mut [[u16; 3]]| {
            let rows = [2 * y, 2 * y + 1].map(|y| &self.codes[y * self.width..][..self.width]);
            for ((out, a), b) in row.iter_mut().zip(rows[0].chunks_exact(2)).zip(rows[1].chunks_exact(2)) {
                for c in 0..3 {
                    let sum: u32 = [a[0][c], a[1][c], b[0][c], b[1][c]].map(u32::from).iter().sum();
                    out[c] = ((sum + 2) / 4) as u16;
                }
            }
        });
        Self { block: 2 * self.block, width, height, codes }
    }

    /// Linear light (0 to 1, R G B) of a pixel by its number, row by row.
    #[inline]
    pub fn light(&self, pixel: usize) -> [f32; 3] {
        self.codes[pixel].map(|code| f32::from(code) / FULL)
    }

    /// What `tell` makes of the luminance (0 to [`u16::MAX`]) of every pixel, row by row.
    pub fn of_luminance<T: Copy + Default + Send>(&self, tell: impl Fn(u16) -> T + Sync) -> Vec<T> {
        // Shares of 2¹⁶ that add up to it.
        let of = |light: [f32; 3]| (luminance(light) * 65536.0).round() as u32;
        let (red, blue) = (of([1.0, 0.0, 0.0]), of([0.0, 0.0, 1.0]));
        let green = 65536 - red - blue;
        by_rows(self.width, self.height, |y, row| {
            for (out, codes) in row.iter_mut().zip(&self.codes[y * self.width..]) {
                let [r, g, b] = codes.map(u32::from);
                *out = tell(((red * r + green * g + blue * b + 32768) >> 16) as u16);
            }
        })
    }

    /// Linear light at a place of the photograph by Catmull-Rom interpolation; `None` outside the outermost pixel centres.
    #[inline]
    pub fn at(&self, x_px: f64, y_px: f64) -> Option<[f32; 3]> {
        let share = 1.0 / self.block as f64;
        let [x, y] = [x_px, y_px].map(|px| (px + 0.5) * share - 0.5);
        let four = |i: usize| {
            let codes = self.codes[i..i + 4].as_flattened();
            std::array::from_fn(|k| f32::from(codes[k]))
        };
        let pixel = |i: usize| self.codes[i].map(f32::from);
        let code = interpolate::catmull_rom([self.width, self.height], x, y, four, pixel)?;
        Some(code.map(|code| code * (1.0 / FULL)))
    }
}

/// A picture whose rows are made one by one, the upper half and the lower half at the same time.
pub fn by_rows<T: Copy + Default + Send>(width: usize, height: usize, make: impl Fn(usize, &mut [T]) + Sync) -> Vec<T> {
    let mut picture = vec![T::default(); width * height];
    let half = height / 2;
    let (upper, lower) = picture.split_at_mut(half * width);
    let rows = |part: &mut [T], from: usize| {
        part.chunks_exact_mut(width.max(1)).enumerate().for_each(|(y, row)| make(from + y, row));
    };
    threads::both(|| rows(upper, 0), || rows(lower, half));
    picture
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::to_srgb8;
    use image::Rgb;

    #[test]
    fn a_straight_ramp_keeps_its_place_at_every_size() {
        let ramp = RgbImage::from_fn(131, 67, |x, _| Rgb(to_srgb8([0.02 + 0.006 * f64::from(x); 3])));
        let half = Halved::of(&ramp);
        let quarter = half.halved();
        assert_eq!([half.width, half.height, quarter.width, quarter.height], [65, 33, 32, 16]);
        for x in [40.0, 41.3, 77.5] {
            for size in [&half, &quarter] {
                let light = f64::from(size.at(x, 30.0).unwrap()[1]);
                assert!((light - (0.02 + 0.006 * x)).abs() < 0.003, "{x} {} {light}", size.block);
            }
        }
        assert!(half.at(129.6, 3.0).is_none() && half.at(f64::NAN, 3.0).is_none());
    }
}
