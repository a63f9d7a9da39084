//! A symbol's model, sampled, and its fit to the picture.
//!
//! Gauss-Newton on the eight elements of the homography, in turn with the light, which may differ from place to place
//! (a shadow's edge on the card). Two sorts of robust weights: a sample that fits badly counts less, and a module that
//! does not look as printed (covered, torn, blotted) drops out with its neighbours.

use super::homography;
use super::lit::Lit;
use super::paper::Paper;
use super::pattern::Pattern;
use super::refine::FittedCard;
use super::template::Template;
use crate::smooth::{biweight, biweight_cost, spread};
use crate::threads;
use nalgebra::{Matrix3, SMatrix, SVector};
use std::ops::Range;

/// Width of the quiet zone that is fitted with the symbol, modules.
const FITTED_MARGIN: f64 = 0.8;
/// Least scale of the robust weights, as a share of the light-dark difference.
const LEAST_SPREAD: f64 = 0.03;
/// A sample where the model changes by more than this share of the light-dark difference to a module lies on an edge.
const STEEP: f64 = 0.5;
/// And one where it changes by less says nothing of its place.
const EVEN: f64 = 0.03;
/// A dark module lighter than this share of the light-dark difference, or a light one as much darker, is not as printed.
const MISPRINTED: f64 = 0.68;
/// What holds the perspective while a rough start is turned and stretched into place.
const STIFFNESS: f64 = 1e6;
/// A round that moves a corner by more modules than this has lost its way.
const MOST_MOVED: f64 = 3.0;
/// A round that moves no corner by more pixels than this is the last; while the blur is still looked for, by more of a module.
const SETTLED_PX: f64 = 1e-3;
const NEAR_MODULES: f64 = 0.01;
/// Neighbouring pixels are not independent (demosaicing, sharpening, JPEG): this many along a line count as one.
const CORRELATED_PX: f64 = 3.0;
/// The same for the blur: this many of its standard deviations.
const CORRELATED_BLURS: f64 = 3.0;
/// A fit must rest on this share of the known modules.
pub(super) const LEAST_KEPT: f64 = 0.3;

/// How far a fit goes.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Until {
    /// To a hundredth of a module; `stiff` holds the perspective.
    Near { stiff: bool },
    /// Until nothing moves.
    Settled,
}

/// A place of the model where the picture is sampled.
struct Node {
    x: f64,
    y: f64,
    value: f64,
    gradient: [f64; 2],
    /// How much of it is known.
    known: f64,
    /// Column and row of its module, counted with one module of margin.
    module: usize,
}

/// The sampled model of a pattern at one blur.
pub(super) struct Model<'a> {
    pattern: &'a Pattern,
    nodes: Vec<Node>,
    spacing: f64,
    blur: f64,
}

/// A node's place and light in the picture.
struct Seen {
    p: [f64; 2],
    light: f64,
}

/// What the picture shows of the model at one homography.
struct View {
    seen: Vec<Option<Seen>>,
    /// Share of the light-dark difference by which the picture is lighter than the model.
    residuals: Vec<Option<f64>>,
    /// Scale of the robust weights.
    scale: f64,
    /// Light of the ink, as a share of the light-dark difference.
    ink: f64,
    /// Weighted mean square of the residuals.
    variance: f64,
}

/// A matrix of eight unknowns and its right side.
type Equations = (SMatrix<f64, 8, 8>, SVector<f64, 8>);

impl<'a> Model<'a> {
    /// Samples it, so many times along a module.
    pub(super) fn new(pattern: &'a Pattern, blur: f64, samples: usize) -> Self {
        let template = Template::new(pattern, blur);
        let n = pattern.modules as f64;
        let per_side = ((n + 2.0 * FITTED_MARGIN) * samples as f64) as usize;
        let spacing = (n + 2.0 * FITTED_MARGIN) / per_side as f64;
        let place = |k: usize| -FITTED_MARGIN + (k as f64 + 0.5) * spacing;
        let wide = pattern.modules + 2;
        let nodes = (0..per_side * per_side)
            .filter_map(|i| {
                let (x, y) = (place(i % per_side), place(i / per_side));
                let known = template.known(x, y).powi(2);
                let (value, gx, gy) = template.at(x, y);
                let module = ((y + 1.0) as usize) * wide + (x + 1.0) as usize;
                (known > 0.3).then_some(Node { x, y, value, gradient: [gx, gy], known, module })
            })
            .collect();
        Self { pattern, nodes, spacing, blur }
    }

    /// Gauss-Newton from `h` on the modules `kept`, by steps that lower the cost.
    ///
    /// The fit, and the modules that look as printed.
    pub(super) fn fit(
        &self,
        lit: &Lit,
        mut h: Matrix3<f64>,
        kept: &[bool],
        rounds: usize,
        until: Until,
    ) -> Option<(FittedCard, Vec<bool>)> {
        let stiff = until == Until::Near { stiff: true };
        let settled_px = if until == Until::Settled { SETTLED_PX } else { NEAR_MODULES * self.px_per_module(&h) };
        let kept = self.with_margin(kept);
        let mut view = self.view(lit, &h, &kept, 0.05)?;
        for _ in 0..rounds {
            let (normal, right) = self.equations(&h, &view, &kept, stiff)?;
            let step = normal.try_inverse()? * right;
            let better = [1.0, 0.4, 0.15].iter().find_map(|share| {
                let next =
                    Matrix3::from_fn(|i, j| h[(i, j)] + if (i, j) == (2, 2) { 0.0 } else { share * step[3 * i + j] });
                let moved_px = self.moved_px(&h, &next)?;
                let seen = self.view(lit, &next, &kept, view.ink)?;
                let lower = self.cost(&seen, &kept, view.scale) < self.cost(&view, &kept, view.scale);
                lower.then_some((next, seen, moved_px))
            });
            let Some((next, seen, moved_px)) = better else { break };
            (h, view) = (next, seen);
            if moved_px < settled_px {
                break;
            }
        }
        let (normal, _) = self.equations(&h, &view, &kept, stiff)?;
        let px_per_module = self.px_per_module(&h);
        // What the model gets wrong of the blur is the same over the blur's width.
        let alike_px = CORRELATED_PX.max(CORRELATED_BLURS * self.blur * px_per_module);
        let correlated = (alike_px / (px_per_module * self.spacing)).max(1.0).powi(2);
        // Judged in the light of all modules: what covers the card is then taken for paper in the shade, and the dark
        // modules that should lie there are missed.
        let all = vec![true; kept.len()];
        let judged =
            if kept == all { self.as_printed(&view) } else { self.as_printed(&self.view(lit, &h, &all, view.ink)?) };
        let known = self.pattern.cells.iter().flatten().count().max(1);
        let standing = judged.iter().zip(&self.pattern.cells).filter(|(kept, cell)| **kept && cell.is_some()).count();
        // A damaged card is less sure than its modules that stand: their neighbours are half covered or in its shadow.
        let share = standing as f64 / known as f64;
        let fit = FittedCard {
            modules_to_px: h,
            covariance: normal.try_inverse()? * (view.variance * correlated / share.max(0.1).powi(2)),
            residual: view.variance.sqrt(),
            kept: share,
        };
        Some((fit, judged))
    }

    fn px_per_module(&self, h: &Matrix3<f64>) -> f64 {
        let middle = self.pattern.modules as f64 / 2.0;
        homography::jacobian(h, [middle, middle]).determinant().abs().sqrt()
    }

    /// How far a step moves the symbol's corners at most; `None` where it has lost its way.
    fn moved_px(&self, from: &Matrix3<f64>, to: &Matrix3<f64>) -> Option<f64> {
        let n = self.pattern.modules as f64;
        let moved = [[0.0, 0.0], [n, 0.0], [n, n], [0.0, n]].map(|p| {
            let (a, b) = (homography::apply(from, p), homography::apply(to, p));
            (a[0] - b[0]).hypot(a[1] - b[1])
        });
        let most = moved.into_iter().fold(0.0, f64::max);
        (moved.iter().all(|m| m.is_finite()) && most < MOST_MOVED * self.px_per_module(from)).then_some(most)
    }

    /// What the picture shows at every node, against the model.
    fn view(&self, lit: &Lit, h: &Matrix3<f64>, kept: &[bool], ink: f64) -> Option<View> {
        let see = |node: &Node| {
            let p = homography::apply(h, [node.x, node.y]);
            Some(Seen { p, light: lit.at(p[0], p[1])? })
        };
        let seen: Vec<Option<Seen>> = threads::halves(&self.nodes, |nodes| nodes.iter().map(see).collect());
        if (seen.iter().flatten().count() as f64) < LEAST_KEPT * self.nodes.len() as f64 {
            return None;
        }
        let paper = self.paper(&seen, kept, ink)?;
        let (mut above, mut below) = (0.0, 0.0);
        let mut residuals = Vec::with_capacity(self.nodes.len());
        for (node, seen) in self.nodes.iter().zip(&seen) {
            residuals.push(seen.as_ref().map(|seen| {
                let tone = seen.light / paper.at(node.x, node.y);
                let weight = node.known * f64::from(u8::from(kept[node.module]));
                above += weight * (tone - node.value);
                below += weight;
                tone - ink - node.value
            }));
        }
        let measured = |k: usize| residuals[k].filter(|_| kept[self.nodes[k].module]);
        // Most samples lie inside modules and fit anyway; the edges, which measure, have a spread of their own.
        let steep = |k: &usize| self.nodes[*k].gradient.iter().any(|g| g.abs() > STEEP);
        let scale = spread((0..self.nodes.len()).filter(steep).filter_map(measured))?.max(LEAST_SPREAD);
        let (mut weights, mut squares) = (0.0, 0.0);
        for (k, node) in self.nodes.iter().enumerate() {
            let Some(residual) = measured(k) else { continue };
            let weight = node.known * biweight((residual / scale).powi(2));
            weights += weight;
            squares += weight * residual * residual;
        }
        Some(View {
            seen,
            residuals,
            scale,
            ink: (above / f64::max(below, 1e-9)).clamp(0.0, 1.0),
            variance: squares / f64::max(weights, 1e-9),
        })
    }

    /// What the step is to lower: Tukey's cost of the residuals at one scale, the mean over what is seen and kept.
    fn cost(&self, view: &View, kept: &[bool], scale: f64) -> f64 {
        let (mut cost, mut all) = (0.0, 0.0);
        for (node, residual) in self.nodes.iter().zip(&view.residuals) {
            if let Some(residual) = residual.filter(|_| kept[node.module]) {
                cost += node.known * biweight_cost((residual / scale).powi(2));
                all += node.known;
            }
        }
        cost / f64::max(all, 1e-9)
    }

    /// Normal equations of one step.
    fn equations(&self, h: &Matrix3<f64>, view: &View, kept: &[bool], stiff: bool) -> Option<Equations> {
        let half = self.nodes.len() / 2;
        let (one, other) = threads::both(
            || self.equations_of(0..half, h, view, kept),
            || self.equations_of(half..self.nodes.len(), h, view, kept),
        );
        let ((normal, right), (others, more)) = (one?, other?);
        let mut normal = normal + others;
        normal.fill_upper_triangle_with_lower_triangle();
        if stiff {
            (6..8).for_each(|k| normal[(k, k)] *= STIFFNESS);
        }
        Some((normal, right + more))
    }

    /// What these nodes add to them; of the matrix, the lower triangle.
    fn equations_of(&self, nodes: Range<usize>, h: &Matrix3<f64>, view: &View, kept: &[bool]) -> Option<Equations> {
        let mut normal = SMatrix::<f64, 8, 8>::zeros();
        let mut right = SVector::<f64, 8>::zeros();
        for k in nodes {
            let node = &self.nodes[k];
            let (Some(seen), Some(residual), true) = (&view.seen[k], view.residuals[k], kept[node.module]) else {
                continue;
            };
            let weight = node.known * biweight((residual / view.scale).powi(2));
            if weight == 0.0 || node.gradient[0].abs() + node.gradient[1].abs() < EVEN {
                continue;
            }
            let row = homography::sensitivity(h, [node.x, node.y], seen.p, node.gradient)?;
            for j in 0..8 {
                let share = weight * row[j];
                for i in j..8 {
                    normal[(i, j)] += share * row[i];
                }
                right[j] += share * residual;
            }
        }
        Some((normal, right))
    }

    /// Flags of the modules, with one module of margin around them that is always kept.
    fn with_margin(&self, flags: &[bool]) -> Vec<bool> {
        let (n, wide) = (self.pattern.modules, self.pattern.modules + 2);
        let inner = |k: usize| k.checked_sub(1).filter(|&k| k < n);
        (0..wide * wide)
            .map(|i| match (inner(i % wide), inner(i / wide)) {
                (Some(x), Some(y)) => flags[y * n + x],
                // A margin beside a covered module is likely covered too.
                _ => flags[((i / wide).clamp(1, n) - 1) * n + (i % wide).clamp(1, n) - 1],
            })
            .collect()
    }

    /// The light on the paper around each module.
    fn paper(&self, seen: &[Option<Seen>], kept: &[bool], ink: f64) -> Option<Paper> {
        let wide = self.pattern.modules + 2;
        let mut sums = vec![[0.0f64; 2]; wide * wide];
        for (node, seen) in self.nodes.iter().zip(seen) {
            let (Some(seen), true) = (seen, kept[node.module]) else { continue };
            let tone = ink + node.value;
            sums[node.module][0] += node.known * seen.light * tone;
            sums[node.module][1] += node.known * tone * tone;
        }
        Paper::new(wide, &sums)
    }

    /// The modules that are as light or as dark as printed, those beside others left out.
    fn as_printed(&self, view: &View) -> Vec<bool> {
        let (n, wide) = (self.pattern.modules, self.pattern.modules + 2);
        let mut sums = vec![[0.0f64; 2]; wide * wide];
        for (node, residual) in self.nodes.iter().zip(&view.residuals) {
            let off = |m: f64| (m - m.floor() - 0.5).abs();
            if let Some(residual) = residual.filter(|_| off(node.x).max(off(node.y)) < 0.31) {
                let sum = &mut sums[node.module];
                *sum = [sum[0] + residual + node.value, sum[1] + 1.0];
            }
        }
        let good = |x: usize, y: usize| {
            let [tone, count] = sums[y * wide + x];
            let cell = (x.checked_sub(1).filter(|&x| x < n)).zip(y.checked_sub(1).filter(|&y| y < n));
            match cell.map_or(Some(false), |(x, y)| self.pattern.cells[y * n + x]) {
                Some(_) if count == 0.0 => false,
                Some(true) => tone / count < MISPRINTED,
                Some(false) => tone / count > 1.0 - MISPRINTED,
                None => true,
            }
        };
        (0..n * n)
            .map(|i| {
                let (x, y) = (i % n + 1, i / n + 1);
                // The margin is sampled in part only.
                let beside = |x: usize, y: usize| x == 0 || y == 0 || x > n || y > n || good(x, y);
                (y - 1..=y + 1).all(|j| (x - 1..=x + 1).all(|i| beside(i, j)))
            })
            .collect()
    }
}
