//! The flat cloth before it is cut: [`Photo`] → [`FlatCloth`].
//!
//! What is asked is checked ([`request`]). The cloth lies flat and is photographed from above. Ribs ([`frame`]) are cut across each of the two families of lines, the
//! plainer first and the other square to it; the lines are followed through all of them ([`course`]), laid on one another, and
//! their repeat found as that of a seam's lines is. All repeats are folded into one ([`fold`]), which is cut into bands
//! ([`sequence`]), read backwards ([`balance`]), and searched for the line to put the notches on ([`notch`]): one
//! [`family`]. The two families together tell skew and bow ([`distortion`]) and how pieces may be laid; the repeat along the
//! warp tells what matching costs ([`cutting`]).

pub mod request;

pub mod frame;

pub mod course;

pub mod fold;

pub mod sequence;

pub mod balance;

pub mod notch;

pub mod distortion;

pub mod family;

pub mod cutting;

use crate::conventions::{COVERAGE_FACTOR, Runs};
use crate::digits::Unit;
use crate::finding::PhotoFacts;
use crate::photo::{Photo, sharpness};
use crate::problem::{Note, Problem, Refusal, RefusalCode};
use crate::scale::{self, Plane, ScaleSource};
use crate::threads;
use crate::units::PxPoint;
use balance::Told;
use cutting::Cutting;
use distortion::Ratio;
use family::Family;
use frame::Frame;
pub use request::ClothRequest;
use sequence::Band;

/// How far the plainer family of lines may be turned against the picture, du/dv; how far the other off the square to it.
const STEEPEST: f64 = 0.36;
const MOST_SKEW: f64 = 0.22;
const TOO_SLANTED: f64 = 0.9;
/// A piece of cloth so long that no line crosses it has none, millimetres: the setts of broad tartans are 100 to 150 mm long, and
/// have several lines (from memory). Without a scale, so many repeats of the other way's lines.
const PLAIN_MM: f64 = 100.0;
const PLAIN_REPEATS: f64 = 2.0;
/// Relief from which on something is seen, whatever it is.
const PLAINLY_SEEN: f64 = 0.12;
/// Lines fainter than this share of the other way's may be those, seen aslant.
const FAINTEST: f64 = 0.15;
/// Fewer repeats than these are said to be few.
const FEW_REPEATS: f64 = 2.0;

/// What told where the selvedge runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Selvedge {
    /// Two points of it were given.
    Given,
    /// The lines along the warp run as it does.
    FromLines,
}

/// How pieces may be laid, as far as the lines go; the pile and sheen of a cloth are not seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Laying {
    /// Whether a piece may be turned upside down: both families are the same read backwards.
    pub both_ways_up: Told,
    /// Whether two pieces that mirror each other, left and right, show mirrored lines: the family along the warp is the same
    /// read backwards.
    pub left_and_right: Told,
}

/// All that was measured on the flat cloth.
#[derive(Clone, Debug)]
pub struct FlatCloth {
    /// The photograph.
    pub photo: PhotoFacts,
    /// The plane of the cloth.
    pub plane: Plane,
    /// How the warp runs in the picture.
    pub warp: Runs,
    /// The rectangle of the picture that was looked at: two corners, top left and bottom right.
    pub patch_px: [PxPoint; 2],
    /// The lines that run across the cloth, met along the warp; `None` where none were recognised.
    pub lengthwise: Option<Family>,
    /// The lines that run along the warp, met across the cloth; `None` where none were recognised.
    pub crosswise: Option<Family>,
    /// Whether it is a finding that no lines run across the cloth, and that none run along the warp: a large enough piece is seen
    /// to be even that way.
    pub plain: [bool; 2],
    /// Skew of the lines across; `None` where the scale or the selvedge does not tell it.
    pub skew: Option<(Ratio, Selvedge)>,
    /// Bow of the lines across; `None` without lines across.
    pub bow: Option<Ratio>,
    /// How pieces may be laid.
    pub laying: Laying,
    /// What the pieces take; `None` where none were asked for or no repeat in millimetres is known.
    pub cutting: Option<Cutting>,
    /// What lengths are told in; repeats where there was no scale.
    pub unit: Unit,
    /// Doubts.
    pub notes: Vec<Note>,
}

impl FlatCloth {
    /// The repeat of a family with its expanded uncertainty, the scale's included, millimetres; `None` where no repeat is seen or there
    /// is no scale.
    pub fn repeat_mm(&self, family: &Family) -> Option<(f64, f64)> {
        let (repeat_mm, u_mm) = family.repeat_mm.filter(|_| self.plane.is_metric())?;
        Some((repeat_mm, COVERAGE_FACTOR * u_mm.hypot(self.relative_uncertainty(family) * repeat_mm)))
    }

    /// Relative standard uncertainty of lengths of a family: of the scale, and of the lens between where the scale was measured and
    /// the cloth.
    fn relative_uncertainty(&self, family: &Family) -> f64 {
        let at = |share: f64| self.plane.to_px(family.run.frame.at(share * family.length_mm, 0.0));
        self.plane.relative_uncertainty.hypot(self.plane.lens.relative_along(&[at(-0.5), at(0.5)]))
    }

    /// Expanded uncertainty of a band's width, the scale's share included where there is one, millimetres of the plane.
    pub fn expanded_width_mm(&self, family: &Family, band: &Band) -> f64 {
        let scale = if self.plane.is_metric() { self.relative_uncertainty(family) * band.width_mm } else { 0.0 };
        COVERAGE_FACTOR * band.u_width_mm.hypot(scale)
    }

    /// Whether everything was told that the cloth has: in millimetres, and each way a repeat, or that there are no lines.
    pub fn is_complete(&self) -> bool {
        let told = |family: Option<&Family>, plain| family.map_or(plain, |family| family.repeat_mm.is_some());
        let [across, along] = self.plain;
        self.plane.is_metric() && told(self.lengthwise.as_ref(), across) && told(self.crosswise.as_ref(), along)
    }
}

/// Measures the flat cloth.
///
/// # Errors
/// [`Problem::Usage`] when the request cannot be, [`Problem::Refused`] when the photograph cannot answer it: no lines, blurred,
/// no card where one must be, marks outside the picture.
pub fn measure(photo: &Photo, request: &ClothRequest) -> Result<FlatCloth, Problem> {
    threads::together(|| walk(photo, request))
}

/// From room to room.
fn walk(photo: &Photo, request: &ClothRequest) -> Result<FlatCloth, Problem> {
    request::check(request)?;
    sharpness::check(photo)?;
    let patch_px = request::patch(photo, request)?;
    let mut plane = scale::read_flat(photo, &request.scale)?;
    request::hide_beyond(&mut plane, photo, patch_px);
    let [a, b] = patch_px;
    let middle = plane.to_mm(PxPoint::new(0.5 * (a.x + b.x), 0.5 * (a.y + b.y)));
    let selvedge = request::selvedge(photo, &plane, request)?;
    let (seen, mut found) = families(photo, &plane, request::frame_of(middle, request.warp, selvedge), patch_px);
    if !plane.is_metric() {
        // Bands are told as parts of a repeat then, and there is none.
        found.iter_mut().flatten().filter(|family| family.repeat_mm.is_none()).for_each(|family| family.bands.clear());
    }
    let plain = match &found {
        [None, None] => return Err(no_lines(seen).into()),
        [None, Some(along)] => [is_plain(photo, &plane, along, patch_px), false],
        [Some(across), None] => [false, is_plain(photo, &plane, across, patch_px)],
        [Some(_), Some(_)] => [false; 2],
    };
    let [lengthwise, crosswise] = found;
    let mut cloth = FlatCloth {
        photo: PhotoFacts::of(photo),
        warp: request.warp,
        patch_px,
        skew: None,
        bow: lengthwise.as_ref().map(|family| distortion::bow(&family.run)),
        laying: laying(lengthwise.as_ref(), crosswise.as_ref(), plain),
        plain,
        cutting: None,
        unit: if plane.is_metric() { request.unit } else { Unit::Repeat },
        notes: plane.notes.clone(),
        plane,
        lengthwise,
        crosswise,
    };
    cloth.skew = skew(&cloth, selvedge);
    cloth.cutting = cutting(&cloth, &request.pieces_mm);
    let doubts = doubts(&cloth, request);
    cloth.notes.extend(doubts);
    Ok(cloth)
}

/// The lines across the cloth and those along it: the plainer is found first, the other is looked for square to it, and each is
/// measured along the other. Before them, how strong the plainer seemed at first sight (root mean square of relief).
fn families(photo: &Photo, plane: &Plane, across: Frame, patch_px: [PxPoint; 2]) -> (f64, [Option<Family>; 2]) {
    let frames = [across, across.square()];
    let looks = frames.map(|frame| family::look(photo, plane, frame, patch_px, STEEPEST));
    let strength = |k: usize| looks[k].map_or(0.0, |(_, energy)| energy);
    let first = usize::from(strength(1) > strength(0));
    let Some((slope, energy)) = looks[first] else { return (0.0, [None, None]) };
    let plainer = frames[first].turned(slope);
    let other = plainer.square();
    let skew = family::look(photo, plane, other, patch_px, MOST_SKEW).map_or(0.0, |(slope, _)| slope);
    // What slants as far as was looked is no family, but a twill's threads.
    let second = family::measure(photo, plane, other, patch_px, skew)
        .filter(|family| family.run.course.slope.abs() < TOO_SLANTED * MOST_SKEW);
    // Ribs along the other lines show none of them.
    let (along, skew) = match &second {
        Some(family) => (other.turned(family.run.course.slope).square(), family.run.course.slope),
        None => (plainer, 0.0),
    };
    let mut found = [None, None];
    found[first] = family::measure(photo, plane, along, patch_px, skew);
    let faint = found[first].as_ref().map_or(0.0, |family| FAINTEST * family.relief);
    found[1 - first] = second.filter(|family| family.relief > faint);
    let [lengthwise, crosswise] = found;
    (energy.sqrt(), [lengthwise, crosswise.map(Family::squared)])
}

/// Why there are no lines: none are seen, or what is seen are no even lines.
fn no_lines(seen: f64) -> Refusal {
    if seen < PLAINLY_SEEN {
        return Refusal::new(
            RefusalCode::NoLines,
            "no lines are seen on the cloth, neither along the warp nor across it",
            "nothing need be matched on plain cloth; faint lines need even light and a nearer photograph",
        );
    }
    Refusal::new(
        RefusalCode::NoLines,
        "something is seen, but no lines that run evenly through the whole picture, within 20 degrees of upright or level",
        "lay the cloth flat, its warp straight up and down or from side to side, and fill the picture with it; or say which \
         part of the picture is flat cloth (--patch)",
    )
}

/// Both of two things that may be told.
fn both(a: Told, b: Told) -> Told {
    match (a, b) {
        (Told::No, _) | (_, Told::No) => Told::No,
        (Told::Yes, Told::Yes) => Told::Yes,
        _ => Told::CannotTell,
    }
}

/// Whether no lines cross these: a large enough piece of the cloth is even along them.
fn is_plain(photo: &Photo, plane: &Plane, lines: &Family, patch_px: [PxPoint; 2]) -> bool {
    let by_repeats = lines.repeat_mm.map_or(f64::INFINITY, |(repeat_mm, _)| PLAIN_REPEATS * repeat_mm);
    let least_mm = if plane.is_metric() { PLAIN_MM } else { by_repeats };
    family::is_plain_along(photo, plane, lines, patch_px, least_mm)
}

fn laying(lengthwise: Option<&Family>, crosswise: Option<&Family>, [across, along]: [bool; 2]) -> Laying {
    // Where there are no lines one way, nothing differs that way.
    let same = |family: Option<&Family>, plain: bool| match family {
        None if plain => Told::Yes,
        None => Told::CannotTell,
        Some(family) => family.balance.map_or(Told::CannotTell, |balance| balance.same),
    };
    let left_and_right = same(crosswise, along);
    Laying { both_ways_up: both(same(lengthwise, across), left_and_right), left_and_right }
}

/// Skew where the plane is known apart from the cloth's own lines, and the selvedge is given or lines run along it.
fn skew(cloth: &FlatCloth, selvedge: Option<[f64; 2]>) -> Option<(Ratio, Selvedge)> {
    let across = cloth.lengthwise.as_ref()?;
    if !matches!(cloth.plane.source, ScaleSource::Card | ScaleSource::Rectangle) {
        return None;
    }
    let (direction, told_by) = match (selvedge, &cloth.crosswise) {
        // Two points drawn by hand: some pixels over the length between them.
        (Some(direction), _) => ((direction, 0.004), Selvedge::Given),
        (None, Some(along)) => {
            let ([x, y], u) = distortion::direction_of(&along.run);
            // Lines have no ends: theirs that points down the warp.
            let down = x * across.run.frame.u.x + y * across.run.frame.u.y >= 0.0;
            ((if down { [x, y] } else { [-x, -y] }, u), Selvedge::FromLines)
        }
        (None, None) => return None,
    };
    Some((distortion::skew(&across.run, direction, cloth.plane.relative_uncertainty), told_by))
}

fn cutting(cloth: &FlatCloth, pieces_mm: &[f64]) -> Option<Cutting> {
    if pieces_mm.is_empty() {
        return None;
    }
    match &cloth.lengthwise {
        None => cloth.plain[0].then(|| cutting::plan(pieces_mm, None)),
        Some(family) => Some(cutting::plan(pieces_mm, Some(cloth.repeat_mm(family)?))),
    }
}

/// What is doubtful, or was asked and is not told.
fn doubts(cloth: &FlatCloth, request: &ClothRequest) -> Vec<Note> {
    let mut notes = Vec::new();
    if !cloth.plane.is_metric() {
        notes.push(Note::new(
            "no-scale",
            "There is no scale, so widths are told as parts of a repeat. Lay the scale card on the cloth, or give a length \
             (--length) or a rectangle (--rectangle).",
        ));
    }
    let [across, along] = cloth.plain;
    for (family, runs, plain) in
        [(&cloth.lengthwise, "across the cloth", across), (&cloth.crosswise, "along the warp", along)]
    {
        let Some(family) = family else {
            if !plain {
                notes.push(Note::new(
                    "lines-not-recognised",
                    format!(
                        "Lines that run {runs} were not recognised, and the cloth seen is too small a piece, or not even enough, \
                         to say that there are none. Photograph a larger piece that lies flat, or say which part of the \
                         picture does (--patch)."
                    ),
                ));
            }
            continue;
        };
        match family.repeats_seen() {
            None => notes.push(Note::new(
                "no-repeat",
                format!(
                    "Lines run {runs}, but no repeat of them is seen: less than one and a third lie in the picture, or they \
                     do not return. What is told is the order in which they are seen. Photograph a larger piece of the cloth."
                ),
            )),
            Some(seen) if seen < FEW_REPEATS => notes.push(Note::new(
                "few-repeats",
                format!(
                    "Only {seen:.1} repeats of the lines that run {runs} are seen; a larger piece would tell the repeat more \
                     surely."
                ),
            )),
            Some(_) if !family.is_even => notes.push(Note::new(
                "uneven",
                format!(
                    "The repeats of the lines that run {runs} do not lie on one another, so they are not told band by band: \
                     the camera was tilted and no card tells how, or the cloth does not lie flat."
                ),
            )),
            Some(_) if family.bands.is_empty() => notes.push(Note::new(
                "no-edges",
                format!("The lines that run {runs} have no plain edges, so they are not told one by one."),
            )),
            Some(_) => {}
        }
    }
    if cloth.lengthwise.is_some() && cloth.skew.is_none() {
        let why = match cloth.plane.source {
            ScaleSource::Card | ScaleSource::Rectangle => {
                "no lines run along the warp; mark two points of the selvedge (--selvedge)"
            }
            _ => {
                "a tilted camera would look the same; lay the scale card on the cloth, or give a rectangle (--rectangle)"
            }
        };
        notes.push(Note::new("no-skew", format!("Skew is not told: {why}.")));
    }
    if !request.pieces_mm.is_empty() && cloth.cutting.is_none() {
        notes.push(Note::new(
            "no-cutting",
            "What the pieces take is not told: the repeat along the warp is not known in millimetres.",
        ));
    }
    notes
}
