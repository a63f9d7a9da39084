//! From a symbol's place to what it says: its modules are read at several local thresholds; the code's own correction
//! decides, and where too much is lost for it, the likeness to one of the cards that are printed.

use super::lit::{Lit, TO_READ_PX};
use super::locate::dark_at;
use super::pattern::Pattern;
use super::shades::Shades;
use super::{TEXT_PREFIX, homography, printed};
use crate::photo::Photo;
use nalgebra::Matrix3;
use qrcode::{Color, EcLevel, QrCode, Version};
use rqrr::SimpleGrid;

/// Printed widths that are believed, millimetres.
pub const SIDE_RANGE_MM: std::ops::RangeInclusive<f64> = 5.0..=200.0;

/// A symbol whose own modules (all but what every symbol has) agree with the reading this well is what was printed; one
/// with another mask agrees in half of them. Else the reading itself is all that is known.
const SAME: f64 = 0.62;
/// Least agreement with a printed card where the code's own correction failed, and least lead on the next card. Two
/// cards may agree in three quarters of their own modules, any other symbol agrees with the best of the cards in less
/// than 0.6.
const LIKE: f64 = 0.68;
const LEAD: f64 = 0.1;

/// What a symbol says.
#[derive(Clone, Debug)]
pub enum Said {
    /// It is a scale card.
    Card {
        /// Printed width of the symbol without its quiet zone, millimetres.
        side_mm: f64,
        /// What was printed.
        pattern: Pattern,
    },
    /// Something else.
    Other,
}

/// What the symbol at this place says; `None` when it cannot be read.
pub fn decode(photo: &Photo, level: &Shades, modules_to_px: &Matrix3<f64>, modules: usize) -> Option<Said> {
    let light = lights(photo, modules_to_px, modules);
    let readings = [midrange(&light, modules, 4), midrange(&light, modules, 2), dark_at(level, modules_to_px, modules)];
    let corrected = readings.iter().find_map(|dark| Some((corrected(dark, modules)?, dark)));
    if let Some((text, dark)) = corrected {
        let Some(side_mm) = side_of(&text) else { return Some(Said::Other) };
        return Some(Said::Card { side_mm, pattern: as_printed(&text, modules, dark) });
    }
    if modules != printed::MODULES {
        return None;
    }
    readings.iter().find_map(|dark| {
        let (side, pattern) = likeliest(dark, LIKE, LEAD)?;
        Some(Said::Card { side_mm: f64::from(side), pattern })
    })
}

/// The printed card that the modules at this place look most like, however little.
pub fn guess(photo: &Photo, modules_to_px: &Matrix3<f64>) -> Option<Pattern> {
    let light = lights(photo, modules_to_px, printed::MODULES);
    likeliest(&midrange(&light, printed::MODULES, 4), 0.54, 0.0).map(|(_, pattern)| pattern)
}

/// The width that a card's text tells, millimetres.
pub fn side_of(text: &str) -> Option<f64> {
    text.strip_prefix(TEXT_PREFIX)?.parse().ok().filter(|side| SIDE_RANGE_MM.contains(side))
}

/// What was printed for a text that was read from `dark`.
pub fn as_printed(text: &str, modules: usize, dark: &[Option<bool>]) -> Pattern {
    let version = Version::Normal(((modules - 17) / 4) as i16);
    let levels = [EcLevel::H, EcLevel::M, EcLevel::L, EcLevel::Q];
    levels
        .into_iter()
        .filter_map(|level| QrCode::with_version(text, version, level).ok())
        .map(|code| {
            let dark: Vec<bool> = code.to_colors().into_iter().map(|colour| colour == Color::Dark).collect();
            Pattern::whole(code.width(), &dark)
        })
        .map(|pattern| (pattern.own_agreement(dark), pattern))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(agreement, _)| *agreement >= SAME)
        .map_or_else(|| Pattern { modules, cells: dark.to_vec() }, |(_, pattern)| pattern)
}

fn corrected(dark: &[Option<bool>], modules: usize) -> Option<String> {
    let bits = SimpleGrid::from_func(modules, |x, y| dark[y * modules + x].unwrap_or(false));
    rqrr::Grid::new(bits).decode().ok().map(|(_, text)| text)
}

/// The printed card that agrees best, if it agrees and leads enough.
fn likeliest(dark: &[Option<bool>], like: f64, lead: f64) -> Option<(u32, Pattern)> {
    let mut cards: Vec<(f64, u32, Pattern)> = printed::all()
        .iter()
        .map(|(side, symbol)| {
            let pattern = Pattern::whole(printed::MODULES, symbol);
            (pattern.own_agreement(dark), *side, pattern)
        })
        .collect();
    cards.sort_by(|a, b| b.0.total_cmp(&a.0));
    let (best, second) = (cards[0].0, cards[1].0);
    let (_, side, pattern) = cards.swap_remove(0);
    (best >= like && best - second >= lead).then_some((side, pattern))
}

/// Light in the middle of each module, the mean of five places; `None` outside the picture.
fn lights(photo: &Photo, modules_to_px: &Matrix3<f64>, modules: usize) -> Vec<Option<f64>> {
    const PLACES: [[f64; 2]; 5] = [[0.5, 0.5], [0.35, 0.5], [0.65, 0.5], [0.5, 0.35], [0.5, 0.65]];
    let lit = Lit::around(photo, modules_to_px, modules, TO_READ_PX);
    (0..modules * modules)
        .map(|i| {
            let sum = PLACES.iter().try_fold(0.0, |sum, place| {
                let at = [(i % modules) as f64 + place[0], (i / modules) as f64 + place[1]];
                let p = homography::apply(modules_to_px, at);
                Some(sum + lit.at(p[0], p[1])?)
            })?;
            Some(sum / PLACES.len() as f64)
        })
        .collect()
}

/// Which modules are darker than the middle between the lightest and the darkest within `reach` modules.
fn midrange(light: &[Option<f64>], modules: usize, reach: usize) -> Vec<Option<bool>> {
    (0..modules * modules)
        .map(|i| {
            let here = light[i]?;
            let span = |k: usize| k.saturating_sub(reach)..(k + reach + 1).min(modules);
            let (mut low, mut high) = (here, here);
            for y in span(i / modules) {
                for value in light[y * modules..(y + 1) * modules][span(i % modules)].iter().flatten() {
                    (low, high) = (low.min(*value), high.max(*value));
                }
            }
            Some(here < 0.5 * (low + high))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::ChaCha8Rng;
    use rand_chacha::rand_core::{Rng, SeedableRng};

    fn read_of(side_mm: u32) -> Vec<Option<bool>> {
        printed::symbol(&printed::text(side_mm)).unwrap().into_iter().map(Some).collect()
    }

    #[test]
    fn no_grid_of_modules_makes_the_reader_stumble() {
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        let mut said = 0;
        for modules in (21..=57).step_by(4) {
            let every = Pattern::of_size(modules, [true; 3]);
            for round in 0..60 {
                let dark: Vec<Option<bool>> = (every.cells.iter())
                    .map(|cell| cell.filter(|_| round % 2 == 0).or(Some(rng.next_u32() % (2 + round) == 0)))
                    .collect();
                said += usize::from(corrected(&dark, modules).is_some());
            }
        }
        assert!(said < 20, "{said} of 600 grids of chance said something");
    }

    #[test]
    fn a_card_half_lost_is_still_known_by_its_likeness_and_no_other_symbol_is() {
        let mut rng = ChaCha8Rng::seed_from_u64(6);
        for side_mm in [20, 30, 47, 60] {
            let mut dark = read_of(side_mm);
            // The lower half is covered by something dark.
            dark[printed::MODULES * 13..].iter_mut().for_each(|module| *module = Some(true));
            assert!(corrected(&dark, printed::MODULES).is_none());
            assert_eq!(likeliest(&dark, LIKE, LEAD).map(|(side, _)| side), Some(side_mm));
        }
        for k in 0..200 {
            let text = format!("{}{:x}", ["no ", "seamstep:"][k % 2], rng.next_u32() >> 16);
            let mut dark: Vec<Option<bool>> = printed::symbol(&text).unwrap().into_iter().map(Some).collect();
            dark[printed::MODULES * (25 - k % 9)..].iter_mut().for_each(|module| *module = Some(k % 2 == 0));
            assert!(likeliest(&dark, LIKE, LEAD).is_none(), "{text}");
        }
    }

    #[test]
    fn what_was_printed_is_known_in_spite_of_wrong_modules() {
        let mut dark = read_of(30);
        dark[printed::MODULES * 9..printed::MODULES * 12].iter_mut().for_each(|module| *module = Some(false));
        let pattern = as_printed("seamstep:30", printed::MODULES, &dark);
        assert_eq!(pattern.agreement(&read_of(30)), 1.0);
        assert_eq!(as_printed("seamstep:31", printed::MODULES, &dark).cells, dark);
    }
}
