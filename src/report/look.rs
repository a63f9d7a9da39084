//! The one look of every face: the colours of paper, ink and states, and the style sheet of the pages.
//!
//! A state is told by its shape first (a dot is matched, a cross off, a ring unsure), then by its colour: everything must be
//! readable in grey. The style sheet knows the same colours as custom properties, once for light and once for dark.

/// An 8-bit sRGB colour.
pub type Colour = [u8; 3];

/// The paper that pictures and charts are drawn on.
pub const PAPER: Colour = [255, 255, 255];
/// Words, axes, the seam, jumps.
pub const INK: Colour = [29, 33, 41];
/// Words that matter less, rulers.
pub const SOFT: Colour = [75, 82, 96];
/// Hairlines: grids, frames.
pub const RULE: Colour = [213, 209, 199];
/// What is matched, and curves that are measured.
pub const MATCHED: Colour = [27, 90, 158];
/// What is off, and the tolerance.
pub const OFF: Colour = [165, 47, 8];
/// What is unsure.
pub const UNSURE: Colour = [76, 76, 88];
/// What should be done: the move that cures.
pub const CURE: Colour = [22, 102, 68];

/// The style sheet of every page: custom properties for light and dark, type, sections, tables, figures, print.
pub fn stylesheet() -> &'static str {
    include_str!("look.css")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::word::hex;

    /// The colours of words and of marks, and what they stand on.
    const WORDS: [&str; 6] = ["ink", "soft", "matched", "off", "unsure", "cure"];
    const GROUNDS: [&str; 3] = ["ground", "sheet", "head"];

    /// Relative luminance of an sRGB colour written as six hexadecimal digits.
    ///
    /// # Source
    /// WCAG 2.2 (W3C Recommendation, 2023), definition of relative luminance.
    fn luminance(hex: &str) -> f64 {
        let channel = |k: usize| {
            let c = f64::from(u8::from_str_radix(&hex[k..k + 2], 16).unwrap()) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * channel(0) + 0.7152 * channel(2) + 0.0722 * channel(4)
    }

    /// Contrast ratio as WCAG 2.2 defines it: (L1 + 0.05) / (L2 + 0.05), the lighter first.
    fn contrast(one: &str, two: &str) -> f64 {
        let (one, two) = (luminance(one), luminance(two));
        (one.max(two) + 0.05) / (one.min(two) + 0.05)
    }

    /// Both schemes of the sheet, light first.
    fn schemes() -> Vec<&'static str> {
        stylesheet().split(":root {").skip(1).map(|rest| rest.split('}').next().unwrap()).collect()
    }

    fn value<'a>(scheme: &'a str, name: &str) -> &'a str {
        let rest = scheme.split(&format!("--{name}: #")).nth(1).unwrap_or_else(|| panic!("no --{name}"));
        &rest[..6]
    }

    #[test]
    fn the_formula_gives_the_ratios_that_the_standard_states() {
        // WCAG 2.2: contrast ranges from 1 to 21; #767676 on white is the well-known grey just above 4.5 (from memory).
        assert!((contrast("000000", "ffffff") - 21.0).abs() < 1e-9);
        assert!((contrast("777777", "777777") - 1.0).abs() < 1e-9);
        assert!((4.5..4.6).contains(&contrast("767676", "ffffff")) && contrast("777777", "ffffff") < 4.5);
    }

    #[test]
    fn words_have_contrast_on_every_ground_by_day_and_by_night() {
        // WCAG 2.2, success criterion 1.4.3, level AA: 4.5 to 1 for words of any size.
        let schemes = schemes();
        assert_eq!(schemes.len(), 2);
        for scheme in schemes {
            for ground in GROUNDS {
                for words in WORDS {
                    let ratio = contrast(value(scheme, ground), value(scheme, words));
                    assert!(ratio >= 4.5, "{words} on {ground}: {ratio:.2}");
                }
            }
            // Every colour of the scheme is one of these, or a hairline that tells nothing by itself.
            assert_eq!(scheme.matches("#").count(), WORDS.len() + GROUNDS.len() + 1, "{scheme}");
        }
    }

    #[test]
    fn pictures_charts_and_sheet_have_the_same_colours() {
        let light = schemes()[0];
        let pairs = [
            ("sheet", PAPER),
            ("ink", INK),
            ("soft", SOFT),
            ("rule", RULE),
            ("matched", MATCHED),
            ("off", OFF),
            ("unsure", UNSURE),
            ("cure", CURE),
        ];
        for (name, colour) in pairs {
            assert_eq!(hex(colour).trim_start_matches('#').to_lowercase(), value(light, name), "{name}");
        }
    }

    #[test]
    fn every_colour_of_a_chart_is_one_of_the_scheme() {
        for (name, colour) in [("ink", INK), ("rule", RULE), ("soft", SOFT), ("matched", MATCHED), ("off", OFF)] {
            for what in ["fill", "stroke"] {
                let rule = format!("[{what}=\"{}\"] {{ {what}: var(--{name}); }}", hex(colour).to_uppercase());
                assert!(stylesheet().contains(&rule), "{rule}");
            }
        }
    }
}
