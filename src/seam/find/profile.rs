//! Tones along u, plane by plane: a column of the relief, or the lines of a side carried to it.
//!
//! One plane after another, that a processor works on several rows at once.

use std::ops::Range;

/// The planes: R, G and B, 1 where they are seen, their power R² + G² + B², and 1 where this row and the next are seen. Where a
/// row is not seen all its planes are 0.
const PLANES: usize = 6;
const SEEN: usize = 3;
const POWER: usize = 4;
const BOTH: usize = 5;
/// Rows that are summed side by side.
const LANES: usize = 8;
/// The planes of sums of profiles: R, G, B and how many of them are seen.
pub const SUMMED: usize = 4;

/// Tones along u that somebody else holds.
#[derive(Clone, Copy)]
pub struct Profile<'a> {
    planes: &'a [f32],
    rows: usize,
}

/// Tones along u, one run of rows after another.
pub struct Profiles {
    planes: Vec<f32>,
    rows: usize,
}

impl Profiles {
    /// So many profiles of so many rows of which nothing is seen.
    pub fn new(count: usize, rows: usize) -> Self {
        Self { planes: vec![0.0; count * PLANES * rows], rows }
    }

    /// One that is the mean of several, from their sums; not seen where fewer than `needed` are.
    pub fn mean(sums: &[f32], needed: f32) -> Self {
        let mut mean = Self::new(1, sums.len() / SUMMED);
        let (colours, counts) = sums.split_at((SUMMED - 1) * mean.rows);
        for j in 0..mean.rows {
            let count = counts[j];
            if count >= needed {
                let colour = [0, 1, 2].map(|c| colours[c * mean.rows + j] / count);
                mean.set(0, j, colour);
            }
        }
        mean.complete();
        mean
    }

    /// Rows of each.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// One of them.
    pub fn get(&self, number: usize) -> Profile<'_> {
        let size = PLANES * self.rows;
        Profile { planes: &self.planes[number * size..][..size], rows: self.rows }
    }

    /// What is seen at one row of one of them.
    #[inline]
    pub fn set(&mut self, number: usize, row: usize, colour: [f32; 3]) {
        let first = number * PLANES * self.rows + row;
        for c in 0..3 {
            self.planes[first + c * self.rows] = colour[c];
        }
        self.planes[first + SEEN * self.rows] = 1.0;
    }

    /// Power and neighbours, once all is set.
    pub fn complete(&mut self) {
        let rows = self.rows;
        for one in self.planes.chunks_exact_mut((PLANES * rows).max(1)) {
            let (colours, rest) = one.split_at_mut(SEEN * rows);
            let (seen, rest) = rest.split_at_mut(rows);
            let (power, both) = rest.split_at_mut(rows);
            for channel in colours.chunks_exact(rows) {
                for (power, x) in power.iter_mut().zip(channel) {
                    *power += x * x;
                }
            }
            for (both, pair) in both.iter_mut().zip(seen.windows(2)) {
                *both = pair[0] * pair[1];
            }
        }
    }

    /// The planes of the first that sums have too.
    fn summed_mut(&mut self) -> &mut [f32] {
        &mut self.planes[..SUMMED * self.rows]
    }
}

impl Profile<'_> {
    /// Rows of it.
    pub fn rows(&self) -> usize {
        self.rows
    }

    fn plane(&self, number: usize) -> &[f32] {
        &self.planes[number * self.rows..][..self.rows]
    }

    /// The power of some rows, and how many of them are seen.
    pub fn power(&self, rows: Range<usize>) -> (f32, f32) {
        (self.plane(POWER)[rows.clone()].iter().sum(), self.plane(SEEN)[rows].iter().sum())
    }

    /// The sum of squares of what two differ by in some rows, over the colours, and how many of the rows are seen in both.
    pub fn apart(&self, other: Profile, rows: Range<usize>) -> (f32, f32) {
        let Likeness { cross, own, other: others } = Likeness::of(*self, other, [rows.start; 2], rows.len());
        let both = dot(&self.plane(SEEN)[rows.clone()], &other.plane(SEEN)[rows]);
        ((own - 2.0 * cross + others).max(0.0), both)
    }

    /// The same moved up by `shift` cells.
    pub fn moved(&self, shift: f64) -> Profiles {
        let mut moved = Profiles::new(1, self.rows);
        self.add_moved(shift, moved.summed_mut());
        moved.complete();
        moved
    }

    /// Adds it to sums, moved up by `shift` cells (linear interpolation), where both its neighbours are seen.
    pub fn add_moved(&self, shift: f64, sums: &mut [f32]) {
        let (whole, f) = whole_and_part(shift);
        let rows = sums.len() / SUMMED;
        let (from, to) = overlap(whole, self.rows, rows);
        if from == to {
            return;
        }
        let first = from.saturating_add_signed(whole);
        let both = &self.plane(BOTH)[first..][..to - from];
        for (c, sum) in sums.chunks_exact_mut(rows).enumerate() {
            if c == SEEN {
                add(&mut sum[from..to], both);
            } else {
                let channel = &self.plane(c)[first..][..=to - from];
                add_between(&mut sum[from..to], channel, both, f);
            }
        }
    }
}

/// Cells that are whole, and what is left of one.
pub fn whole_and_part(cells: f64) -> (isize, f32) {
    let whole = cells.floor();
    (whole as isize, (cells - whole) as f32)
}

/// The rows j of `rows` for which row j + `whole` of `length` and the next are there.
pub fn overlap(whole: isize, length: usize, rows: usize) -> (usize, usize) {
    let from = (-whole).max(0) as usize;
    let to = (length as isize - 1 - whole).clamp(0, rows as isize) as usize;
    if from < to { (from, to) } else { (0, 0) }
}

// The loops over rows stand in functions of their own: their arguments do not overlap, and the compiler works on several
// rows at once.

/// Adds place by place.
pub fn add(sum: &mut [f32], more: &[f32]) {
    for (slot, x) in sum.iter_mut().zip(more) {
        *slot += x;
    }
}

/// Adds what stands the part `f` of the way from each row to the next, where both are seen.
fn add_between(sum: &mut [f32], channel: &[f32], both: &[f32], f: f32) {
    for (((slot, both), a), b) in sum.iter_mut().zip(both).zip(channel).zip(&channel[1..]) {
        *slot += both * (a + f * (b - a));
    }
}

/// Mean power of the means whose sums these are: not seen where fewer than `needed` are, `None` where no more than `least` rows
/// are seen.
pub fn energy(sums: &[f32], needed: f32, least: f32) -> Option<f32> {
    let rows = sums.len() / SUMMED;
    let [red, green, blue, counts] = [0, 1, 2, 3].map(|plane| &sums[plane * rows..][..rows]);
    let (mut energy, mut seen) = ([0.0f32; LANES], [0.0f32; LANES]);
    let mut add = |k: usize, r: f32, g: f32, b: f32, count: f32| {
        let (share, one) = if count >= needed { (1.0 / count, 1.0) } else { (0.0, 0.0) };
        energy[k] += (r * r + g * g + b * b) * (share * share);
        seen[k] += one;
    };
    let whole = rows - rows % LANES;
    for from in (0..whole).step_by(LANES) {
        let [r, g, b, n]: [&[f32; LANES]; 4] =
            [red, green, blue, counts].map(|plane| plane[from..from + LANES].try_into().unwrap_or(&[0.0; LANES]));
        for k in 0..LANES {
            add(k, r[k], g[k], b[k], n[k]);
        }
    }
    for j in whole..rows {
        add(0, red[j], green[j], blue[j], counts[j]);
    }
    let seen: f32 = seen.iter().sum();
    (seen > least).then(|| energy.iter().sum::<f32>() / seen)
}

/// A correlation being gathered over the colours: sums of a·b, a·a and b·b, where both are seen.
#[derive(Clone, Copy, Default)]
pub struct Likeness {
    /// a·b.
    pub cross: f32,
    /// a·a.
    pub own: f32,
    /// b·b.
    pub other: f32,
}

impl Likeness {
    /// Of so many rows of two profiles, from these rows on.
    pub fn of(a: Profile, b: Profile, [from_a, from_b]: [usize; 2], rows: usize) -> Self {
        let dot = |p: usize, q: usize| dot(&a.plane(p)[from_a..][..rows], &b.plane(q)[from_b..][..rows]);
        Self { cross: (0..SEEN).map(|c| dot(c, c)).sum(), own: dot(POWER, SEEN), other: dot(SEEN, POWER) }
    }

    /// The correlation; 0 where nothing is seen.
    pub fn value(&self) -> f32 {
        if self.own > 0.0 && self.other > 0.0 { self.cross / (self.own * self.other).sqrt() } else { 0.0 }
    }
}

/// The sum of products, eight at a time.
fn dot(a: &[f32], b: &[f32]) -> f32 {
    let (a, b) = (a.chunks_exact(LANES), b.chunks_exact(LANES));
    let rest: f32 = a.remainder().iter().zip(b.remainder()).map(|(a, b)| a * b).sum();
    let mut sums = [0.0f32; LANES];
    for (a, b) in a.zip(b) {
        for k in 0..LANES {
            sums[k] += a[k] * b[k];
        }
    }
    sums.iter().sum::<f32>() + rest
}
