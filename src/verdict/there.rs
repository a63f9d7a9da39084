//! Whether a seam is there at all, where one was drawn.

use crate::digits::{self, Unit};
use crate::scale::Plane;
use crate::seam::drawn::{REACH_MM, towards};
use crate::seam::{Plainer, Seam};

/// Why it is doubted that there is a seam; `None` where it is not.
pub fn doubt(plane: &Plane, seam: &Seam, unit: Unit) -> Option<String> {
    let drawn = seam.drawn.as_ref().filter(|drawn| drawn.runs_on)?;
    let length = |mm: f64| digits::length(mm, unit);
    let within =
        if plane.is_metric() { format!("within {} of the drawing", length(REACH_MM)) } else { "at the drawing".into() };
    let plainer = match &drawn.plainer {
        None => String::new(),
        Some(Plainer { aside_mm: None, .. }) => "; a plainer seam runs across it".into(),
        Some(Plainer { aside_mm: Some(aside_mm), runs, .. }) => {
            let by = if plane.is_metric() { format!("{} ", length(aside_mm.abs())) } else { String::new() };
            format!("; a plainer seam runs {by}{}", towards(*runs, *aside_mm))
        }
    };
    Some(format!("no seam shows {within}, and the cloth seems to run on there{plainer}"))
}
