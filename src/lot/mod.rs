//! Many photographs of a delivery → one answer about it.
//!
//! [`listed`] finds the photographs, [`pattern`] reads what their names say, [`measure`] makes a [`Line`] of each, which
//! [`book`] keeps on the disk. [`sum_up`] makes the same [`Lot`] of lines wherever and in whatever order they were made: it
//! sorts them by the files' names, takes what is there twice once, and counts ([`counts`], [`pieces`], [`places`],
//! [`course`], [`keeping`]), and judges it by a sampling plan where one is asked for ([`sample`]). Nothing in it knows how the lines came about, so that lines of many machines are summed up like those of one.

pub mod order;

pub mod line;

pub mod taken;

pub mod pattern;

pub mod listed;

pub mod measure;

pub mod book;

pub mod counts;

pub mod pieces;

pub mod places;

pub mod refusals;

pub mod course;

pub mod twice;

pub mod keeping;

pub mod sample;

use crate::problem::Problem;
use crate::record::Standing;
use counts::Counts;
use course::Course;
use keeping::Keeping;
pub use line::{Line, SCHEMA};
use pieces::Piece;
use places::PlaceCounts;
use refusals::Refused;
use sample::{Sample, Sampling};
use twice::Twice;

/// So many of the worst photographs are told one by one.
pub const MOST_WORST: usize = 10;

/// A lot: its photographs, and what they come to.
#[derive(Clone, Debug)]
pub struct Lot {
    /// A line a photograph, each once, in the order of the files' names.
    pub lines: Vec<Line>,
    /// How the photographs stand.
    pub photographs: Counts,
    /// The pieces, in the order of their first photographs.
    pub pieces: Vec<Piece>,
    /// How the pieces stand: each as its worst photograph.
    pub piece_counts: Counts,
    /// Photographs that name no piece: each counts as a piece of its own.
    pub nameless: usize,
    /// The worst photographs that were measured, numbers of [`Self::lines`]: what is off before what is unsure, then the
    /// largest jump by its tolerance first; at most [`MOST_WORST`].
    pub worst: Vec<usize>,
    /// What could not be judged, by the reason, the most frequent first.
    pub refused: Vec<Refused>,
    /// The places, those that bring most of what is off first.
    pub places: Vec<PlaceCounts>,
    /// The mean offsets one after the other; `None` where fewer than two photographs have one in millimetres.
    pub course: Option<Course>,
    /// What was there more than once.
    pub twice: Twice,
    /// How well the sewing keeps the tolerance, by place.
    pub keeping: Vec<Keeping>,
    /// Whether the lot is accepted; `None` where nobody asked.
    pub sample: Option<Sample>,
}

impl Lot {
    /// How the lot stands: as its worst photograph.
    pub fn standing(&self) -> Standing {
        self.photographs.worst()
    }
}

/// Sums up lines, whatever their order.
///
/// # Errors
/// [`Problem::Usage`] where there is no sampling plan as `sampling` asks for it.
pub fn sum_up(lines: Vec<Line>, sampling: &Sampling) -> Result<Lot, Problem> {
    let (lines, twice) = twice::once_each(lines);
    let pieces = pieces::of(&lines);
    Ok(Lot {
        keeping: keeping::of(&lines),
        sample: sampling.of(&pieces)?,
        photographs: Counts::of(lines.iter().map(|line| line.record.standing)),
        piece_counts: Counts::of(pieces.iter().map(|piece| piece.standing)),
        nameless: lines.iter().filter(|line| line.record.subject.piece.is_none()).count(),
        worst: worst(&lines),
        refused: refusals::of(&lines),
        places: places::of(&lines),
        course: course::of(&lines),
        twice,
        pieces,
        lines,
    })
}

fn worst(lines: &[Line]) -> Vec<usize> {
    let tolerances = |line: &Line| {
        let measured = line.record.measured.as_ref()?;
        Some(measured.lengths?.worst_mm.abs() / measured.tolerance_mm)
    };
    let bad = |line: &Line| matches!(line.record.standing, Standing::Off | Standing::Unsure);
    let mut worst: Vec<(Standing, f64, usize)> = (lines.iter().enumerate())
        .filter(|(_, line)| bad(line))
        .map(|(k, line)| (line.record.standing, tolerances(line).unwrap_or(0.0), k))
        .collect();
    worst.sort_by(|a, b| b.0.cmp(&a.0).then(b.1.total_cmp(&a.1)).then(a.2.cmp(&b.2)));
    worst.into_iter().take(MOST_WORST).map(|(_, _, k)| k).collect()
}

#[cfg(test)]
mod tests {
    use super::line::tests::measured;
    use super::*;
    use crate::verdict::{Judgement, Place};

    #[test]
    fn the_order_of_lines_changes_nothing() {
        use Judgement::{Matched, Off, Unsure};
        let lines: Vec<Line> = (0..30)
            .map(|k| {
                let judgement = [Matched, Off, Unsure][k * k % 3];
                measured(&format!("{}.jpg", k % 27), &format!("{}", k / 3), Place::Zip, 0.1 * k as f64, judgement)
            })
            .collect();
        let asked = Sampling { aql_percent: Some(2.5), lot_size: None };
        let one = sum_up(lines.clone(), &asked).unwrap();
        let mut turned = lines.clone();
        turned.reverse();
        turned.rotate_left(7);
        assert_eq!(format!("{one:?}"), format!("{:?}", sum_up(turned, &asked).unwrap()));
        // Files 0 to 2 stand there twice with the same content.
        assert_eq!((one.lines.len(), one.photographs.total(), one.twice.repeated), (27, 27, 3));
    }

    #[test]
    fn the_worst_is_what_is_off_by_most_tolerances() {
        let lot = sum_up(
            vec![
                measured("a.jpg", "", Place::Zip, 1.2, Judgement::Off),
                measured("b.jpg", "", Place::Hem, 1.5, Judgement::Off),
                measured("c.jpg", "", Place::Zip, 9.0, Judgement::Unsure),
                measured("d.jpg", "", Place::Zip, 0.0, Judgement::Matched),
            ],
            &Sampling::default(),
        )
        .unwrap();
        assert_eq!((lot.worst, lot.photographs.worst(), lot.nameless), (vec![0, 1, 2], Standing::Off, 4));
        assert_eq!(sum_up(Vec::new(), &Sampling::default()).unwrap().standing(), Standing::Matched);
    }
}
