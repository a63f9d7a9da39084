//! More than one symbol in the picture: two cards, other codes, and what must be said of a card that is of no use.

use seamstep::inspect::{Question, inspect};
use seamstep::photo::Photo;
use seamstep::problem::Problem;
use seamstep::render::{Camera, Card, CardFace, Cloth, Patch, Rendered, Scene, SeamScene, render};
use seamstep::report::{html, json, text};
use seamstep::scale::{Plane, ScaleRequest, ScaleSource, read};
use seamstep::seam::SeamRequest;

fn card(face: CardFace, u_mm: f64, v_mm: f64) -> Card {
    Card { face, u_mm, v_mm, turn_rad: 0.12 }
}

fn printed(side_mm: u32, printed_at: f64) -> CardFace {
    CardFace::Printed { side_mm, printed_at }
}

fn code(text: &str) -> CardFace {
    CardFace::Code { text: text.into(), side_mm: 26.0 }
}

fn rendered(cards: Vec<Card>, patches: Vec<Patch>) -> Rendered {
    let seam = SeamScene { cards, patches, ..SeamScene::new(Cloth::broad_check()) };
    let camera = Camera { tilt_rad: 0.2, tilt_towards_rad: 0.7, ..Camera::new(560, 700, 0.25) };
    render(&Scene { seam, camera, seed: 77 }).expect("rendered")
}

fn photo(rendered: &Rendered) -> Photo {
    Photo::new("seam.jpg", rendered.photo.clone())
}

fn plane(cards: Vec<Card>, patches: Vec<Patch>) -> Plane {
    read(&photo(&rendered(cards, patches)), &ScaleRequest::Auto).expect("a plane")
}

fn note<'a>(plane: &'a Plane, code: &str) -> Option<&'a str> {
    plane.notes.iter().find(|note| note.code == code).map(|note| note.text.as_str())
}

/// Scale of the camera in the middle of the picture: the tilt shortens one direction by its cosine.
fn true_mm_per_px() -> f64 {
    0.25 / 0.2f64.cos().sqrt()
}

#[test]
fn two_cards_that_agree_are_named_in_every_report() {
    let rendered = rendered(vec![card(printed(30, 1.0), -45.0, 38.0), card(printed(40, 1.0), 40.0, -35.0)], Vec::new());
    let truth = &rendered.truth.seam_px;
    let seam = SeamRequest { points_px: vec![truth[0], truth[truth.len() - 1]], ..SeamRequest::default() };
    let finding = inspect(&photo(&rendered), &Question { seam, ..Question::default() }).expect("measured");
    assert_eq!(note(&finding.plane, "several-cards"), Some("2 scale cards were read; the surest, of 40 mm, was used."));
    let agree = note(&finding.plane, "cards-agree").expect("compared");
    assert!(agree.contains("by the card of 40 mm the side of the one of 30 mm is 30.0"), "{agree}");
    assert!((finding.plane.mm_per_px / true_mm_per_px() - 1.0).abs() < 0.001);
    let whole = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let page = html::page(&rendered.photo, &finding).expect("a page");
    for (face, told) in [
        ("text", whole(&text::finding(&finding, false))),
        ("JSON", json::finding(&finding).to_string()),
        ("HTML", whole(&page)),
    ] {
        assert!(told.contains("of 40 mm, was used") && told.contains(agree), "{face}: {told}");
    }
}

#[test]
fn cards_that_disagree_are_a_note_with_the_figures_and_the_scale_is_less_sure() {
    for printed_at in [0.97, 1.04] {
        let cards = vec![card(printed(30, printed_at), -45.0, 38.0), card(printed(40, 1.0), 40.0, -35.0)];
        let plane = plane(cards, Vec::new());
        let said = note(&plane, "cards-disagree").unwrap_or_else(|| panic!("{:?}", plane.notes));
        let side: f64 =
            said.split("the one of 30 mm is ").nth(1).and_then(|s| s.split(' ').next()).unwrap().parse().unwrap();
        assert!((side - 30.0 * printed_at).abs() < 0.06, "{said}");
        assert!(note(&plane, "cards-agree").is_none());
        assert!(plane.relative_uncertainty > 0.5 * (printed_at - 1.0f64).abs(), "{}", plane.relative_uncertainty);
    }
}

#[test]
fn other_codes_are_ignored_beside_a_card_and_alone() {
    for other in ["https://example.org/cloth", "4006381333931", "seamstep:wide", "seamstep:", "seamstep:9e9"] {
        let beside = plane(vec![card(printed(30, 1.0), -45.0, 38.0), card(code(other), 40.0, -35.0)], Vec::new());
        assert_eq!(beside.source, ScaleSource::Card, "{other}");
        assert!((beside.mm_per_px / true_mm_per_px() - 1.0).abs() < 0.001, "{other}: {}", beside.mm_per_px);
        assert!(note(&beside, "other-symbols").is_some(), "{other}: {:?}", beside.notes);
        let alone = rendered(vec![card(code(other), 10.0, 35.0)], Vec::new());
        match read(&photo(&alone), &ScaleRequest::Card) {
            Err(Problem::Refused(refusal)) => assert!(refusal.message.ends_with("is not a scale card"), "{other}"),
            answer => panic!("{other}: {answer:?}"),
        }
        let plane = read(&photo(&alone), &ScaleRequest::Auto).expect("a plane");
        assert!(plane.source == ScaleSource::None && note(&plane, "other-symbols").is_some(), "{other}");
    }
}

#[test]
fn a_card_covered_for_the_most_part_is_said_and_gives_no_scale() {
    // Two thirds of the symbol lie under cloth; two finders show.
    let over = Patch {
        u_mm: 22.0,
        v_mm: 35.0,
        half_mm: [30.0, 14.0],
        turn_rad: 0.12,
        round: false,
        colour: [120, 60, 60],
        lift_mm: 0.5,
    };
    let rendered = rendered(vec![card(printed(40, 1.0), 12.0, 35.0)], vec![over]);
    let plane = read(&photo(&rendered), &ScaleRequest::Auto).expect("a plane");
    let said = plane.notes.iter().find(|note| note.code.starts_with("card-")).expect("a note");
    assert_eq!(plane.source, ScaleSource::None, "{}", said.text);
    assert!(said.text.contains("lay it flat and whole"), "{}", said.text);
    match read(&photo(&rendered), &ScaleRequest::Card) {
        Err(Problem::Refused(refusal)) => assert!(refusal.message.contains("near ("), "{}", refusal.message),
        answer => panic!("{answer:?}"),
    }
}

#[test]
fn a_card_covered_in_part_says_so_and_its_scale_holds() {
    let thumb = Patch {
        u_mm: 26.0,
        v_mm: 52.0,
        half_mm: [13.0, 17.0],
        turn_rad: 0.4,
        round: true,
        colour: [206, 160, 138],
        lift_mm: 0.8,
    };
    let plane = plane(vec![card(printed(40, 1.0), 12.0, 35.0)], vec![thumb]);
    let said = note(&plane, "card-damaged").unwrap_or_else(|| panic!("{:?} {:?}", plane.source, plane.notes));
    assert!(said.contains("the scale rests on the rest"), "{said}");
    let error = plane.mm_per_px / true_mm_per_px() - 1.0;
    assert!(error.abs() < 2.0 * plane.relative_uncertainty && error.abs() < 0.003, "{error}");
}

#[test]
fn what_the_card_covers_is_told_by_the_fit() {
    let rendered = rendered(vec![card(printed(30, 1.0), -45.0, 38.0)], Vec::new());
    let plane = read(&photo(&rendered), &ScaleRequest::Auto).expect("a plane");
    // The symbol with 4 modules of quiet zone and 4.5 mm of paper: the upper corners stand 9.3 mm out, both ways.
    let out_mm = 4.0 * 30.0 / 25.0 + 4.5;
    let [a, b, _, d] = rendered.truth.cards_px[0].map(|p| plane.to_mm(p));
    let along = |from: seamstep::units::MmPoint, to: seamstep::units::MmPoint, s: f64| {
        [(to.x - from.x) / 30.0 * s, (to.y - from.y) / 30.0 * s]
    };
    let (x, y) = (along(a, b, -out_mm), along(a, d, -out_mm));
    let due = plane.to_px(seamstep::units::MmPoint::new(a.x + x[0] + y[0], a.y + x[1] + y[1]));
    let apart = plane.cards_px[0][0].distance(due);
    assert!(apart < 0.15, "{apart} px");
}
