//! The rendered waistcoats: every seam is answered, and what is said of it holds the truth.
#![allow(missing_docs)]

use seamstep::demo::waistcoat::{Sewn, Waistcoat, bought, handmade};
use seamstep::inspect::{Question, inspect};
use seamstep::photo::{Limits, Photo, decode};
use seamstep::seam::SeamRequest;
use seamstep::verdict::{Demand, Judgement};

fn judged(sewn: &Sewn) -> Judgement {
    let rendered = sewn.photograph().unwrap();
    let pixels = decode::decode(&rendered.jpeg, &Limits::default()).unwrap();
    let points = &rendered.truth.seam_px;
    let marks = || [0, points.len() / 2, points.len() - 1].map(|k| points[k]).to_vec();
    let seam = SeamRequest { points_px: if sewn.marked { marks() } else { Vec::new() }, runs: None };
    let demand = Demand { place: Some(sewn.place), ..Demand::default() };
    let photo = Photo { name: sewn.file.into(), pixels };
    let finding = inspect(&photo, &Question { seam, demand, ..Question::default() }).unwrap();
    let (found, truth) = (&finding.offset, &rendered.truth);
    let error_mm = (found.mean_mm - truth.mean_offset_mm).abs();
    assert!(error_mm <= found.expanded_uncertainty_mm, "{}: {error_mm}", sewn.name);
    assert!((found.worst_mm.abs() - truth.largest_offset_mm).abs() < 0.3, "{}: {}", sewn.name, found.worst_mm);
    finding.verdict.result
}

#[test]
fn every_seam_is_judged_as_it_was_sewn() {
    use Judgement::{Matched, Off};
    let results = |piece: Waistcoat| -> Vec<Judgement> { piece.seams.iter().map(judged).collect() };
    assert_eq!(results(handmade()), [Matched, Matched, Off, Off, Matched]);
    assert_eq!(results(bought()), [Off, Off, Off, Off, Matched]);
}
