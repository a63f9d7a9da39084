//! Is the sequence of lines the same read backwards? It decides how pieces may be laid on the cloth.

use super::fold::Fold;
use crate::offset::bands::{ONE_COLOUR, distance};
use crate::smooth::boxed;

/// A difference counts over this width, millimetres, or so many samples: an edge that stands a thread aside is no other line.
const WIDTH_MM: f64 = 0.8;
const WIDTH_SAMPLES: f64 = 3.0;
/// Differences from here on are another line: so much relief, or this share of the largest between two places of the repeat.
const OTHER_SHARE: f64 = 0.3;
/// Of many places, one differs by so many standard uncertainties by chance.
const BY_CHANCE: f64 = 3.5;
/// Samples that share one noise.
const ALIKE: f64 = 4.0;
/// Mirrors that are looked at more closely.
const LIKELIEST: usize = 12;

/// Whether a thing is so.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Told {
    /// It is.
    Yes,
    /// It is not.
    No,
    /// The photograph does not tell.
    CannotTell,
}

/// A repeat against itself read backwards.
#[derive(Clone, Copy, Debug)]
pub struct Balance {
    /// Whether it is the same.
    pub same: Told,
    /// The largest difference at the best mirror, natural logarithm of light.
    pub largest_difference: f64,
    /// From which difference on it is another line.
    pub limit: f64,
    /// What chance alone brings, of the same kind; `None` where no second repeat tells.
    pub by_chance: Option<f64>,
    /// Where the best mirror stands, from the beginning of the repeat, millimetres; another half a repeat further on.
    pub mirror_mm: f64,
}

/// Compares a repeat with itself read backwards, about the mirror at which it is most alike.
pub fn of(fold: &Fold, sample_mm: f64) -> Balance {
    let tone = fold.tone();
    let n = tone.len();
    let width_mm = WIDTH_MM.max(WIDTH_SAMPLES * sample_mm).min(fold.repeat_mm / 8.0);
    let half = ((0.5 * width_mm / fold.step_mm()).round() as usize).max(1);
    let unlike =
        |mirror: usize| -> f64 { (0..n).map(|j| distance(&tone[j], &tone[(mirror + n - j) % n]).powi(2)).sum::<f64>() };
    let mut mirrors: Vec<(f64, usize)> = (0..n).map(|mirror| (unlike(mirror), mirror)).collect();
    mirrors.sort_by(|a, b| a.0.total_cmp(&b.0));
    let largest = |mirror: usize| -> f64 {
        let difference = |j: usize| -> [f64; 3] {
            let (a, b) = (&tone[j % n], &tone[(mirror + 2 * n - j % n) % n]);
            std::array::from_fn(|c| a[c] - b[c])
        };
        let padded: Vec<[f64; 3]> = (0..n + 2 * half).map(|k| difference((k + n - half) % n)).collect();
        let sums = boxed(&padded, half);
        let count = (2 * half + 1) as f64;
        sums[half..n + half].iter().map(|s| distance(&s.map(|x| x / count), &[0.0; 3])).fold(0.0, f64::max)
    };
    let best = mirrors[..mirrors.len().min(LIKELIEST)].iter().map(|&(_, mirror)| (largest(mirror), mirror));
    let (largest_difference, mirror) = best.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 0));
    let span = |c: usize| {
        let (low, high) = tone.iter().fold((f64::MAX, f64::MIN), |(l, h), t| (l.min(t[c]), h.max(t[c])));
        high - low
    };
    let limit = ONE_COLOUR.min(OTHER_SHARE * distance(&[span(0), span(1), span(2)], &[0.0; 3]));
    // Two places are compared, over all channels, each the mean over a width of samples.
    let by_chance = fold.u_tone.map(|u| {
        let averaged = (width_mm / sample_mm / ALIKE).max(1.0);
        BY_CHANCE * u * (2.0 / averaged).sqrt()
    });
    let same = match by_chance {
        None => Told::CannotTell,
        Some(chance) if largest_difference - chance > limit => Told::No,
        Some(chance) if largest_difference <= limit && chance <= limit => Told::Yes,
        Some(_) => Told::CannotTell,
    };
    Balance { same, largest_difference, limit, by_chance, mirror_mm: 0.5 * mirror as f64 * fold.step_mm() }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A repeat of 36 mm of bands (width, relief), seen with a noise.
    fn fold(bands: &[(f64, f64)], u_tone: Option<f64>) -> Fold {
        let total: f64 = bands.iter().map(|b| b.0).sum();
        let n = 720;
        let at = |j: usize| {
            let mut place = j as f64 / n as f64 * total;
            bands
                .iter()
                .find(|b| {
                    place -= b.0;
                    place < 0.0
                })
                .map_or(1.0, |b| b.1.exp())
        };
        let mean: Vec<[f64; 3]> = (0..n).map(|j| [at(j), 1.0, at(j).sqrt()]).collect();
        Fold { repeat_mm: total, from_mm: 0.0, rows: Vec::new(), returns: true, mean, u_tone }
    }

    #[test]
    fn a_b_c_b_is_balanced_and_a_b_c_is_not() {
        let balanced = [(12.0, 0.0), (3.0, -0.8), (10.0, 0.4), (3.0, -0.8)];
        let uneven = [(12.0, 0.0), (3.0, -0.8), (10.0, 0.4)];
        assert_eq!(of(&fold(&balanced, Some(0.005)), 0.2).same, Told::Yes);
        assert_eq!(of(&fold(&uneven, Some(0.005)), 0.2).same, Told::No);
        // Two colours in turn are always the same backwards, three in turn never.
        assert_eq!(of(&fold(&[(9.0, 0.0), (4.0, -0.5)], Some(0.005)), 0.2).same, Told::Yes);
    }

    #[test]
    fn one_line_of_another_width_or_colour_is_seen() {
        for other in [(5.0, -0.8), (3.0, -0.4)] {
            let bands = [(12.0, 0.0), (3.0, -0.8), (10.0, 0.4), other];
            assert_eq!(of(&fold(&bands, Some(0.005)), 0.2).same, Told::No, "{other:?}");
        }
        // Half a millimetre of width is within what threads do.
        let nearly = [(12.0, 0.0), (3.0, -0.8), (10.0, 0.4), (3.1, -0.8)];
        assert_eq!(of(&fold(&nearly, Some(0.005)), 0.2).same, Told::Yes);
    }

    #[test]
    fn noise_or_a_single_repeat_tells_nothing() {
        let balanced = [(12.0, 0.0), (3.0, -0.8), (10.0, 0.4), (3.0, -0.8)];
        assert_eq!(of(&fold(&balanced, Some(0.2)), 0.2).same, Told::CannotTell);
        assert_eq!(of(&fold(&balanced, None), 0.2).same, Told::CannotTell);
    }

    #[test]
    fn the_mirror_stands_in_the_middle_of_a_line() {
        let balanced = [(12.0, 0.0), (3.0, -0.8), (10.0, 0.4), (3.0, -0.8)];
        let mirror_mm = of(&fold(&balanced, Some(0.005)), 0.2).mirror_mm % 14.0;
        assert!((mirror_mm - 6.0).abs() < 0.1, "{mirror_mm}");
    }
}
