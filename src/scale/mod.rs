//! Room 2: [`Photo`] → [`Plane`], the map between the picture and the cloth.
//!
//! A printed card in the picture gives a full homography, so that the camera's tilt is removed too. [`detect`] finds it:
//! [`finders`] in several [`shades`] of the picture, the places where a symbol may stand ([`locate`]), and what its
//! modules say ([`decode`]). A fit to the modules measures it ([`refine`]), and the surest card gives the plane. Marks
//! given by the user ([`marks`]) do as well: four corners of a thing of known size, or two points a known length apart. The cloth's own repeat scales a
//! provisional plane once the lines have been measured. Without any, lengths stay fractions of a repeat. Where neither
//! card nor rectangle tells the camera's tilt, the cloth's own lines do if they can ([`tilt`]). How far the scale may be
//! another one elsewhere in the picture is the [`lens`]'s.

pub mod homography;

pub mod printed;

pub mod pattern;

pub mod shades;

pub mod finders;

pub mod locate;

pub mod decode;

pub mod detect;

mod lit;

mod template;

mod paper;

mod model;

pub mod refine;

mod cards;

pub mod marks;

pub mod tilt;

pub mod covered;

pub mod lens;

use crate::conventions::COVERAGE_FACTOR;
use crate::photo::Photo;
use crate::problem::{Note, Problem};
use crate::units::{MmPoint, PxPoint};
use covered::Covered;
use lens::Lens;
use nalgebra::Matrix3;
use serde::Serialize;
use tilt::Tilt;
use tilt::view::View;

/// What every scale card's text begins with; the printed width in millimetres follows.
pub const TEXT_PREFIX: &str = "seamstep:";

/// Focal length of a phone's main camera as a share of the picture's long side (26 mm equivalent; from memory). With a
/// card it only states the tilt; without one, the tilt is read from the cloth with it.
pub const FOCAL_SHARE: f64 = 0.74;
/// Width that the long side of a picture is taken to show while nothing is known, millimetres.
const PROVISIONAL_LONG_SIDE_MM: f64 = 200.0;

/// Lengths of cloth that the long side of a picture may show, millimetres.
const LONG_SIDE_RANGE_MM: std::ops::RangeInclusive<f64> = 10.0..=2000.0;
/// A pixel in a corner may show at most this many times the length of one in the middle.
const STEEPEST_CORNER: f64 = 5.0;

/// Where the scale came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum ScaleSource {
    /// The printed card: a full homography.
    Card,
    /// Four corners of a thing of known size: a full homography.
    Rectangle,
    /// Two points a known length apart.
    Length,
    /// The cloth's own repeat.
    Repeat,
    /// Nothing: lengths are fractions of a repeat.
    None,
}

/// How the user asks for the scale.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum ScaleRequest {
    /// The card if there is one, else no scale.
    #[default]
    Auto,
    /// The card; a picture without one is refused.
    Card,
    /// Four corners in the picture, clockwise from the top left, of a thing of this size.
    Rectangle {
        /// The corners.
        corners_px: [PxPoint; 4],
        /// Length of its top edge, millimetres.
        width_mm: f64,
        /// Length of its left edge, millimetres.
        height_mm: f64,
    },
    /// Two points in the picture a known length apart.
    Length {
        /// The points.
        ends_px: [PxPoint; 2],
        /// Their distance on the cloth.
        length_mm: f64,
    },
    /// The cloth's own repeat along the seam.
    Repeat {
        /// One repeat, measured on the flat cloth.
        repeat_mm: f64,
    },
}

/// The map between the picture and the cloth's plane.
#[derive(Clone, Debug)]
pub struct Plane {
    /// Where the scale came from.
    pub source: ScaleSource,
    /// Homography, cloth millimetres → picture pixels (homogeneous, last element 1).
    pub mm_to_px: Matrix3<f64>,
    /// Its inverse, picture pixels → cloth millimetres.
    pub px_to_mm: Matrix3<f64>,
    /// Millimetres to a pixel in the middle of the picture.
    pub mm_per_px: f64,
    /// Standard uncertainty of the scale, relative (0.001 is 0.1 %).
    pub relative_uncertainty: f64,
    /// Angle between the camera's axis and the cloth's normal, radians; `None` where the scale cannot tell.
    pub tilt_rad: Option<f64>,
    /// What lies on the cloth and is not cloth: the cards' outlines in the picture (four corners each, in order).
    pub cards_px: Vec<[PxPoint; 4]>,
    /// What the lens may do to lengths, by where in the picture the scale was measured.
    pub lens: Lens,
    /// Relative standard uncertainty of the card by whose millimetres this plane is told while the repeat that was given is to
    /// scale it; `None` where there is no such card.
    pub by_card: Option<f64>,
    /// The given repeat and what it is by a card in the picture, where one of them must be wrong.
    pub contradiction: Option<Contradiction>,
    /// Doubts about the scale.
    pub notes: Vec<Note>,
}

/// A repeat that was given beside a card in the picture that says otherwise: by more than both are uncertain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contradiction {
    /// What was given, millimetres.
    pub given_mm: f64,
    /// What it is by the card.
    pub by_card_mm: f64,
}

impl Plane {
    /// The same with the scale measured along this line of the picture.
    fn measured_along(self, line_px: &[PxPoint]) -> Self {
        Self { lens: self.lens.measured_along(line_px), ..self }
    }

    /// Where a point of the cloth appears in the picture.
    #[inline]
    pub fn to_px(&self, p: MmPoint) -> PxPoint {
        let [x, y] = homography::apply(&self.mm_to_px, [p.x, p.y]);
        PxPoint::new(x, y)
    }

    /// Where on the cloth a point of the picture lies.
    #[inline]
    pub fn to_mm(&self, p: PxPoint) -> MmPoint {
        let [x, y] = homography::apply(&self.px_to_mm, [p.x, p.y]);
        MmPoint::new(x, y)
    }

    /// Millimetres to a pixel at a place of the cloth.
    pub fn mm_per_px_at(&self, p: MmPoint) -> f64 {
        homography::mm_per_px(&self.mm_to_px, p)
    }

    /// Where cards lie over the cloth.
    pub fn covered(&self) -> Covered<'_> {
        Covered::by(&self.cards_px)
    }

    /// Whether lengths are millimetres (false: they are provisional, and only ratios mean something).
    pub fn is_metric(&self) -> bool {
        self.source != ScaleSource::None
    }

    /// The same plane once the cloth's repeat is known: `measured` is the repeat in this plane's provisional unit, with
    /// its standard uncertainty, `along_px` the line along which it was measured; `repeat_mm` what it is on the cloth.
    ///
    /// The repeat that was given scales the plane even where a card in the picture contradicts it, and the contradiction is
    /// noted: a card that was measured against a figure that was typed is a question for whoever typed it.
    pub fn with_repeat(&self, measured: f64, u_measured: f64, along_px: &[PxPoint], repeat_mm: f64) -> Self {
        let unit = measured / repeat_mm;
        let apart = |card: f64| {
            let relative = card.hypot(self.lens.relative_along(along_px)).hypot(marks::REPEAT_RELATIVE);
            (measured - repeat_mm).abs() > COVERAGE_FACTOR * u_measured.hypot(relative * measured)
        };
        let contradiction = self
            .by_card
            .filter(|&card| apart(card))
            .map(|_| Contradiction { given_mm: repeat_mm, by_card_mm: measured });
        let note = contradiction.map(|told| {
            Note::new(
                "repeat-contradicts-card",
                format!(
                    "By the card in the picture the repeat is {:.1} mm, not {} mm: the repeat given was used, and one of the \
                     two is wrong.",
                    told.by_card_mm, told.given_mm
                ),
            )
        });
        let to_provisional = Matrix3::new(unit, 0.0, 0.0, 0.0, unit, 0.0, 0.0, 0.0, 1.0);
        let mm_to_px = self.mm_to_px * to_provisional;
        Self {
            source: ScaleSource::Repeat,
            px_to_mm: to_provisional.try_inverse().unwrap_or_default() * self.px_to_mm,
            mm_per_px: self.mm_per_px / unit,
            relative_uncertainty: (u_measured / measured)
                .hypot(marks::REPEAT_RELATIVE)
                .hypot(self.relative_uncertainty),
            mm_to_px,
            lens: self.lens.measured_along(along_px),
            by_card: None,
            contradiction,
            notes: self.notes.iter().cloned().chain(note).collect(),
            ..self.clone()
        }
    }
}

/// Works out the plane of the cloth.
///
/// # Errors
/// [`Problem::Usage`] when the marks cannot be what they are said to be, [`Problem::Refused`] when a card is asked for
/// and none can be read, or a mark lies outside the picture.
pub fn read(photo: &Photo, request: &ScaleRequest) -> Result<Plane, Problem> {
    read_believing(photo, request, tilt::SIGNIFICANT)
}

/// The same of cloth that lies flat and shows no seam: a smaller tilt is read from its lines.
///
/// # Errors
/// As [`read`].
pub fn read_flat(photo: &Photo, request: &ScaleRequest) -> Result<Plane, Problem> {
    read_believing(photo, request, tilt::SIGNIFICANT_ON_FLAT)
}

/// The plane, a tilt that the cloth tells believed from so many of its standard uncertainties on.
fn read_believing(photo: &Photo, request: &ScaleRequest, significant: f64) -> Result<Plane, Problem> {
    let seen = detect::find(photo);
    let cards = cards::measure(photo, &seen);
    let mut plane = match *request {
        ScaleRequest::Auto => match cards.plane.clone() {
            Some(plane) => plane,
            None => provisional(photo, tilt_of(photo, &cards.outlines, significant)),
        },
        ScaleRequest::Card => cards.plane.clone().ok_or_else(|| cards::no_card(&seen, &cards))?,
        ScaleRequest::Rectangle { corners_px, width_mm, height_mm } => {
            marks::rectangle(photo, corners_px, width_mm, height_mm)?
        }
        ScaleRequest::Length { ends_px, length_mm } => {
            marks::length(photo, ends_px, length_mm, || tilt_of(photo, &cards.outlines, significant))?
        }
        ScaleRequest::Repeat { repeat_mm } => {
            marks::check_length("--repeat", repeat_mm)?;
            // A card tells the tilt better than the cloth does, and whether the repeat can be.
            let card = cards.plane.clone().filter(|plane| check_extent(photo, plane).is_ok());
            match card {
                Some(card) => Plane {
                    source: ScaleSource::None,
                    by_card: Some(card.relative_uncertainty),
                    relative_uncertainty: 0.0,
                    ..card
                },
                None => provisional(photo, tilt_of(photo, &cards.outlines, significant)),
            }
        }
    };
    check_extent(photo, &plane)?;
    plane.cards_px = cards.outlines;
    if matches!(request, ScaleRequest::Auto | ScaleRequest::Card) {
        plane.notes.extend(cards.notes);
    }
    if seen.others > 0 {
        plane.notes.push(Note::new(
            "other-symbols",
            format!("{} other QR symbol(s) in the picture were ignored.", seen.others),
        ));
    }
    Ok(plane)
}

/// Refuses a scale by which the picture would show a piece of cloth that nobody photographs.
///
/// # Errors
/// Usage, with the width that the scale would mean.
pub fn check_extent(photo: &Photo, plane: &Plane) -> Result<(), Problem> {
    let long_mm = f64::from(photo.width_px().max(photo.height_px())) * plane.mm_per_px;
    if LONG_SIDE_RANGE_MM.contains(&long_mm) {
        return Ok(());
    }
    Err(Problem::usage(
        format!("by this scale the long side of the picture would be {long_mm:.3} mm of cloth"),
        format!(
            "check the points and the millimetres given; {} to {} mm can be judged",
            LONG_SIDE_RANGE_MM.start(),
            LONG_SIDE_RANGE_MM.end()
        ),
    ))
}

/// A plane in which the long side of the picture is about [`PROVISIONAL_LONG_SIDE_MM`].
fn provisional(photo: &Photo, tilt: Option<Tilt>) -> Plane {
    let long = f64::from(photo.width_px().max(photo.height_px()));
    let unit = PROVISIONAL_LONG_SIDE_MM / long;
    tilt.and_then(|tilt| straightened(photo, ScaleSource::None, unit, 0.0, &tilt))
        .unwrap_or_else(|| similarity(photo, ScaleSource::None, unit, 0.0))
}

/// The tilt that the cloth itself tells; what lies under a card is left out.
fn tilt_of(photo: &Photo, cards: &[[PxPoint; 4]], significant: f64) -> Option<Tilt> {
    let focal_px = FOCAL_SHARE * f64::from(photo.width_px().max(photo.height_px()));
    let covered = Covered::by(cards);
    tilt::from_cloth(photo, focal_px, significant, |p| covered.holds(p))
}

/// The plane seen with this tilt: `mm_per_px` in the middle of the picture. `None` where the picture reaches to the horizon.
fn straightened(
    photo: &Photo,
    source: ScaleSource,
    mm_per_px: f64,
    relative_uncertainty: f64,
    tilt: &Tilt,
) -> Option<Plane> {
    let view = View::new(tilt.horizon, tilt.focal_px)?;
    let middle = middle_of(photo);
    let moved = Matrix3::new(1.0, 0.0, middle.x, 0.0, 1.0, middle.y, 0.0, 0.0, 1.0);
    let unit = Matrix3::new(1.0 / mm_per_px, 0.0, 0.0, 0.0, 1.0 / mm_per_px, 0.0, 0.0, 0.0, 1.0);
    let relative = relative_uncertainty.hypot(tilt.relative_uncertainty);
    let mut plane = projective(photo, source, &(moved * view.plane_to_px * unit), relative)?;
    plane.notes.push(tilt.note());
    Some(plane)
}

/// A plane that looks straight down: square pixels of this size, the origin in the middle of the picture.
fn similarity(photo: &Photo, source: ScaleSource, mm_per_px: f64, relative_uncertainty: f64) -> Plane {
    let middle = middle_of(photo);
    let mm_to_px = Matrix3::new(1.0 / mm_per_px, 0.0, middle.x, 0.0, 1.0 / mm_per_px, middle.y, 0.0, 0.0, 1.0);
    let px_to_mm =
        Matrix3::new(mm_per_px, 0.0, -middle.x * mm_per_px, 0.0, mm_per_px, -middle.y * mm_per_px, 0.0, 0.0, 1.0);
    Plane {
        source,
        mm_to_px,
        px_to_mm,
        mm_per_px,
        relative_uncertainty,
        tilt_rad: None,
        cards_px: Vec::new(),
        lens: Lens::of(size_of(photo)),
        by_card: None,
        contradiction: None,
        notes: Vec::new(),
    }
}

/// A plane from a homography in any millimetre frame; `None` when it is degenerate over the picture.
fn projective(
    photo: &Photo,
    source: ScaleSource,
    any_mm_to_px: &Matrix3<f64>,
    relative_uncertainty: f64,
) -> Option<Plane> {
    let middle = middle_of(photo);
    let mm_to_px = homography::upright(any_mm_to_px, middle)?;
    let px_to_mm = mm_to_px.try_inverse()?;
    let [w, h] = size_of(photo);
    // The horizon must lie outside the picture: every corner on the same side of it as the middle.
    let depth = |x: f64, y: f64| px_to_mm[(2, 0)] * x + px_to_mm[(2, 1)] * y + px_to_mm[(2, 2)];
    let front = depth(middle.x, middle.y);
    if [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].iter().any(|&(x, y)| depth(x, y) * front <= 0.0) {
        return None;
    }
    let mm_per_px = homography::mm_per_px(&mm_to_px, MmPoint::new(0.0, 0.0));
    // So steep a view that a corner shows many times what the middle does measures nothing there.
    let at = |x: f64, y: f64| {
        let [x, y] = homography::apply(&px_to_mm, [x, y]);
        homography::mm_per_px(&mm_to_px, MmPoint::new(x, y))
    };
    if [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].iter().any(|&(x, y)| at(x, y) > STEEPEST_CORNER * mm_per_px) {
        return None;
    }
    Some(Plane {
        source,
        mm_per_px,
        tilt_rad: Some(homography::tilt_rad(&mm_to_px, FOCAL_SHARE * w.max(h), middle)),
        mm_to_px,
        px_to_mm,
        relative_uncertainty,
        cards_px: Vec::new(),
        lens: Lens::of([w, h]),
        by_card: None,
        contradiction: None,
        notes: Vec::new(),
    })
}

fn size_of(photo: &Photo) -> [f64; 2] {
    [photo.width_px(), photo.height_px()].map(f64::from)
}

fn middle_of(photo: &Photo) -> PxPoint {
    PxPoint::new((f64::from(photo.width_px()) - 1.0) / 2.0, (f64::from(photo.height_px()) - 1.0) / 2.0)
}
