//! From the cards that were seen to the scale: each is fitted, the surest gives the plane, and the next must agree.

use super::detect::{SeenCard, Sightings};
use super::refine::{self, FittedCard};
use super::{Plane, ScaleSource, homography, lens, middle_of, projective};
use crate::conventions::COVERAGE_FACTOR;
use crate::photo::Photo;
use crate::problem::{Note, Refusal, RefusalCode};
use crate::units::PxPoint;
use nalgebra::{Matrix3, SVector};

/// A symbol printed by an office printer and not measured: ±0.1 mm on its side, rectangular. Common practice, no source.
const PRINT_HALF_WIDTH_MM: f64 = 0.1;
/// Relative standard uncertainty for a card that lies a paper's or board's thickness above the cloth: 0.3 mm at 400 mm.
const HEIGHT_RELATIVE: f64 = 0.0008;
/// A card whose fit leaves the scale less sure than this gives none.
const MOST_RELATIVE: f64 = 0.015;
/// A card of which more than this share does not look as printed is called damaged.
const DAMAGED: f64 = 0.12;
/// Most cards that are measured.
const MOST: usize = 4;
/// Quiet zone of a symbol, modules (ISO/IEC 18004; clause from memory).
const QUIET_MODULES: f64 = 4.0;
/// Paper from the quiet zone to the cut, and below it to the cut under the printed measure, with 1.5 mm of shadow.
const PAPER_AROUND_MM: f64 = 4.5;
const PAPER_BELOW_MM: f64 = 11.5;

/// What the cards in the picture give.
pub(super) struct Cards {
    /// The plane of the surest card.
    pub(super) plane: Option<Plane>,
    /// What the symbols cover in the picture, with the paper around them.
    pub(super) outlines: Vec<[PxPoint; 4]>,
    /// Doubts about the card that was used, or why none was.
    pub(super) notes: Vec<Note>,
}

/// A card with its fit.
struct Measured<'a> {
    card: &'a SeenCard,
    fitted: FittedCard,
    plane: Plane,
}

/// Measures the cards that were seen.
pub(super) fn measure(photo: &Photo, seen: &Sightings) -> Cards {
    let fits: Vec<(&SeenCard, Option<FittedCard>)> = (seen.cards.iter().take(MOST))
        .map(|card| (card, refine::refine(photo, &card.pattern, &card.modules_to_px)))
        .collect();
    let mut outlines: Vec<[PxPoint; 4]> = fits
        .iter()
        .map(|(card, fit)| outline(card, fit.as_ref().map_or(&card.modules_to_px, |f| &f.modules_to_px)))
        .collect();
    outlines.extend(seen.cards.iter().skip(MOST).map(|card| outline(card, &card.modules_to_px)));
    outlines
        .extend(seen.unread.iter().map(|symbol| around(&symbol.modules_to_px, symbol.modules, QUIET_MODULES * 2.0)));

    let mut notes = Vec::new();
    let mut measured: Vec<Measured> = Vec::new();
    for (card, fit) in fits {
        match fit.and_then(|fitted| Some(Measured { card, plane: plane_of(photo, card, &fitted)?, fitted })) {
            Some(one) => measured.push(one),
            None => notes.push(Note::new(
                "card-damaged",
                format!(
                    "The scale card of {} mm near {} was read, but too little of it is as printed to measure by: lay \
                     it flat and whole in the picture, nothing over it, sharp and in one light.",
                    card.side_mm,
                    place(card.modules(), &card.modules_to_px)
                ),
            )),
        }
    }
    measured.sort_by(|a, b| a.plane.relative_uncertainty.total_cmp(&b.plane.relative_uncertainty));
    notes.extend(seen.unread.iter().map(|symbol| {
        Note::new(
            "card-unread",
            format!(
                "A QR symbol near {} was seen but cannot be read: part of it is covered, cut off, soiled or out of \
                 focus. If it is the scale card, lay it flat and whole in the picture, nothing over it.",
                place(symbol.modules, &symbol.modules_to_px)
            ),
        )
    }));
    let Some(used) = measured.first() else { return Cards { plane: None, outlines, notes } };
    let mut plane = used.plane.clone();
    if used.fitted.kept < 1.0 - DAMAGED {
        notes.push(Note::new(
            "card-damaged",
            format!(
                "About {:.0} % of the scale card does not look as printed (covered, cut off, creased or soiled); the \
                 scale rests on the rest.",
                100.0 * (1.0 - used.fitted.kept)
            ),
        ));
    }
    if seen.cards.len() > 1 {
        notes.push(Note::new(
            "several-cards",
            format!("{} scale cards were read; the surest, of {} mm, was used.", seen.cards.len(), used.card.side_mm),
        ));
    }
    for other in &measured[1..] {
        let (note, relative) = compared(used, other);
        notes.push(note);
        plane.relative_uncertainty = plane.relative_uncertainty.hypot(relative);
    }
    Cards { plane: Some(plane), outlines, notes }
}

/// Why no card gives the scale.
pub(super) fn no_card(seen: &Sightings, cards: &Cards) -> Refusal {
    let reason = cards.notes.iter().find(|note| note.code.starts_with("card-")).map(|note| note.text.as_str());
    let message = match reason {
        Some(reason) => format!("no scale card can be used: {}", reason.split(": ").next().unwrap_or(reason)),
        None if seen.others > 0 => {
            "no scale card can be read in the picture; the QR symbol in the picture is not a scale card".to_owned()
        }
        None => "no scale card can be read in the picture".to_owned(),
    };
    Refusal::new(
        RefusalCode::NoCard,
        message,
        "print one (seamstep card) and lay it flat beside the seam, sharp and whole in the picture; or mark a known length \
         or a thing of known size, or give the cloth's repeat (--length, --rectangle, --repeat)",
    )
}

fn plane_of(photo: &Photo, card: &SeenCard, fitted: &FittedCard) -> Option<Plane> {
    let module_mm = card.side_mm / card.modules() as f64;
    let to_modules = Matrix3::new(1.0 / module_mm, 0.0, 0.0, 0.0, 1.0 / module_mm, 0.0, 0.0, 0.0, 1.0);
    let middle = middle_of(photo);
    let fit_relative = spread_at(fitted, [middle.x, middle.y]).filter(|&relative| relative <= MOST_RELATIVE)?;
    let relative = fit_relative.hypot(printed(card)).hypot(HEIGHT_RELATIVE);
    let symbol_px = quadrilateral(&fitted.modules_to_px, [0.0; 2], [card.modules() as f64; 2]);
    projective(photo, ScaleSource::Card, &(fitted.modules_to_px * to_modules), relative)
        .map(|plane| plane.measured_along(&lens::around(&symbol_px)))
}

/// Relative standard uncertainty of a card's printed side.
fn printed(card: &SeenCard) -> f64 {
    PRINT_HALF_WIDTH_MM / 3f64.sqrt() / card.side_mm
}

/// Whether two cards agree about the scale halfway between them, and what their disagreement adds to the uncertainty.
fn compared(used: &Measured, other: &Measured) -> (Note, f64) {
    let [a, b] = [used, other].map(|m| homography::apply(&m.fitted.modules_to_px, [m.card.modules() as f64 / 2.0; 2]));
    let halfway = PxPoint::new((a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0);
    let [one, two] = [used, other].map(|m| {
        let fit = spread_at(&m.fitted, [halfway.x, halfway.y]).unwrap_or(MOST_RELATIVE);
        (m.plane.mm_per_px_at(m.plane.to_mm(halfway)), fit.hypot(printed(m.card)))
    });
    // What the other card's side would be if the one that was used is right.
    let side_mm = other.card.side_mm * one.0 / two.0;
    let expanded_mm = COVERAGE_FACTOR * one.1.hypot(two.1) * side_mm;
    let figures = format!(
        "by the card of {} mm the side of the one of {} mm is {side_mm:.2} ± {expanded_mm:.2} mm",
        used.card.side_mm, other.card.side_mm
    );
    if (side_mm - other.card.side_mm).abs() <= expanded_mm {
        return (Note::new("cards-agree", format!("The scale cards agree: {figures}.")), 0.0);
    }
    let text = format!(
        "The scale cards disagree: {figures}. One of them may have been printed at another scale, or does not lie flat \
         on the cloth: measure both with a ruler and leave the wrong one out."
    );
    // Either card may be the wrong one: the truth is taken to lie anywhere between the two, rectangular.
    (Note::new("cards-disagree", text), (one.0 / two.0 - 1.0).abs() / 3f64.sqrt())
}

/// Relative standard uncertainty of the scale at a place of the picture, from the fit's covariance.
fn spread_at(fitted: &FittedCard, place: [f64; 2]) -> Option<f64> {
    let log_scale = |h: &Matrix3<f64>| -> Option<f64> {
        let at = homography::apply(&h.try_inverse()?, place);
        Some(0.5 * homography::jacobian(h, at).determinant().abs().ln())
    };
    let here = log_scale(&fitted.modules_to_px)?;
    let mut gradient = SVector::<f64, 8>::zeros();
    for k in 0..8 {
        let mut moved = fitted.modules_to_px;
        let step = 1e-3 * fitted.covariance[(k, k)].max(1e-18).sqrt();
        moved[(k / 3, k % 3)] += step;
        gradient[k] = (log_scale(&moved)? - here) / step;
    }
    let variance = (gradient.transpose() * fitted.covariance * gradient)[(0, 0)];
    variance.is_finite().then(|| variance.max(0.0).sqrt())
}

/// The card's outline in the picture: the symbol with its quiet zone of four modules (ISO/IEC 18004), the paper around it
/// as `seamstep card` prints it, and a little for its shadow.
fn outline(card: &SeenCard, modules_to_px: &Matrix3<f64>) -> [PxPoint; 4] {
    let n = card.modules() as f64;
    let modules = |mm: f64| mm * n / card.side_mm;
    let around = QUIET_MODULES + modules(PAPER_AROUND_MM);
    let below = QUIET_MODULES + modules(PAPER_BELOW_MM);
    quadrilateral(modules_to_px, [-around, -around], [n + around, n + below])
}

fn around(modules_to_px: &Matrix3<f64>, modules: usize, margin: f64) -> [PxPoint; 4] {
    quadrilateral(modules_to_px, [-margin; 2], [modules as f64 + margin; 2])
}

fn quadrilateral(modules_to_px: &Matrix3<f64>, from: [f64; 2], to: [f64; 2]) -> [PxPoint; 4] {
    [from, [to[0], from[1]], to, [from[0], to[1]]].map(|p| {
        let [x, y] = homography::apply(modules_to_px, p);
        PxPoint::new(x, y)
    })
}

/// Where a symbol's middle lies in the picture, for a person.
fn place(modules: usize, modules_to_px: &Matrix3<f64>) -> String {
    let [x, y] = homography::apply(modules_to_px, [modules as f64 / 2.0; 2]);
    format!("({x:.0}, {y:.0})")
}
