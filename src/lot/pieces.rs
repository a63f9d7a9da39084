//! The pieces: all photographs of one belong together, and it stands as the worst of them.

use super::line::Line;
use crate::record::Standing;
use crate::verdict::Place;
use std::collections::HashMap;

/// A piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Its name: as given, or the photograph's where none is.
    pub name: String,
    /// How it stands.
    pub standing: Standing,
    /// How many photographs it has.
    pub photographs: usize,
    /// The places where it is off, each once; a place that was not said is left out.
    pub off_at: Vec<Place>,
}

/// The pieces in the order of their first lines. A piece is off as soon as one of its seams is.
pub fn of(lines: &[Line]) -> Vec<Piece> {
    let mut pieces: Vec<Piece> = Vec::new();
    let mut known: HashMap<(bool, &str), usize> = HashMap::new();
    for line in lines {
        let Line { record, .. } = line;
        // A photograph's name is no piece's name, though the letters be the same.
        let named = record.subject.piece.is_some();
        let at = *known.entry((named, line.piece())).or_insert_with(|| {
            pieces.push(Piece {
                name: line.piece().to_owned(),
                standing: Standing::Matched,
                photographs: 0,
                off_at: Vec::new(),
            });
            pieces.len() - 1
        });
        let piece = &mut pieces[at];
        piece.photographs += 1;
        piece.standing = piece.standing.max(record.standing);
        if let Some(place) =
            record.subject.place.filter(|place| record.standing == Standing::Off && !piece.off_at.contains(place))
        {
            piece.off_at.push(place);
        }
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::super::line::tests::measured;
    use super::*;
    use crate::verdict::Judgement::{Matched, Off, Unsure};

    #[test]
    fn a_piece_stands_as_its_worst_seam() {
        let mut lost = measured("d.jpg", "3", Place::Zip, 0.0, Matched);
        lost.record.standing = Standing::Trouble;
        let lines = [
            measured("a.jpg", "1", Place::Zip, 0.1, Matched),
            measured("b.jpg", "2", Place::Zip, 9.0, Off),
            measured("c.jpg", "1", Place::Hem, 0.1, Unsure),
            lost,
            measured("e.jpg", "2", Place::Zip, 9.0, Off),
            measured("1", "", Place::Zip, 0.0, Matched),
        ];
        let told: Vec<_> = of(&lines).into_iter().map(|p| (p.name, p.standing, p.photographs, p.off_at)).collect();
        assert_eq!(
            told,
            [
                ("1".into(), Standing::Unsure, 2, vec![]),
                ("2".into(), Standing::Off, 2, vec![Place::Zip]),
                ("3".into(), Standing::Trouble, 1, vec![]),
                ("1".into(), Standing::Matched, 1, vec![]),
            ]
        );
    }
}
