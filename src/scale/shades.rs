//! The picture in greys at several sizes, each against the mean of its surroundings: what is darker than what lies
//! around it is ink, in the light as in the shade.

use crate::light;
use crate::photo::Light;
use crate::threads;
use image::GrayImage;

/// Reach of the surroundings, pixels of a level. Modules of about 2.5 to 10 pixels are told well.
const REACH: usize = 24;

/// Steps of linear light that greys are told from.
const LIGHTS: usize = 4096;

/// The picture at one size.
pub struct Shades {
    width: usize,
    height: usize,
    /// Pixels of the photograph to one of this level.
    pub factor: f64,
    grey: GrayImage,
    mean: Vec<u8>,
}

impl Shades {
    /// The photograph at this size.
    pub fn of(light: Light<'_>) -> Self {
        let grey = match light {
            Light::Whole(pixels) => image::imageops::grayscale(pixels),
            Light::Halved(halved) => {
                let codes: [u8; LIGHTS] =
                    std::array::from_fn(|k| light::to_srgb8([k as f64 / (LIGHTS - 1) as f64; 3])[0]);
                let grey = halved.of_luminance(|luminance| codes[(usize::from(luminance) * LIGHTS) >> 16]);
                GrayImage::from_raw(halved.width as u32, halved.height as u32, grey).unwrap_or_default()
            }
        };
        Self::new(grey, light.block() as f64)
    }

    /// A level, `factor` times smaller than the photograph.
    pub fn new(grey: GrayImage, factor: f64) -> Self {
        let (width, height) = (grey.width() as usize, grey.height() as usize);
        let mut mean = vec![0u8; width * height];
        let raw = grey.as_raw();
        let half = height / 2;
        let (upper, lower) = mean.split_at_mut(half * width);
        threads::both(|| means(raw, [width, height], 0, upper), || means(raw, [width, height], half, lower));
        Self { width, height, factor, grey, mean }
    }

    /// The same picture at half this size.
    pub fn halved(&self) -> Self {
        let (w, h) = (self.width / 2, self.height / 2);
        let raw = self.grey.as_raw();
        let mut half = Vec::with_capacity(w * h);
        for y in 0..h {
            let (top, bottom) = (&raw[2 * y * self.width..], &raw[(2 * y + 1) * self.width..]);
            half.extend((0..w).map(|x| {
                let sum =
                    [top[2 * x], top[2 * x + 1], bottom[2 * x], bottom[2 * x + 1]].map(u32::from).iter().sum::<u32>();
                ((sum + 2) / 4) as u8
            }));
        }
        Self::new(GrayImage::from_raw(w as u32, h as u32, half).unwrap_or_default(), 2.0 * self.factor)
    }

    /// Width and height of the level.
    pub fn size(&self) -> (usize, usize) {
        (self.width, self.height)
    }

    /// The grey picture itself.
    pub fn grey(&self) -> &GrayImage {
        &self.grey
    }

    /// How much lighter a row's pixels are than their surroundings, into `out`.
    pub fn row(&self, y: usize, out: &mut Vec<i16>) {
        let span = y * self.width..(y + 1) * self.width;
        out.clear();
        out.extend(
            self.grey.as_raw()[span.clone()].iter().zip(&self.mean[span]).map(|(&g, &m)| i16::from(g) - i16::from(m)),
        );
    }

    /// How much lighter the picture is at a place of this level than its surroundings, bilinear; `None` outside.
    pub fn at(&self, x: f64, y: f64) -> Option<f64> {
        if !(x >= 0.0 && y >= 0.0 && x < (self.width - 1) as f64 && y < (self.height - 1) as f64) {
            return None;
        }
        let (i, j) = (x as usize, y as usize);
        let (fx, fy) = (x - i as f64, y - j as f64);
        let v = |di: usize, dj: usize| {
            let at = (j + dj) * self.width + i + di;
            f64::from(self.grey.as_raw()[at]) - f64::from(self.mean[at])
        };
        Some((1.0 - fy) * ((1.0 - fx) * v(0, 0) + fx * v(1, 0)) + fy * ((1.0 - fx) * v(0, 1) + fx * v(1, 1)))
    }
}

/// The means around every pixel of the rows from `first` on, into `out`; `raw` are all pixels.
fn means(raw: &[u8], [width, height]: [usize; 2], first: usize, out: &mut [u8]) {
    if out.is_empty() {
        return;
    }
    let mut columns = vec![0u32; width];
    let rows = |y: usize| &raw[y * width..(y + 1) * width];
    let add = |columns: &mut [u32], y: usize| columns.iter_mut().zip(rows(y)).for_each(|(c, &v)| *c += u32::from(v));
    (first.saturating_sub(REACH)..(first + REACH).min(height)).for_each(|y| add(&mut columns, y));
    for (y, out) in (first..).zip(out.chunks_exact_mut(width)) {
        if y + REACH < height {
            add(&mut columns, y + REACH);
        }
        if y > REACH && y > first {
            columns.iter_mut().zip(rows(y - REACH - 1)).for_each(|(c, &v)| *c -= u32::from(v));
        }
        let deep = ((y + REACH + 1).min(height) - y.saturating_sub(REACH)) as u32;
        let mut sum: u32 = columns[..REACH.min(width)].iter().sum();
        for (x, out) in out.iter_mut().enumerate() {
            if x + REACH < width {
                sum += columns[x + REACH];
            }
            if x > REACH {
                sum -= columns[x - REACH - 1];
            }
            let broad = ((x + REACH + 1).min(width) - x.saturating_sub(REACH)) as u32;
            *out = (sum / (deep * broad)) as u8;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Luma;

    #[test]
    fn every_pixel_is_held_against_the_mean_of_what_lies_around_it() {
        let grey = GrayImage::from_fn(130, 90, |x, y| Luma([((x * 7 + y * 13) % 251) as u8]));
        let shades = Shades::new(grey.clone(), 1.0);
        for (x, y) in [(0, 0), (129, 89), (24, 25), (60, 40), (100, 3)] {
            let span = |k: usize, size: usize| k.saturating_sub(REACH)..(k + REACH + 1).min(size);
            let around: Vec<u32> = span(y, 90)
                .flat_map(|j| span(x, 130).map(move |i| (i, j)))
                .map(|(i, j)| u32::from(grey.get_pixel(i as u32, j as u32).0[0]))
                .collect();
            let mean = around.iter().sum::<u32>() / around.len() as u32;
            let mut row = Vec::new();
            shades.row(y, &mut row);
            assert_eq!(i32::from(row[x]), i32::from(grey.get_pixel(x as u32, y as u32).0[0]) - mean as i32, "{x} {y}");
        }
        assert_eq!(shades.halved().size(), (65, 45));
        assert!(shades.at(129.0, 3.0).is_none() && shades.at(f64::NAN, 3.0).is_none());
    }
}
