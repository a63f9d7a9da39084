//! Which line of a repeat to put on the notches: one that cannot be mistaken for another.

use super::sequence::Band;
use crate::colour::Lab;

/// Lines are told apart from this difference of colour on (ΔE₀₀), or where one is this many times as wide.
const OTHER_COLOUR: f64 = 10.0;
const OTHER_WIDTH: f64 = 1.6;

/// Which of the bands (an index) occurs once in the repeat and stands out most from its neighbours; `None` where every
/// line has a double, or there is no line.
pub fn choose(bands: &[Band]) -> Option<usize> {
    let apart = |a: &Band, b: &Band| Lab::from_srgb(a.colour).difference(Lab::from_srgb(b.colour));
    let alike = |a: &Band, b: &Band| {
        let (narrow, wide) = (a.width_mm.min(b.width_mm), a.width_mm.max(b.width_mm));
        apart(a, b) < OTHER_COLOUR && wide < OTHER_WIDTH * narrow
    };
    let n = bands.len();
    let boldness = |k: usize| apart(&bands[k], &bands[(k + n - 1) % n]).min(apart(&bands[k], &bands[(k + 1) % n]));
    let lines = (0..n).filter(|&k| !bands[k].is_ground);
    let alone = |k: &usize| (0..n).all(|j| j == *k || bands[j].is_ground || !alike(&bands[j], &bands[*k]));
    lines.filter(alone).max_by(|&a, &b| boldness(a).total_cmp(&boldness(b)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bands(all: &[(f64, [u8; 3], bool)]) -> Vec<Band> {
        let band = |(k, &(width_mm, colour, is_ground)): (usize, &(f64, [u8; 3], bool))| Band {
            number: k + 1,
            from_mm: 0.0,
            width_mm,
            u_width_mm: 0.05,
            is_ground,
            colour,
            name: String::new(),
            relief: [0.0; 3],
        };
        all.iter().enumerate().map(band).collect()
    }

    const OAT: [u8; 3] = [206, 193, 168];
    const INK: [u8; 3] = [52, 60, 84];
    const CLAY: [u8; 3] = [164, 84, 58];

    #[test]
    fn the_line_that_comes_once_is_chosen_though_another_is_bolder() {
        let twice = [
            (9.0, OAT, true),
            (4.0, INK, false),
            (9.0, OAT, true),
            (2.0, CLAY, false),
            (9.0, OAT, true),
            (4.0, INK, false),
        ];
        assert_eq!(choose(&bands(&twice)), Some(3));
        let once = [(9.0, OAT, true), (4.0, INK, false), (9.0, OAT, true), (2.0, CLAY, false)];
        assert_eq!(choose(&bands(&once)), Some(1));
        let wide = [(9.0, OAT, true), (8.0, INK, false), (9.0, OAT, true), (4.0, INK, false)];
        assert!(choose(&bands(&wide)).is_some(), "widths tell them apart");
    }

    #[test]
    fn where_every_line_has_a_double_none_is_chosen() {
        let same = [(9.0, OAT, true), (4.0, INK, false), (12.0, OAT, true), (4.0, INK, false)];
        assert_eq!(choose(&bands(&same)), None);
        assert_eq!(choose(&[]), None);
    }
}
