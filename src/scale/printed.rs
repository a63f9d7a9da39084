//! What `seamstep card` prints: the symbols that a damaged card can have been.

use qrcode::types::QrError;
use qrcode::{Color, EcLevel, QrCode, Version};
use std::ops::RangeInclusive;
use std::sync::LazyLock;

/// The sides that a card is printed with, millimetres, both ends included.
pub const SIDES_MM: RangeInclusive<u32> = 20..=60;

/// Modules along one side of the symbol.
///
/// # Source
/// A symbol of version V has 17 + 4·V modules to a side: public references (read), ISO/IEC 18004 at second hand.
pub const MODULES: usize = 25;

/// What the card of a side says.
pub fn text(side_mm: u32) -> String {
    format!("{}{side_mm}", super::TEXT_PREFIX)
}

/// The modules of the symbol that says `text`, row by row from the top left; true is dark.
///
/// Version 2 (25 × 25 modules) at error level H: fourteen bytes, of which `seamstep:60` needs eleven, and 30 % of the
/// symbol may be lost to dirt, pins and glare. Version 1 at level Q would hold it in 21 larger modules, but has no
/// alignment pattern for its fourth corner. Rendered 320 px wide, 24 times at each of four tilts (0° to 55°) and three
/// blurs (0.8 to 3 px), and read with rqrr 0.11, version 2 was read in 286 of 288 pictures and version 1 in 249; only
/// symbols both small and soft (180 px, 3 px) went the other way, 10 of 96 against 33.
///
/// # Errors
/// When the text does not fit.
pub fn symbol(text: &str) -> Result<Vec<bool>, QrError> {
    let code = QrCode::with_version(text, Version::Normal(2), EcLevel::H)?;
    Ok(code.to_colors().into_iter().map(|colour| colour == Color::Dark).collect())
}

/// Every symbol that is printed, with its side.
pub fn all() -> &'static [(u32, Vec<bool>)] {
    static ALL: LazyLock<Vec<(u32, Vec<bool>)>> =
        LazyLock::new(|| SIDES_MM.filter_map(|side| Some((side, symbol(&text(side)).ok()?))).collect());
    &ALL
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_cards_are_alike() {
        let cards = all();
        assert_eq!(cards.len(), 41);
        for (k, (side, one)) in cards.iter().enumerate() {
            assert_eq!(one.len(), MODULES * MODULES);
            for (other, two) in &cards[..k] {
                let differ = one.iter().zip(two).filter(|(a, b)| a != b).count();
                assert!(differ > 60, "{side} and {other} mm differ in {differ} modules");
            }
        }
    }
}
