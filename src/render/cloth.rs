//! The cloth: its weave, its threads and the order of its colours.

use super::colour::Srgb;

/// How the cloth gets its colours.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Weave {
    /// Over one, under one; coloured yarns.
    Plain,
    /// 2/2 twill: over two, under two, a step aside in every row; coloured yarns.
    Twill,
    /// Plain weave of one yarn with the colours printed on it: edges do not follow the threads.
    Printed,
}

/// Neighbouring threads (or print) of one colour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Width across the threads, millimetres.
    pub width_mm: f64,
    /// Colour of the yarn or the print.
    pub colour: Srgb,
}

/// A cloth.
///
/// The weft lies across the seam and is seen as lines that cross it; the warp lies along the seam.
#[derive(Clone, Debug, PartialEq)]
pub struct Cloth {
    /// How the colours come about.
    pub weave: Weave,
    /// Distance from thread to thread, both ways, millimetres.
    pub thread_mm: f64,
    /// Colours met along u, one repeat; a single band is a cloth without lines across the seam.
    pub weft: Vec<Band>,
    /// Colours met along v, one repeat; a single band is a plain ground.
    pub warp: Vec<Band>,
    /// How much of the yarn's own relief, fibres and unevenness is seen: 1 is natural, 0 a perfectly even cloth.
    pub texture: f64,
}

const OAT: Srgb = [206, 193, 168];
const INK: Srgb = [52, 60, 84];
const CLAY: Srgb = [164, 84, 58];
const MOSS: Srgb = [112, 120, 82];
const CHALK: Srgb = [232, 230, 222];
const CORNFLOWER: Srgb = [88, 122, 178];
const CHARCOAL: Srgb = [74, 74, 79];
const CHARCOAL_LIGHT: Srgb = [84, 84, 89];
const STONE: Srgb = [176, 172, 164];
const PLUM: Srgb = [150, 86, 140];
const PINE: Srgb = [50, 121, 92];

impl Cloth {
    /// A broad check in 2/2 twill: oat ground, ink bars, clay and moss lines; repeat 36.8 mm both ways.
    pub fn broad_check() -> Self {
        let threads = [(26, OAT), (4, CLAY), (10, OAT), (22, INK), (10, OAT), (4, MOSS), (16, OAT)];
        let thread_mm = 0.4;
        let bands = bands(thread_mm, &threads);
        Self { weave: Weave::Twill, thread_mm, weft: bands.clone(), warp: bands, texture: 1.0 }
    }

    /// A fine shirting stripe in plain weave: cornflower on chalk; repeat 5 mm.
    pub fn fine_stripe() -> Self {
        let thread_mm = 0.25;
        Self {
            weave: Weave::Plain,
            thread_mm,
            weft: bands(thread_mm, &[(13, CHALK), (7, CORNFLOWER)]),
            warp: bands(thread_mm, &[(1, CHALK)]),
            texture: 1.0,
        }
    }

    /// A suiting twill whose lines are only a little lighter than their ground; repeat 14 mm.
    pub fn tonal_stripe() -> Self {
        let thread_mm = 0.35;
        Self {
            weave: Weave::Twill,
            thread_mm,
            weft: bands(thread_mm, &[(31, CHARCOAL), (9, CHARCOAL_LIGHT)]),
            warp: bands(thread_mm, &[(1, CHARCOAL)]),
            texture: 1.0,
        }
    }

    /// Plum and pine lines of equal lightness in turn on stone: only the colour tells one from the other; repeat 32 mm.
    pub fn equal_lightness_lines() -> Self {
        let thread_mm = 0.4;
        Self {
            weave: Weave::Plain,
            thread_mm,
            weft: bands(thread_mm, &[(31, STONE), (9, PLUM), (31, STONE), (9, PINE)]),
            warp: bands(thread_mm, &[(1, STONE)]),
            texture: 1.0,
        }
    }

    /// A cloth without lines.
    pub fn plain_cloth() -> Self {
        let thread_mm = 0.4;
        let ground = bands(thread_mm, &[(1, MOSS)]);
        Self { weave: Weave::Twill, thread_mm, weft: ground.clone(), warp: ground, texture: 1.0 }
    }

    /// A cloth whose lines run along the seam only.
    pub fn lines_along_only() -> Self {
        let thread_mm = 0.35;
        Self {
            weave: Weave::Twill,
            thread_mm,
            weft: bands(thread_mm, &[(1, OAT)]),
            warp: bands(thread_mm, &[(22, OAT), (12, INK)]),
            texture: 1.0,
        }
    }

    /// A bold print: two colours, half and half, with sharp edges.
    pub fn printed_bars(repeat_mm: f64) -> Self {
        let bar = |colour| Band { width_mm: repeat_mm / 2.0, colour };
        Self {
            weave: Weave::Printed,
            thread_mm: 0.3,
            weft: vec![bar(CHALK), bar(INK)],
            warp: vec![Band { width_mm: 0.3, colour: CHALK }],
            texture: 1.0,
        }
    }

    /// The same cloth with the bands across the seam (and along it, in a check) scaled to another repeat, millimetres.
    pub fn with_repeat(mut self, repeat_mm: f64) -> Self {
        let Some(now) = self.repeat_mm() else { return self };
        let factor = repeat_mm / now;
        let check = self.warp.len() > 1;
        for band in self.weft.iter_mut().chain(self.warp.iter_mut().filter(|_| check)) {
            band.width_mm *= factor;
        }
        self
    }

    /// The repeat of the lines that cross the seam, millimetres; `None` for a cloth without such lines.
    pub fn repeat_mm(&self) -> Option<f64> {
        let first = self.weft.first()?.colour;
        let lines = self.weft.iter().any(|band| band.colour != first);
        lines.then(|| self.weft.iter().map(|band| band.width_mm).sum())
    }
}

/// Bands of whole threads.
fn bands(thread_mm: f64, threads: &[(u32, Srgb)]) -> Vec<Band> {
    threads.iter().map(|&(count, colour)| Band { width_mm: f64::from(count) * thread_mm, colour }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::colour::linear;

    /// Relative luminance of linear sRGB (IEC 61966-2-1: 0.2126, 0.7152, 0.0722).
    fn luminance(colour: Srgb) -> f32 {
        let [r, g, b] = linear(colour);
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }

    #[test]
    fn repeats_are_those_of_the_thread_counts() {
        assert!((Cloth::broad_check().repeat_mm().unwrap() - 36.8).abs() < 1e-9);
        assert!((Cloth::fine_stripe().repeat_mm().unwrap() - 5.0).abs() < 1e-9);
        assert!((Cloth::tonal_stripe().repeat_mm().unwrap() - 14.0).abs() < 1e-9);
        assert!((Cloth::fine_stripe().with_repeat(7.5).repeat_mm().unwrap() - 7.5).abs() < 1e-9);
        assert_eq!(Cloth::plain_cloth().repeat_mm(), None);
        assert_eq!(Cloth::lines_along_only().repeat_mm(), None);
    }

    #[test]
    fn plum_and_pine_are_equally_light() {
        let (plum, pine) = (luminance(PLUM), luminance(PINE));
        assert!((plum / pine - 1.0).abs() < 0.02, "{plum} {pine}");
    }

    #[test]
    fn tonal_lines_are_about_a_quarter_lighter() {
        let ratio = luminance(CHARCOAL_LIGHT) / luminance(CHARCOAL);
        assert!((1.15..1.40).contains(&ratio), "{ratio}");
    }
}
