//! How likely each place of the picture lies on a seam, by a small convolutional network.
//!
//! The network was trained on drawn cloth alone, never on a photograph (`tests/seamnet`). It sees the whole picture at 640 pixels,
//! and tells the seams that run down from those that run across.

use crate::conventions::Runs;
use crate::light;
use crate::photo::Photo;
use crate::scale::Plane;
use crate::units::PxPoint;
use image::imageops::{self, FilterType};
use image::{ImageBuffer, Rgb};
use rten::{Model, ModelOptions, OpRegistry, op_types};
use rten_tensor::NdTensor;
use rten_tensor::prelude::*;
use std::sync::LazyLock;

/// Picture (1 × 3 × height × width, sRGB 0 to 1, sides that 32 divides) → probabilities (1 × 2 × height/2 × width/2): of a seam that
/// runs down, and of one that runs across.
static NETWORK: LazyLock<Model> = LazyLock::new(|| {
    // Those that it uses: all of them are six megabytes of program.
    let used = OpRegistry::with_ops(&[
        &op_types::Add,
        &op_types::Cast,
        &op_types::Concat,
        &op_types::Conv,
        &op_types::Relu,
        &op_types::Resize,
        &op_types::Sigmoid,
        &op_types::Sub,
    ]);
    let options = ModelOptions::with_ops(used);
    options.load_static_slice(include_bytes!("seamnet.onnx")).expect("the network that is compiled in is whole")
});
/// The longer side of the picture that the network sees, pixels, and what divides both.
const LONGER_PX: f64 = 640.0;
const DIVISOR: f64 = 32.0;
const LEAST_PX: u32 = 64;

/// The probability of a seam of one direction, cell by cell.
#[derive(Clone, Debug)]
pub struct SeamMap {
    /// How the seams run: rows follow one another along u.
    pub runs: Runs,
    /// Cells of a row, across the seams.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Row by row, 0 to 1; 0 under a card.
    pub probability: Vec<f32>,
    /// Pixels of the photograph to a cell along x and y.
    cell_px: [f64; 2],
}

/// The maps of a photograph: of seams that run down, and of those that run across.
pub fn of(photo: &Photo, plane: &Plane) -> [SeamMap; 2] {
    let (seen, seen_px) = seen(photo);
    let [width, height] = [seen.width(), seen.height()].map(|px| px as usize);
    let raw = seen.as_raw();
    let picture = NdTensor::from_fn([1, 3, height, width], |[_, c, y, x]| raw[3 * (y * width + x) + c]);
    let told: NdTensor<f32, 4> = (NETWORK.run_one(picture.view().into(), None).ok())
        .and_then(|told| told.try_into().ok())
        .expect("the network takes any picture of such sides");
    let [_, _, rows, columns] = told.shape();
    let cell_px = [seen_px[0] / columns as f64, seen_px[1] / rows as f64];
    let covered = plane.covered();
    [Runs::Down, Runs::Across].map(|runs| {
        let (width, height, channel) = match runs {
            Runs::Down => (columns, rows, 0),
            Runs::Across => (rows, columns, 1),
        };
        let mut map = SeamMap { runs, width, height, probability: Vec::with_capacity(width * height), cell_px };
        for (j, i) in (0..height).flat_map(|j| (0..width).map(move |i| (j, i))) {
            let [y, x] = match runs {
                Runs::Down => [j, i],
                Runs::Across => [i, j],
            };
            let hidden = covered.holds(map.place(i as f64, j as f64));
            map.probability.push(if hidden { 0.0 } else { told[[0, channel, y, x]] });
        }
        map
    })
}

impl SeamMap {
    /// One of a picture of as many pixels.
    #[cfg(test)]
    pub fn drawn(width: usize, height: usize, probability: Vec<f32>) -> Self {
        Self { runs: Runs::Down, width, height, probability, cell_px: [1.0; 2] }
    }

    /// The photograph's point at fractional cell (i along a row, j along u).
    pub fn place(&self, i: f64, j: f64) -> PxPoint {
        let (x, y) = match self.runs {
            Runs::Down => (i, j),
            Runs::Across => (j, i),
        };
        PxPoint::new((x + 0.5) * self.cell_px[0] - 0.5, (y + 0.5) * self.cell_px[1] - 0.5)
    }

    /// The fractional cell (i along a row, j along u) at a point of the photograph.
    pub fn cell(&self, p: PxPoint) -> [f64; 2] {
        let (x, y) = ((p.x + 0.5) / self.cell_px[0] - 0.5, (p.y + 0.5) / self.cell_px[1] - 0.5);
        match self.runs {
            Runs::Down => [x, y],
            Runs::Across => [y, x],
        }
    }

    /// The probability at a point of the photograph, between cells linearly; 0 outside.
    pub fn at(&self, p: PxPoint) -> f32 {
        let [i, j] = self.cell(p);
        let (x, y) = (i.floor(), j.floor());
        if !(x >= 0.0 && y >= 0.0 && x + 1.0 < self.width as f64 && y + 1.0 < self.height as f64) {
            return 0.0;
        }
        let (f, g) = ((i - x) as f32, (j - y) as f32);
        let first = y as usize * self.width + x as usize;
        let row = |at: usize| self.probability[at] + f * (self.probability[at + 1] - self.probability[at]);
        row(first) + g * (row(first + self.width) - row(first))
    }

    /// Pixels of the photograph to a cell, across the seams.
    pub fn across_px(&self) -> f64 {
        match self.runs {
            Runs::Down => self.cell_px[0],
            Runs::Across => self.cell_px[1],
        }
    }
}

/// The picture as the network sees it: means of linear light, as sRGB values 0 to 1; and how much of the photograph it is, pixels
/// along x and y.
fn seen(photo: &Photo) -> (ImageBuffer<Rgb<f32>, Vec<f32>>, [f64; 2]) {
    let size = [photo.width_px(), photo.height_px()].map(f64::from);
    let smaller = LONGER_PX / size[0].max(size[1]);
    let [width, height] = size.map(|px| (((px * smaller / DIVISOR).round() * DIVISOR) as u32).max(LEAST_PX));
    let light = photo.light(1.0 / smaller);
    let ([columns, rows], block) = (light.size(), light.block() as f64);
    let whole = ImageBuffer::from_fn(columns as u32, rows as u32, |x, y| {
        let middle = |pixel: u32| (f64::from(pixel) + 0.5) * block - 0.5;
        Rgb(light.nearest(middle(x), middle(y)).unwrap_or_default())
    });
    let mut seen = imageops::resize(&whole, width, height, FilterType::Triangle);
    for value in seen.iter_mut() {
        *value = light::encode(f64::from(*value)) as f32;
    }
    (seen, [columns as f64 * block, rows as f64 * block])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::{self, Limits};
    use crate::scale::{self, ScaleRequest};
    use std::path::Path;

    /// What onnxruntime 1.32 makes of the same weights and the same picture of this fixture, in five rows the column and the probability of
    /// the ridge: a change of runtime or of weights is seen.
    #[test]
    fn the_network_says_what_another_runtime_says() {
        const RIDGE: [(usize, usize, f32); 5] = [
            (20, 104, 0.963962),
            (90, 105, 0.972702),
            (160, 105, 0.962744),
            (230, 105, 0.965483),
            (300, 105, 0.972168),
        ];
        let photo = photo::read(Path::new("fixtures/flat-01.jpg"), &Limits::default()).expect("a fixture");
        let plane = scale::read(&photo, &ScaleRequest::default()).expect("its card");
        let [down, across] = of(&photo, &plane);
        assert_eq!([down.width, down.height, across.width, across.height], [240, 320, 320, 240]);
        for (j, column, probability) in RIDGE {
            let row = &down.probability[j * down.width..][..down.width];
            let (at, highest) = row.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).expect("cells");
            assert!(at == column && (highest - probability).abs() < 1e-4, "row {j}: {highest} at {at}");
        }
        // The seam stands there, and nothing shows under the card.
        let p = down.place(105.0, 160.0);
        assert!((p.x - 395.0).abs() < 3.0 && (p.y - 601.0).abs() < 2.0, "{p:?}");
        let hidden = |map: &SeamMap, p: f32, k: usize| {
            p == 0.0 || !plane.covered().holds(map.place((k % map.width) as f64, (k / map.width) as f64))
        };
        assert!([&down, &across].iter().all(|map| map.probability.iter().enumerate().all(|(k, &p)| hidden(map, p, k))));
    }
}
