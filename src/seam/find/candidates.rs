//! Paths across the whole picture that may be a seam, by the jump and the crease along them.

use super::blocks::{leads, scores, sums};
use super::course::{Course, leans};
use super::creases::{Along, STRIDE};
use super::jump::{Jump, WINDOW_MM};

/// The jump is as wide as its windows: only every so many leans are tried for it, and no bow.
const JUMP_LEAN_STRIDE: i32 = 3;
/// Spreads below these are noise of the method, not of the cloth.
const LEAST_JUMP_SPREAD: f32 = 0.03;
const LEAST_GAP_SPREAD: f32 = 0.06;
/// Candidates kept, and how far apart they stand, millimetres.
const KEPT: usize = 8;
const APART_MM: f64 = 5.0;

/// A path and what speaks for it.
#[derive(Clone, Copy, Debug, Default)]
pub struct Candidate {
    /// Where it runs.
    pub course: Course,
    /// Mean score of the jump over the blocks, 0 to 6.
    pub jump: f32,
    /// Mean score of the crease over the blocks, 0 to 6.
    pub crease: f32,
    /// Mean score of the lines' absence between two sides that have them, over the blocks, 0 to 6.
    pub gap: f32,
    /// How much darker the crease is than the darkest parallel line elsewhere in the picture, logarithm of light.
    pub crease_lead: f32,
    /// How much wider the lines differ than anywhere else in the picture, as a share of their energy.
    pub jump_lead: f32,
}

impl Candidate {
    fn score(&self) -> f32 {
        self.jump.max(self.gap) + self.crease
    }
}

/// The best paths through a raster of these cells of `step_mm`, apart from each other, best first: from its creases, and from
/// the jumps for every half-gap on cells twice as large.
pub fn best(
    jumps: impl Iterator<Item = Jump>,
    creases: &[Along],
    [width, height]: [usize; 2],
    step_mm: f64,
) -> Vec<Candidate> {
    let coarse = [width / 2, height / 2];
    // For the jump: the mean score and the lead, at each of a few leans and every column.
    let jump_leans: Vec<i32> = leans().filter(|lean| lean % JUMP_LEAN_STRIDE == 0).collect();
    let mut jump_scores = vec![vec![(0.0f32, 0.0f32, 0.0f32); coarse[0]]; jump_leans.len()];
    for Jump { half_gap_mm, apart, energy, missing, seen } in jumps {
        let distance = ((2.0 * (WINDOW_MM + half_gap_mm) + 2.0) / step_mm).round() as usize / 2;
        for (&lean, best) in jump_leans.iter().zip(&mut jump_scores) {
            let course = Course::new(lean, 0.0, step_mm);
            let blocks = sums(coarse, 1, &course, [&apart, &energy, &seen]);
            let scored = scores(&blocks, LEAST_JUMP_SPREAD, distance).into_iter().zip(leads(&blocks, distance));
            for (slot, scored) in best.iter_mut().zip(scored) {
                if scored.0 > slot.0 {
                    (slot.0, slot.1) = scored;
                }
            }
            if missing.is_empty() {
                continue;
            }
            let blocks = sums(coarse, 1, &course, [&missing, &energy, &seen]);
            for (slot, score) in best.iter_mut().zip(scores(&blocks, LEAST_GAP_SPREAD, distance)) {
                slot.2 = slot.2.max(score);
            }
        }
    }
    // The best at each column.
    let mut all: Vec<Option<Candidate>> = vec![None; width.div_ceil(STRIDE)];
    for crease in creases {
        let nearest = jump_leans.iter().enumerate().min_by_key(|(_, l)| (*l - crease.lean).abs()).map_or(0, |(k, _)| k);
        for (k, best) in all.iter_mut().enumerate() {
            let x = k * STRIDE;
            let (jump, jump_lead, gap) = jump_scores[nearest].get(x / 2).copied().unwrap_or_default();
            let course = Course { column: x as f64, ..crease.course };
            let (crease, crease_lead) = (crease.scores[k], crease.leads[k]);
            let one = Candidate { course, jump, gap, crease, crease_lead, jump_lead };
            if best.is_none_or(|best: Candidate| one.score() > best.score()) {
                *best = Some(one);
            }
        }
    }
    let mut all: Vec<Candidate> = all.into_iter().flatten().collect();
    all.sort_by(|a, b| b.score().total_cmp(&a.score()));
    let apart = APART_MM / step_mm;
    let mut kept: Vec<Candidate> = Vec::new();
    for candidate in all {
        if kept.iter().all(|k| (k.course.column - candidate.course.column).abs() >= apart) {
            kept.push(candidate);
            if kept.len() == KEPT {
                break;
            }
        }
    }
    kept
}
