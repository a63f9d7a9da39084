//! Which seam of one piece belongs beside which of another.

use super::Given;
use crate::verdict::Place;

/// Seams of several pieces that belong beside each other.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Joint {
    /// Where on the garment.
    pub place: Place,
    /// What it is called.
    pub name: String,
    /// Of each piece the number into its seams; `None`: it has no such seam.
    pub seams: Vec<Option<usize>>,
}

impl Joint {
    /// Whether more than one piece has it.
    pub fn is_shared(&self) -> bool {
        self.seams.iter().flatten().count() > 1
    }
}

/// Joins the seams of the pieces: those of one place that are called alike, whatever the case; what is left over by place
/// alone, where no piece has more than one left; the rest stands alone. In the order of the first piece, shared ones first.
pub fn join(pieces: &[Given]) -> Vec<Joint> {
    let mut left: Vec<Vec<usize>> = pieces.iter().map(|piece| (0..piece.seams.len()).collect()).collect();
    let mut joints = Vec::new();
    let name = |piece: usize, seam: usize| pieces[piece].seams[seam].name.clone();
    let place = |piece: usize, seam: usize| pieces[piece].seams[seam].place;
    // Each seam in turn, with those of the other pieces that are like it.
    let mut take = |left: &mut Vec<Vec<usize>>, like: &dyn Fn((usize, usize), (usize, usize)) -> bool, alone: bool| {
        for piece in 0..pieces.len() {
            for seam in left[piece].clone() {
                let fellows: Vec<Vec<usize>> = (0..pieces.len())
                    .map(|other| left[other].iter().copied().filter(|&s| like((piece, seam), (other, s))).collect())
                    .collect();
                let clear = fellows.iter().all(|f| f.len() < 2);
                let seams: Vec<Option<usize>> = match clear && left[piece].contains(&seam) {
                    true => fellows.iter().map(|f| f.first().copied()).collect(),
                    false => continue,
                };
                if alone || seams.iter().flatten().count() > 1 {
                    for (piece, seam) in seams.iter().enumerate() {
                        left[piece].retain(|s| Some(*s) != *seam);
                    }
                    joints.push(Joint { place: place(piece, seam), name: name(piece, seam), seams });
                }
            }
        }
    };
    let same_place = |a: (usize, usize), b: (usize, usize)| place(a.0, a.1) == place(b.0, b.1);
    let same_name =
        |a: (usize, usize), b: (usize, usize)| name(a.0, a.1).to_lowercase() == name(b.0, b.1).to_lowercase();
    take(&mut left, &|a, b| same_place(a, b) && same_name(a, b), false);
    take(&mut left, &same_place, false);
    take(&mut left, &|a, b| a == b, true);
    let rank = |joint: &Joint| {
        let first = joint.seams.iter().enumerate().find_map(|(piece, seam)| Some((piece, (*seam)?)));
        (!joint.is_shared(), first)
    };
    joints.sort_by_key(rank);
    joints
}

#[cfg(test)]
mod tests {
    use super::super::tests::{given, measured};
    use super::*;

    fn joined(pieces: &[&[(&str, Place)]]) -> Vec<Joint> {
        let pieces: Vec<Given> = pieces
            .iter()
            .map(|seams| given("a", seams.iter().map(|(name, place)| measured(name, *place, 0.1, 0.1)).collect()))
            .collect();
        join(&pieces)
    }

    #[test]
    fn seams_are_joined_by_place_and_name_and_else_by_place() {
        use Place::{CentreBack, Collar, SideSeam};
        let joints = joined(&[
            &[("Collar", Collar), ("left", SideSeam), ("right", SideSeam), ("back", CentreBack)],
            &[("Right", SideSeam), ("LEFT", SideSeam), ("centre", CentreBack)],
        ]);
        let seams: Vec<(&str, Vec<Option<usize>>)> =
            joints.iter().map(|joint| (joint.name.as_str(), joint.seams.clone())).collect();
        assert_eq!(
            seams,
            [
                ("left", vec![Some(1), Some(1)]),
                ("right", vec![Some(2), Some(0)]),
                ("back", vec![Some(3), Some(2)]),
                ("Collar", vec![Some(0), None]),
            ]
        );
    }

    #[test]
    fn what_cannot_be_told_apart_is_not_guessed() {
        use Place::SideSeam;
        let joints = joined(&[&[("one", SideSeam), ("two", SideSeam)], &[("left", SideSeam), ("right", SideSeam)]]);
        assert_eq!(joints.len(), 4);
        assert!(joints.iter().all(|joint| !joint.is_shared()));
        // One is named alike; what is then left of each is one.
        let joints = joined(&[&[("one", SideSeam), ("two", SideSeam)], &[("left", SideSeam), ("two", SideSeam)]]);
        assert_eq!(joints.len(), 2);
        assert!(joints.iter().all(Joint::is_shared));
    }

    #[test]
    fn three_pieces_are_joined_where_two_have_a_seam() {
        use Place::{Hem, Zip};
        let joints = joined(&[&[("zip", Zip)], &[("hem", Hem), ("zip", Zip)], &[("hem", Hem)]]);
        assert_eq!(joints.len(), 2);
        assert_eq!(joints[0].seams, [Some(0), Some(1), None]);
        assert_eq!(joints[1].seams, [None, Some(0), Some(0)]);
    }
}
