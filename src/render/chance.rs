//! Chance that belongs to a place: the same index and salt always give the same number, whatever is asked before it.

/// A number in [−1, 1) that belongs to the pair of indices and the salt.
#[inline]
pub(super) fn at(a: i32, b: i32, salt: u32) -> f32 {
    let mut h = salt ^ (a as u32).wrapping_mul(0x9E37_79B1) ^ (b as u32).wrapping_mul(0x85EB_CA77).rotate_left(13);
    h ^= h >> 16;
    h = h.wrapping_mul(0x7FEB_352D);
    h ^= h >> 15;
    h = h.wrapping_mul(0x846C_A68B);
    h ^= h >> 16;
    h as i32 as f32 * (1.0 / 2_147_483_648.0)
}

/// The largest whole number not above x; unlike `f32::floor` it is no call on a plain x86-64.
#[inline]
pub(super) fn whole(x: f32) -> i32 {
    let k = x as i32;
    k - i32::from(k as f32 > x)
}

/// A number in [−1, 1) that changes smoothly along x, one independent value for each whole x of each row.
#[inline]
pub(super) fn along(x: f32, row: i32, salt: u32) -> f32 {
    let k = whole(x);
    let f = x - k as f32;
    let s = f * f * (3.0 - 2.0 * f);
    let (a, b) = (at(k, row, salt), at(k.wrapping_add(1), row, salt));
    a + s * (b - a)
}

/// A number in [−1, 1) that changes smoothly over the plane, one independent value for each whole (x, y).
pub(super) fn over(x: f32, y: f32, salt: u32) -> f32 {
    let k = whole(y);
    let f = y - k as f32;
    let s = f * f * (3.0 - 2.0 * f);
    let (a, b) = (along(x, k, salt), along(x, k.wrapping_add(1), salt));
    a + s * (b - a)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_centred_spread_and_repeatable() {
        let values: Vec<f32> = (0..10_000).map(|k| at(k % 100, k / 100, 7)).collect();
        let mean = values.iter().sum::<f32>() / 10_000.0;
        let variance = values.iter().map(|x| x * x).sum::<f32>() / 10_000.0;
        // A uniform law on [−1, 1): mean 0, variance 1/3; four standard errors of 10 000 draws.
        assert!(mean.abs() < 0.024, "mean {mean}");
        assert!((variance - 1.0 / 3.0).abs() < 0.012, "variance {variance}");
        assert_eq!(at(3, 4, 5), at(3, 4, 5));
        assert_ne!(at(3, 4, 5), at(4, 3, 5));
    }

    #[test]
    fn whole_numbers_are_below() {
        assert_eq!([-2.0, -1.5, -0.1, 0.0, 0.9, 3.0].map(whole), [-2, -2, -1, 0, 0, 3]);
    }

    #[test]
    fn smooth_noise_has_no_jump_at_a_whole_number() {
        for k in -3..4 {
            let (a, b) = (over(k as f32 - 1e-4, 0.3, 9), over(k as f32 + 1e-4, 0.3, 9));
            assert!((a - b).abs() < 1e-3);
        }
    }
}
