//! Step 1 of every face: the digits that the uncertainty allows, and the words of a length.
//!
//! The expanded uncertainty is rounded to two significant figures and the value to match (JCGM 100:2008, 7.2.6), but
//! never finer than [`Unit::finest_decimals`]: a phone photograph knows nothing beyond.

use crate::scale::Plane;

/// What the lengths of a finding are counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Millimetres.
    Millimetre,
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
    /// The unit of the offsets of a finding with this plane.
    pub fn of(plane: &Plane) -> Self {
        if plane.is_metric() { Unit::Millimetre } else { Unit::Repeat }
    }

    /// Decimals that are never exceeded: 0.01 mm, 0.001 of a repeat.
    pub fn finest_decimals(self) -> i32 {
        match self {
            Unit::Millimetre => 2,
            Unit::Repeat => 3,
        }
    }

    /// What follows a number: `mm`, `of a repeat`.
    pub fn after(self) -> &'static str {
        match self {
            Unit::Millimetre => "mm",
            Unit::Repeat => "of a repeat",
        }
    }

    /// The name of a column or an axis: `mm`, `repeats`.
    pub fn column(self) -> &'static str {
        match self {
            Unit::Millimetre => "mm",
            Unit::Repeat => "repeats",
        }
    }
}

/// `value` ± `expanded`, both in `unit`, as they may be shown.
pub fn figures(value: f64, expanded: f64, unit: Unit) -> Figures {
    let places = decimals(expanded, unit);
    let size = fixed(value.abs(), places);
    let least = 10f64.powi(-unit.finest_decimals());
    Figures {
        value: signed(value, places),
        size,
        uncertainty: if expanded.is_finite() { fixed(expanded.max(least), places) } else { "unknown".into() },
    }
}

/// A place along the seam, counted in `unit`: whole millimetres, tenths of a repeat.
pub fn place(along: f64, unit: Unit) -> String {
    match unit {
        Unit::Millimetre => fixed(along, 0),
        Unit::Repeat => fixed(along, 1),
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
