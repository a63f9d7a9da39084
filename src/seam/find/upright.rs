//! What the finder keeps of the picture for one direction, and the likeliest places of a seam in it.

use super::candidates::{self, Candidate};
use super::creases::{self, Along};
use super::raster::{Frame, Raster};
use super::relief::Relief;
use super::{crease, jump};

/// What is kept of a raster in which a seam is upright: all of it takes much room.
pub struct Upright {
    /// Where the cells lie on the cloth.
    pub frame: Frame,
    /// Cells along v and u, and the distance between them, millimetres.
    pub size: [usize; 2],
    step_mm: f64,
    creases: Vec<Along>,
    /// The cells two by two.
    coarse: Raster,
}

impl Upright {
    /// Of a raster in which a seam is upright, which is let go.
    pub fn of(raster: Raster, frame: Frame) -> Self {
        let coarse = raster.halved();
        Self { frame, size: [raster.width, raster.height], step_mm: raster.step_mm, creases: creases(raster), coarse }
    }

    /// The same raster for seams that run down, and turned for those that run across.
    pub fn both_ways(raster: Raster, frame: Frame, turned_frame: Frame) -> (Self, Self) {
        let ([width, height], step_mm) = ([raster.width, raster.height], raster.step_mm);
        let down = creases::of(crease::of(&raster), [width, height], step_mm);
        let coarse = raster.halved();
        let across = creases(raster.turned());
        let turned = coarse.clone().turned();
        (
            Self { frame, size: [width, height], step_mm, creases: down, coarse },
            Self { frame: turned_frame, size: [height, width], step_mm, creases: across, coarse: turned },
        )
    }

    /// The likeliest places of a seam.
    pub fn candidates(self) -> Vec<Candidate> {
        let (relief, coarse_mm) = (Relief::of(&self.coarse), self.coarse.step_mm);
        drop(self.coarse);
        candidates::best(jump::of(&relief, coarse_mm), &self.creases, self.size, self.step_mm)
    }
}

/// The creases of a raster, which is let go.
fn creases(raster: Raster) -> Vec<Along> {
    let (size, step_mm, darkness) = ([raster.width, raster.height], raster.step_mm, crease::of(&raster));
    drop(raster);
    creases::of(darkness, size, step_mm)
}
