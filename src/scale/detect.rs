//! Finds scale cards: QR symbols (ISO/IEC 18004) whose text is `seamstep:SIDE`.
//!
//! Finder patterns give places, a coarse fit of what every symbol has draws the place in, and the modules are read there.
//! What is found is only a start for [`super::refine`].

use super::decode::{self, Said};
use super::finders::{self, Finder};
use super::locate::{self, Stand, dark_at};
use super::pattern::Pattern;
use super::refine::draw_in;
use super::shades::Shades;
use super::{homography, printed};
use crate::photo::Photo;
use nalgebra::Matrix3;

/// Sizes of the picture that are searched: the first, and its half, quarter, eighth.
const LEVELS: usize = 4;
/// A long side of about so many pixels shows most cards large enough.
const AMPLE_PX: usize = 1800;
/// Least agreement of what every symbol has at a place that is called a symbol without having been read.
const SYMBOL: f64 = 0.88;

/// A scale card as the search sees it.
#[derive(Clone, Debug)]
pub struct SeenCard {
    /// Printed width of the symbol without its quiet zone, millimetres.
    pub side_mm: f64,
    /// The symbol that was printed.
    pub pattern: Pattern,
    /// Symbol coordinates in modules (0..modules) → picture pixels; good to a part of a module.
    pub modules_to_px: Matrix3<f64>,
}

impl SeenCard {
    /// Modules along one side of the symbol.
    pub fn modules(&self) -> usize {
        self.pattern.modules
    }
}

/// A symbol that was seen and could not be read.
#[derive(Clone, Debug)]
pub struct Unread {
    /// Modules along one side.
    pub modules: usize,
    /// Symbol coordinates in modules → picture pixels; rough.
    pub modules_to_px: Matrix3<f64>,
}

/// What the search for cards met.
#[derive(Clone, Debug, Default)]
pub struct Sightings {
    /// Every scale card that was read, largest in the picture first.
    pub cards: Vec<SeenCard>,
    /// QR symbols that say something else.
    pub others: usize,
    /// Symbols that were seen and could not be read.
    pub unread: Vec<Unread>,
}

/// Looks for scale cards in the picture.
///
/// A large picture is searched in smaller sizes first: a card that is read there need not be found pixel by pixel.
pub fn find(photo: &Photo) -> Sightings {
    let long = photo.width_px().max(photo.height_px()) as usize;
    let light = photo.light(long as f64 / AMPLE_PX as f64);
    if light.block() > 1 {
        let seen = search(photo, Shades::of(light));
        if !seen.cards.is_empty() {
            return seen;
        }
    }
    search(photo, Shades::of(photo.light(1.0)))
}

/// Looks for them in this size of the picture and smaller ones.
fn search(photo: &Photo, first: Shades) -> Sightings {
    let mut levels = vec![first];
    while levels.len() < LEVELS && levels[levels.len() - 1].size().0.min(levels[levels.len() - 1].size().1) >= 64 {
        levels.push(levels[levels.len() - 1].halved());
    }
    let finders = finders::find(&levels);
    let mut search = Search { photo, used: vec![false; finders.len()], levels, finders, seen: Sightings::default() };
    let threes = locate::threes(&search.levels, &search.finders);
    threes.iter().for_each(|stand| search.read(stand));
    let twos = locate::twos(&search.levels, &search.finders, &search.used);
    twos.iter().for_each(|stand| search.read(stand));
    threes.iter().chain(&twos).for_each(|stand| search.mention(stand));
    if search.seen.cards.is_empty() {
        search.mention_single_finders();
    }
    let mut seen = search.seen;
    seen.cards.sort_by(|a, b| side_px(b).total_cmp(&side_px(a)));
    seen
}

struct Search<'a> {
    photo: &'a Photo,
    levels: Vec<Shades>,
    finders: Vec<Finder>,
    used: Vec<bool>,
    seen: Sightings,
}

impl Search<'_> {
    fn level(&self, stand: &Stand) -> &Shades {
        &self.levels[self.finders[stand.finders[0]].level]
    }

    fn is_free(&self, stand: &Stand) -> bool {
        stand.finders.iter().all(|&k| !self.used[k])
    }

    fn drawn(&self, stand: &Stand, pattern: &Pattern, start: &Matrix3<f64>) -> Matrix3<f64> {
        let level = self.level(stand);
        draw_in(self.photo, pattern, start, |h| pattern.agreement(&dark_at(level, h, pattern.modules)))
    }

    /// Reads the symbol at this place, if there is one.
    fn read(&mut self, stand: &Stand) {
        if !self.is_free(stand) {
            return;
        }
        let level = self.level(stand);
        let mut drawn = self.drawn(stand, &stand.pattern, &stand.start);
        let mut said = decode::decode(self.photo, level, &drawn, stand.pattern.modules);
        if said.is_none()
            && stand.pattern.modules == printed::MODULES
            && let Some(card) = decode::guess(self.photo, &drawn)
        {
            // Few finders leave the far side loose: the likeliest card, if it is one, draws it in.
            drawn = self.drawn(stand, &card, &locate::settle(level, &card, &drawn));
            said = decode::decode(self.photo, level, &drawn, card.modules);
        }
        match said {
            Some(Said::Card { side_mm, pattern }) => {
                let level = self.level(stand);
                // Where every module is read right, the fit to the picture goes on from there.
                let is_whole = pattern.agreement(&dark_at(level, &drawn, pattern.modules)) == 1.0;
                let modules_to_px = if is_whole { drawn } else { locate::settle(level, &pattern, &drawn) };
                self.seen.cards.push(SeenCard { side_mm, pattern, modules_to_px });
            }
            Some(Said::Other) => self.seen.others += 1,
            None => return,
        }
        stand.finders.iter().for_each(|&k| self.used[k] = true);
    }

    /// Keeps a symbol that was not read, if it is one beyond doubt.
    fn mention(&mut self, stand: &Stand) {
        if !self.is_free(stand) {
            return;
        }
        let drawn = self.drawn(stand, &stand.pattern, &stand.start);
        let modules = stand.pattern.modules;
        if stand.pattern.agreement(&dark_at(self.level(stand), &drawn, modules)) >= SYMBOL {
            self.seen.unread.push(Unread { modules, modules_to_px: drawn });
            stand.finders.iter().for_each(|&k| self.used[k] = true);
        }
    }

    /// Keeps the place of a finder pattern that stands alone: the rest of its symbol is covered or outside.
    fn mention_single_finders(&mut self) {
        for (k, finder) in self.finders.iter().enumerate() {
            if !self.used[k] && finders::is_plain(&self.levels[finder.level], finder) {
                let (m, modules) = (finder.module_px, 7);
                let [x, y] = finder.middle.map(|v| v - 3.5 * m);
                let modules_to_px = Matrix3::new(m, 0.0, x, 0.0, m, y, 0.0, 0.0, 1.0);
                self.seen.unread.push(Unread { modules, modules_to_px });
                self.used[k] = true;
            }
        }
    }
}

/// Mean side of the symbol in the picture, pixels.
pub fn side_px(card: &SeenCard) -> f64 {
    let n = card.modules() as f64;
    let corners = [[0.0, 0.0], [n, 0.0], [n, n], [0.0, n]].map(|p| homography::apply(&card.modules_to_px, p));
    (0..4)
        .map(|k| (corners[k][0] - corners[(k + 1) % 4][0]).hypot(corners[k][1] - corners[(k + 1) % 4][1]))
        .sum::<f64>()
        / 4.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{Rgb, RgbImage};

    fn flat_card(text: &str, module_px: u32, margin_px: u32) -> (Photo, usize) {
        let code = qrcode::QrCode::new(text.as_bytes()).unwrap();
        let n = code.width() as u32;
        let colours = code.to_colors();
        let size = n * module_px + 2 * margin_px;
        let pixels = RgbImage::from_fn(size, size, |x, y| {
            let inside = |v: u32| v.checked_sub(margin_px).map(|v| v / module_px).filter(|&v| v < n);
            match (inside(x), inside(y)) {
                (Some(i), Some(j)) if colours[(j * n + i) as usize] == qrcode::Color::Dark => Rgb([20; 3]),
                _ => Rgb([235; 3]),
            }
        });
        (Photo::new("", pixels), n as usize)
    }

    #[test]
    fn cards_of_any_size_in_the_picture_are_found_where_they_are() {
        for module_px in [3, 5, 12, 40] {
            let (photo, modules) = flat_card("seamstep:30", module_px, 4 * module_px);
            let seen = find(&photo);
            assert_eq!(seen.cards.len(), 1, "{module_px}");
            let card = &seen.cards[0];
            assert_eq!((card.side_mm, card.modules()), (30.0, modules));
            let truth = f64::from(module_px) * modules as f64;
            assert!((side_px(card) - truth).abs() < 0.02 * truth, "side {} px, truth {truth}", side_px(card));
        }
    }

    #[test]
    fn other_symbols_are_counted_and_never_used() {
        for text in [
            "https://example.org/a/longer/address",
            "https://example.org",
            "4006381",
            "seamstep:",
            "seamstep:abc",
            "seamstep:-30",
            "seamstep:1e9",
            "seamstep:NaN",
        ] {
            let seen = find(&flat_card(text, 10, 60).0);
            assert!(seen.cards.is_empty() && seen.others == 1 && seen.unread.is_empty(), "{text} {seen:?}");
        }
    }
}
