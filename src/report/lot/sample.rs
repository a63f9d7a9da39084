//! Lots for the tests of the faces, made without a photograph.

use crate::lot::line::Schema;
use crate::lot::sample::Sampling;
use crate::lot::{Line, Lot, sum_up};
use crate::problem::{Problem, Refusal, RefusalCode};
use crate::record::{Instead, Lengths, Record, Standing, Subject, Summary, summary::Share};
use crate::remedy::Action;
use crate::verdict::{Judgement, Place, judge};

/// A seam whose lines jump by this everywhere.
pub fn line(file: &str, piece: &str, place: Place, jump_mm: f64) -> Line {
    let tolerance_mm = place.custom().tolerance_mm;
    let result = judge(jump_mm, 0.1, tolerance_mm);
    let summary = Summary {
        result,
        place,
        tolerance_mm,
        reason: "the lines <jump>".into(),
        action: if result == Judgement::Off { Action::RepinWhole } else { Action::Leave },
        worth_unpicking: Some(result == Judgement::Off),
        minutes: (result == Judgement::Off).then_some(12.0),
        visible_from_m: None,
        lengths: Some(Lengths {
            seam_mm: 160.0,
            repeat_mm: None,
            mean_mm: jump_mm,
            mean_standard_uncertainty_mm: 0.03,
            mean_freedom: Some(14.0),
            mean_expanded_uncertainty_mm: 0.06,
            worst_mm: jump_mm,
            worst_expanded_uncertainty_mm: 0.1,
            worst_at_mm: 40.0,
            within: Share { best: 1.0, least: 0.9, most: 1.0 },
        }),
    };
    let piece = Some(piece.to_owned()).filter(|p| !p.is_empty());
    Line {
        schema: Schema::Lot1,
        record: Record {
            subject: Subject { file: file.into(), piece, place: Some(place), by: Some("Jo".into()) },
            standing: result.into(),
            measured: Some(summary),
            instead: None,
        },
        content: Some(file.to_owned()),
        question: Some("0".into()),
        bytes: Some(100_000),
        taken: None,
    }
}

fn instead(file: &str, piece: &str, problem: Problem) -> Line {
    let blank = line(file, piece, Place::Hem, 0.0);
    Line { record: Record::of(blank.record.subject.clone(), &Err(problem)), ..blank }
}

/// Five pieces of which some are off, with one refusal, one double and one file that is gone.
pub fn delivery() -> Lot {
    let mut lines = Vec::new();
    for (piece, jumps) in [("4", [0.2, -0.3]), ("5", [1.45, 0.1]), ("6", [-2.9, 5.1]), ("7", [4.8, 0.4])] {
        lines.push(line(&format!("lot/{piece}_zip.jpg"), piece, Place::Zip, jumps[0]));
        lines.push(line(&format!("lot/{piece}_side-seam.jpg"), piece, Place::SideSeam, jumps[1]));
    }
    let blurred = Refusal::new(RefusalCode::Blurred, "the lines are <too soft>", "hold still & photograph it again");
    lines.push(instead("lot/8_hem & <more>.jpg", "8", blurred.into()));
    lines.push(instead(
        &format!("lot/{}.jpg", "very-long-name-".repeat(9)),
        "8",
        Problem::io("cannot read it", "look"),
    ));
    let mut unscaled = line("lot/8_zip.jpg", "8", Place::Zip, 1.45);
    unscaled.record.measured.as_mut().unwrap().lengths = None;
    lines.push(unscaled);
    lines.push(Line { content: lines[0].content.clone(), ..line("lot/9_zip.jpg", "", Place::Zip, 0.2) });
    lines.push(line("lot/9_side-seam.jpg", "", Place::SideSeam, 0.2));
    made(lines, None)
}

fn made(lines: Vec<Line>, aql_percent: Option<f64>) -> Lot {
    sum_up(lines, &Sampling { aql_percent, lot_size: None }).unwrap()
}

/// Every kind of lot, by name.
pub fn every_kind() -> Vec<(&'static str, Lot)> {
    let shifted = (0..40).map(|k| {
        let mut line =
            line(&format!("{k}.jpg"), "", Place::Zip, 0.02 * f64::from(k % 5) + if k > 20 { 0.7 } else { 0.0 });
        line.taken = Some(format!("2026-03-01T10:{k:02}:00"));
        line
    });
    let gone = Instead { code: None, message: "gone".into(), help: "look".into() };
    let mut lost = line("gone.jpg", "1", Place::Zip, 0.0);
    lost.record = Record { measured: None, standing: Standing::Trouble, instead: Some(gone), ..lost.record };
    vec![
        ("delivery", delivery()),
        ("shifted", made(shifted.collect(), Some(2.5))),
        ("one", made(vec![line("a.jpg", "", Place::Zip, 0.0)], None)),
        ("lost", made(vec![lost], None)),
        (
            "many",
            made(
                (0..3000).map(|k| line(&format!("{k}"), "", Place::Hem, 0.002 * f64::from(k % 2500))).collect(),
                Some(0.65),
            ),
        ),
        ("none", made(Vec::new(), None)),
    ]
}
