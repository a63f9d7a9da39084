//! The cloth at yarn level: which thread lies on top at a place, and how light it is there.

use super::chance;
use super::cloth::{Band, Cloth, Weave};
use super::colour::{Linear, linear, scaled};

/// A cloth ready to be looked at, both sides of the seam cut from different places of it.
pub(super) struct Loom {
    weave: Weave,
    threads_per_mm: f32,
    texture: f32,
    /// The yarns of the two sides: first all of the warp, then all of the weft.
    yarns: [Vec<Yarn>; 2],
    /// Index of the first yarn, and how many there are each way.
    first_yarn: i32,
    count: i32,
    /// How the lightness of a yarn changes along it: slowly with its thickness, and from fibre to fibre.
    slub: Vec<f32>,
    fibre: Vec<f32>,
    /// Printed colours with the ends of their bands, millimetres; the repeat is the last end.
    print: Vec<(f32, Linear)>,
}

/// One yarn.
#[derive(Clone, Copy)]
struct Yarn {
    /// Its colour and its own lightness.
    colour: Linear,
    /// Where its own stretch of unevenness begins.
    lead: u32,
}

/// Length of the tables of unevenness; a power of two.
const UNEVEN: usize = 4096;
/// Entries of the tables of unevenness to a millimetre of yarn.
const UNEVEN_PER_MM: f32 = 7.0;

impl Loom {
    /// The cloth's yarns over −reach to +reach millimetres of cloth; the salts are the two sides' own chance.
    pub(super) fn new(cloth: &Cloth, reach_mm: f64, salts: [u32; 2]) -> Self {
        let first_yarn = -(reach_mm / cloth.thread_mm).ceil() as i32;
        let yarns = |bands: &[Band], salt: u32| -> Vec<Yarn> {
            let colours = ends(bands);
            (first_yarn..-first_yarn)
                .map(|k| {
                    let own = 1.0 + 0.05 * cloth.texture as f32 * chance::at(k, 0, salt);
                    let colour = colour_at(&colours, ((f64::from(k) + 0.5) * cloth.thread_mm) as f32);
                    Yarn { colour: scaled(colour, own), lead: chance::at(k, 1, salt).to_bits() }
                })
                .collect()
        };
        Self {
            weave: cloth.weave,
            threads_per_mm: 1.0 / cloth.thread_mm as f32,
            texture: cloth.texture as f32,
            yarns: salts.map(|salt| [yarns(&cloth.warp, salt ^ 0xA7), yarns(&cloth.weft, salt ^ 0x51)].concat()),
            first_yarn,
            count: -2 * first_yarn,
            slub: (0..UNEVEN).map(|k| 0.045 * chance::along(k as f32 / (9.0 * UNEVEN_PER_MM), 0, salts[0])).collect(),
            fibre: (0..UNEVEN).map(|k| 0.09 * chance::at(k as i32, 1, salts[0])).collect(),
            print: ends(&cloth.weft),
        }
    }

    /// The light a place of the cloth sends back under even light: t along the warp, w along the weft, millimetres.
    #[inline]
    pub(super) fn light(&self, side: usize, t_mm: f32, w_mm: f32) -> Linear {
        let (t, w) = (t_mm * self.threads_per_mm, w_mm * self.threads_per_mm);
        let (i, j) = (chance::whole(t), chance::whole(w));
        let (ft, fw) = (t - i as f32, w - j as f32);
        // Where in its float the place lies: `phase` counts the crossings of the float, `long` runs 0 to 1 along it.
        let (weft_on_top, long) = match self.weave {
            Weave::Twill => {
                let phase = i.wrapping_add(j) & 3;
                (phase < 2, (phase & 1) as f32 * 0.5 + 0.5 * if phase < 2 { fw } else { ft })
            }
            Weave::Plain | Weave::Printed => {
                let phase = i.wrapping_add(j) & 1;
                (phase == 0, if phase == 0 { fw } else { ft })
            }
        };
        // Which yarn is on top is as good as random from sample to sample: picked without a branch.
        let top = usize::from(weft_on_top);
        let (number, across, run) = ([j, i][top], [fw, ft][top], [t_mm, w_mm][top]);
        let index = (number.saturating_sub(self.first_yarn)).clamp(0, self.count - 1) + [0, self.count][top];
        let yarn = self.yarns[side][index as usize];
        let colour = match self.weave {
            Weave::Printed => colour_at(&self.print, t_mm),
            Weave::Plain | Weave::Twill => yarn.colour,
        };
        if self.texture == 0.0 {
            return colour;
        }
        let (x, y) = (2.0 * across - 1.0, 2.0 * long - 1.0);
        // Mean of x² and of y² over a yarn is 1/3: the cloth keeps its colour on the whole.
        let round = 1.0 - 0.38 * (x * x - 1.0 / 3.0) - 0.22 * (y * y - 1.0 / 3.0) - 0.10 * x;
        let place = (chance::whole(run * UNEVEN_PER_MM) as u32).wrapping_add(yarn.lead) as usize % UNEVEN;
        let uneven = 1.0 + self.slub[place] + self.fibre[place];
        scaled(colour, 1.0 + self.texture * (round * uneven - 1.0))
    }
}

/// Bands with the place of their ends, millimetres.
fn ends(bands: &[Band]) -> Vec<(f32, Linear)> {
    let mut end = 0.0;
    bands
        .iter()
        .map(|band| {
            end += band.width_mm;
            (end as f32, linear(band.colour))
        })
        .collect()
}

/// The colour of the band at a place, the bands repeating for ever.
fn colour_at(ends: &[(f32, Linear)], place_mm: f32) -> Linear {
    let last = ends[ends.len() - 1];
    let place = place_mm - last.0 * chance::whole(place_mm / last.0) as f32;
    ends.iter().find(|(end, _)| place < *end).unwrap_or(&last).1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mean(loom: &Loom, t: std::ops::Range<f32>, w: std::ops::Range<f32>) -> Linear {
        let mut sum = [0.0_f64; 3];
        let n = 240;
        for a in 0..n {
            for b in 0..n {
                let at = |r: &std::ops::Range<f32>, k: i32| r.start + (r.end - r.start) * (k as f32 + 0.5) / n as f32;
                let light = loom.light(0, at(&t, a), at(&w, b));
                (0..3).for_each(|c| sum[c] += f64::from(light[c]));
            }
        }
        sum.map(|x| (x / f64::from(n * n)) as f32)
    }

    #[test]
    fn a_plaid_mixes_warp_and_weft_half_and_half() {
        let mut cloth = Cloth::broad_check();
        cloth.texture = 0.0;
        let loom = Loom::new(&cloth, 100.0, [1, 2]);
        let (oat, ink) = (linear([206, 193, 168]), linear([52, 60, 84]));
        // Threads 40 to 61 are ink: weft ink over warp oat, then ink over ink.
        let mixed = mean(&loom, 16.0..24.0, 0.0..9.6);
        let full = mean(&loom, 16.0..24.0, 16.0..24.0);
        for c in 0..3 {
            assert!((mixed[c] - (oat[c] + ink[c]) / 2.0).abs() < 0.01, "{mixed:?}");
            assert!((full[c] - ink[c]).abs() < 1e-4, "{full:?}");
        }
    }

    #[test]
    fn relief_and_fibres_leave_the_mean_colour() {
        let mut cloth = Cloth::plain_cloth();
        for weave in [Weave::Plain, Weave::Twill, Weave::Printed] {
            cloth.weave = weave;
            let loom = Loom::new(&cloth, 100.0, [11, 12]);
            let (seen, yarn) = (mean(&loom, -8.0..8.0, -8.0..8.0), linear([112, 120, 82]));
            assert!((0..3).all(|c| (seen[c] / yarn[c] - 1.0).abs() < 0.03), "{weave:?}: {seen:?} {yarn:?}");
        }
    }

    #[test]
    fn twill_floats_over_two_and_steps_aside() {
        let mut cloth = Cloth::broad_check();
        cloth.texture = 0.0;
        cloth.thread_mm = 1.0;
        cloth.weft = vec![Band { width_mm: 1.0, colour: [255; 3] }];
        cloth.warp = vec![Band { width_mm: 1.0, colour: [0; 3] }];
        let loom = Loom::new(&cloth, 20.0, [1, 2]);
        let row =
            |i: i32| -> Vec<bool> { (0..8).map(|j| loom.light(0, i as f32 + 0.5, j as f32 + 0.5)[0] > 0.5).collect() };
        assert_eq!(row(0), [true, true, false, false, true, true, false, false]);
        assert_eq!(row(1)[..7], row(0)[1..]);
    }
}
