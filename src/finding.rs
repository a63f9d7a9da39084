//! All that was measured and judged on one photograph: what the report speaks from.

use crate::digits::Unit;
use crate::lines::Lines;
use crate::offset::Offset;
use crate::photo::Photo;
use crate::problem::Note;
use crate::remedy::{Remedy, Stage};
use crate::scale::Plane;
use crate::seam::Seam;
use crate::verdict::Verdict;

/// Everything known about one seam from one photograph.
///
/// Lengths of [`Offset`] and [`Verdict::stretches`] are millimetres where [`Plane::is_metric`]; where it is not they are
/// repeats of the cloth, and no report may call them millimetres.
#[derive(Clone, Debug)]
pub struct Finding {
    /// The photograph's name and size.
    pub photo: PhotoFacts,
    /// The scale.
    pub plane: Plane,
    /// The seam.
    pub seam: Seam,
    /// The lines of each side.
    pub lines: Lines,
    /// The offset.
    pub offset: Offset,
    /// Share of each strip within the picture that was left out (pins, card, what is not cloth), 0 to 1, first side first.
    pub excluded_share: [f64; 2],
    /// The verdict.
    pub verdict: Verdict,
    /// The remedy.
    pub remedy: Remedy,
    /// How far the work has gone.
    pub stage: Stage,
    /// Doubts and remarks.
    pub notes: Vec<Note>,
}

impl Finding {
    /// What the lengths of this finding are told in: what the user asked for, or repeats of the cloth without a scale.
    pub fn unit(&self) -> Unit {
        if self.plane.is_metric() { self.verdict.unit } else { Unit::Repeat }
    }
}

/// Which photograph.
#[derive(Clone, Debug, serde::Serialize)]
pub struct PhotoFacts {
    /// The file as given, or `-`.
    pub file: String,
    /// Width of the upright picture.
    pub width_px: u32,
    /// Height of the upright picture.
    pub height_px: u32,
}

impl PhotoFacts {
    /// Of a photograph.
    pub fn of(photo: &Photo) -> Self {
        Self { file: photo.name.clone(), width_px: photo.width_px(), height_px: photo.height_px() }
    }
}
