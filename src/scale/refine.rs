//! Fits the card's homography to the picture itself: the known modules, blurred, against the pixels.
//!
//! Gauss-Newton on eight homography and four light parameters with robust weights, the model's blur chosen by the
//! residual. The QR reader is a detector; this is the measurement.

use super::detect::SeenCard;
use super::homography;
use crate::light;
use crate::photo::Photo;
use crate::smooth::spread;
use nalgebra::{Matrix3, SMatrix, SVector};

/// Model samples along one module.
const FINE: usize = 8;
/// Model margin around the symbol, modules: part of the quiet zone.
const MARGIN: usize = 2;
/// Width of the quiet zone that is fitted with the symbol, modules.
const FITTED_MARGIN: f64 = 0.8;
/// Samples of the picture along one module.
const SAMPLES: usize = 5;
const PARAMETERS: usize = 12;
/// Least scale of the robust weights, as a share of the light-dark difference.
const LEAST_SPREAD: f64 = 0.1;

/// The card's homography as fitted.
#[derive(Clone, Debug)]
pub struct FittedCard {
    /// Symbol coordinates in modules → picture pixels, last element 1.
    pub modules_to_px: Matrix3<f64>,
    /// Covariance of its first eight elements (row by row), correlation of neighbouring pixels allowed for.
    pub covariance: SMatrix<f64, 8, 8>,
    /// Root mean square of the residual, as a share of the symbol's light-dark difference.
    pub residual: f64,
}

/// Fits the homography; `None` when the picture does not show the modules well enough for a fit.
pub fn refine(photo: &Photo, card: &SeenCard) -> Option<FittedCard> {
    let mut h = card.modules_to_px;
    let mut dark = card.dark.clone();
    let mut fitted = None;
    for blur_modules in [0.6, 0.35] {
        let template = Template::new(&dark, card.modules, blur_modules);
        let fit = gauss_newton(photo, card.modules, &template, h, 12)?;
        h = fit.modules_to_px;
        fitted = Some(fit);
    }
    reread(photo, card.modules, &h, &mut dark);
    for blur_modules in [0.25, 0.18, 0.12, 0.06] {
        let template = Template::new(&dark, card.modules, blur_modules);
        let Some(fit) = gauss_newton(photo, card.modules, &template, h, 8) else { continue };
        if fitted.as_ref().is_none_or(|best: &FittedCard| fit.residual < best.residual) {
            h = fit.modules_to_px;
            fitted = Some(fit);
        }
    }
    fitted.filter(|fit| fit.residual < 0.25)
}

/// The symbol's lightness (1 light, 0 dark), blurred, on a fine grid.
struct Template {
    size: usize,
    value: Vec<f64>,
}

impl Template {
    fn new(dark: &[bool], modules: usize, blur_modules: f64) -> Self {
        let size = (modules + 2 * MARGIN) * FINE;
        let module = |fine: usize| (fine / FINE).checked_sub(MARGIN).filter(|&m| m < modules);
        let mut value: Vec<f64> = (0..size * size)
            .map(|i| match (module(i % size), module(i / size)) {
                (Some(x), Some(y)) if dark[y * modules + x] => 0.0,
                _ => 1.0,
            })
            .collect();
        let sigma = blur_modules * FINE as f64;
        let reach = (3.0 * sigma).ceil() as isize;
        let kernel: Vec<f64> = (-reach..=reach).map(|k| (-0.5 * (k as f64 / sigma).powi(2)).exp()).collect();
        let total: f64 = kernel.iter().sum();
        for (stride, across) in [(1, size), (size, 1)] {
            let source = value.clone();
            for line in 0..size {
                for k in 0..size {
                    let sum: f64 = kernel
                        .iter()
                        .zip(-reach..=reach)
                        .map(|(w, d)| {
                            let at = (k as isize + d).clamp(0, size as isize - 1) as usize;
                            w * source[line * across + at * stride]
                        })
                        .sum();
                    value[line * across + k * stride] = sum / total;
                }
            }
        }
        Self { size, value }
    }

    /// Value and gradient (per module) at symbol coordinates, modules.
    fn at(&self, x: f64, y: f64) -> (f64, f64, f64) {
        let place = |m: f64| ((m + MARGIN as f64) * FINE as f64 - 0.5).clamp(0.0, (self.size - 2) as f64);
        let (fx, fy) = (place(x), place(y));
        let (i, j) = (fx as usize, fy as usize);
        let (fx, fy) = (fx - i as f64, fy - j as f64);
        let v = |di: usize, dj: usize| self.value[(j + dj) * self.size + i + di];
        let (top, bottom) = (v(0, 0) + fx * (v(1, 0) - v(0, 0)), v(0, 1) + fx * (v(1, 1) - v(0, 1)));
        let gx = (1.0 - fy) * (v(1, 0) - v(0, 0)) + fy * (v(1, 1) - v(0, 1));
        (top + fy * (bottom - top), gx * FINE as f64, (bottom - top) * FINE as f64)
    }
}

fn gauss_newton(
    photo: &Photo,
    modules: usize,
    template: &Template,
    start: Matrix3<f64>,
    rounds: usize,
) -> Option<FittedCard> {
    let n = modules as f64;
    let per_side = ((n + 2.0 * FITTED_MARGIN) * SAMPLES as f64) as usize;
    let spacing = (n + 2.0 * FITTED_MARGIN) / per_side as f64;
    let place = |k: usize| -FITTED_MARGIN + (k as f64 + 0.5) * spacing;
    let mut h = start;
    // Light: offset, gain, slope along x, slope along y (per symbol side, around its middle).
    let mut photometric: Option<[f64; 4]> = None;
    let mut result = None;
    for _ in 0..rounds {
        let mut rows: Vec<(SVector<f64, PARAMETERS>, f64)> = Vec::with_capacity(per_side * per_side);
        let mut samples = Vec::with_capacity(per_side * per_side);
        for j in 0..per_side {
            for i in 0..per_side {
                let (mx, my) = (place(i), place(j));
                let p = homography::apply(&h, [mx, my]);
                let Some(rgb) = bilinear(photo, p[0], p[1]) else { continue };
                samples.push((mx, my, p, rgb, template.at(mx, my)));
            }
        }
        if samples.len() < per_side * per_side * 3 / 5 {
            return None;
        }
        let [offset, gain, sx, sy] = match photometric {
            Some(values) => values,
            None => first_light(&samples)?,
        };
        for &(mx, my, p, light, (value, gx, gy)) in &samples {
            let (cx, cy) = (mx / n - 0.5, my / n - 0.5);
            let shade = 1.0 + sx * cx + sy * cy;
            let residual = light - shade * (offset + gain * value);
            let jac = homography::jacobian(&h, [mx, my]).try_inverse()?;
            // Gradient of the model in picture pixels: modules per pixel times gradient per module.
            let (px, py) = (
                shade * gain * (gx * jac[(0, 0)] + gy * jac[(1, 0)]),
                shade * gain * (gx * jac[(0, 1)] + gy * jac[(1, 1)]),
            );
            let w = h[(2, 0)] * mx + h[(2, 1)] * my + 1.0;
            let (ux, uy) = (px / w, py / w);
            // The model moves with the symbol: residual falls by minus the gradient times the shift of the place.
            let base = offset + gain * value;
            let row = SVector::<f64, PARAMETERS>::from_column_slice(&[
                -ux * mx,
                -ux * my,
                -ux,
                -uy * mx,
                -uy * my,
                -uy,
                (ux * p[0] + uy * p[1]) * mx,
                (ux * p[0] + uy * p[1]) * my,
                shade,
                shade * value,
                cx * base,
                cy * base,
            ]);
            rows.push((row, residual));
        }
        // Most samples lie inside modules and fit anyway: their spread alone would throw out the edges, which measure.
        let scale = spread(rows.iter().map(|r| r.1))?.max(LEAST_SPREAD * gain).max(1e-6);
        let mut normal = SMatrix::<f64, PARAMETERS, PARAMETERS>::zeros();
        let mut right = SVector::<f64, PARAMETERS>::zeros();
        let (mut weight_sum, mut square_sum) = (0.0, 0.0);
        for (row, residual) in &rows {
            let weight = tukey(residual / scale);
            normal += weight * row * row.transpose();
            right += weight * residual * row;
            weight_sum += weight;
            square_sum += weight * residual * residual;
        }
        let inverse = normal.try_inverse()?;
        let step = inverse * right;
        for k in 0..8 {
            h[(k / 3, k % 3)] += step[k];
        }
        let light = [offset + step[8], gain + step[9], sx + step[10], sy + step[11]];
        photometric = Some(light);
        if !h.iter().all(|x| x.is_finite()) || light[1] <= 0.0 {
            return None;
        }
        let variance = square_sum / weight_sum.max(1.0);
        // Samples closer than a few pixels are not independent: count pixels of the blur's width, not samples.
        let px_per_module = homography::jacobian(&h, [n / 2.0, n / 2.0]).determinant().abs().sqrt();
        let spacing_px = px_per_module * spacing;
        let correlated = (3.0 / spacing_px).max(1.0).powi(2);
        result = Some(FittedCard {
            modules_to_px: h,
            covariance: inverse.fixed_view::<8, 8>(0, 0) * (variance * correlated),
            residual: variance.sqrt() / light[1],
        });
        let moved_px = [step[2], step[5], n * step[0], n * step[4]].iter().fold(0.0, |m: f64, x| m.max(x.abs()));
        if moved_px < 1e-3 {
            break;
        }
    }
    result
}

type Sample = (f64, f64, [f64; 2], f64, (f64, f64, f64));

/// Offset and gain by regression of the picture's light on the model.
fn first_light(samples: &[Sample]) -> Option<[f64; 4]> {
    let n = samples.len() as f64;
    let (ml, mv) = (samples.iter().map(|s| s.3).sum::<f64>() / n, samples.iter().map(|s| s.4.0).sum::<f64>() / n);
    let (mut cross, mut square) = (0.0, 0.0);
    for s in samples {
        cross += (s.3 - ml) * (s.4.0 - mv);
        square += (s.4.0 - mv).powi(2);
    }
    let gain = cross / square;
    (gain > 0.01).then_some([ml - gain * mv, gain, 0.0, 0.0])
}

/// Reads the modules again at their fitted places; the printed pattern as the picture shows it.
fn reread(photo: &Photo, modules: usize, h: &Matrix3<f64>, dark: &mut [bool]) {
    let light: Vec<Option<f64>> = (0..modules * modules)
        .map(|i| {
            let p = homography::apply(h, [(i % modules) as f64 + 0.5, (i / modules) as f64 + 0.5]);
            bilinear(photo, p[0], p[1])
        })
        .collect();
    let reach = 4isize;
    for i in 0..modules * modules {
        let Some(here) = light[i] else { continue };
        let (x, y) = ((i % modules) as isize, (i / modules) as isize);
        let (mut low, mut high) = (f64::MAX, f64::MIN);
        for yy in (y - reach).max(0)..(y + reach + 1).min(modules as isize) {
            for xx in (x - reach).max(0)..(x + reach + 1).min(modules as isize) {
                if let Some(value) = light[yy as usize * modules + xx as usize] {
                    low = low.min(value);
                    high = high.max(value);
                }
            }
        }
        dark[i] = here < 0.5 * (low + high);
    }
}

/// Luminance in linear light, bilinear: cheap, and the fit averages thousands of samples.
fn bilinear(photo: &Photo, x: f64, y: f64) -> Option<f64> {
    let (w, h) = (photo.pixels.width() as f64, photo.pixels.height() as f64);
    if !(x >= 0.0 && y >= 0.0 && x < w - 1.0 && y < h - 1.0) {
        return None;
    }
    let (i, j) = (x as u32, y as u32);
    let (fx, fy) = (x - f64::from(i), y - f64::from(j));
    let at = |di, dj| f64::from(light::luminance(photo.pixels.get_pixel(i + di, j + dj).0.map(light::linear)));
    Some((1.0 - fy) * ((1.0 - fx) * at(0, 0) + fx * at(1, 0)) + fy * ((1.0 - fx) * at(0, 1) + fx * at(1, 1)))
}

/// Tukey's biweight with the usual 4.685 (95 % efficient on normal noise).
fn tukey(z: f64) -> f64 {
    let t = 1.0 - (z / 4.685).powi(2);
    if t > 0.0 { t * t } else { 0.0 }
}
