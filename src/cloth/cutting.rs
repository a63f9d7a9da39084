//! What matching costs: the extra cloth for a list of pieces.
//!
//! # Source
//! Furnishing calculators (checks of the trade, read): each cut length is taken up to whole repeats, and one more repeat is
//! bought: 96 in with a repeat of 27 in takes 4 repeats, 108 in.

use serde::Serialize;

/// A length so little over whole repeats is whole repeats: rounding, not cloth.
const ROUNDING: f64 = 1e-9;
/// Most pieces of a list.
pub const MOST_PIECES: usize = 1000;

/// One piece.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Piece {
    /// Its own length along the warp, millimetres.
    pub length_mm: f64,
    /// Whole repeats that it takes.
    pub repeats: u32,
    /// How many it takes where the repeat is as short as its uncertainty allows; more than `repeats` where the length is
    /// nearly whole repeats.
    pub at_most_repeats: u32,
    /// And where it is as long.
    pub at_least_repeats: u32,
    /// Cloth that it takes, millimetres.
    pub takes_mm: f64,
}

/// What a list of pieces takes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cutting {
    /// The repeat along the warp, millimetres; `None` where no line runs across, and pieces take their own length.
    pub repeat_mm: Option<f64>,
    /// The pieces in the order given.
    pub pieces: Vec<Piece>,
    /// Sum of the pieces' own lengths, millimetres.
    pub lengths_mm: f64,
    /// Cloth to buy: whole repeats of every piece and one more, millimetres.
    pub total_mm: f64,
    /// How much of it is for matching, millimetres.
    pub extra_mm: f64,
}

/// What pieces of these lengths take of cloth with this repeat and its expanded uncertainty; lengths and repeat must be above 0.
pub fn plan(lengths_mm: &[f64], repeat: Option<(f64, f64)>) -> Cutting {
    let pieces: Vec<Piece> = lengths_mm
        .iter()
        .map(|&length_mm| match repeat {
            None => Piece { length_mm, repeats: 0, at_most_repeats: 0, at_least_repeats: 0, takes_mm: length_mm },
            Some((repeat_mm, expanded_mm)) => {
                let shortest_mm = (repeat_mm - expanded_mm).max(0.5 * repeat_mm);
                let count = repeats(length_mm, repeat_mm);
                Piece {
                    length_mm,
                    repeats: count,
                    at_most_repeats: repeats(length_mm, shortest_mm),
                    at_least_repeats: repeats(length_mm, repeat_mm + expanded_mm),
                    takes_mm: f64::from(count) * repeat_mm,
                }
            }
        })
        .collect();
    let lengths_mm: f64 = lengths_mm.iter().sum();
    let one_more_mm = if pieces.is_empty() { 0.0 } else { repeat.map_or(0.0, |(repeat_mm, _)| repeat_mm) };
    let total_mm = pieces.iter().map(|p| p.takes_mm).sum::<f64>() + one_more_mm;
    Cutting {
        repeat_mm: repeat.map(|(repeat_mm, _)| repeat_mm),
        pieces,
        lengths_mm,
        total_mm,
        extra_mm: total_mm - lengths_mm,
    }
}

/// Whole repeats that hold a length.
fn repeats(length_mm: f64, repeat_mm: f64) -> u32 {
    let count = length_mm / repeat_mm;
    (count - ROUNDING * count.max(1.0)).ceil().clamp(1.0, 1e9) as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    const INCH_MM: f64 = 25.4;

    #[test]
    fn the_worked_example_of_the_trade() {
        // Furnishing calculators (read): 96 in with a repeat of 27 in takes 4 repeats = 108 in.
        let cutting = plan(&[96.0 * INCH_MM], Some((27.0 * INCH_MM, 0.0)));
        assert_eq!(cutting.pieces[0].repeats, 4);
        assert!((cutting.pieces[0].takes_mm - 108.0 * INCH_MM).abs() < 1e-9);
        // And one more repeat: 135 in, 39 in of it for matching.
        assert!((cutting.total_mm - 135.0 * INCH_MM).abs() < 1e-9);
        assert!((cutting.extra_mm - 39.0 * INCH_MM).abs() < 1e-9);
    }

    #[test]
    fn whole_repeats_are_not_rounded_up_and_near_ones_say_so() {
        let cutting = plan(&[540.0, 542.0, 600.0], Some((27.0, 0.05)));
        let told: Vec<[u32; 3]> =
            cutting.pieces.iter().map(|p| [p.at_least_repeats, p.repeats, p.at_most_repeats]).collect();
        assert_eq!(told, [[20, 20, 21], [21, 21, 21], [23, 23, 23]]);
        assert_eq!(plan(&[539.0], Some((26.9, 0.2))).pieces[0].at_least_repeats, 20);
        assert_eq!(plan(&[0.3 * 3.0], Some((0.3, 0.0))).pieces[0].repeats, 3);
    }

    #[test]
    fn without_lines_across_pieces_take_their_own_length() {
        let cutting = plan(&[300.0, 200.0], None);
        assert_eq!((cutting.total_mm, cutting.extra_mm, cutting.repeat_mm), (500.0, 0.0, None));
        assert_eq!(plan(&[], Some((27.0, 0.1))).total_mm, 0.0);
    }
}
