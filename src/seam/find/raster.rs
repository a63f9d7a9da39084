//! The cloth as the finder sees it: logarithm of linear light on a grid, u down its rows, v along them.

use crate::conventions::Runs;
use crate::light;
use crate::photo::Photo;
use crate::problem::{Refusal, RefusalCode};
use crate::scale::Plane;
use crate::seam::Seam;
use crate::units::{MmPoint, PxPoint};

/// Most cells of a raster: about 900 by 650 mm of cloth at a quarter of a millimetre.
const MOST_CELLS: usize = 10_000_000;

/// Logarithm of linear light over the cloth.
#[derive(Clone, Debug)]
pub struct Raster {
    /// Distance between cells, millimetres.
    pub step_mm: f64,
    /// Cells along v (a row).
    pub width: usize,
    /// Cells along u (a column).
    pub height: usize,
    /// Row by row; meaningless where the weight is 0.
    pub value: Vec<[f32; 3]>,
    /// 1 where cloth may be seen, 0 under the card and outside the picture.
    pub weight: Vec<f32>,
}

/// Where the cells of a raster of the whole picture lie on the cloth.
#[derive(Clone, Copy, Debug)]
pub struct Frame {
    /// How a seam runs that is upright in the raster.
    pub runs: Runs,
    step_mm: f64,
    /// v and u of the first cell.
    origin_mm: [f64; 2],
}

impl Frame {
    /// The frame that holds the whole picture, and its cells along v and u.
    ///
    /// # Errors
    /// `no-seam` when the picture shows so much cloth that the raster would not fit the memory a search may take.
    fn around(photo: &Photo, plane: &Plane, runs: Runs, step_mm: f64) -> Result<(Self, [usize; 2]), Refusal> {
        let (w, h) = (f64::from(photo.width_px()) - 1.0, f64::from(photo.height_px()) - 1.0);
        let corners = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|(x, y)| {
            let p = plane.to_mm(PxPoint::new(x, y));
            match runs {
                Runs::Down => [p.x, p.y],
                Runs::Across => [-p.y, p.x],
            }
        });
        let low = [0, 1].map(|k| corners.iter().map(|c| c[k]).fold(f64::MAX, f64::min));
        let high = [0, 1].map(|k| corners.iter().map(|c| c[k]).fold(f64::MIN, f64::max));
        let cells = [0, 1].map(|k| ((high[k] - low[k]) / step_mm).ceil().max(1.0) as usize);
        if cells[0].saturating_mul(cells[1]) > MOST_CELLS {
            return Err(Refusal::new(
                RefusalCode::NoSeam,
                format!(
                    "the picture shows {:.0} by {:.0} mm of cloth: too much to look for a seam in",
                    high[0] - low[0],
                    high[1] - low[1]
                ),
                "photograph a smaller piece of the seam, check the scale given, or say where the seam is with --seam",
            ));
        }
        Ok((Self { runs, step_mm, origin_mm: low }, cells))
    }

    /// The point of the cloth at fractional cell (i along v, j along u).
    pub fn place(&self, i: f64, j: f64) -> MmPoint {
        let (v, u) = (self.origin_mm[0] + i * self.step_mm, self.origin_mm[1] + j * self.step_mm);
        match self.runs {
            Runs::Down => MmPoint::new(v, u),
            Runs::Across => MmPoint::new(u, -v),
        }
    }
}

impl Raster {
    /// Samples the whole picture so that a seam that runs as `runs` is upright.
    ///
    /// # Errors
    /// `no-seam` when the picture shows so much cloth that the raster would not fit the memory a search may take.
    pub fn of_picture(photo: &Photo, plane: &Plane, runs: Runs, step_mm: f64) -> Result<(Self, Frame), Refusal> {
        let (frame, cells) = Frame::around(photo, plane, runs, step_mm)?;
        Ok((Self::sample(photo, plane, step_mm, cells, |i, j| frame.place(i, j)), frame))
    }

    /// Samples a band that follows a seam, so that the seam is its middle column: `reach_mm` to either side, the whole
    /// length.
    pub fn along(photo: &Photo, plane: &Plane, seam: &Seam, reach_mm: f64, step_mm: f64) -> Self {
        let reach = (reach_mm / step_mm).round();
        let cells = [2 * reach as usize + 1, (seam.length_mm() / step_mm).floor() as usize + 1];
        Self::sample(photo, plane, step_mm, cells, |i, j| seam.at(j * step_mm, (i - reach) * step_mm))
    }

    /// The same with cells twice as large; an odd last row or column is left out.
    pub fn halved(&self) -> Self {
        let (width, height) = (self.width / 2, self.height / 2);
        let mut half = Self {
            step_mm: 2.0 * self.step_mm,
            width,
            height,
            value: Vec::with_capacity(width * height),
            weight: Vec::with_capacity(width * height),
        };
        for (j, i) in (0..height).flat_map(|j| (0..width).map(move |i| (j, i))) {
            let first = 2 * j * self.width + 2 * i;
            let mut sum = [0.0f32; 4];
            for at in [first, first + 1, first + self.width, first + self.width + 1] {
                for c in 0..3 {
                    sum[c] += self.value[at][c] * self.weight[at];
                }
                sum[3] += self.weight[at];
            }
            let seen = sum[3] >= 2.0;
            half.value.push(if seen { [sum[0] / sum[3], sum[1] / sum[3], sum[2] / sum[3]] } else { [0.0; 3] });
            half.weight.push(if seen { 1.0 } else { 0.0 });
        }
        half
    }

    fn sample(
        photo: &Photo,
        plane: &Plane,
        step_mm: f64,
        [width, height]: [usize; 2],
        place: impl Fn(f64, f64) -> MmPoint,
    ) -> Self {
        let taps = ((step_mm / plane.mm_per_px).round() as usize).clamp(1, 2);
        let part = |k: usize| (k as f64 + 0.5) / taps as f64 - 0.5;
        let (right, bottom) = (f64::from(photo.width_px()), f64::from(photo.height_px()));
        let mut raster = Self {
            step_mm,
            width,
            height,
            value: Vec::with_capacity(width * height),
            weight: Vec::with_capacity(width * height),
        };
        for (j, i) in (0..height).flat_map(|j| (0..width).map(move |i| (j, i))) {
            let mut sum = [0.0f32; 3];
            let mut count = 0;
            for (b, a) in (0..taps).flat_map(|b| (0..taps).map(move |a| (b, a))) {
                let p = plane.to_px(place(i as f64 + part(a), j as f64 + part(b)));
                let (x, y) = (p.x.round(), p.y.round());
                if x < 0.0 || y < 0.0 || x >= right || y >= bottom || plane.is_covered(p) {
                    continue;
                }
                let rgb = photo.pixels.get_pixel(x as u32, y as u32).0;
                for c in 0..3 {
                    sum[c] += light::linear(rgb[c]);
                }
                count += 1;
            }
            let seen = count * 2 >= taps * taps;
            raster.value.push(if seen { sum.map(|s| light::tone(s / count as f32)) } else { [0.0; 3] });
            raster.weight.push(if seen { 1.0 } else { 0.0 });
        }
        raster
    }
}
