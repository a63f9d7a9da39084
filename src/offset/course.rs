//! Where the fit begins: the offset along the seam as the alignment of the two sides has it.
//!
//! The fit finds the nearest valley, and beyond a jump of more than half a line's width one offset everywhere leads to another
//! one; so it begins from the path on which the sides agree best ([`crate::signal::alignment`]), and from the same offset
//! everywhere too.

use crate::signal::alignment::Alignment;

/// A jump nearer than this to the ends of what is seen is not followed, millimetres: a single line would tell of it.
pub const END_MM: f64 = 10.0;
/// A change of this size, millimetres, is more than the fit finds by itself from the same offset everywhere.
const LEAST_CHANGE_MM: f64 = 0.4;

/// The offset along the seam as first seen.
#[derive(Clone, Debug)]
pub struct Course {
    step_mm: f64,
    offset_mm: Vec<f64>,
    first_mm: f64,
}

impl Course {
    /// The same offset everywhere, millimetres.
    pub fn constant(offset_mm: f64) -> Self {
        Self { step_mm: 1.0, offset_mm: vec![offset_mm], first_mm: offset_mm }
    }

    /// The path of an alignment; near to the ends of what is seen it keeps what it has further in.
    pub fn along(alignment: &Alignment) -> Self {
        let places = alignment.seen.len();
        let end = (END_MM / alignment.step_mm) as usize;
        let from = alignment.seen.iter().position(|&seen| seen).unwrap_or(0) + end;
        let to = alignment.seen.iter().rposition(|&seen| seen).unwrap_or(0).saturating_sub(end).max(from);
        let inner = |k: usize| alignment.lag_mm[k.clamp(from, to).min(places - 1)];
        Self { step_mm: alignment.step_mm, offset_mm: (0..places).map(inner).collect(), first_mm: alignment.whole_mm }
    }

    /// The one offset with which all of the seam agrees best, millimetres.
    pub fn first_mm(&self) -> f64 {
        self.first_mm
    }

    /// Whether the offset is not the same everywhere.
    pub fn changes(&self) -> bool {
        self.offset_mm.iter().any(|&x| (x - self.offset_mm[0]).abs() > LEAST_CHANGE_MM)
    }

    /// The offset at t, millimetres.
    pub fn at(&self, t_mm: f64) -> f64 {
        let place = (t_mm / self.step_mm).max(0.0) as usize;
        self.offset_mm[place.min(self.offset_mm.len() - 1)]
    }
}
