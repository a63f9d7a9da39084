//! The scale card: a printable page whose QR symbol says how wide it was printed, so that a photograph of it gives
//! millimetres.
//!
//! The room's story: the asked side becomes a `symbol` (ISO/IEC 18004) with the text `seamstep:SIDE`; the `page` is laid
//! out once, in millimetres from its top left corner, as solid shapes, thin lines and words (the `ruler`s and the
//! `wording` have files of their own); the [`pdf()`] and [`svg()`] writers draw that same layout, so that the two files
//! cannot disagree. Nothing in the page is a picture: it is as sharp as the printer.

mod ruler;
mod symbol;
mod wording;

mod page;

mod pdf;
mod svg;

use crate::problem::Problem;
use crate::scale::printed;
use serde::Serialize;
use std::ops::RangeInclusive;
use std::str::FromStr;

/// The sides that a card can have, millimetres, both ends included.
pub const SIDES_MM: RangeInclusive<u32> = printed::SIDES_MM;

/// The side of a card when none is asked for, millimetres.
pub const USUAL_SIDE_MM: u32 = 30;

/// Millimetres to an inch, exactly.
///
/// # Source
/// The international yard and pound agreement of 1959 (from memory).
pub const MM_PER_INCH: f64 = 25.4;

/// The paper that the page is printed on, upright.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// ISO 216 A4.
    #[default]
    A4,
    /// US Letter.
    Letter,
}

/// Which card to print.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CardOptions {
    /// Width of the QR symbol without its quiet zone, millimetres; one of [`SIDES_MM`].
    pub side_mm: u32,
    /// The paper to print on.
    pub paper: Paper,
}

/// A rectangle on the printed page: millimetres, x to the right and y downward from the page's top left corner.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PageRect {
    /// Left edge.
    pub x_mm: f64,
    /// Top edge.
    pub y_mm: f64,
    /// Width.
    pub width_mm: f64,
    /// Height.
    pub height_mm: f64,
}

/// Where things stand on the printed page.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OnPage {
    /// The page itself, at (0, 0).
    pub page: PageRect,
    /// The card: what is left after cutting along the middle of the cutting line.
    pub card: PageRect,
    /// The QR symbol, without its quiet zone.
    pub symbol: PageRect,
    /// The check ruler, from the middle of its 0 tick to the middle of its 100 mm tick; its ticks hang from the top edge.
    pub ruler: PageRect,
}

impl Default for CardOptions {
    fn default() -> Self {
        Self { side_mm: USUAL_SIDE_MM, paper: Paper::default() }
    }
}

impl Paper {
    /// Width and height of the upright sheet, millimetres.
    ///
    /// # Source
    /// A4: ISO 216, 210 × 297 mm. Letter: 8.5 × 11 in (common practice, no source).
    pub fn size_mm(self) -> [f64; 2] {
        match self {
            Paper::A4 => [210.0, 297.0],
            Paper::Letter => [8.5 * MM_PER_INCH, 11.0 * MM_PER_INCH],
        }
    }

    /// The word that [`FromStr`] reads.
    pub fn word(self) -> &'static str {
        match self {
            Paper::A4 => "a4",
            Paper::Letter => "letter",
        }
    }
}

impl FromStr for Paper {
    type Err = Problem;

    /// Reads `a4` or `letter`, in capitals or not.
    fn from_str(text: &str) -> Result<Self, Problem> {
        [Paper::A4, Paper::Letter].into_iter().find(|paper| paper.word().eq_ignore_ascii_case(text)).ok_or_else(|| {
            Problem::usage(
                format!("no card can be laid out on paper called \"{text}\""),
                "give a4 (210 x 297 mm) or letter (8.5 x 11 in)",
            )
        })
    }
}

impl CardOptions {
    /// What a photograph of this card says: the text of its QR symbol.
    pub fn symbol_text(&self) -> String {
        printed::text(self.side_mm)
    }

    fn checked(&self) -> Result<&Self, Problem> {
        if SIDES_MM.contains(&self.side_mm) {
            return Ok(self);
        }
        let (least, most) = (SIDES_MM.start(), SIDES_MM.end());
        Err(Problem::usage(
            format!("a card cannot have a side of {} mm", self.side_mm),
            format!(
                "give a whole number from {least} to {most}; {USUAL_SIDE_MM} suits a photograph of 30 cm of cloth, \
                 {most} one of 60 cm"
            ),
        ))
    }
}

/// The page as a PDF file, true size, all vectors: its bytes.
///
/// Equal options give equal bytes.
///
/// # Errors
/// [`Problem::Usage`] when the side is not one of [`SIDES_MM`].
pub fn pdf(options: &CardOptions) -> Result<Vec<u8>, Problem> {
    Ok(pdf::write(&page::lay_out(options.checked()?)?))
}

/// The page as an SVG file, true size, all vectors: its text.
///
/// The words ask for Helvetica or what stands in for it; the symbol and the rulers need no font.
///
/// # Errors
/// [`Problem::Usage`] when the side is not one of [`SIDES_MM`].
pub fn svg(options: &CardOptions) -> Result<String, Problem> {
    Ok(svg::write(&page::lay_out(options.checked()?)?))
}

/// Where the symbol, the card and the ruler stand on the page that [`pdf()`] and [`svg()`] draw.
///
/// # Errors
/// [`Problem::Usage`] when the side is not one of [`SIDES_MM`].
pub fn on_page(options: &CardOptions) -> Result<OnPage, Problem> {
    Ok(page::lay_out(options.checked()?)?.places)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_side_out_of_range_is_refused_with_the_range() {
        for side_mm in [0, 19, 61, u32::MAX] {
            let options = CardOptions { side_mm, paper: Paper::A4 };
            let problem = pdf(&options).expect_err("refused");
            assert!(problem.to_string().contains(&format!("{side_mm} mm")), "{problem}");
            assert!(problem.help().contains("from 20 to 60"), "{}", problem.help());
            assert!(svg(&options).is_err() && on_page(&options).is_err());
        }
    }

    #[test]
    fn paper_is_read_by_its_word_and_a_strange_word_is_named() {
        assert_eq!("A4".parse::<Paper>().expect("a4"), Paper::A4);
        assert_eq!("letter".parse::<Paper>().expect("letter"), Paper::Letter);
        let problem = "a3".parse::<Paper>().expect_err("refused");
        assert!(problem.to_string().contains("a3") && problem.help().contains("letter"));
    }
}
