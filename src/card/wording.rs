//! Step 3: the words on the page, broken into lines by hand, in ASCII so that every font and viewer has them.

/// The page's title.
pub(super) const TITLE: &str = "Scale card";

/// The sentence under the title.
pub(super) const PURPOSE: &str = "Photographed beside a seam, it tells seamstep the true size of the cloth.";

/// Heading of the note beside the card.
pub(super) const CHOICE_HEADING: &str = "Which size?";

/// Which card for which stretch of cloth.
///
/// A tenth: a symbol 320 px wide or more was read at every tilt and blur tried, and a photograph of 12 megapixels is
/// about 4000 px wide.
pub(super) const CHOICE: [&str; 7] = [
    "The symbol should be about a",
    "tenth as wide as the cloth you",
    "photograph:",
    "20 mm for 20 cm,",
    "30 mm for 30 cm,",
    "60 mm for 60 cm.",
    "When in doubt, the larger one.",
];

/// Heading of the rulers.
pub(super) const RULER_HEADING: &str = "Measure this first";

/// What to do with the rulers.
pub(super) const RULER: [&str; 8] = [
    "Lay a good ruler on it. If 0 to 10",
    "is not 100 mm (0 to 4: 4 inches),",
    "the printer has scaled the page,",
    "and every length measured with",
    "this card would be wrong by the",
    "same share. Do not use it: print",
    "again at 100 %, also called",
    "\"actual size\".",
];

/// Heading of the steps.
pub(super) const STEPS_HEADING: &str = "How to use it";

/// The steps, in order, each in its lines.
pub(super) const STEPS: [&[&str]; 4] = [
    &["Cut along the thin line, outside the white border. Cut away from yourself."],
    &["Glue it on stiff, thin card so that it lies flat."],
    &["Lay it flat on the cloth, beside the seam and not over it, at the same height", "as the cloth."],
    &[
        "Photograph from straight above, the symbol whole, sharp and without glare.",
        "Show at least 30 mm of cloth on both sides of the seam and two repeats of",
        "the lines along it, and let the cloth fill the frame.",
    ],
];

/// Heading of the caution.
pub(super) const CAUTION_HEADING: &str = "Take care";

/// The caution.
pub(super) const CAUTION: [&str; 2] = [
    "Move pins and needles out of the way before you lay the card down or smooth",
    "the cloth, and keep blades and hot irons away while you photograph.",
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_is_ascii() {
        let lines = [TITLE, PURPOSE, CHOICE_HEADING, RULER_HEADING, STEPS_HEADING, CAUTION_HEADING]
            .into_iter()
            .chain(CHOICE)
            .chain(RULER)
            .chain(STEPS.concat())
            .chain(CAUTION);
        for line in lines {
            assert!(line.bytes().all(|byte| (0x20..0x7f).contains(&byte)), "{line}");
        }
    }
}
