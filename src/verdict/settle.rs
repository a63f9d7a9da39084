//! What would settle a reading that is unsure: the chief source of its doubt decides.

use crate::digits::{self, Unit};
use crate::offset::{Reading, sources};

/// Nearer to the tolerance than this, millimetres, no photograph settles it.
const NO_PHOTOGRAPH_MM: f64 = 0.1;

/// What would settle it, as one or two sentences.
pub fn cure(reading: &Reading, tolerance_mm: f64, unit: Unit) -> String {
    let room_mm = (tolerance_mm - reading.offset_mm.abs()).abs();
    if room_mm < NO_PHOTOGRAPH_MM {
        return format!(
            "The jump is as large as what is accepted, to {}: no photograph will settle it; decide by eye.",
            digits::length(NO_PHOTOGRAPH_MM, unit)
        );
    }
    let needed = digits::length(room_mm, unit);
    let again = format!("Photograph again so that it is known to {needed}");
    match reading.chief_source {
        sources::SCALE => {
            format!(
                "{again}: lay the printed card (seamstep card) flat beside the seam; the scale is what is least sure."
            )
        }
        sources::LENS => {
            format!(
                "{again}: lay the card near the seam, both near the middle of the picture; what the lens bends between them \
                 is what is least sure."
            )
        }
        sources::CARRY | sources::NEAR => format!(
            "{again}: smooth the cloth flat right up to the seam and hold the phone square above it; how the lines bend \
             towards the seam is what is least sure."
        ),
        sources::SEAM => {
            format!("{again}: the lines are slanted, and where the seam runs is what is least sure: mark it (--seam).")
        }
        sources::HIDDEN => {
            format!("{again}: take away what lies across the cloth there; under it the lines are not seen.")
        }
        sources::BETWEEN => {
            "It changes there between two lines, where nothing shows how: no photograph will settle it; decide by eye."
                .to_owned()
        }
        sources::PARTNER => {
            format!("{again}: show a longer piece of the seam; which line belongs to which is what is least sure.")
        }
        _ => match room_mm / reading.expanded_uncertainty_mm {
            share if share > 0.2 => format!(
                "{again}: hold the phone at {} of the distance, square to the cloth, in even light, the cloth smoothed flat.",
                fraction(share)
            ),
            _ => format!(
                "{again}: much closer, sharp and in even light, the cloth smoothed flat and the pins out of the lines."
            ),
        },
    }
}

/// The simple fraction that is not larger than this share.
fn fraction(share: f64) -> &'static str {
    match share {
        s if s >= 2.0 / 3.0 => "two thirds",
        s if s >= 0.5 => "half",
        s if s >= 1.0 / 3.0 => "a third",
        s if s >= 0.25 => "a quarter",
        _ => "a fifth",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::PxPoint;

    fn told(offset_mm: f64, chief_source: &'static str) -> String {
        let at_px = PxPoint::new(0.0, 0.0);
        let reading = Reading { along_mm: 30.0, at_px, offset_mm, expanded_uncertainty_mm: 0.5, chief_source };
        cure(&reading, 1.5, Unit::Millimetre)
    }

    #[test]
    fn the_chief_source_decides_what_is_asked_for() {
        for (source, word) in [
            (sources::SCALE, "card"),
            (sources::LENS, "middle"),
            (sources::CARRY, "flat"),
            (sources::SEAM, "--seam"),
            (sources::HIDDEN, "take away"),
            (sources::PARTNER, "longer"),
            (sources::THREADS, "half of the distance"),
            (sources::PIXELS, "half of the distance"),
        ] {
            let told = told(1.2, source);
            assert!(told.contains(word) && told.contains("known to 0.3 mm"), "{source}: {told}");
        }
    }

    #[test]
    fn what_no_photograph_settles_is_left_to_the_eye() {
        assert!(told(1.45, sources::THREADS).contains("decide by eye"));
    }
}
