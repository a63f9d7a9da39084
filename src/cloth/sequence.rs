//! One repeat as a sequence of bands: where each begins, how wide it is, its colour.

use super::fold::Fold;
use crate::colour::word::names;
use crate::light;
use crate::offset::bands::{self, ONE_COLOUR};

/// Reach of the difference that finds edges in [`bands`], millimetres; in a coarse picture it is so many samples.
const EDGE_REACH_MM: f64 = 0.3;
const EDGE_REACH_SAMPLES: f64 = 1.25;
/// Least standard uncertainty of an edge, samples: pixels and threads. From rendered photographs.
const LEAST_EDGE_SAMPLES: f64 = 0.05;
/// Without a second look at an edge its standard uncertainty is so many samples.
const ONE_LOOK_SAMPLES: f64 = 0.5;
/// An edge is looked for this far from where it was found, samples.
const AROUND_SAMPLES: f64 = 2.5;
/// The ground's own colour is the mean of this share of the ribs: those that are most alike.
const MOST_ALIKE_SHARE: f64 = 0.35;

/// A stretch of one colour in a repeat.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// From 1 on, in the order of growing u.
    pub number: usize,
    /// Where it begins, from the beginning of the repeat, millimetres.
    pub from_mm: f64,
    /// Its width, millimetres.
    pub width_mm: f64,
    /// Standard uncertainty of the width in the plane of the cloth.
    pub u_width_mm: f64,
    /// Whether it is of the colour that most of the repeat has.
    pub is_ground: bool,
    /// Its colour, 8-bit sRGB.
    pub colour: [u8; 3],
    /// The word for it; bands of one thread share it.
    pub name: String,
    /// Its relief (logarithm of light over the mean).
    pub relief: [f64; 3],
}

/// The tone's steps as [`bands`] counts them: those of a coarse picture count as finer ones, so that an edge's reach is some
/// samples.
fn told_mm(step_mm: f64, sample_mm: f64) -> f64 {
    step_mm * EDGE_REACH_MM / EDGE_REACH_MM.max(EDGE_REACH_SAMPLES * sample_mm)
}

/// How many stretches of one colour a tone shows that does not repeat.
pub fn stretches(tone: &[[f32; 3]], step_mm: f64) -> usize {
    let tone: Vec<[f64; 3]> = tone.iter().map(|t| t.map(f64::from)).collect();
    bands::bands(&tone, told_mm(step_mm, step_mm)).len()
}

/// Cuts a repeat into its bands and begins it with the widest of the ground. No bands where the lines have no edges.
pub fn cut(fold: Fold, sample_mm: f64) -> (Fold, Vec<bands::Band>) {
    let n = fold.places();
    let told_mm = told_mm(fold.step_mm(), sample_mm);
    let tone = fold.tone();
    let twice: Vec<[f64; 3]> = tone.iter().chain(&tone).copied().collect();
    let seen = bands::bands(&twice, told_mm);
    if seen.len() < 4 {
        return (fold, Vec::new());
    }
    let inner = &seen[1..seen.len() - 1];
    let Some(ground) = bands::ground(inner) else { return (fold, Vec::new()) };
    let of_ground = inner.iter().filter(|b| bands::distance(&b.relief, &ground) < ONE_COLOUR);
    let Some(widest) = of_ground.max_by_key(|b| (b.to - b.from, usize::MAX - b.from)) else {
        return (fold, Vec::new());
    };
    let begin = widest.from % n;
    let fold = fold.begun_at(begin);
    let tone = fold.tone();
    // A margin either side gives the first and the last edge their surroundings.
    let margin = (n / 4).max(8).min(n);
    let long: Vec<[f64; 3]> = tone[n - margin..].iter().chain(&tone).chain(&tone[..margin]).copied().collect();
    let mut cuts: Vec<usize> = bands::bands(&long, told_mm)
        .iter()
        .map(|b| b.from as i64 - margin as i64)
        .filter(|from| (-2..n as i64 - 2).contains(from))
        .map(|from| from.max(0) as usize)
        .collect();
    if cuts.first().is_none_or(|first| *first > 0) {
        cuts.insert(0, 0);
    }
    cuts.push(n);
    let band = |pair: &[usize]| {
        let (from, to) = (pair[0], pair[1]);
        let inner = (to - from) / 4;
        let part = &tone[from + inner..(to - inner).max(from + inner + 1)];
        let relief = std::array::from_fn(|c| part.iter().map(|t| t[c]).sum::<f64>() / part.len() as f64);
        bands::Band { from, to, relief }
    };
    let found: Vec<bands::Band> = cuts.windows(2).filter(|pair| pair[1] > pair[0]).map(band).collect();
    if found.len() < 2 { (fold, Vec::new()) } else { (fold, found) }
}

/// The bands of lines of which no repeat is seen, in the order of u: those that are seen whole. `light` as in [`measured`].
pub fn once(fold: &Fold, sample_mm: f64, light: &[Vec<Option<[f64; 3]>>]) -> Vec<Band> {
    let found = bands::bands(&fold.tone(), told_mm(fold.step_mm(), sample_mm));
    let mut all = measured(fold, &found, sample_mm, light);
    // The first and the last run out of the picture.
    all.pop();
    let mut whole: Vec<Band> = all.into_iter().skip(1).collect();
    let from_mm = whole.first().map_or(0.0, |band| band.from_mm);
    for (k, band) in whole.iter_mut().enumerate() {
        (band.number, band.from_mm) = (k + 1, band.from_mm - from_mm);
    }
    whole
}

/// Measures the bands of a repeat that begins with one of them. `light` is the light itself, rib by rib and place by place.
pub fn measured(fold: &Fold, found: &[bands::Band], sample_mm: f64, light: &[Vec<Option<[f64; 3]>>]) -> Vec<Band> {
    let Some(ground) = bands::ground(found) else { return Vec::new() };
    let edges: Vec<(f64, f64)> = (0..found.len())
        .map(|k| edge(fold, &found[(k + found.len() - 1) % found.len()], &found[k], sample_mm))
        .collect();
    let n = found.len();
    let is_ground = |k: usize| bands::distance(&found[k].relief, &ground) < ONE_COLOUR;
    let means = bands::mean_colours(light);
    let colours: Vec<[u8; 3]> = (0..n)
        .map(|k| {
            let inner = (found[k].to - found[k].from) / 4;
            let inner = found[k].from + inner..(found[k].to - inner).max(found[k].from + inner + 1);
            if is_ground(k) { most_alike(light, inner) } else { bands::own_colour(light, &means, inner) }
        })
        .collect();
    let words = names(&colours);
    (0..n)
        .map(|k| {
            let next = (k + 1) % n;
            let end = edges[next].0 + if next == 0 { fold.repeat_mm } else { 0.0 };
            Band {
                number: k + 1,
                from_mm: edges[k].0 - edges[0].0,
                width_mm: end - edges[k].0,
                u_width_mm: edges[k].1.hypot(edges[next].1),
                is_ground: is_ground(k),
                colour: colours[k],
                name: words[k].clone(),
                relief: found[k].relief,
            }
        })
        .collect()
}

/// Where one band goes over into the next, half of the way in linear light, millimetres from the repeat's beginning, with
/// its standard uncertainty from how the repeats differ.
fn edge(fold: &Fold, before: &bands::Band, after: &bands::Band, sample_mm: f64) -> (f64, f64) {
    let n = fold.places();
    let level = |band: &bands::Band| -> [f64; 3] {
        let inner = (band.to - band.from) / 4;
        let part = &fold.mean[band.from + inner..(band.to - inner).max(band.from + inner + 1)];
        std::array::from_fn(|c| part.iter().map(|m| m[c]).sum::<f64>() / part.len() as f64)
    };
    let (low, high) = (level(before), level(after));
    let rise: [f64; 3] = std::array::from_fn(|c| high[c] - low[c]);
    let size: f64 = rise.iter().map(|r| r * r).sum::<f64>().max(1e-12);
    let share = |m: &[f64; 3]| (0..3).map(|c| (m[c] - low[c]) * rise[c]).sum::<f64>() / size;
    let at = after.from as isize;
    let step_mm = fold.step_mm();
    let narrower = (before.to - before.from).min(after.to - after.from) as isize;
    let reach = ((AROUND_SAMPLES * sample_mm / step_mm).round() as isize).min(narrower / 2).max(2);
    // The crossing nearest to where the edge was found.
    let crossing = |value: &dyn Fn(isize) -> Option<[f64; 3]>| -> Option<f64> {
        let mut best: Option<f64> = None;
        for k in at - reach..at + reach {
            let (Some(a), Some(b)) = (value(k), value(k + 1)) else { continue };
            let (a, b) = (share(&a) - 0.5, share(&b) - 0.5);
            if a <= 0.0 && b > 0.0 {
                let place = k as f64 + a / (a - b);
                if best.is_none_or(|x| (place - at as f64).abs() < (x - at as f64).abs()) {
                    best = Some(place);
                }
            }
        }
        best
    };
    let wrapped = |k: isize| k.rem_euclid(n as isize) as usize;
    let place = crossing(&|k| Some(fold.mean[wrapped(k)])).unwrap_or(at as f64);
    // An edge at the beginning of a repeat has its other half at the end of the one before.
    let in_row = |r: usize, k: isize| {
        let row = r as isize + k.div_euclid(n as isize);
        usize::try_from(row).ok().and_then(|row| fold.rows.get(row)).and_then(|row| row[wrapped(k)])
    };
    let each: Vec<f64> = (0..fold.rows.len()).filter_map(|r| crossing(&|k| in_row(r, k))).collect();
    let least = LEAST_EDGE_SAMPLES * sample_mm;
    let u_mm = if each.len() >= 3 {
        let count = each.len() as f64;
        let middle = each.iter().sum::<f64>() / count;
        let variance = each.iter().map(|x| (x - middle).powi(2)).sum::<f64>() / (count - 1.0);
        (variance / count).sqrt() * step_mm
    } else if fold.returns {
        ONE_LOOK_SAMPLES * sample_mm
    } else {
        // Parts of the cloth side by side show it further away than it was looked for.
        AROUND_SAMPLES / 3f64.sqrt() * sample_mm
    };
    (place * step_mm, u_mm.hypot(least))
}

/// Mean light of a band on the ribs that are most alike there: in a check, those where it crosses the other way's ground.
fn most_alike(light: &[Vec<Option<[f64; 3]>>], inner: std::ops::Range<usize>) -> [u8; 3] {
    let mut seen: Vec<[f64; 3]> = (light.iter())
        .filter_map(|rib| {
            let cells: Vec<[f64; 3]> = rib[inner.clone()].iter().flatten().copied().collect();
            let count = cells.len() as f64;
            (!cells.is_empty()).then(|| std::array::from_fn(|c| cells.iter().map(|v| v[c]).sum::<f64>() / count))
        })
        .collect();
    let tone = |v: &[f64; 3]| f64::from(light::luminance(v.map(|x| x as f32)));
    seen.sort_by(|a, b| tone(a).total_cmp(&tone(b)));
    let count = ((seen.len() as f64 * MOST_ALIKE_SHARE).ceil() as usize).max(1);
    let narrowest = (0..(seen.len() + 1).saturating_sub(count))
        .min_by(|&a, &b| {
            let width = |k: usize| tone(&seen[k + count - 1]) / tone(&seen[k]).max(1e-6);
            width(a).total_cmp(&width(b))
        })
        .unwrap_or(0);
    let part = seen.get(narrowest..narrowest + count).unwrap_or(&[]);
    let mean = |c: usize| part.iter().map(|v| v[c]).sum::<f64>() / part.len().max(1) as f64;
    light::to_srgb8(std::array::from_fn(mean))
}
