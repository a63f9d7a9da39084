//! The cloth as the finder sees it: logarithm of linear light on a grid, u down its rows, v along them.

use super::pixels::{Line, Pixels, STRETCH};
use crate::conventions::Runs;
use crate::light;
use crate::photo::Photo;
use crate::problem::{Refusal, RefusalCode};
use crate::scale::Plane;
use crate::seam::Seam;
use crate::threads;
use crate::units::{MmPoint, PxPoint};
use std::ops::Range;

/// Most cells of a raster of the whole picture: 450 by 340 mm of cloth at a quarter of a millimetre. Of more cloth cells are
/// larger, up to the coarsest that still show a crease: 910 by 680 mm.
const MOST_CELLS: f64 = 2.5e6;
const COARSEST_MM: f64 = 0.5;
/// A raster is made so many rows, and turned so many columns at a time, that what is near in the picture stays near at hand.
const TILE: usize = 16;

/// Logarithm of linear light over the cloth.
#[derive(Clone, Debug)]
pub struct Raster {
    /// Distance between cells, millimetres.
    pub step_mm: f64,
    /// Cells along v (a row).
    pub width: usize,
    /// Cells along u (a column).
    pub height: usize,
    /// R, G and B, each row by row; meaningless where the weight is 0.
    pub value: [Vec<f32>; 3],
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
    /// The frame of a seam that runs down which holds the whole picture in cells of `fine_mm`, larger where there would be too
    /// many; and its cells along v and u.
    ///
    /// # Errors
    /// `no-seam` when the picture shows so much cloth that the raster would not fit the memory a search may take.
    fn around(photo: &Photo, plane: &Plane, fine_mm: f64) -> Result<(Self, [usize; 2]), Refusal> {
        let (w, h) = (f64::from(photo.width_px()) - 1.0, f64::from(photo.height_px()) - 1.0);
        let corners = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|(x, y)| {
            let p = plane.to_mm(PxPoint::new(x, y));
            [p.x, p.y]
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
        // An even number: halved and then turned, or turned and then halved, are the same.
        let cells = extent.map(|mm| ((mm / step_mm).ceil() as usize & !1).max(2));
        Ok((Self { runs: Runs::Down, step_mm, origin_mm: low }, cells))
    }

    /// The point of the cloth at fractional cell (i along v, j along u).
    pub fn place(&self, i: f64, j: f64) -> MmPoint {
        let (v, u) = (self.origin_mm[0] + i * self.step_mm, self.origin_mm[1] + j * self.step_mm);
        match self.runs {
            Runs::Down => MmPoint::new(v, u),
            Runs::Across => MmPoint::new(u, -v),
        }
    }

    /// The frame of the same cells, of a seam that runs down, for one that runs across: [`Raster::turned`].
    pub fn turned(&self, height: usize) -> Self {
        let last = self.place(0.0, height as f64 - 1.0);
        Self { runs: Runs::Across, origin_mm: [-last.y, last.x], ..*self }
    }
}

/// A row of cells on the cloth: straight, at equal steps.
pub struct Row {
    /// The first cell's middle.
    pub first: MmPoint,
    /// From one cell to the next, x and y, millimetres.
    pub step: [f64; 2],
}

impl Raster {
    /// Samples the whole picture so that a seam that runs down is upright, in cells of `fine_mm` or, of much cloth, larger
    /// ones.
    ///
    /// # Errors
    /// `no-seam` when the picture shows so much cloth that the raster would not fit the memory a search may take.
    pub fn of_picture(photo: &Photo, plane: &Plane, fine_mm: f64) -> Result<(Self, Frame), Refusal> {
        let (frame, cells) = Frame::around(photo, plane, fine_mm)?;
        let row = |j: f64| Row { first: frame.place(0.0, j), step: [frame.step_mm, 0.0] };
        Ok((Self::sample(photo, plane, frame.step_mm, cells, row), frame))
    }

    /// The same cells of a whole picture, a quarter turned: a seam that runs across is upright. [`Frame::turned`] says where
    /// they lie then.
    pub fn turned(self) -> Self {
        let (width, height) = (self.width, self.height);
        let turn = |plane: Vec<f32>| {
            let columns = |columns: Range<usize>, turned: &mut [f32]| {
                for from in columns.clone().step_by(TILE) {
                    for (j, row) in plane.chunks_exact(width).rev().enumerate() {
                        for i in from..(from + TILE).min(columns.end) {
                            turned[(i - columns.start) * height + j] = row[i];
                        }
                    }
                }
            };
            let mut turned = vec![0.0; plane.len()];
            let half = width / 2;
            let (left, right) = turned.split_at_mut(half * height);
            threads::both(|| columns(0..half, left), || columns(half..width, right));
            turned
        };
        // Plane by plane, each let go before the next is made.
        Self {
            step_mm: self.step_mm,
            width: height,
            height: width,
            value: self.value.map(turn),
            weight: turn(self.weight),
        }
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
        let mut half = Self::empty(2.0 * self.step_mm, [width, height]);
        for (j, i) in (0..height).flat_map(|j| (0..width).map(move |i| (j, i))) {
            let first = 2 * j * self.width + 2 * i;
            let four = [first, first + 1, first + self.width, first + self.width + 1];
            let seen = four.iter().map(|&at| self.weight[at]).sum::<f32>();
            if seen >= 2.0 {
                half.weight[j * width + i] = 1.0;
                for (half, whole) in half.value.iter_mut().zip(&self.value) {
                    half[j * width + i] = four.iter().map(|&at| whole[at] * self.weight[at]).sum::<f32>() / seen;
                }
            }
        }
        half
    }

    /// Nothing is seen yet.
    fn empty(step_mm: f64, [width, height]: [usize; 2]) -> Self {
        let plane = || vec![0.0; width * height];
        Self { step_mm, width, height, value: [plane(), plane(), plane()], weight: plane() }
    }

    /// Samples the nearest pixels, two by two to a cell where pixels are finer than cells.
    fn sample(photo: &Photo, plane: &Plane, step_mm: f64, cells: [usize; 2], row: impl Fn(f64) -> Row + Sync) -> Self {
        let pixels = Pixels::of(photo, plane, 0.5 * step_mm);
        let taps = ((step_mm / pixels.size_mm()).round() as usize).clamp(1, 2);
        let part = |k: usize| (k as f64 + 0.5) / taps as f64 - 0.5;
        let fill = |first: usize, planes: [&mut [f32]; 4]| {
            let mut sums = vec![[0.0f32; 4]; TILE * cells[0]];
            let [red, green, blue, weight] = planes.map(|plane| plane.chunks_mut(TILE * cells[0]));
            let tiles = red.zip(green).zip(blue).zip(weight);
            for (tile, (((red, green), blue), weight)) in tiles.enumerate() {
                let sums = &mut sums[..weight.len()];
                sums.fill([0.0; 4]);
                let rows = weight.len() / cells[0];
                let line = |tap: usize| pixels.line(&row((first + tile * TILE + tap / taps) as f64 + part(tap % taps)));
                let lines: Vec<Line> = (0..rows * taps).map(line).collect();
                // Across the rows too pixels lie side by side: what is near in the picture is read together.
                for from in (0..cells[0]).step_by(STRETCH) {
                    for (tap, line) in lines.iter().enumerate() {
                        let row = &mut sums[tap / taps * cells[0]..][..cells[0]];
                        pixels.add(line, taps, from, &mut row[from..(from + STRETCH).min(cells[0])]);
                    }
                }
                for (i, [r, g, b, count]) in sums.iter().enumerate() {
                    if count * 2.0 >= (taps * taps) as f32 {
                        (red[i], green[i], blue[i], weight[i]) = (r / count, g / count, b / count, 1.0);
                    }
                }
                for plane in [red, green, blue] {
                    light::tones(plane);
                }
            }
        };
        let mut raster = Self::empty(step_mm, cells);
        let half = cells[1] / 2;
        let [red, green, blue] = &mut raster.value;
        let parts = [red, green, blue, &mut raster.weight].map(|plane| plane.split_at_mut(half * cells[0]));
        let [(r, s), (g, h), (b, c), (w, x)] = parts;
        threads::both(|| fill(0, [r, g, b, w]), || fill(half, [s, h, c, x]));
        raster
    }
}
