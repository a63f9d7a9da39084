//! The cloth as the finder sees it: a coarse raster in the plane of the cloth, u down its rows, v along them.

use crate::conventions::Runs;
use crate::light;
use crate::photo::Photo;
use crate::problem::{Refusal, RefusalCode};
use crate::scale::Plane;
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
    runs: Runs,
    /// v and u of the first cell.
    origin_mm: [f64; 2],
}

impl Raster {
    /// Samples the photograph so that a seam that runs as `runs` is upright.
    ///
    /// # Errors
    /// `no-seam` when the picture shows so much cloth that the raster would not fit the memory a search may take.
    pub fn new(photo: &Photo, plane: &Plane, runs: Runs, step_mm: f64) -> Result<Self, Refusal> {
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
        let mut raster = Self {
            step_mm,
            width: cells[0],
            height: cells[1],
            value: Vec::with_capacity(cells[0] * cells[1]),
            weight: Vec::with_capacity(cells[0] * cells[1]),
            runs,
            origin_mm: low,
        };
        let taps = ((step_mm / plane.mm_per_px).round() as usize).clamp(1, 4);
        for j in 0..raster.height {
            for i in 0..raster.width {
                let (value, weight) = raster.look(photo, plane, i, j, taps);
                raster.value.push(value);
                raster.weight.push(weight);
            }
        }
        Ok(raster)
    }

    fn look(&self, photo: &Photo, plane: &Plane, i: usize, j: usize, taps: usize) -> ([f32; 3], f32) {
        let mut sum = [0.0f32; 3];
        let mut count = 0;
        for b in 0..taps {
            for a in 0..taps {
                let part = |k: usize| (k as f64 + 0.5) / taps as f64 - 0.5;
                let p = plane.to_px(self.place(i as f64 + part(a), j as f64 + part(b)));
                if plane.is_covered(p) {
                    continue;
                }
                let (x, y) = (p.x.round(), p.y.round());
                if x < 0.0 || y < 0.0 || x >= f64::from(photo.width_px()) || y >= f64::from(photo.height_px()) {
                    continue;
                }
                let rgb = photo.pixels.get_pixel(x as u32, y as u32).0;
                for c in 0..3 {
                    sum[c] += light::linear(rgb[c]);
                }
                count += 1;
            }
        }
        if count * 2 < taps * taps {
            return ([0.0; 3], 0.0);
        }
        (sum.map(|s| light::tone(s / count as f32)), 1.0)
    }

    /// The columns `from..to` alone.
    pub fn columns(&self, from: usize, to: usize) -> Self {
        let cut = |j: usize| j * self.width + from..j * self.width + to;
        Self {
            step_mm: self.step_mm,
            width: to - from,
            height: self.height,
            value: (0..self.height).flat_map(|j| self.value[cut(j)].iter().copied()).collect(),
            weight: (0..self.height).flat_map(|j| self.weight[cut(j)].iter().copied()).collect(),
            runs: self.runs,
            origin_mm: [self.origin_mm[0] + from as f64 * self.step_mm, self.origin_mm[1]],
        }
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
