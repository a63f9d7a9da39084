//! How a length is told: the unit, the digits that the uncertainty allows, and the words. Ground for every room that
//! speaks.
//!
//! The expanded uncertainty is rounded to two significant figures and the value to match (JCGM 100:2008, 7.2.6), but
//! never finer than [`Unit::finest_decimals`]: a phone photograph knows nothing beyond.

/// Millimetres in one sixteenth of an inch (the inch is 25.4 mm: international yard and pound agreement, 1959).
pub const SIXTEENTH_MM: f64 = 25.4 / 16.0;

/// What lengths are told in. Values are handed over in millimetres, of [`Unit::Repeat`] in repeats.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Unit {
    /// Millimetres.
    #[default]
    Millimetre,
    /// Sixteenths of an inch, as they stand on a tape.
    Sixteenth,
    /// Repeats of the cloth: there was no scale.
    Repeat,
}

/// A value and its uncertainty, rounded to match each other; no unit, no sign of the uncertainty.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Figures {
    /// The value with its sign, `+` or `−`; a value that rounds to zero has none.
    pub value: String,
    /// The value without its sign.
    pub size: String,
    /// The expanded uncertainty, never zero.
    pub uncertainty: String,
}

impl Unit {
    /// How many of this unit make one of what is handed over: 1 but for sixteenths.
    pub fn per_mm(self) -> f64 {
        match self {
            Unit::Millimetre | Unit::Repeat => 1.0,
            Unit::Sixteenth => 1.0 / SIXTEENTH_MM,
        }
    }

    /// Decimals that are never exceeded: 0.01 mm, 0.01 of a sixteenth, 0.001 of a repeat.
    pub fn finest_decimals(self) -> i32 {
        match self {
            Unit::Millimetre | Unit::Sixteenth => 2,
            Unit::Repeat => 3,
        }
    }

    /// What follows a number of [`figures`]: `mm`, `sixteenths of an inch`, `of a repeat`.
    pub fn after(self) -> &'static str {
        match self {
            Unit::Millimetre => "mm",
            Unit::Sixteenth => "sixteenths of an inch",
            Unit::Repeat => "of a repeat",
        }
    }

    /// The name of a column of offsets or of their axis: `mm`, `1/16 in`, `repeats`.
    pub fn column(self) -> &'static str {
        match self {
            Unit::Millimetre => "mm",
            Unit::Sixteenth => "1/16 in",
            Unit::Repeat => "repeats",
        }
    }

    /// How much of what is handed over makes one of what [`Self::places`] names: a millimetre, an inch, a repeat.
    pub fn per_place(self) -> f64 {
        match self {
            Unit::Millimetre | Unit::Repeat => 1.0,
            Unit::Sixteenth => 16.0 * SIXTEENTH_MM,
        }
    }

    /// What follows a [`place`] along the seam: `mm`, `in`, `repeats`.
    pub fn places(self) -> &'static str {
        match self {
            Unit::Millimetre => "mm",
            Unit::Sixteenth => "in",
            Unit::Repeat => "repeats",
        }
    }
}

/// `value` ± `expanded` as they may be shown; both are handed over in millimetres, of [`Unit::Repeat`] in repeats.
pub fn figures(value: f64, expanded: f64, unit: Unit) -> Figures {
    let (value, expanded) = (value * unit.per_mm(), expanded * unit.per_mm());
    let places = decimals(expanded, unit);
    let size = fixed(value.abs(), places);
    let least = 10f64.powi(-unit.finest_decimals());
    Figures {
        value: signed(value, places),
        size,
        uncertainty: if expanded.is_finite() { fixed(expanded.max(least), places) } else { "unknown".into() },
    }
}

/// A place along the seam: whole millimetres, inches to the nearest eighth, tenths of a repeat.
pub fn place(along: f64, unit: Unit) -> String {
    match unit {
        Unit::Millimetre => fixed(along, 0),
        Unit::Sixteenth => inches((along / (2.0 * SIXTEENTH_MM)).round() as i64, 8),
        Unit::Repeat => fixed(along, 1),
    }
}

/// A length of the cloth or of the work, in words without a sign: `2.4 mm`, `just over 1/16 in`, `0.23 of a repeat`.
///
/// Tenths of a millimetre, or sixteenths of an inch with what of one is missing or too much.
pub fn length(size: f64, unit: Unit) -> String {
    let size = size.abs();
    match unit {
        Unit::Repeat => format!("{} of a repeat", fixed(size, 2)),
        Unit::Millimetre if size < 0.05 => "less than 0.1 mm".into(),
        Unit::Millimetre => format!("{} mm", fixed(size, 1)),
        Unit::Sixteenth => {
            let sixteenths = size / SIXTEENTH_MM;
            if sixteenths < 0.38 {
                return "less than half of 1/16 in".into();
            }
            let (low, high) = (sixteenths.floor() as i64, sixteenths.ceil() as i64);
            let tape = |count: i64| format!("{} in", inches(count, 16));
            match sixteenths - sixteenths.floor() {
                _ if low == 0 && sixteenths < 0.62 => "about half of 1/16 in".into(),
                rest if rest <= 0.12 => tape(low),
                rest if rest < 0.38 => format!("just over {}", tape(low)),
                rest if rest <= 0.62 => format!("midway between {} and {}", tape(low), tape(high)),
                rest if rest < 0.88 => format!("just under {}", tape(high)),
                _ => tape(high),
            }
        }
    }
}

/// A length and its expanded uncertainty in words, to a tenth of a millimetre: `0.3 ± 0.1 mm`, `just over 1/16 in`.
pub fn about(size: f64, expanded: f64, unit: Unit) -> String {
    match unit {
        Unit::Millimetre if size.abs() + expanded < 0.1 => "less than 0.1 mm".into(),
        Unit::Millimetre => format!("{} ± {} mm", fixed(size.abs(), 1), fixed(expanded.max(0.1), 1)),
        _ => length(size, unit),
    }
}

/// A figure that was given or chosen, such as a tolerance: `1.5 mm`; in inches with the millimetres it is.
pub fn given(mm: f64, unit: Unit) -> String {
    match unit {
        Unit::Sixteenth if mm > 0.0 => format!("{} ({} mm)", length(mm, unit), plain(mm, 2)),
        _ => format!("{} mm", plain(mm, 2)),
    }
}

/// So many parts of an inch as a tape names them: `3/8`, `2 1/2`, `0`.
fn inches(parts: i64, to_the_inch: i64) -> String {
    let (mut over, mut under) = (parts.abs() % to_the_inch, to_the_inch);
    while over != 0 && over % 2 == 0 {
        (over, under) = (over / 2, under / 2);
    }
    let sign = if parts < 0 { "−" } else { "" };
    match (parts.abs() / to_the_inch, over) {
        (0, 0) => "0".into(),
        (whole, 0) => format!("{sign}{whole}"),
        (0, _) => format!("{sign}{over}/{under}"),
        (whole, _) => format!("{sign}{whole} {over}/{under}"),
    }
}

/// A number that was given or chosen, not measured: at most `places` decimals, no idle zeros.
pub fn plain(value: f64, places: i32) -> String {
    let text = fixed(value, places);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// `value` with its sign (`+`, `−`, none where it rounds to zero) and this many decimals.
pub fn signed(value: f64, places: i32) -> String {
    let size = fixed(value.abs(), places);
    let zero = size.chars().all(|c| c == '0' || c == '.');
    match (zero || !value.is_finite(), value < 0.0) {
        (true, _) => size,
        (false, true) => format!("−{size}"),
        (false, false) => format!("+{size}"),
    }
}

/// Decimals of an uncertainty of two significant figures; negative where it is rounded to tens.
fn decimals(expanded: f64, unit: Unit) -> i32 {
    if !expanded.is_finite() || expanded <= 0.0 {
        return unit.finest_decimals();
    }
    // `{:.1e}` rounds to two figures and carries: 0.0996 becomes 1.0e-1.
    let exponent = format!("{expanded:.1e}").rsplit('e').next().and_then(|e| e.parse::<i32>().ok()).unwrap_or(0);
    (1 - exponent).clamp(-9, unit.finest_decimals())
}

/// `value` rounded to `places` decimals, which may be negative.
fn fixed(value: f64, places: i32) -> String {
    if !value.is_finite() {
        return "unknown".into();
    }
    let step = 10f64.powi(-places);
    let rounded = if places < 0 { (value / step).round() * step } else { value };
    let text = format!("{rounded:.*}", places.max(0) as usize);
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(value: f64, expanded: f64) -> (String, String) {
        let figures = figures(value, expanded, Unit::Millimetre);
        (figures.value, figures.uncertainty)
    }

    #[test]
    fn two_figures_of_the_uncertainty_and_the_value_to_match() {
        // JCGM 100:2008, 7.2.6: u of at most two significant digits, the estimate rounded to be consistent with it.
        assert_eq!(shown(3.2149, 0.237), ("+3.21".into(), "0.24".into()));
        assert_eq!(shown(-3.2149, 2.37), ("−3.2".into(), "2.4".into()));
        assert_eq!(shown(31.49, 23.7), ("+31".into(), "24".into()));
        assert_eq!(shown(314.9, 237.0), ("+310".into(), "240".into()));
    }

    #[test]
    fn rounding_up_to_the_next_power_keeps_two_figures() {
        assert_eq!(shown(1.0, 0.0996), ("+1.00".into(), "0.10".into()));
        assert_eq!(shown(1.0, 0.996), ("+1.0".into(), "1.0".into()));
        assert_eq!(shown(12.0, 9.96), ("+12".into(), "10".into()));
    }

    #[test]
    fn nothing_is_shown_as_zero_plus_or_minus_zero() {
        assert_eq!(shown(0.001, 0.0004), ("0.00".into(), "0.01".into()));
        assert_eq!(shown(-0.001, 0.0), ("0.00".into(), "0.01".into()));
        assert_eq!(figures(0.0, 0.0, Unit::Repeat).uncertainty, "0.001");
    }

    #[test]
    fn a_repeat_has_one_decimal_more() {
        let figures = figures(0.1234, 0.0123, Unit::Repeat);
        assert_eq!((figures.value.as_str(), figures.uncertainty.as_str()), ("+0.123", "0.012"));
        assert_eq!(place(3.26, Unit::Repeat), "3.3");
        assert_eq!(place(-0.2, Unit::Millimetre), "0");
    }

    #[test]
    fn inches_are_told_as_a_tape_names_them() {
        let told = |mm: f64| length(mm, Unit::Sixteenth);
        assert_eq!(told(25.4 / 16.0), "1/16 in");
        assert_eq!(told(25.4 / 8.0), "1/8 in");
        assert_eq!(told(25.4 * 1.375), "1 3/8 in");
        // 1.5 mm is 0.94 of a sixteenth, 2.0 mm is 1.26, 2.4 mm is 1.51, 2.8 mm is 1.76.
        assert_eq!(told(1.5), "1/16 in");
        assert_eq!(told(2.0), "just over 1/16 in");
        assert_eq!(told(-2.4), "midway between 1/16 in and 1/8 in");
        assert_eq!(told(2.8), "just under 1/8 in");
        assert_eq!(told(0.8), "about half of 1/16 in");
        assert_eq!(told(0.3), "less than half of 1/16 in");
        assert_eq!(given(1.5, Unit::Sixteenth), "1/16 in (1.5 mm)");
        assert_eq!(given(1.5, Unit::Millimetre), "1.5 mm");
        assert_eq!(place(63.5, Unit::Sixteenth), "2 1/2");
        assert_eq!(place(0.4, Unit::Sixteenth), "0");
        assert_eq!(figures(25.4 / 8.0, 0.16, Unit::Sixteenth).size, "2.00");
    }

    #[test]
    fn given_numbers_have_no_idle_zeros() {
        assert_eq!(plain(1.5, 2), "1.5");
        assert_eq!(plain(3.0, 2), "3");
        assert_eq!(plain(100.0, 0), "100");
        assert_eq!(plain(0.125, 3), "0.125");
    }

    #[test]
    fn what_is_not_a_number_is_called_unknown() {
        assert_eq!(shown(f64::NAN, f64::INFINITY), ("unknown".into(), "unknown".into()));
    }
}
