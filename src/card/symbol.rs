//! Step 1: text → the QR symbol's dark modules, as rectangles in module units.

use crate::problem::Problem;
use crate::scale::printed;

/// Modules along one side of the symbol.
pub(super) const MODULES: u32 = printed::MODULES as u32;

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
/// # Errors
/// [`Problem::Usage`] when the text does not fit.
pub(super) fn dark_runs(text: &str) -> Result<Vec<Run>, Problem> {
    let symbol = printed::symbol(text).map_err(|error| {
        Problem::usage(format!("no QR symbol can say \"{text}\": {error}"), "give a side of two digits, in millimetres")
    })?;
    let mut runs: Vec<Run> = Vec::new();
    for (row, modules) in (0..).zip(symbol.chunks(printed::MODULES)) {
        for (column, _) in (0..).zip(modules).filter(|(_, dark)| **dark) {
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
        for (column, row) in [(0, 0), (18, 0), (0, 18)] {
            for edge in [row, row + 6] {
                assert!(runs.contains(&Run { column, row: edge, length: 7 }), "finder at {column}, {row}");
            }
        }
        // The alignment pattern of version 2 is 5 modules wide around (18, 18): ISO/IEC 18004 (from memory).
        assert!(
            runs.contains(&Run { column: 18, row: 18, length: 1 })
                && !runs.iter().any(|run| run.row == 17 && run.column == 18)
        );
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
        let text = "seamstep:30.125";
        assert!(dark_runs(text).expect_err("more than fourteen bytes").to_string().contains(text));
    }
}
