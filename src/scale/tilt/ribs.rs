//! Ribs of the straightened picture: narrow bands across one family of lines, and how far the lines have moved from one
//! rib to the next (their direction) and from one repeat to the next (their spacing).

use super::picture::Picture;
use super::view::View;
use crate::scale::homography;

/// A rib's sample counts when at least this share of it is cloth.
const LEAST_SHARE: f32 = 0.7;
/// Longest, as a share of the rib: two and a half repeats must be seen.
const LONGEST_LAG: f64 = 0.4;
/// Ribs that the repeat is looked for in; more say no more.
const MOST_COMPARED: usize = 16;
/// The repeat is the first lag that is this near to the best.
const FIRST_OF_BEST: f64 = 0.85;
/// The coarse search for uneven spacing: every so many samples, and horizons of so many steps (times half the rib's
/// length) to either side; lines count as much more even where they are this much more alike.
const COARSE: usize = 2;
const SEARCHED: usize = 8;
const SEARCH_STEP: f64 = 0.05;
const MUCH_MORE_EVEN: f64 = 0.05;
/// The least likeness of a repeat to the next (correlation).
const LEAST_LIKENESS: f64 = 0.4;
/// Samples over which the relief is told.
const RELIEF_LAG: usize = 3;
/// Windows along a rib, and their least length in samples.
const WINDOWS: usize = 9;
const LEAST_WINDOW: usize = 16;
/// The most that a window may be unlike its partner once it has been moved: residual over signal, squares.
const MOST_UNLIKE: f64 = 0.35;
/// Samples that share one noise (the interpolation and the picture's blur).
const CORRELATED: f64 = 3.0;

/// Ribs in the frame of one family: x along the lines, y across them, plane units about the picture's middle.
pub struct Ribs {
    /// Middle of each rib, x.
    x: Vec<f64>,
    /// y of the first sample; samples are one unit apart.
    y0: f64,
    /// Tone of each rib; not a number where it is not seen.
    tone: Vec<Vec<[f32; 3]>>,
}

/// What a place of the picture says of a family of lines.
#[derive(Clone, Copy, Debug)]
pub struct Sighting {
    /// Place in the family's frame.
    pub x: f64,
    /// Place in the family's frame.
    pub y: f64,
    /// Slope dy/dx of the lines, or the natural logarithm of their spacing over the family's.
    pub value: f64,
    /// Its variance from the picture's noise.
    pub variance: f64,
}

impl Ribs {
    /// Cuts the straightened picture into ribs `width` wide, across lines of direction `along_rad`.
    pub fn cut(picture: &Picture, view: &View, along_rad: f64, width: f64) -> Self {
        let (sin, cos) = along_rad.sin_cos();
        let [hx, hy] = picture.half();
        let (mut low, mut high) = ([f64::MAX; 2], [f64::MIN; 2]);
        for (x, y) in [(-hx, -hy), (hx, -hy), (hx, hy), (-hx, hy)] {
            let p = homography::apply(&view.px_to_plane, [x, y]);
            let q = [p[0] * cos + p[1] * sin, p[1] * cos - p[0] * sin];
            for k in 0..2 {
                // A steep view reaches far: what lies there is too small in the picture to be of use.
                let most = 3.0 * hx.max(hy);
                low[k] = low[k].min(q[k].clamp(-most, most));
                high[k] = high[k].max(q[k].clamp(-most, most));
            }
        }
        let count = ((high[0] - low[0]) / width).floor().max(0.0) as usize;
        let samples = (high[1] - low[1]).floor().max(0.0) as usize;
        let across = (width / 4.0).round().max(4.0) as usize;
        let x: Vec<f64> = (0..count).map(|i| low[0] + (i as f64 + 0.5) * width).collect();
        let tone = x.clone().into_iter().map(|middle| {
            (0..samples).map(move |k| {
                let y = low[1] + k as f64;
                let (mut sum, mut seen) = ([0.0f32; 3], 0.0f32);
                for a in 0..across {
                    let x = middle + width * ((a as f64 + 0.5) / across as f64 - 0.5);
                    let p = homography::apply(&view.plane_to_px, [x * cos - y * sin, x * sin + y * cos]);
                    let Some(tone) = picture.at(p[0], p[1]).filter(|t| !t[0].is_nan()) else { continue };
                    for c in 0..3 {
                        sum[c] += tone[c];
                    }
                    seen += 1.0;
                }
                if seen >= LEAST_SHARE * across as f32 { sum.map(|s| s / seen) } else { [f32::NAN; 3] }
            })
        });
        Self { tone: tone.map(Iterator::collect).collect(), x, y0: low[1] }
    }

    /// Mean square of the tone's change over a few samples: large where the ribs run along lines, which averaging across
    /// other directions blurs away.
    pub fn relief(&self) -> f64 {
        let (mut sum, mut count) = (0.0, 0.0);
        for rib in &self.tone {
            for (a, b) in rib.iter().zip(rib.iter().skip(RELIEF_LAG)) {
                let square: f64 = (0..3).map(|c| f64::from(b[c] - a[c]).powi(2)).sum();
                if square.is_finite() {
                    sum += square;
                    count += 1.0;
                }
            }
        }
        if count > 0.0 { sum / count } else { 0.0 }
    }

    /// The repeat of the lines, in samples; `None` where there is none.
    pub fn repeat(&self) -> Option<f64> {
        self.repeat_of(&self.compared(1)).map(|(lag, _)| lag as f64)
    }

    /// The horizon across the lines, per unit, that would make them most even, from a coarse search; 0 where none makes
    /// them much more so.
    pub fn unevenness(&self) -> f64 {
        let ribs = self.compared(COARSE);
        let reach = self.y0.abs().max(1.0);
        let evenness = |q: f64| {
            let stretched: Vec<Vec<[f32; 3]>> = ribs.iter().map(|rib| self.stretched(rib, q / reach)).collect();
            self.repeat_of(&stretched).map_or(0.0, |(_, likeness)| likeness)
        };
        let level = evenness(0.0);
        let search = (1..=SEARCHED).flat_map(|k| [k as f64 * SEARCH_STEP, k as f64 * -SEARCH_STEP]);
        let (best, most) =
            search.map(|q| (q, evenness(q))).max_by(|a, b| a.1.total_cmp(&b.1)).expect("a search of some steps");
        if most > level + MUCH_MORE_EVEN { best / reach } else { 0.0 }
    }

    /// A few of the ribs around their means, every `stride`th sample.
    fn compared(&self, stride: usize) -> Vec<Vec<[f32; 3]>> {
        let apart = self.tone.len().div_ceil(MOST_COMPARED / stride).max(1);
        let ribs = self.tone.iter().step_by(apart);
        ribs.map(|rib| centred(&rib.iter().copied().step_by(stride).collect::<Vec<_>>())).collect()
    }

    /// A coarse rib as it would be if the plane's horizon lay at q y = 1 and were straightened.
    fn stretched(&self, rib: &[[f32; 3]], q: f64) -> Vec<[f32; 3]> {
        (0..rib.len())
            .map(|k| {
                let even = self.y0 + (k * COARSE) as f64;
                let seen = even / (1.0 + q * even).max(0.2);
                let place = (seen - self.y0) / COARSE as f64;
                let at = place.floor();
                if !(at >= 0.0 && at + 1.0 < rib.len() as f64) {
                    return [f32::NAN; 3];
                }
                let (a, b, part) = (rib[at as usize], rib[at as usize + 1], (place - at) as f32);
                std::array::from_fn(|c| a[c] + part * (b[c] - a[c]))
            })
            .collect()
    }

    /// The first lag at which ribs are like themselves, in their samples, with their likeness there.
    fn repeat_of(&self, ribs: &[Vec<[f32; 3]>]) -> Option<(usize, f64)> {
        let longest = (LONGEST_LAG * ribs.first()?.len() as f64) as usize;
        let likeness: Vec<f64> = (0..=longest)
            .map(|lag| {
                let (mut cross, mut square) = (0.0f32, 0.0f32);
                for rib in ribs {
                    for (a, b) in rib.iter().zip(&rib[lag..]) {
                        if a[0].is_nan() || b[0].is_nan() {
                            continue;
                        }
                        for c in 0..3 {
                            cross += a[c] * b[c];
                            square += 0.5 * (a[c] * a[c] + b[c] * b[c]);
                        }
                    }
                }
                f64::from(if square > 0.0 { cross / square } else { 0.0 })
            })
            .collect();
        // Near 0 a rib is like itself whatever it shows: peaks count from where the likeness has fallen.
        let fallen = likeness.iter().position(|&l| l < 0.5 * LEAST_LIKENESS)?.max(1);
        let peaks: Vec<usize> = (fallen..longest.saturating_sub(1))
            .filter(|&k| likeness[k] >= likeness[k - 1] && likeness[k] > likeness[k + 1])
            .collect();
        let best = peaks.iter().map(|&k| likeness[k]).fold(0.0, f64::max);
        let first = peaks.into_iter().find(|&k| likeness[k] >= FIRST_OF_BEST * best)?;
        (best >= LEAST_LIKENESS).then_some((first, likeness[first]))
    }

    /// Slope of the lines from each rib to its neighbour.
    pub fn slopes(&self) -> Vec<Sighting> {
        let windows = self.windows();
        let mut sightings = Vec::new();
        for (pair, x) in self.tone.windows(2).zip(self.x.windows(2)) {
            let apart = x[1] - x[0];
            for &(from, to) in &windows {
                let Some(moved) = shift(&pair[0][from..to], &pair[1][from..to]) else { continue };
                sightings.push(Sighting {
                    x: 0.5 * (x[0] + x[1]),
                    y: self.y0 + 0.5 * (from + to - 1) as f64,
                    value: moved.samples / apart,
                    variance: moved.variance / (apart * apart),
                });
            }
        }
        sightings
    }

    /// Spacing of the lines from one repeat to the next, against `repeat` samples.
    pub fn spacings(&self, repeat: f64) -> Vec<Sighting> {
        let lag = repeat.round() as usize;
        let mut sightings = Vec::new();
        for (rib, &x) in self.tone.iter().zip(&self.x) {
            for &(from, to) in &self.windows() {
                if to + lag > rib.len() {
                    continue;
                }
                let Some(moved) = shift(&rib[from..to], &rib[from + lag..to + lag]) else { continue };
                sightings.push(Sighting {
                    x,
                    y: self.y0 + 0.5 * (from + to - 1 + lag) as f64,
                    value: moved.samples / repeat,
                    variance: moved.variance / (repeat * repeat),
                });
            }
        }
        sightings
    }

    fn windows(&self) -> Vec<(usize, usize)> {
        let samples = self.tone.first().map_or(0, Vec::len);
        let length = (samples / WINDOWS).max(LEAST_WINDOW);
        (0..)
            .map(|k| k * length / 2)
            .take_while(|from| from + length <= samples)
            .map(|from| (from, from + length))
            .collect()
    }
}

/// A rib around its mean.
fn centred(rib: &[[f32; 3]]) -> Vec<[f32; 3]> {
    let seen = rib.iter().filter(|v| !v[0].is_nan());
    let count = seen.clone().count().max(1) as f32;
    let mean: [f32; 3] = std::array::from_fn(|c| seen.clone().map(|v| v[c]).sum::<f32>() / count);
    rib.iter().map(|v| std::array::from_fn(|c| v[c] - mean[c])).collect()
}

/// How far the second window's lines stand beyond the first's.
#[derive(Clone, Copy, Debug)]
pub struct Moved {
    /// The distance, samples.
    pub samples: f64,
    /// Its variance from the windows' noise.
    pub variance: f64,
}

/// One least-squares step: b(y) ≈ a(y − s), so b − a ≈ −s (a + b)′/2; `None` where the two do not show the same lines. What
/// is not seen is not a number in the first channel.
///
/// # Source
/// B. D. Lucas and T. Kanade, An iterative image registration technique with an application to stereo vision, IJCAI 1981
/// (from memory), in one dimension.
pub fn shift(a: &[[f32; 3]], b: &[[f32; 3]]) -> Option<Moved> {
    let n = a.len();
    let seen: Vec<usize> = (1..n - 1)
        .filter(|&k| [a[k - 1], a[k], a[k + 1], b[k - 1], b[k], b[k + 1]].iter().all(|v| !v[0].is_nan()))
        .collect();
    if seen.len() * 5 < n * 4 {
        return None;
    }
    let count = seen.len() as f64;
    let (mut gg, mut gd, mut signal) = (0.0, 0.0, 0.0);
    let mut pairs = Vec::with_capacity(3 * seen.len());
    for c in 0..3 {
        let (ma, mb) = seen.iter().fold((0.0, 0.0), |(x, y), &k| (x + f64::from(a[k][c]), y + f64::from(b[k][c])));
        let (ma, mb) = (ma / count, mb / count);
        for &k in &seen {
            let (va, vb) = (f64::from(a[k][c]) - ma, f64::from(b[k][c]) - mb);
            let g = 0.25 * f64::from(a[k + 1][c] - a[k - 1][c] + b[k + 1][c] - b[k - 1][c]);
            gg += g * g;
            gd += g * (vb - va);
            signal += va * va + vb * vb;
            pairs.push((g, vb - va));
        }
    }
    if gg <= 0.0 {
        return None;
    }
    let s = -gd / gg;
    let left: f64 = pairs.iter().map(|(g, d)| (d + s * g).powi(2)).sum();
    let noise = left / (pairs.len() as f64 - 4.0).max(1.0);
    (left < MOST_UNLIKE * signal).then_some(Moved { samples: s, variance: CORRELATED * noise / gg })
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::ChaCha8Rng;
    use rand_chacha::rand_core::{Rng, SeedableRng};

    /// Ribs of a profile of two colours, each rib moved on by `moved` samples.
    fn ribs(moved: f64, profile: impl Fn(f64) -> f64) -> Ribs {
        let rib = |i: usize| {
            (0..400).map(|k| [profile(k as f64 - moved * i as f64) as f32, 0.5, 0.0]).collect::<Vec<[f32; 3]>>()
        };
        Ribs { x: (0..12).map(|i| 20.0 * i as f64 - 110.0).collect(), y0: -199.5, tone: (0..12).map(rib).collect() }
    }

    fn wave(y: f64) -> f64 {
        (y * 0.157).sin() + 0.4 * (y * 0.314 + 1.0).sin()
    }

    #[test]
    fn slope_and_repeat_are_those_of_the_lines() {
        let ribs = ribs(0.6, wave);
        let slopes = ribs.slopes();
        assert!(slopes.len() > 100);
        assert!(slopes.iter().all(|s| (s.value - 0.03).abs() < 0.001), "{:?}", slopes[0]);
        // 2 π / 0.157 samples.
        assert_eq!(ribs.repeat(), Some(40.0));
        assert!(ribs.spacings(40.0).iter().all(|s| (s.value * 40.0 - 0.02).abs() < 0.02));
    }

    #[test]
    fn lines_that_grow_closer_are_evened_by_the_horizon_that_made_them() {
        // A plane's even lines, seen with a horizon at q y = 1: what stands at t is seen at t / (1 + q t).
        let q = 0.2 / 199.5;
        let ribs = ribs(0.0, |k| {
            let y = k - 199.5;
            wave(y / (1.0 - q * y))
        });
        assert!((ribs.unevenness() * 199.5 - 0.2).abs() < 0.051, "{}", ribs.unevenness() * 199.5);
        for s in ribs.spacings(40.0) {
            assert!((s.value + 2.0 * q * s.y).abs() < 0.15, "{s:?}");
        }
    }

    #[test]
    fn noise_has_no_repeat_and_no_slope() {
        let mut rng = ChaCha8Rng::seed_from_u64(8);
        let mut ribs_of_noise = ribs(0.0, |_| 0.0);
        ribs_of_noise.tone.iter_mut().flatten().for_each(|v| v[0] = rng.next_u32() as f32 / u32::MAX as f32);
        assert_eq!(ribs_of_noise.repeat(), None);
        assert!(ribs_of_noise.slopes().len() < 20, "{}", ribs_of_noise.slopes().len());
        let flat = ribs(0.0, |_| 1.0);
        assert!(flat.slopes().is_empty() && flat.repeat().is_none() && flat.unevenness() == 0.0);
    }
}
