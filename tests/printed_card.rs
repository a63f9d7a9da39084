//! The printed card in a photograph: the card's own SVG, drawn as a printer would, laid beside a rendered seam and
//! read by the whole walk; and the renderer's own symbol, read at many tilts.

#[path = "support/plane_error.rs"]
mod plane_error;
#[path = "support/print.rs"]
mod print;

use plane_error::worst_corner_px;
use print::print_svg;
use seamstep::card::{CardOptions, MM_PER_INCH, on_page, svg};
use seamstep::inspect::{Question, inspect};
use seamstep::photo::Photo;
use seamstep::render::{
    Camera, Card, CardFace, Cloth, Light, OffsetProfile, Rendered, Scene, SeamScene, ShadowEdge, render,
};
use seamstep::scale::{ScaleRequest, ScaleSource, read};
use seamstep::seam::SeamRequest;

/// Resolution of the printer, dots to an inch.
const PRINTER_DPI: f64 = 300.0;

fn photo(rendered: &Rendered) -> Photo {
    Photo::new("seam.jpg", rendered.photo.clone())
}

/// Three points of the seam as a person would mark them.
fn marked(rendered: &Rendered) -> SeamRequest {
    let seam = &rendered.truth.seam_px;
    let last = seam.len() - 1;
    SeamRequest {
        points_px: [last / 20, last / 2, last - last / 20].map(|k| seam[k]).to_vec(),
        ..SeamRequest::default()
    }
}

/// The usual card as printed and cut, and its width, millimetres.
fn printed() -> CardFace {
    let options = CardOptions::default();
    let card = on_page(&options).expect("laid out").card;
    let pixels = print_svg(&svg(&options).expect("written"), PRINTER_DPI / MM_PER_INCH, card);
    let width_mm = f64::from(pixels.width()) * MM_PER_INCH / PRINTER_DPI;
    CardFace::Picture { pixels, width_mm }
}

#[test]
fn a_printed_card_beside_a_seam_is_read_to_the_truth() {
    let face = printed();
    let views = [(640, 800, 0.25, 0.0, 2.1), (640, 800, 0.25, 0.2, -1.4), (900, 720, 0.2, 0.35, 0.6)];
    for (k, (width_px, height_px, mm_per_px, tilt_rad, offset_mm)) in views.into_iter().enumerate() {
        let seam = SeamScene {
            offset: OffsetProfile::constant(offset_mm),
            cards: vec![Card { face: face.clone(), u_mm: 5.0, v_mm: 42.0, turn_rad: 0.08 }],
            ..SeamScene::new(Cloth::broad_check())
        };
        let camera = Camera { tilt_rad, tilt_towards_rad: 0.8, ..Camera::new(width_px, height_px, mm_per_px) };
        let rendered = render(&Scene { seam, camera, seed: 300 + k as u64 }).expect("rendered");
        let question = Question { seam: marked(&rendered), ..Question::default() };
        let finding = inspect(&photo(&rendered), &question).expect("measured");
        assert_eq!(finding.plane.source, ScaleSource::Card);
        let [a, b] = rendered.truth.hundred_mm_px.expect("100 mm of seam");
        let scale_error = finding.plane.to_mm(a).distance(finding.plane.to_mm(b)) / 100.0 - 1.0;
        let at_middle = finding.plane.to_mm(rendered.truth.seam_px[rendered.truth.seam_px.len() / 2]);
        let local_error = finding.plane.mm_per_px_at(at_middle) / rendered.truth.mm_per_px - 1.0;
        let error_mm = finding.offset.mean_mm - rendered.truth.mean_offset_mm;
        let u_mm = finding.offset.expanded_uncertainty_mm;
        let said = format!(
            "tilt {tilt_rad}, {width_px} px at {mm_per_px}: 100 mm out by {:.3} %, mm per px by {:.3} %, offset by \
             {error_mm:.4} mm with U {u_mm:.4}",
            100.0 * scale_error,
            100.0 * local_error
        );
        assert!(scale_error.abs() < 0.003 && local_error.abs() < 0.003, "{said}");
        assert!(error_mm.abs() <= u_mm.max(0.05), "{said}");
    }
}

#[test]
fn tilt_and_shadow_leave_the_scale_true() {
    for (k, degrees) in [0.0f64, 10.0, 20.0, 30.0].into_iter().enumerate() {
        let shadow = ShadowEdge { distance: 0.1, towards_rad: 0.4, depth: 0.5, softness_px: 6.0 };
        for shadow in [None, Some(shadow)] {
            let seam = SeamScene {
                cards: vec![Card { face: CardFace::Scale { side_mm: 30.0 }, u_mm: 0.0, v_mm: 30.0, turn_rad: -0.15 }],
                ..SeamScene::new(Cloth::broad_check())
            };
            let camera = Camera {
                tilt_rad: degrees.to_radians(),
                tilt_towards_rad: 1.3 * k as f64,
                light: Light { shadow, ..Light::even() },
                ..Camera::new(520, 600, 0.22)
            };
            let rendered = render(&Scene { seam, camera, seed: 40 + k as u64 }).expect("rendered");
            let plane = read(&photo(&rendered), &ScaleRequest::Card).expect("a card");
            let shaded = shadow.is_some();
            let worst_px = worst_corner_px(&plane, rendered.truth.cards_px[0], 30.0);
            let [a, b] = rendered.truth.hundred_mm_px.expect("100 mm of seam");
            let far_error = plane.to_mm(a).distance(plane.to_mm(b)) / 100.0 - 1.0;
            let said = format!(
                "{degrees} degrees, shadow {shaded}: corners {worst_px:.3} px, 100 mm out by {:.3} %, u {:.3} %",
                100.0 * far_error,
                100.0 * plane.relative_uncertainty
            );
            assert!(worst_px < 0.1, "{said}");
            assert!(far_error.abs() < 0.001, "{said}");
        }
    }
}
