//! From how far a jump is seen: a guide, not a measurement.

use crate::digits::plain;

/// One minute of arc: what a normal eye tells apart. Metres of distance to a millimetre of step.
///
/// # Source
/// Normal visual acuity, a stroke of 1′ (ISO 8596; read in secondary sources): 1 mm at 1/tan(1′) = 3438 mm.
pub const SEEN_FROM_M_PER_MM: f64 = 3.438;

/// The distance from which a step of the lines is seen, metres: where it subtends one minute of arc, times the square
/// root of the lines' Michelson contrast (0 to 1, on linear luminance).
///
/// # Source
/// That the least step an eye tells grows as the root of one over the contrast is a rule of thumb: measurements of aligned
/// lines lie between the root and the contrast itself (from memory, no source read).
pub fn from_m(step_mm: f64, contrast: f64) -> f64 {
    SEEN_FROM_M_PER_MM * step_mm.abs() * contrast.clamp(0.0, 1.0).sqrt()
}

/// A distance as exactly as such a guide can be told: `about 2.5 m`, `more than 10 m`.
pub fn told(distance_m: f64) -> String {
    match distance_m {
        d if d > 10.0 => "more than 10 m".into(),
        d if d >= 1.0 => format!("about {} m", plain((d * 2.0).round() / 2.0, 1)),
        d if d >= 0.1 => format!("about {} m", plain(d, 1)),
        _ => "less than 0.1 m".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn faint_lines_are_seen_from_less_far() {
        assert!((from_m(-2.0, 1.0) - 6.876).abs() < 1e-9);
        assert!((from_m(2.0, 0.25) - 3.438).abs() < 1e-9);
        assert_eq!(from_m(2.0, 0.0), 0.0);
        assert_eq!(from_m(2.0, 7.0), from_m(2.0, 1.0));
    }

    #[test]
    fn a_guide_is_told_no_finer_than_it_is() {
        let told = [0.01, 0.62, 2.6, 7.0, 51.0].map(told);
        assert_eq!(told, ["less than 0.1 m", "about 0.6 m", "about 2.5 m", "about 7 m", "more than 10 m"]);
    }
}
