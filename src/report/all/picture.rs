//! The photograph as taken with every place on it, numbered as in the table.

use super::{jump, standing};
use crate::inspect::OneOfAll;
use crate::record::Standing;
use crate::report::picture::canvas::{DARK, Frame, Ink, LIGHT, Type, cased_all, fill, words_size, write};
use crate::report::picture::marks::{self, MATCHED, OFF, UNSURE};
use crate::report::picture::view::{View, WORDS_PX};
use crate::report::picture::{self, Taken, WIDTH_PX};
use crate::units::PxPoint;
use image::{GenericImage, RgbImage};

/// Every place in the order given: its seam, what of it is off, its worst place and its number; a refused place dashed. Above, what
/// came of each. [`WIDTH_PX`] wide.
pub fn all(photo: &RgbImage, seams: &[OneOfAll]) -> RgbImage {
    let mut taken = Taken::of(photo);
    for one in seams {
        match &one.came {
            Ok(finding) => {
                let view = View::taken(finding, taken.zoom, taken.size_px());
                for stretch in &finding.verdict.stretches {
                    marks::stretch(&mut taken.picture, &view, stretch);
                }
                marks::seam(&mut taken.picture, &view);
                marks::worst(&mut taken.picture, &view, finding);
            }
            Err(_) => dashed(&mut taken, one),
        }
    }
    for (k, one) in seams.iter().enumerate() {
        number(&mut taken, one, k + 1);
    }
    let words: Vec<(String, bool)> = seams.iter().enumerate().map(|(k, one)| (told(one, k + 1), k == 0)).collect();
    let (words, taken) = (picture::words(&words), taken.on_paper());
    let mut whole = RgbImage::from_pixel(WIDTH_PX, words.height() + taken.height(), LIGHT);
    whole.copy_from(&words, 0, 0).expect("as wide as the whole");
    whole.copy_from(&taken, 0, words.height()).expect("together they are as high as the whole");
    whole
}

/// What came of a place.
fn told(one: &OneOfAll, number: usize) -> String {
    let state = standing(one).word();
    match (jump(one), &one.came) {
        (_, Err(refusal)) => format!("{number}: {state}, {}", refusal.message),
        (jump, Ok(_)) => format!("{number}: {state}, {} at most", jump.unwrap_or_default()),
    }
}

/// The points of a place in the picture that is drawn.
fn points(taken: &Taken, one: &OneOfAll) -> Vec<PxPoint> {
    one.place.points_px.iter().map(|p| PxPoint::new(p.x * taken.zoom, p.y * taken.zoom)).collect()
}

fn dashed(taken: &mut Taken, one: &OneOfAll) {
    let dashes: Vec<[PxPoint; 2]> = points(taken, one).windows(2).step_by(2).map(|pair| [pair[0], pair[1]]).collect();
    cased_all(&mut taken.picture, &dashes, 3.0, DARK);
}

/// The number of a place on paper, framed in the colour of its state, at a third of its length.
fn number(taken: &mut Taken, one: &OneOfAll, number: usize) {
    let ink: Ink = match standing(one) {
        Standing::Matched => MATCHED,
        Standing::Off => OFF,
        Standing::Unsure | Standing::Refused | Standing::Trouble => UNSURE,
    };
    let points = points(taken, one);
    let Some(&at) = points.get(points.len() / 3) else { return };
    let (words, look) = (number.to_string(), Type { height_px: 1.2 * WORDS_PX, bold: true });
    let [width, height] = words_size(&words, look);
    let frame = |margin: f64| Frame::around(at, width + margin, height + margin).moved_inside(taken.size_px());
    let (edge, paper, words_in) = (frame(26.0), frame(16.0), frame(0.0));
    fill(&mut taken.picture, edge, ink);
    fill(&mut taken.picture, paper, LIGHT);
    write(&mut taken.picture, PxPoint::new(words_in.edges_px[0], words_in.edges_px[1]), &words, look, DARK);
}
