//! All repeats laid on one another: one repeat of the lines, and how much the repeats differ.

use super::course::Course;
use super::frame::Ribs;
use crate::lines::relief;
use crate::signal::Signal;
use std::ops::Range;

/// Places in a repeat for each sample, and bounds of their number.
const PLACES_PER_SAMPLE: f64 = 4.0;
const PLACES: std::ops::RangeInclusive<usize> = 32..=2400;

/// One repeat of the lines.
#[derive(Clone, Debug)]
pub struct Fold {
    /// Length of the repeat, millimetres.
    pub repeat_mm: f64,
    /// u at which the first place stands, millimetres.
    pub from_mm: f64,
    /// Each repeat that is seen: the light at each place over the cloth's own mean (1 is the mean); `None` where it is not seen.
    pub rows: Vec<Vec<Option<[f64; 3]>>>,
    /// Whether it returns: false of what is seen once.
    pub returns: bool,
    /// Their mean at each place.
    pub mean: Vec<[f64; 3]>,
    /// Standard uncertainty of the logarithm of [`Self::mean`], all places and channels together, from how the repeats differ;
    /// `None` where no place is seen twice.
    pub u_tone: Option<f64>,
}

impl Fold {
    /// Folds a stack of light over its mean by the repeat (samples); `None` where a place of the repeat is seen nowhere.
    pub fn new(stack: &Signal, repeat: f64, ribs: &Ribs) -> Option<Self> {
        let (value, weight) = stack;
        let seen: Vec<usize> = (0..weight.len()).filter(|&k| weight[k] > 0.0).collect();
        let (first, last) = (*seen.first()? as f64, *seen.last()? as f64);
        let count = ((PLACES_PER_SAMPLE * repeat).round() as usize).clamp(*PLACES.start(), *PLACES.end());
        let repeats = ((last - first) / repeat).ceil() as usize;
        let rows: Vec<Vec<Option<[f64; 3]>>> = (0..repeats)
            .map(|r| {
                let place = |j: usize| first + (r as f64 + j as f64 / count as f64) * repeat;
                (0..count)
                    .map(|j| {
                        let (v, w) = relief::at(value, weight, place(j));
                        (w > 0.0).then(|| v.map(|x| f64::from(x).max(1e-3)))
                    })
                    .collect()
            })
            .collect();
        let mut mean = Vec::with_capacity(count);
        let (mut squares, mut free) = (0.0, 0.0);
        for j in 0..count {
            let here: Vec<[f64; 3]> = rows.iter().filter_map(|row| row[j]).collect();
            if here.is_empty() {
                return None;
            }
            let n = here.len() as f64;
            let middle: [f64; 3] = std::array::from_fn(|c| here.iter().map(|v| v[c]).sum::<f64>() / n);
            for v in &here {
                squares += (0..3).map(|c| (v[c] / middle[c] - 1.0).powi(2)).sum::<f64>() / 3.0 / n;
            }
            free += n - 1.0;
            mean.push(middle);
        }
        // A place of n repeats leaves n − 1 of its n squares to chance; its mean has the n-th part of their variance.
        let u_tone = (free > 0.5 * count as f64).then(|| (squares / free).sqrt());
        Some(Self {
            repeat_mm: repeat * ribs.step_mm,
            from_mm: ribs.from_mm + first * ribs.step_mm,
            rows,
            returns: true,
            mean,
            u_tone,
        })
    }

    /// These samples of a stack of light over its mean, all seen, as if they were one repeat; its rows are the same of `parts`
    /// of the cloth side by side, which tell how much an edge differs.
    pub fn once(stack: &Signal, parts: &[Signal], samples: Range<usize>, ribs: &Ribs) -> Self {
        let mean: Vec<[f64; 3]> = stack.0[samples.clone()].iter().map(|v| v.map(|x| f64::from(x).max(1e-3))).collect();
        Self {
            repeat_mm: samples.len() as f64 * ribs.step_mm,
            from_mm: ribs.from_mm + samples.start as f64 * ribs.step_mm,
            rows: parts
                .iter()
                .map(|(value, weight)| {
                    let seen = |k: usize| (weight[k] > 0.0).then(|| value[k].map(|x| f64::from(x).max(1e-3)));
                    samples.clone().map(seen).collect()
                })
                .collect(),
            returns: false,
            mean,
            u_tone: None,
        }
    }

    /// How many places a repeat has.
    pub fn places(&self) -> usize {
        self.mean.len()
    }

    /// Distance from place to place, millimetres.
    pub fn step_mm(&self) -> f64 {
        self.repeat_mm / self.places() as f64
    }

    /// The share of the variance of the light, at places seen twice or more, that is between places and not within one: 1 where
    /// all repeats are the same, about 0 where they have nothing in common; 1 where no place is seen twice.
    ///
    /// # Source
    /// The intraclass correlation of a one-way analysis of variance with unequal numbers (R. A. Fisher, Statistical Methods for
    /// Research Workers, 1925; from memory).
    pub fn told(&self) -> f64 {
        let here = |j: usize| self.rows.iter().filter_map(move |row| row[j].map(|v| v.map(f64::ln)));
        let twice: Vec<usize> = (0..self.places()).filter(|&j| here(j).count() > 1).collect();
        let total: usize = twice.iter().map(|&j| here(j).count()).sum();
        let (places, all) = (twice.len() as f64, total as f64);
        if twice.len() < 2 {
            return 1.0;
        }
        let channel = |c: usize| {
            let grand = twice.iter().flat_map(|&j| here(j)).map(|v| v[c]).sum::<f64>() / all;
            let (mut between, mut within, mut squares) = (0.0, 0.0, 0.0);
            for &j in &twice {
                let count = here(j).count() as f64;
                let mean = here(j).map(|v| v[c]).sum::<f64>() / count;
                between += count * (mean - grand).powi(2);
                within += here(j).map(|v| (v[c] - mean).powi(2)).sum::<f64>();
                squares += count * count;
            }
            let (between, within) = (between / (places - 1.0), within / (all - places));
            let each = (all - squares / all) / (places - 1.0);
            (between, within, each)
        };
        let mut sums = (0.0, 0.0);
        for (between, within, each) in (0..3).map(channel) {
            let shared = (between - within) / each;
            sums = (sums.0 + shared, sums.1 + shared + within);
        }
        if sums.1 > 0.0 { sums.0 / sums.1 } else { 1.0 }
    }

    /// The logarithm of the mean around its own middle, at each place.
    pub fn tone(&self) -> Vec<[f64; 3]> {
        let log: Vec<[f64; 3]> = self.mean.iter().map(|m| m.map(f64::ln)).collect();
        let middle: [f64; 3] = std::array::from_fn(|c| log.iter().map(|l| l[c]).sum::<f64>() / log.len() as f64);
        log.iter().map(|l| std::array::from_fn(|c| l[c] - middle[c])).collect()
    }

    /// The same repeat begun at another place.
    pub fn begun_at(mut self, place: usize) -> Self {
        self.mean.rotate_left(place);
        let n = self.places();
        // A repeat now ends in the one after: each row takes its end from the next.
        let rows = (0..self.rows.len()).map(|r| {
            let at = |j: usize| self.rows.get(r + (place + j) / n).and_then(|row| row[(place + j) % n]);
            (0..n).map(at).collect()
        });
        let rows: Vec<Vec<Option<[f64; 3]>>> = rows.collect();
        // What stood before the new beginning of the first row is a repeat that begins outside the picture.
        let before =
            (0..n).map(|j| (place + j).checked_sub(n).and_then(|k| self.rows.first()?.get(k).copied()?)).collect();
        self.rows = if place > 0 { std::iter::once(before).chain(rows).collect() } else { rows };
        self.from_mm += place as f64 * self.step_mm();
        self
    }

    /// The light itself of each rib at each place, mean over the repeats; `None` where it is not seen.
    pub fn light(&self, ribs: &Ribs, course: &Course) -> Vec<Vec<Option<[f64; 3]>>> {
        let n = self.places();
        let repeats = if self.returns { (ribs.length_mm() / self.repeat_mm).ceil() as i64 + 1 } else { 0 };
        let of_rib = |rib: &crate::strip::Rib| {
            let weight = rib.weight();
            let begin_mm = self.from_mm + course.further_mm(rib.v_mm) - ribs.from_mm;
            (0..n)
                .map(|j| {
                    let (mut sum, mut count) = ([0.0; 3], 0.0);
                    for r in -repeats..=repeats {
                        let u_mm = begin_mm + (r as f64 + j as f64 / n as f64) * self.repeat_mm;
                        let (v, w) = relief::at(&rib.light, &weight, u_mm / ribs.step_mm);
                        if w > 0.0 {
                            (0..3).for_each(|c| sum[c] += f64::from(v[c]).max(0.0));
                            count += 1.0;
                        }
                    }
                    (count > 0.0).then(|| sum.map(|s| s / count))
                })
                .collect()
        };
        ribs.ribs.iter().map(of_rib).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cloth::frame::Frame;
    use crate::units::MmPoint;

    fn ribs(samples: usize) -> Ribs {
        let frame = Frame { middle: MmPoint::new(0.0, 0.0), u: MmPoint::new(0.0, 1.0), v: MmPoint::new(1.0, 0.0) };
        Ribs { frame, from_mm: -50.0, step_mm: 0.2, samples, ribs: Vec::new() }
    }

    #[test]
    fn repeats_fold_to_their_mean_and_tell_their_noise() {
        let mut state = 7u32;
        let mut chance = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (f64::from(state >> 8) / 16_777_216.0 - 0.5) * 12f64.sqrt()
        };
        let wave = |k: f64| 1.0 + 0.3 * (k * std::f64::consts::TAU / 50.0).sin();
        let value: Vec<[f32; 3]> =
            (0..500).map(|k| [0; 3].map(|_| (wave(f64::from(k)) * (1.0 + 0.02 * chance())) as f32)).collect();
        let stack = (value, vec![1.0; 500]);
        let fold = Fold::new(&stack, 50.0, &ribs(500)).unwrap();
        let wrong = Fold::new(&stack, 37.0, &ribs(500)).unwrap().told();
        assert_eq!((fold.places(), fold.rows.len()), (200, 10));
        assert!((fold.repeat_mm - 10.0).abs() < 1e-12);
        // Ten repeats of 2 % noise: their mean has 0.6 %.
        let u = fold.u_tone.unwrap();
        assert!((u / (0.02 / 10f64.sqrt()) - 1.0).abs() < 0.2, "{u}");
        for (j, m) in fold.mean.iter().enumerate() {
            assert!((m[1] - wave(j as f64 / 4.0)).abs() < 0.04, "{j}");
        }
        assert!(fold.told() > 0.98, "{}", fold.told());
        // Laid on one another where they do not return they have little in common.
        assert!(wrong < 0.3, "{wrong}");
        let later = fold.clone().begun_at(50);
        assert!((later.from_mm - fold.from_mm - 2.5).abs() < 1e-9);
        assert_eq!((later.mean[0], later.mean[199]), (fold.mean[50], fold.mean[49]));
        assert_eq!((later.rows[1][0], later.rows[1][160]), (fold.rows[0][50], fold.rows[1][10]));
        assert_eq!((later.rows[0][160], later.rows[0][0]), (fold.rows[0][10], None));
    }

    #[test]
    fn a_repeat_that_is_seen_once_tells_no_noise() {
        let value: Vec<[f32; 3]> = (0..130).map(|k| [1.0 + (k % 100) as f32 * 0.01; 3]).collect();
        assert!(Fold::new(&(value.clone(), vec![1.0; 130]), 100.0, &ribs(130)).unwrap().u_tone.is_none());
        assert!(Fold::new(&(value, vec![1.0; 130]), 140.0, &ribs(130)).is_none(), "a place is seen nowhere");
    }
}
