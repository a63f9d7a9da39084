//! A symbol as a lens draws it: its modules, blurred, on a fine grid.

use super::pattern::Pattern;

/// Model samples along one module.
const FINE: usize = 8;
/// Model margin around the symbol, modules: part of the quiet zone.
const MARGIN: usize = 2;

/// The symbol's lightness (1 light, 0 dark) and what is not known of it, both blurred.
pub(super) struct Template {
    size: usize,
    value: Vec<f64>,
    unknown: Vec<f64>,
}

impl Template {
    pub(super) fn new(pattern: &Pattern, blur_modules: f64) -> Self {
        let modules = pattern.modules;
        let size = (modules + 2 * MARGIN) * FINE;
        let module = |fine: usize| (fine / FINE).checked_sub(MARGIN).filter(|&m| m < modules);
        let cell = |i: usize| match (module(i % size), module(i / size)) {
            (Some(x), Some(y)) => pattern.cells[y * modules + x],
            _ => Some(false),
        };
        let value = (0..size * size).map(|i| cell(i).map_or(0.5, |dark| f64::from(u8::from(!dark)))).collect();
        let unknown: Vec<f64> = (0..size * size).map(|i| f64::from(u8::from(cell(i).is_none()))).collect();
        let all_known = unknown.iter().all(|&u| u == 0.0);
        let unknown = if all_known { Vec::new() } else { blurred(unknown, size, blur_modules) };
        Self { size, value: blurred(value, size, blur_modules), unknown }
    }

    /// Value and gradient (per module) at symbol coordinates, modules.
    pub(super) fn at(&self, x: f64, y: f64) -> (f64, f64, f64) {
        let (i, j, fx, fy) = self.place(x, y);
        let v = |di: usize, dj: usize| self.value[(j + dj) * self.size + i + di];
        let (top, bottom) = (v(0, 0) + fx * (v(1, 0) - v(0, 0)), v(0, 1) + fx * (v(1, 1) - v(0, 1)));
        let gx = (1.0 - fy) * (v(1, 0) - v(0, 0)) + fy * (v(1, 1) - v(0, 1));
        (top + fy * (bottom - top), gx * FINE as f64, (bottom - top) * FINE as f64)
    }

    /// How much of what is seen at symbol coordinates is known, 0 to 1.
    pub(super) fn known(&self, x: f64, y: f64) -> f64 {
        if self.unknown.is_empty() {
            return 1.0;
        }
        let (i, j, _, _) = self.place(x, y);
        1.0 - self.unknown[j * self.size + i]
    }

    fn place(&self, x: f64, y: f64) -> (usize, usize, f64, f64) {
        let place = |m: f64| ((m + MARGIN as f64) * FINE as f64 - 0.5).clamp(0.0, (self.size - 2) as f64);
        let (fx, fy) = (place(x), place(y));
        (fx as usize, fy as usize, fx.fract(), fy.fract())
    }
}

/// Rows and columns of `size` values blurred by a Gaussian; the outermost values go on beyond the edge.
fn blurred(value: Vec<f64>, size: usize, blur_modules: f64) -> Vec<f64> {
    let sigma = blur_modules * FINE as f64;
    let reach = (3.0 * sigma).ceil() as usize;
    let kernel: Vec<f64> =
        (0..=2 * reach).map(|k| (-0.5 * ((k as f64 - reach as f64) / sigma).powi(2)).exp()).collect();
    let total: f64 = kernel.iter().sum();
    let add = |to: &mut [f64], weight: f64, from: &[f64]| {
        for (to, from) in to.iter_mut().zip(from) {
            *to += weight / total * from;
        }
    };
    let mut along = vec![0.0; value.len()];
    let mut line = vec![0.0; size + 2 * reach];
    for (to, from) in along.chunks_mut(size).zip(value.chunks(size)) {
        line[..reach].fill(from[0]);
        line[reach..reach + size].copy_from_slice(from);
        line[reach + size..].fill(from[size - 1]);
        for (k, weight) in kernel.iter().enumerate() {
            add(to, *weight, &line[k..k + size]);
        }
    }
    let mut both = vec![0.0; value.len()];
    for (row, to) in both.chunks_mut(size).enumerate() {
        for (k, weight) in kernel.iter().enumerate() {
            let from = (row + k).saturating_sub(reach).min(size - 1) * size;
            add(to, *weight, &along[from..from + size]);
        }
    }
    both
}
