//! The card's QR symbol: modules, finder patterns and quiet zone as the standard has them.

#[path = "../support/print.rs"]
mod print;

use image::RgbImage;
use print::print_svg;
use seamstep::card::{CardOptions, on_page, svg};

/// Modules of a symbol of version 2: 17 + 4·V (public references, read).
const MODULES: u32 = 17 + 4 * 2;
/// Pixels to a module in the drawn card.
const MODULE_PX: u32 = 20;
/// Quiet zone, modules (ISO/IEC 18004:2015, 6.3.8; clause number from memory).
const QUIET: i64 = 4;

/// The card drawn at a whole number of pixels to a module, and its symbol's corner, pixels.
fn drawn() -> (RgbImage, [f64; 2]) {
    let options = CardOptions::default();
    let places = on_page(&options).expect("laid out");
    let px_per_mm = f64::from(MODULES * MODULE_PX) / f64::from(options.side_mm);
    let card = print_svg(&svg(&options).expect("written"), px_per_mm, places.card);
    let corner = [places.symbol.x_mm - places.card.x_mm, places.symbol.y_mm - places.card.y_mm];
    (card, corner.map(|mm| mm * px_per_mm))
}

#[test]
fn finder_patterns_and_quiet_zone_stand_where_the_standard_puts_them() {
    let (card, corner) = drawn();
    let dark = |column: i64, row: i64| {
        let middle = |k: i64, from: f64| (from + (k as f64 + 0.5) * f64::from(MODULE_PX)) as u32;
        card.get_pixel(middle(column, corner[0]), middle(row, corner[1]))[1] < 128
    };
    let modules = i64::from(MODULES);
    let runs = |cells: Vec<bool>| -> Vec<(bool, usize)> {
        cells.chunk_by(|a, b| a == b).map(|run| (run[0], run.len())).collect()
    };
    // ISO/IEC 18004:2015 (read at second hand): dark and light in the ratio 1:1:3:1:1 over seven modules, in three corners.
    let finder = [(true, 1), (false, 1), (true, 3), (false, 1), (true, 1)];
    for (left, top) in [(0, 0), (modules - 7, 0), (0, modules - 7)] {
        assert_eq!(runs((0..7).map(|k| dark(left + k, top + 3)).collect()), finder, "across at {left}, {top}");
        assert_eq!(runs((0..7).map(|k| dark(left + 3, top + k)).collect()), finder, "down at {left}, {top}");
        assert_eq!(runs((0..7).map(|k| dark(left + k, top)).collect()), [(true, 7)]);
    }
    for k in -QUIET..modules + QUIET {
        for aside in (-QUIET..0).chain(modules..modules + QUIET) {
            assert!(!dark(k, aside) && !dark(aside, k), "ink in the quiet zone at {k}, {aside}");
        }
    }
    // Timing patterns run dark and light in turn between the finders in row and column 6 (from memory).
    assert!((8..modules - 8).all(|k| dark(k, 6) == (k % 2 == 0) && dark(6, k) == (k % 2 == 0)));
}
