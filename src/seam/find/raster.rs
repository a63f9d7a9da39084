//! The cloth as the finder sees it: logarithm of linear light on a grid, u down its rows, v along them.

use crate::conventions::Runs;
use crate::light;
use crate::photo::{Light, Photo};
use crate::problem::{Refusal, RefusalCode};
use crate::scale::Plane;
use crate::scale::covered::Covered;
use crate::seam::Seam;
use crate::units::{MmPoint, PxPoint};
use nalgebra::Vector3;

/// Most cells of a raster of the whole picture: 450 by 340 mm of cloth at a quarter of a millimetre. Of more cloth cells are
/// larger, up to the coarsest that still show a crease: 910 by 680 mm.
const MOST_CELLS: f64 = 2.5e6;
const COARSEST_MM: f64 = 0.5;

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
    /// The frame that holds the whole picture in cells of `fine_mm`, larger where there would be too many; and its cells along
    /// v and u.
    ///
    /// # Errors
    /// `no-seam` when the picture shows so much cloth that the raster would not fit the memory a search may take.
    fn around(photo: &Photo, plane: &Plane, runs: Runs, fine_mm: f64) -> Result<(Self, [usize; 2]), Refusal> {
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
        let extent = [high[0] - low[0], high[1] - low[1]];
        let step_mm = fine_mm.max((extent[0] * extent[1] / MOST_CELLS).sqrt());
        if step_mm > COARSEST_MM {
            return Err(Refusal::new(
                RefusalCode::NoSeam,
                format!(
                    "the picture shows {:.0} by {:.0} mm of cloth: too much to look for a seam in",
                    extent[0], extent[1]
                ),
                "photograph a smaller piece of the seam, check the scale given, or mark where the seam is (--seam)",
            ));
        }
        let cells = extent.map(|mm| (mm / step_mm).ceil().max(1.0) as usize);
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

    fn row(&self, j: f64) -> Row {
        let step = match self.runs {
            Runs::Down => [self.step_mm, 0.0],
            Runs::Across => [0.0, -self.step_mm],
        };
        Row { first: self.place(0.0, j), step }
    }
}

/// A row of cells on the cloth: straight, at equal steps.
struct Row {
    /// The first cell's middle.
    first: MmPoint,
    /// From one cell to the next, x and y, millimetres.
    step: [f64; 2],
}

impl Raster {
    /// Samples the whole picture so that a seam that runs as `runs` is upright, in cells of `fine_mm` or, of much cloth,
    /// larger ones.
    ///
    /// # Errors
    /// `no-seam` when the picture shows so much cloth that the raster would not fit the memory a search may take.
    pub fn of_picture(photo: &Photo, plane: &Plane, runs: Runs, fine_mm: f64) -> Result<(Self, Frame), Refusal> {
        let (frame, cells) = Frame::around(photo, plane, runs, fine_mm)?;
        Ok((Self::sample(photo, plane, frame.step_mm, cells, |j| frame.row(j)), frame))
    }

    /// Samples a band that follows a seam, so that the seam is its middle column: `reach_mm` to either side, the whole
    /// length.
    pub fn along(photo: &Photo, plane: &Plane, seam: &Seam, reach_mm: f64, step_mm: f64) -> Self {
        let reach = (reach_mm / step_mm).round();
        let cells = [2 * reach as usize + 1, (seam.length_mm() / step_mm).floor() as usize + 1];
        let row = |j: f64| {
            let (middle, along) = seam.path.at(j * step_mm);
            let step = [along.y * step_mm, -along.x * step_mm];
            Row { first: MmPoint::new(middle.x - reach * step[0], middle.y - reach * step[1]), step }
        };
        Self::sample(photo, plane, step_mm, cells, row)
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

    /// Samples the nearest pixels, two by two to a cell where pixels are finer than cells.
    fn sample(
        photo: &Photo,
        plane: &Plane,
        step_mm: f64,
        [width, height]: [usize; 2],
        row: impl Fn(f64) -> Row,
    ) -> Self {
        let shades = Shades { covered: plane.covered(), light: photo.light(0.5 * step_mm / plane.mm_per_px) };
        let pixel_mm = shades.light.block() as f64 * plane.mm_per_px;
        let taps = ((step_mm / pixel_mm).round() as usize).clamp(1, 2);
        let part = |k: usize| (k as f64 + 0.5) / taps as f64 - 0.5;
        let mut raster = Self {
            step_mm,
            width,
            height,
            value: Vec::with_capacity(width * height),
            weight: Vec::with_capacity(width * height),
        };
        let mut sums = vec![[0.0f32; 4]; width];
        for j in 0..height {
            sums.fill([0.0; 4]);
            for b in 0..taps {
                let line = Line::of(plane, &row(j as f64 + part(b)));
                for a in 0..taps {
                    for (i, sum) in sums.iter_mut().enumerate() {
                        if let Some(light) = shades.at(line.at(i as f64 + part(a))) {
                            for c in 0..3 {
                                sum[c] += light[c];
                            }
                            sum[3] += 1.0;
                        }
                    }
                }
            }
            for &[r, g, b, count] in &sums {
                let seen = count * 2.0 >= (taps * taps) as f32;
                raster.value.push(if seen { [r, g, b].map(|sum| light::tone(sum / count)) } else { [0.0; 3] });
                raster.weight.push(if seen { 1.0 } else { 0.0 });
            }
        }
        raster
    }
}

/// A row of cells in the picture: homogeneous coordinates, which grow evenly along it.
struct Line {
    first: Vector3<f64>,
    step: Vector3<f64>,
}

impl Line {
    fn of(plane: &Plane, row: &Row) -> Self {
        Self {
            first: plane.mm_to_px * Vector3::new(row.first.x, row.first.y, 1.0),
            step: plane.mm_to_px * Vector3::new(row.step[0], row.step[1], 0.0),
        }
    }

    /// The picture's point at fractional cell i.
    fn at(&self, i: f64) -> PxPoint {
        let depth = 1.0 / (self.first.z + i * self.step.z);
        PxPoint::new((self.first.x + i * self.step.x) * depth, (self.first.y + i * self.step.y) * depth)
    }
}

/// The picture's pixels that may show cloth.
struct Shades<'a> {
    covered: Covered<'a>,
    light: Light<'a>,
}

impl Shades<'_> {
    /// Linear light of the nearest pixel; `None` outside the picture and under a card.
    #[inline]
    fn at(&self, p: PxPoint) -> Option<[f32; 3]> {
        self.light.nearest(p.x, p.y).filter(|_| !self.covered.holds(p))
    }
}
