//! The tables: code letters by the lot's size, and the master table of single sampling under normal inspection.
//!
//! # Source
//! MIL-STD-105E, tables I (general inspection level II) and II-A. The table is a diagonal pattern: what stands in a cell
//! depends on row plus column alone, which [`cell`] uses; the tests hold every cell against a copy of the printed table.

/// Code letters, a row each.
pub const LETTERS: [char; 15] = ['A', 'B', 'C', 'D', 'E', 'F', 'G', 'H', 'J', 'K', 'L', 'M', 'N', 'P', 'Q'];
/// Pieces to look at, by row.
pub const SAMPLES: [u64; 15] = [2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250];
/// The largest lot of each row but the last.
const LARGEST_LOT: [u64; 14] = [8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000];
/// Acceptance quality limits, a column each: per cent failing.
pub const AQL_PERCENT: [f64; 6] = [0.65, 1.0, 1.5, 2.5, 4.0, 6.5];
/// Acceptance numbers along the diagonals from the ninth on.
const NUMBERS: [u64; 8] = [1, 2, 3, 5, 7, 10, 14, 21];

/// What stands in a cell of the master table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cell {
    /// The acceptance number.
    Accept(u64),
    /// An arrow down: the plan of the next row below that has a number.
    Down,
    /// An arrow up: the plan of the next row above that has a number.
    Up,
}

/// The row of a lot.
pub fn row(lot: u64) -> usize {
    LARGEST_LOT.partition_point(|&largest| largest < lot)
}

/// The cell at a row and a column, both from 0.
pub fn cell(row: usize, column: usize) -> Cell {
    match row + column {
        0..=4 | 7 => Cell::Down,
        5 => Cell::Accept(0),
        6 => Cell::Up,
        diagonal => NUMBERS.get(diagonal - 8).map_or(Cell::Up, |&number| Cell::Accept(number)),
    }
}

/// The row whose plan is used for a row and a column, and its acceptance number.
pub fn resolved(row: usize, column: usize) -> (usize, u64) {
    match cell(row, column) {
        Cell::Accept(number) => (row, number),
        Cell::Down => resolved(row + 1, column),
        Cell::Up => resolved(row - 1, column),
    }
}
