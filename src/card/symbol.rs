//! Step 1: text → the QR symbol's dark modules, as rectangles in module units.

use crate::problem::Problem;
use qrcode::{Color, EcLevel, QrCode, Version};

/// Modules along one side of the symbol.
pub(super) const MODULES: u32 = 21;

/// Width of the light border that a reader needs on every side of the symbol, modules.
///
/// # Source
/// ISO/IEC 18004:2015, clause 6.3.8 (from memory).
pub(super) const QUIET_MODULES: u32 = 4;

/// A row's run of dark modules: the first column, the row, and how many.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Run {
    pub column: u32,
    pub row: u32,
    pub length: u32,
}

/// The dark runs of the symbol that says `text`, row by row from the top, left to right.
///
/// Version 1 (21 × 21 modules) at error level Q: eleven bytes, just what `seamstep:60` needs, with a quarter of the
/// symbol spare against dirt, pins and glare. The next version would spare 30 % but have 25 modules to a side, each a
/// sixth smaller in the photograph, and small modules are what a soft photograph loses first.
///
/// # Errors
/// [`Problem::Usage`] when the text does not fit.
pub(super) fn dark_runs(text: &str) -> Result<Vec<Run>, Problem> {
    let code = QrCode::with_version(text, Version::Normal(1), EcLevel::Q).map_err(|error| {
        Problem::usage(format!("no QR symbol can say \"{text}\": {error}"), "give a side of two digits, in millimetres")
    })?;
    let colours = code.to_colors();
    let mut runs: Vec<Run> = Vec::new();
    for (row, modules) in (0..).zip(colours.chunks(code.width())) {
        for (column, _) in (0..).zip(modules).filter(|(_, colour)| **colour == Color::Dark) {
            match runs.last_mut() {
                Some(run) if run.row == row && run.column + run.length == column => run.length += 1,
                _ => runs.push(Run { column, row, length: 1 }),
            }
        }
    }
    Ok(runs)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_three_finders_stand_in_their_corners() {
        let runs = dark_runs("seamstep:30").expect("fits");
        // ISO/IEC 18004: a finder is 7 modules wide (read at second hand), at the top left, top right, bottom left.
        for (column, row) in [(0, 0), (14, 0), (0, 14)] {
            for edge in [row, row + 6] {
                assert!(runs.contains(&Run { column, row: edge, length: 7 }), "finder at {column}, {row}");
            }
        }
        assert!(runs.iter().all(|run| run.column + run.length <= MODULES && run.row < MODULES));
    }

    #[test]
    fn runs_of_one_row_never_touch() {
        let runs = dark_runs("seamstep:60").expect("fits");
        for pair in runs.windows(2).filter(|pair| pair[0].row == pair[1].row) {
            assert!(pair[0].column + pair[0].length < pair[1].column);
        }
    }

    #[test]
    fn a_text_too_long_is_refused() {
        assert!(dark_runs("seamstep:30.5").expect_err("12 bytes and more").to_string().contains("seamstep:30.5"));
    }
}
