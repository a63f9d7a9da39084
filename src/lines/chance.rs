//! The chance that what a side's ribs show is noise: by the spectrum of their mean, and by how far two halves of them agree.

use super::relief::Profile;
use super::repeat::power;
use super::slope;
use crate::signal::Signal;
use statrs::distribution::{ContinuousCDF, FisherSnedecor};

/// The chance, 0 to 1, that noise alone would show what ribs do, which were laid along the course on which they agree
/// best: `laid` stacks some of them so, and `whole` is the stack of all.
///
/// A stripe stands out in its spectrum. A broad check, or a few lines of which none returns, spread over all of it, and
/// are told by both halves of the ribs, in their order, showing them.
pub fn of_noise(whole: &Signal, ribs: &[Profile], laid: impl Fn(&[Profile]) -> Signal, step_mm: f64) -> f64 {
    let (some, rest) = ribs.split_at(ribs.len() / 2);
    let middle_mm = |half: &[Profile]| half.iter().map(|rib| rib.v_mm).sum::<f64>() / half.len().max(1) as f64;
    let carried = 2.0 * slope::STEEPEST * (middle_mm(rest) - middle_mm(some)).abs() / step_mm;
    of_either(whole, [&laid(some), &laid(rest)], carried)
}

/// Of two tests the better: of the whole, and of its halves.
fn of_either(whole: &Signal, halves: [&Signal; 2], carried: f64) -> f64 {
    (2.0 * of_spectrum(&whole.0, &whole.1).min(of_halves(halves, carried))).min(1.0)
}

/// The chance that the strongest line of a spectrum of white noise is as strong as the one seen.
///
/// # Source
/// R. A. Fisher, Tests of significance in harmonic analysis (1929): P(g > x) ≈ m (1 − x)^(m − 1), g the share of the
/// strongest of m ordinates (from memory).
fn of_spectrum(value: &[[f32; 3]], weight: &[f32]) -> f64 {
    let ordinates = ordinates(value, weight);
    let m = ordinates.len() as f64;
    let total: f64 = ordinates.iter().sum();
    if m < 4.0 || total <= 0.0 {
        return 1.0;
    }
    let share = ordinates.iter().copied().fold(0.0, f64::max) / total;
    (m * (1.0 - share).powf(m - 1.0)).min(1.0)
}

/// The chance that two stacks of noise, alike but independent, agree as well as these when they are carried against one
/// another, over `carried` samples, to where they agree best.
///
/// At one place the power of their sum and of their difference is distributed alike, and the ratio of the two as F. Each
/// has twice as many degrees of freedom as its spectrum has ordinates, fewer where these differ (Welch and
/// Satterthwaite's rule, from memory). Noise that is carried by the length of a degree of freedom is another noise, and
/// the best of what it passes through on the way counts as four places (a count that the tests bear out).
fn of_halves([nearer, further]: [&Signal; 2], carried: f64) -> f64 {
    let seen: Vec<f32> =
        nearer.1.iter().zip(&further.1).map(|(a, b)| if *a > 0.0 && *b > 0.0 { 1.0 } else { 0.0 }).collect();
    let with = |sign: f32| -> Vec<f64> {
        let pairs = nearer.0.iter().zip(&further.0);
        let value: Vec<[f32; 3]> = pairs.map(|(a, b)| std::array::from_fn(|c| a[c] + sign * b[c])).collect();
        ordinates(&value, &seen)
    };
    let (same, apart) = (with(1.0), with(-1.0));
    let sum = |powers: &[f64]| powers.iter().sum::<f64>();
    // Of a noise's ordinates the squares are, in the mean, twice the square of the mean. Zeros beside what is seen add
    // ordinates and no freedom.
    let samples = f64::from(seen.iter().sum::<f32>());
    let independent = (samples / (8 * apart.len()).max(1) as f64).min(1.0);
    let freedom = 4.0 * independent * sum(&apart).powi(2) / apart.iter().map(|p| p * p).sum::<f64>();
    match FisherSnedecor::new(freedom, freedom) {
        Ok(ratio) => (1.0 + 2.0 * freedom * carried / samples) * ratio.sf(sum(&same) / sum(&apart)),
        Err(_) => 1.0,
    }
}

/// The ordinates of a spectrum where lines can live, up to an eighth of the sampling rate.
fn ordinates(value: &[[f32; 3]], weight: &[f32]) -> Vec<f64> {
    let power = power(value, weight);
    power.iter().take(power.len() / 4).skip(1).copied().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::ChaCha8Rng;
    use rand_chacha::rand_core::{Rng, SeedableRng};

    const SAMPLES: usize = 700;

    /// A stack of noise of which neighbouring samples are alike over `alike` of them, on top of lines.
    fn stack(rng: &mut ChaCha8Rng, alike: usize, lines: impl Fn(usize) -> f32) -> Signal {
        let raw: Vec<f32> = (0..SAMPLES + alike).map(|_| rng.next_u32() as f32 / u32::MAX as f32 * 2.0 - 1.0).collect();
        let value = (0..SAMPLES).map(|k| [raw[k..k + alike].iter().sum::<f32>() / alike as f32 + lines(k); 3]);
        (value.collect(), vec![1.0; SAMPLES])
    }

    /// Lines of a broad check, none of which returns within what is seen.
    fn check(k: usize) -> f32 {
        let lines = [37, 61, 115, 150, 158, 243, 262, 331, 402, 470, 505, 519, 611, 660];
        if lines.iter().any(|line| (*line..line + 5).contains(&k)) { 1.0 } else { 0.0 }
    }

    #[test]
    fn halves_of_noise_agree_as_often_as_is_said() {
        let mut rng = ChaCha8Rng::seed_from_u64(41);
        for alike in [1, 5, 20] {
            let pair = |_| of_halves([(); 2].map(|()| stack(&mut rng, alike, |_| 0.0)).each_ref(), 0.0);
            let chances: Vec<f64> = (0..600).map(pair).collect();
            for (least, range) in [(0.5, 0.42..0.58), (0.1, 0.06..0.14), (0.01, 0.0..0.025)] {
                let share = chances.iter().filter(|&&c| c < least).count() as f64 / 600.0;
                assert!(range.contains(&share), "{alike}: {share} of the chances are below {least}");
            }
        }
    }

    #[test]
    fn halves_carried_to_where_they_agree_best_agree_no_oftener_than_is_said() {
        let mut rng = ChaCha8Rng::seed_from_u64(44);
        for alike in [3, 12] {
            let best = |_| {
                let [nearer, further] = [(); 2].map(|()| stack(&mut rng, alike, |_| 0.0));
                let carried = |by: usize| -> Signal {
                    let value = (0..SAMPLES).map(|k| further.0[(k + by) % SAMPLES]).collect();
                    (value, further.1.clone())
                };
                (0..60).map(|by| of_halves([&nearer, &carried(by)], 60.0)).fold(f64::MAX, f64::min)
            };
            let chances: Vec<f64> = (0..300).map(best).collect();
            for (least, most) in [(0.1, 0.13), (0.01, 0.02)] {
                let share = chances.iter().filter(|&&c| c < least).count() as f64 / 300.0;
                assert!(share <= most, "{alike}: {share} of the chances are below {least}");
            }
        }
    }

    #[test]
    fn a_check_of_which_no_line_returns_is_told_from_noise() {
        let mut rng = ChaCha8Rng::seed_from_u64(42);
        let [nearer, further] = [(); 2].map(|()| stack(&mut rng, 3, check));
        let whole = stack(&mut rng, 3, check);
        let chance = of_either(&whole, [&nearer, &further], 60.0);
        assert!(chance < 1e-6 && of_spectrum(&whole.0, &whole.1) > 0.01, "{chance}");
        let noise = [(); 3].map(|()| stack(&mut rng, 3, |_| 0.0));
        let chance = of_either(&noise[0], [&noise[1], &noise[2]], 60.0);
        assert!(chance > 0.5, "{chance}");
    }

    #[test]
    fn stripes_are_told_where_the_halves_do_not_agree() {
        let mut rng = ChaCha8Rng::seed_from_u64(43);
        let stripes = |k: usize| if k % 60 < 12 { 1.0 } else { -0.25 };
        let [whole, nearer] = [(); 2].map(|()| stack(&mut rng, 3, stripes));
        let further = stack(&mut rng, 3, |k| stripes(k + 30));
        let chance = of_either(&whole, [&nearer, &further], 60.0);
        assert!(chance < 1e-9, "{chance}");
    }

    #[test]
    fn of_nothing_seen_nothing_is_said() {
        let blank = (vec![[0.0; 3]; SAMPLES], vec![0.0; SAMPLES]);
        assert_eq!(of_either(&blank, [&blank, &blank], 60.0), 1.0);
        let none = (Vec::new(), Vec::new());
        assert_eq!(of_either(&none, [&none, &none], 60.0), 1.0);
    }
}
