//! Each rib's slow difference from the template: light and drape that only this rib has.
//!
//! The difference is smoothed, not the rib, so that lines near the ends of the seam keep their shape. It is worked out at
//! fewer places and drawn straight between them.

use super::means::{Aligned, LANES, Lane};
use crate::smooth::{boxed, half_of};

/// The smooth's standard deviation is so many pools or more.
const POOLS: f64 = 12.0;

/// What takes the shade off ribs that are held against one template.
pub struct Shade {
    template: Vec<[Lane; 3]>,
    /// Samples that are taken together: 1, 2, 4, 8 or 16, which is [`LANES`].
    pool: usize,
    /// Half the width of each of the smooth's boxes, pools.
    half: usize,
    /// The pool before each sample, and how far the sample stands from its middle to the next one's.
    between: Vec<(usize, f32)>,
}

impl Shade {
    /// Against this template, smoothed with a standard deviation of so many samples.
    pub fn new(template: &[[f64; 3]], sigma_samples: f64) -> Self {
        let blocks = template.len().div_ceil(LANES);
        let lane = |block: usize, c: usize| -> Lane {
            std::array::from_fn(|i| template.get(block * LANES + i).map_or(0.0, |t| t[c] as f32))
        };
        let mut pool = LANES;
        while pool > 1 && POOLS * pool as f64 > sigma_samples {
            pool /= 2;
        }
        let pools = blocks * LANES / pool;
        // Pool j's middle is at sample (j + 1/2) · pool − 1/2.
        let place = |k: usize| {
            let place = ((k as f32 + 0.5) / pool as f32 - 0.5).clamp(0.0, pools.saturating_sub(1) as f32);
            let low = (place as usize).min(pools.saturating_sub(2));
            (low, place - low as f32)
        };
        Self {
            template: (0..blocks).map(|block| std::array::from_fn(|c| lane(block, c))).collect(),
            pool,
            half: half_of(sigma_samples / pool as f64),
            between: (0..blocks * LANES).map(place).collect(),
        }
    }

    /// Takes its shade off a rib.
    pub fn take_off(&self, rib: &mut Aligned) {
        let mut sums: Vec<[f64; 4]> = Vec::with_capacity(self.between.len() / self.pool);
        for ((tone, seen), template) in rib.tone.iter().zip(&rib.seen).zip(&self.template) {
            let mut apart = [[0.0; LANES]; 3];
            for c in 0..3 {
                for i in 0..LANES {
                    apart[c][i] = seen[i] * (tone[c][i] - template[c][i]);
                }
            }
            let sum = |of: &Lane, pool: usize| f64::from(of[pool..pool + self.pool].iter().sum::<f32>());
            let pools = (0..LANES).step_by(self.pool);
            sums.extend(pools.map(|k| [sum(&apart[0], k), sum(&apart[1], k), sum(&apart[2], k), sum(seen, k)]));
        }
        for _ in 0..3 {
            sums = boxed(&sums, self.half);
        }
        let mean = |[a, b, c, weight]: &[f64; 4]| {
            if *weight > 1e-9 { [a, b, c].map(|x| (x / weight) as f32) } else { [0.0; 3] }
        };
        let mut means: Vec<[f32; 3]> = sums.iter().map(mean).collect();
        means.extend(means.last().copied());
        for (tone, between) in rib.tone.iter_mut().zip(self.between.chunks_exact(LANES)) {
            for (i, &(low, share)) in between.iter().enumerate() {
                let (a, b) = (&means[low], &means[low + 1]);
                for c in 0..3 {
                    tone[c][i] -= a[c] + share * (b[c] - a[c]);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slow_change_is_taken_off_and_the_lines_stay() {
        let n = 1000;
        let template: Vec<[f64; 3]> = (0..n).map(|k| [0.3, 0.2, 0.1].map(|w| w * (k as f64 * 0.2).sin())).collect();
        for sigma in [5.0, 30.0, 90.0, 400.0] {
            let slow = |k: usize| 0.1 + 2e-4 * k as f64;
            let sample = |k: usize| {
                let seen = !(300..340).contains(&k);
                (template[k].map(|t| (t + slow(k)) as f32), f32::from(u8::from(seen)))
            };
            let mut rib = Aligned::new((0..n).map(sample));
            Shade::new(&template, sigma).take_off(&mut rib);
            // Away from the ends a straight change is what its own smooth is.
            let reach = (3.0 * sigma) as usize + 40;
            for k in (reach..n.saturating_sub(reach)).filter(|k| !(300..340).contains(k)) {
                let near_the_gap = (300 - reach.min(300)..340 + reach).contains(&k);
                let allowed = if near_the_gap { 2e-4 * 40.0 } else { 1e-5 };
                assert!((0..3).all(|c| (f64::from(rib.at(k).0[c]) - template[k][c]).abs() < allowed), "{sigma} {k}");
            }
        }
    }

    #[test]
    fn an_even_difference_is_taken_off_everywhere() {
        let template = vec![[0.0; 3]; 77];
        let mut rib = Aligned::new((0..77).map(|_| ([0.4, -0.1, 0.2], 1.0)));
        Shade::new(&template, 40.0).take_off(&mut rib);
        assert!((0..77).all(|k| rib.at(k).0.iter().all(|x| x.abs() < 1e-6)));
    }
}
