//! The light on the paper of a card, which may differ from place to place: a shadow's edge may lie on it.

/// Reach of the windows in which the light is taken as even, modules.
const REACH: usize = 2;
/// The darkest shadow that is believed, as a share of the mean light.
const DARKEST: f64 = 0.05;

/// The light at each module of a symbol, one module of margin included.
pub(super) struct Paper {
    wide: usize,
    at_module: Vec<f64>,
}

impl Paper {
    /// From each module's sums of light times tone and of tone squared; `wide` modules to a row.
    ///
    /// `None` where there is no light to speak of.
    pub(super) fn new(wide: usize, sums: &[[f64; 2]]) -> Option<Self> {
        let all = sums.iter().fold([0.0f64; 2], |a, b| [a[0] + b[0], a[1] + b[1]]);
        let mean = all[0] / all[1];
        if mean.is_nan() || mean <= 0.005 {
            return None;
        }
        let windowed = |x: usize, y: usize| {
            let span = |k: usize| k.saturating_sub(REACH)..(k + REACH + 1).min(wide);
            let mut sum = [0.0f64; 2];
            for row in span(y) {
                for s in &sums[row * wide..(row + 1) * wide][span(x)] {
                    sum = [sum[0] + s[0], sum[1] + s[1]];
                }
            }
            // Where little is known, the mean of all speaks too.
            ((sum[0] + mean) / (sum[1] + 1.0)).max(DARKEST * mean)
        };
        Some(Self { wide, at_module: (0..wide * wide).map(|i| windowed(i % wide, i / wide)).collect() })
    }

    /// The light at symbol coordinates, modules.
    pub(super) fn at(&self, x: f64, y: f64) -> f64 {
        let place = |m: f64| (m + 0.5).clamp(0.0, (self.wide - 1) as f64 - 1e-9);
        let (fx, fy) = (place(x), place(y));
        let (i, j) = (fx as usize, fy as usize);
        let (fx, fy) = (fx - i as f64, fy - j as f64);
        let v = |di: usize, dj: usize| self.at_module[(j + dj) * self.wide + i + di];
        (1.0 - fy) * ((1.0 - fx) * v(0, 0) + fx * v(1, 0)) + fy * ((1.0 - fx) * v(0, 1) + fx * v(1, 1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shadow_over_half_of_the_card_is_followed() {
        // 27 modules to a row; the right half in a shadow of 0.3; every tone 1, ten samples to a module.
        let sums: Vec<[f64; 2]> = (0..27 * 27).map(|i| [10.0 * if i % 27 < 13 { 0.8 } else { 0.24 }, 10.0]).collect();
        let paper = Paper::new(27, &sums).unwrap();
        assert!((paper.at(3.0, 12.0) - 0.8).abs() < 0.01 && (paper.at(20.0, 12.0) - 0.24).abs() < 0.01);
        assert!((0.3..0.75).contains(&paper.at(12.0, 12.0)));
        assert!(
            Paper::new(27, &vec![[0.0, 10.0]; 27 * 27]).is_none() && Paper::new(27, &vec![[0.0; 2]; 27 * 27]).is_none()
        );
    }
}
