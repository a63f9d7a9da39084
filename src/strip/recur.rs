//! What should stand at a place of the lines: what stands a repeat further on, and on the other side of the seam.

use super::frame::best_move;
use super::grid::{Light, UNSEEN, light_of, smoothed, tone};
use super::medians::{median, median_light, spread};
use super::weave::brought_to;

/// The shortest repeat that is looked for, millimetres, and the longest, as a share of the strip.
const LEAST_REPEAT_MM: f64 = 2.0;
const LONGEST_SHARE: f64 = 0.7;
/// A lag is a repeat when the lines agree with themselves so well; the first with this share of the best is taken.
const LEAST_AGREEMENT: f32 = 0.4;
const EQUAL_SHARE: f32 = 0.85;
/// Half the width of the smooth that takes shade off before lines are compared, millimetres.
const SHADE_MM: f64 = 20.0;
/// A stretch so long that is far from all other tones is no line, millimetres.
const STRETCH_MM: f64 = 10.0;
/// Without a repeat, the other side's lines are looked for up to this share of the strip.
const LAG_SHARE: f64 = 0.3;
/// Stretches that are laid on each other, and how far each is moved: lines of the same side, of the other, millimetres.
const BLOCK_MM: f64 = 24.0;
const OWN_REACH_MM: f64 = 1.5;
const OTHER_REACH_MM: f64 = 2.5;
const MOST_MOVED_REPEATS: f64 = 0.25;
/// The nearest so many repeats of each side are asked.
const MOST_ASKED: usize = 6;

/// What the repeats say should stand at each column.
pub struct Expected {
    /// Tone: the median of those asked.
    pub tone: Vec<Light>,
    /// How far they differ from it, the largest channel.
    pub apart: Vec<f32>,
    /// How many were asked.
    pub asked: Vec<usize>,
}

/// The repeat of both sides' lines in cells; `None` where they do not return.
pub fn repeat(sides: [&[Light]; 2], cell_mm: f64) -> Option<usize> {
    let n = sides[0].len().min(sides[1].len());
    let longest = (LONGEST_SHARE * n as f64) as usize;
    let mut agreement = vec![0.0f32; longest];
    for lines in sides {
        let x = relief(lines, cell_mm);
        for (lag, sum) in agreement.iter_mut().enumerate() {
            *sum += 0.5 * likeness(&x[..n - lag], &x[lag..n]);
        }
    }
    let least = (LEAST_REPEAT_MM / cell_mm) as usize;
    let peak = |k: &usize| {
        let a = &agreement;
        a[*k] > LEAST_AGREEMENT && a[*k] >= a[k - 1] && a[*k] > a[k + 1]
    };
    let peaks: Vec<usize> = (least.max(1)..longest.saturating_sub(1)).filter(peak).collect();
    let best = peaks.iter().map(|&k| agreement[k]).fold(0.0, f32::max);
    peaks.into_iter().find(|&k| agreement[k] >= EQUAL_SHARE * best)
}

/// What the repeats of a side and of the other side say should stand on this side; light in, tone out.
pub fn expected(own: &[Light], other: &[Light], repeat: Option<usize>, cell_mm: f64) -> Expected {
    let n = own.len();
    let tones: Vec<Light> = own.iter().map(|&l| tone(l)).collect();
    // A line must not be moved onto its neighbour.
    let most_mm = repeat.map_or(f64::INFINITY, |repeat| MOST_MOVED_REPEATS * repeat as f64 * cell_mm);
    let [own_mm, other_mm] = [OWN_REACH_MM, OTHER_REACH_MM].map(|reach_mm| most_mm.min(reach_mm));
    let mut rows: Vec<Vec<Light>> = Vec::new();
    if let Some(repeat) = repeat {
        let lags = (1..=n / repeat).flat_map(|k| [(k * repeat) as isize, -((k * repeat) as isize)]);
        rows.extend(lags.filter_map(|lag| laid(&tones, &tones, lag, cell_mm, own_mm)).take(MOST_ASKED));
    }
    let lag = lag_of(own, other, repeat, cell_mm);
    let brought: Vec<Light> = brought_to(own, other, lag).into_iter().map(tone).collect();
    let lags: Vec<isize> = match repeat {
        Some(repeat) => {
            let count = (n / repeat) as isize + 1;
            let mut lags: Vec<isize> = (-count..=count).map(|k| lag + k * repeat as isize).collect();
            lags.sort_by_key(|lag| lag.abs());
            lags
        }
        None => vec![lag],
    };
    let others = lags.into_iter().filter_map(|lag| laid(&tones, &brought, lag, cell_mm, other_mm));
    rows.extend(others.take(MOST_ASKED));
    let mut expected =
        Expected { tone: Vec::with_capacity(n), apart: Vec::with_capacity(n), asked: Vec::with_capacity(n) };
    for k in 0..n {
        let all = rows.iter().map(|row| row[k]).filter(|t| !t[0].is_nan());
        let middle = median_light(all.clone());
        let apart = (0..3).map(|c| median(all.clone().map(|t| (t[c] - middle[c]).abs()))).fold(0.0, f32::max);
        expected.tone.push(middle);
        expected.apart.push(apart);
        expected.asked.push(all.count());
    }
    expected
}

impl Expected {
    /// The light that should stand at a column.
    pub fn light(&self, k: usize) -> Light {
        light_of(self.tone[k])
    }
}

/// The lag of the other side's lines that agrees best, within half a repeat.
fn lag_of(own: &[Light], other: &[Light], repeat: Option<usize>, cell_mm: f64) -> isize {
    let (x, y) = (relief(own, cell_mm), relief(other, cell_mm));
    let n = x.len();
    let reach = repeat.map_or((LAG_SHARE * n as f64) as isize, |repeat| repeat as isize / 2 + 1).min(n as isize - 1);
    let like = |lag: isize| {
        let (a, b) = ((-lag).max(0) as usize, lag.max(0) as usize);
        let count = n - a.max(b);
        likeness(&x[a..a + count], &y[b..b + count])
    };
    (-reach..=reach)
        .map(|lag| (like(lag), lag))
        .fold((f32::MIN, 0), |best, next| if next.0 > best.0 { next } else { best })
        .1
}

/// The lines' tone without shade, what is far out held to the ordinary, unseen 0.
fn relief(lines: &[Light], cell_mm: f64) -> Vec<Light> {
    let tones: Vec<Light> = lines.iter().map(|&l| tone(l)).collect();
    let held = held(&tones, cell_mm);
    let slow = smoothed(&held, (SHADE_MM / cell_mm) as usize);
    let fast: Vec<Light> = held.iter().zip(&slow).map(|(t, s)| std::array::from_fn(|c| t[c] - s[c])).collect();
    let fast: Vec<Light> = fast.into_iter().map(|t| if t[0].is_nan() { [0.0; 3] } else { t }).collect();
    held_around(&fast, [0.0; 3], 2.0, 0.02)
}

/// The tones, what is far out held to the ordinary, and unseen where a whole stretch is: no line is that wide and that
/// far from all others.
fn held(tones: &[Light], cell_mm: f64) -> Vec<Light> {
    let middle = median_light(tones.iter().copied());
    let mut held = held_around(tones, middle, 3.0, 0.05);
    let out: Vec<Light> = tones.iter().zip(&held).map(|(t, h)| [f32::from(u8::from(t != h)); 3]).collect();
    let stretch = smoothed(&out, (STRETCH_MM / 2.0 / cell_mm) as usize);
    held.iter_mut().zip(&stretch).filter(|(_, s)| s[0] > 0.95).for_each(|(h, _)| *h = UNSEEN);
    held
}

fn held_around(tones: &[Light], middle: Light, times: f32, least: f32) -> Vec<Light> {
    let reach: Light = std::array::from_fn(|c| times * (spread(tones.iter().map(|t| t[c] - middle[c])) + least));
    let hold = |t: &Light| -> Light {
        // f32::max passes over NaN: what is unseen stays so.
        std::array::from_fn(|c| {
            if t[c].is_nan() { t[c] } else { middle[c] + (t[c] - middle[c]).max(-reach[c]).min(reach[c]) }
        })
    };
    tones.iter().map(hold).collect()
}

fn likeness(a: &[Light], b: &[Light]) -> f32 {
    let (mut cross, mut one, mut two) = (0.0f32, 0.0f32, 0.0f32);
    for (a, b) in a.iter().zip(b) {
        for c in 0..3 {
            cross += a[c] * b[c];
            one += a[c] * a[c];
            two += b[c] * b[c];
        }
    }
    cross / (one * two + 1e-9).sqrt()
}

/// The source's tones read at column + lag, with a slow move and a slow level that lay them on `lines`.
fn laid(lines: &[Light], source: &[Light], lag: isize, cell_mm: f64, reach_mm: f64) -> Option<Vec<Light>> {
    let n = lines.len();
    let half = (BLOCK_MM / 2.0 / cell_mm) as usize;
    let count = ((n as f64 * cell_mm / (BLOCK_MM / 2.0)).round() as usize).max(1);
    let reach = (reach_mm / cell_mm).round() as isize;
    let middle = |j: usize| (2 * j + 1) * n / (2 * count);
    let moves: Vec<Option<(f32, f32)>> = (0..count)
        .map(|j| {
            let span = middle(j).saturating_sub(half)..(middle(j) + half).min(n);
            best_move(source, lines, span, lag - reach..=lag + reach, half)
        })
        .collect();
    if moves.iter().all(Option::is_none) {
        return None;
    }
    let by = |j: usize| {
        let (mut sum, mut total) = (lag as f32 * 1e-3, 1e-3);
        for (i, found) in moves.iter().enumerate().filter(|(i, _)| i.abs_diff(j) <= 2) {
            let Some((by, plain)) = found else { continue };
            let weight = (3 - i.abs_diff(j)) as f32 * plain * plain;
            sum += weight * by;
            total += weight;
        }
        sum / total
    };
    let nodes: Vec<f32> = (0..count).map(by).collect();
    let between = |k: usize| {
        let at = ((k as f32 + 0.5) * count as f32 / n as f32 - 0.5).clamp(0.0, (count - 1) as f32);
        let low = (at as usize).min(count.saturating_sub(2));
        (low, (low + 1).min(count - 1), at - low as f32)
    };
    let read = |k: usize| -> Light {
        let (i, j, f) = between(k);
        let place = k as f32 + nodes[i] + f * (nodes[j] - nodes[i]);
        let low = place.floor();
        if low < 0.0 || low + 1.0 >= n as f32 {
            return UNSEEN;
        }
        let (g, low) = (place - low, low as usize);
        std::array::from_fn(|c| source[low][c] + g * (source[low + 1][c] - source[low][c]))
    };
    let read: Vec<Light> = (0..n).map(read).collect();
    let level = |j: usize| {
        let span = middle(j).saturating_sub(2 * half)..(middle(j) + 2 * half).min(n);
        let apart = span.map(|k| -> Light { std::array::from_fn(|c| read[k][c] - lines[k][c]) });
        median_light(apart.collect::<Vec<_>>().into_iter()).map(|x| if x.is_nan() { 0.0 } else { x })
    };
    let levels: Vec<Light> = (0..count).map(level).collect();
    let even = |k: usize| -> Light {
        let (i, j, f) = between(k);
        std::array::from_fn(|c| read[k][c] - levels[i][c] - f * (levels[j][c] - levels[i][c]))
    };
    Some((0..n).map(even).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(shift: usize, thing: std::ops::Range<usize>) -> Vec<Light> {
        (0..600)
            .map(|k| match ((k + shift) % 60, thing.contains(&k)) {
                (_, true) => [0.7, 0.7, 0.1],
                (0..20, _) => [0.1, 0.2, 0.3],
                _ => [0.4, 0.4, 0.3],
            })
            .collect()
    }

    #[test]
    fn the_repeat_is_found_under_a_thing_and_tells_what_it_hides() {
        let (one, two) = (lines(0, 200..250), lines(8, 0..0));
        assert!(repeat([&one, &two], 0.3).unwrap().abs_diff(60) <= 1);
        let told = expected(&one, &two, Some(60), 0.3);
        let bare = lines(0, 0..0);
        let off = |k: usize| (0..3).map(|c| (told.tone[k][c] - tone(bare[k])[c]).abs()).fold(0.0, f32::max);
        assert!((205..245).filter(|&k| off(k) > 0.15).count() <= 4);
        assert!((205..245).all(|k| told.asked[k] >= 3));
    }

    #[test]
    fn lines_that_never_return_have_no_repeat() {
        let once: Vec<Light> = (0..600).map(|k| if (100..130).contains(&k) { [0.1; 3] } else { [0.5; 3] }).collect();
        assert_eq!(repeat([&once, &once], 0.3), None);
    }
}
