//! The cloth as the finder sees it: logarithm of linear light on a grid, u down its rows, v along them.

use super::pixels::{Line, Pixels, STRETCH};
use crate::light;
use crate::photo::Photo;
use crate::scale::Plane;
use crate::seam::Seam;
use crate::threads;
use crate::units::MmPoint;

/// A raster is made so many rows at a time, that what is near in the picture stays near at hand.
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

/// A row of cells on the cloth: straight, at equal steps.
pub struct Row {
    /// The first cell's middle.
    pub first: MmPoint,
    /// From one cell to the next, x and y, millimetres.
    pub step: [f64; 2],
}

impl Raster {
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
