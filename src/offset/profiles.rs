//! What the two sides show along the seam, before and after they are laid on one another: what a person may look at.

use super::fit::Fit;
use super::means::LEAST_WEIGHT;
use crate::lines::Lines;

/// Both sides' profiles along the seam, in the channel in which the lines show most.
///
/// A value is relief: the natural logarithm of linear light with the shade taken off. `None` where the side is not seen.
#[derive(Clone, Debug, Default)]
pub struct Profiles {
    /// Distance between samples along the seam, in the unit of the offset; the first sample stands at its start.
    pub step_mm: f64,
    /// The channel: 0 red, 1 green, 2 blue.
    pub channel: usize,
    /// Each side's ribs carried to the seam along the side's slope, first side first.
    pub apart: [Vec<Option<f64>>; 2],
    /// The same as the fit lays them on one another: offset, slope and drape taken out.
    pub laid: [Vec<Option<f64>>; 2],
}

impl Profiles {
    /// From the lines of both sides and the means that the fit ended with.
    pub fn new(lines: &Lines, fit: &Fit) -> Self {
        let energy = |c: usize| fit.template.iter().map(|t| t[c] * t[c]).sum::<f64>();
        let channel = (1..3).fold(0, |best, c| if energy(c) > energy(best) { c } else { best });
        let apart = lines.sides.each_ref().map(|side| {
            let (value, weight) = side.runs.stack(&side.profiles, lines.step_mm);
            value.iter().zip(weight).map(|(v, w)| (w > 0.0).then_some(f64::from(v[channel]))).collect()
        });
        let laid = [0, 1].map(|side| {
            let seen = |weight: f64| weight >= LEAST_WEIGHT;
            fit.means.iter().map(|m| seen(m.weight[side]).then_some(m.side[side][channel])).collect()
        });
        Self { step_mm: lines.step_mm, channel, apart, laid }
    }
}
