//! Finds the seams of a picture, running down or across.
//!
//! A small network draws a map of where two pieces of cloth are joined (`map`); paths through it are the places where a seam may
//! be (`trace`). Each is looked at closely (`refine`): whether both sides carry the same lines, whether these part there, how
//! dark its crease is, whether a gap is open between two folds (`sides`, `crease`, `gap`), and whether the lines along it run on
//! through it (`through`). What the network and the look say is weighed into a confidence (`weigh`). A seam that was drawn is looked
//! at and weighed in the same way. At last the path is followed piece by piece (`draw`) and laid smooth (`smooth`).

mod map;

mod trace;

mod raster;

mod pixels;

mod crease;

mod profile;

mod relief;

mod sides;

mod gap;

mod refine;

mod through;

mod weigh;

mod draw;

mod drawing;

mod smooth;

mod trim;

use super::{Across, OtherSeam, Seam, SeamSource};
use crate::conventions::Runs;
use crate::photo::Photo;
use crate::problem::{Note, Refusal, RefusalCode};
use crate::scale::Plane;
use crate::threads;
use crate::units::{MmPoint, PxPoint};
pub use drawing::{Drawing, Shown};
use map::SeamMap;
use refine::Look;
use trace::Trace;
pub use weigh::{CLUES, likely};

/// A seam is looked for on so much cloth, millimetres along its longer side: a close look at all of it takes 100 MB.
const MOST_MM: f64 = 2000.0;
/// Blocks along u in which the evidence is gathered.
const BLOCKS: usize = 8;
/// Cells of the raster of a look, millimetres.
const FINE_MM: f64 = 0.25;
/// Standard uncertainty across the seam of a path that was only assumed, millimetres.
const ASSUMED_U_MM: f64 = 2.0;
/// The confidence from which a seam counts as found, and that from which it is assumed rather than refused.
const FOUND: f64 = 0.9;
const ASSUMED: f64 = 0.2;
/// Paths that come nearer to each other than this are one seam, millimetres.
const APART_MM: f64 = 8.0;
/// How far beside a fold the middle of its gap is looked for, and in cells of which size, millimetres.
const ASIDE_MM: f64 = 4.0;
const COARSE_MM: f64 = 0.5;
/// Length of a piece of a path: the place of a seam changes little within it, millimetres.
const PIECE_MM: f64 = 5.0;
/// How far beside a look's path a drawn seam is followed, first where it bends otherwise than the look's bow, then closely,
/// millimetres.
const DRAWN_WITHIN_MM: [f64; 2] = [3.5, 1.5];

/// Rows of one block.
fn rows(height: usize, block: usize) -> std::ops::Range<usize> {
    block * height / BLOCKS..(block + 1) * height / BLOCKS
}

/// A place where a seam may be.
#[derive(Clone, Debug)]
pub struct Place {
    /// The seam, if it is one: its confidence says how likely that is.
    pub seam: Seam,
    /// What speaks for it.
    pub clues: [f64; CLUES],
    /// How dark its crease is, logarithm of light; `None` where a side shows no lines.
    dark: Option<f32>,
}

impl Place {
    /// Whether it counts as found.
    fn is_plain(&self) -> bool {
        self.seam.confidence >= FOUND
    }
}

/// What a network sees of seams in a picture; made once for a picture.
pub struct Seen {
    maps: [SeamMap; 2],
}

impl Seen {
    /// Looks at a picture.
    pub fn of(photo: &Photo, plane: &Plane) -> Self {
        Self { maps: map::of(photo, plane) }
    }

    /// The map of the seams that run so.
    fn map(&self, runs: Runs) -> &SeamMap {
        let [down, across] = &self.maps;
        match runs {
            Runs::Down => down,
            Runs::Across => across,
        }
    }
}

/// Finds the seam that the picture was taken of: of several, the one nearest to its middle.
///
/// # Errors
/// `no-seam` when nothing in the picture looks like one.
pub fn find(photo: &Photo, plane: &Plane, runs: Option<Runs>) -> Result<Seam, Refusal> {
    let (seen, seams) = looked_for(photo, plane, runs)?;
    let aside = |place: &&Place| aside(photo, plane, &place.seam);
    let plain = seams.iter().filter(|place| place.is_plain());
    let taken = plain.min_by(|a, b| aside(a).total_cmp(&aside(b))).unwrap_or(&seams[0]);
    let others = seams.iter().filter(|place| !std::ptr::eq(*place, taken));
    Ok(with_others(&finished(photo, plane, &seen, taken), others, plane))
}

/// Every place of the picture where a seam may be, those that can be measured first, then the surest first.
///
/// # Errors
/// As [`find`].
pub fn all(photo: &Photo, plane: &Plane, runs: Option<Runs>) -> Result<Vec<Seam>, Refusal> {
    let (seen, seams) = looked_for(photo, plane, runs)?;
    Ok(seams.iter().map(|place| finished(photo, plane, &seen, place)).collect())
}

/// Where seams may be, one or more of them, each once.
fn looked_for(photo: &Photo, plane: &Plane, runs: Option<Runs>) -> Result<(Seen, Vec<Place>), Refusal> {
    is_little_enough(photo, plane)?;
    let seen = Seen::of(photo, plane);
    let seams = distinct(places(photo, plane, &seen, runs));
    if seams.is_empty() {
        return Err(Refusal::new(
            RefusalCode::NoSeam,
            "no seam can be made out in the picture",
            "mark where it is (--seam \"X,Y X,Y\"), or photograph it nearer to the middle, in light from the side",
        ));
    }
    Ok((seen, seams))
}

/// A place that was taken for the seam, as exactly as the picture shows it.
fn finished(photo: &Photo, plane: &Plane, seen: &Seen, place: &Place) -> Seam {
    let seam = if place.is_plain() { place.seam.clone() } else { assumed(&place.seam) };
    let seam = match place.dark {
        Some(dark) if seam.gap_mm.is_none() => closely(photo, plane, seen.map(seam.runs), seam, dark),
        _ => seam,
    };
    trim::to_the_cloth(photo, plane, seam)
}

/// The seam where the network, its lines and its crease together have it: the network alone swerves by half a millimetre beside a slip.
fn closely(photo: &Photo, plane: &Plane, map: &SeamMap, seam: Seam, dark: f32) -> Seam {
    match draw::to_the_seam(photo, plane, map, &seam, DRAWN_WITHIN_MM[1], dark) {
        Some((drawn, u_mm)) => Seam { u_across_mm: u_mm.max(seam.u_across_mm), ..drawn },
        None => seam,
    }
}

/// Refuses more cloth than the memory of a search is meant for.
fn is_little_enough(photo: &Photo, plane: &Plane) -> Result<(), Refusal> {
    let [w, h] = [photo.width_px(), photo.height_px()].map(|px| f64::from(px) - 1.0);
    let corners = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|(x, y)| plane.to_mm(PxPoint::new(x, y)));
    let extent = |along: fn(&MmPoint) -> f64| {
        let places = corners.iter().map(along);
        places.clone().fold(f64::MIN, f64::max) - places.fold(f64::MAX, f64::min)
    };
    let shown = [extent(|p| p.x), extent(|p| p.y)];
    if shown[0].max(shown[1]) <= MOST_MM {
        return Ok(());
    }
    Err(Refusal::new(
        RefusalCode::NoSeam,
        format!("the picture shows {:.0} by {:.0} mm of cloth: too much to look for a seam in", shown[0], shown[1]),
        "photograph a smaller piece of the seam, check the scale given, or mark where the seam is (--seam)",
    ))
}

/// How far the middle of a seam stands from the middle of the picture, 0 to 1 at the edge.
fn aside(photo: &Photo, plane: &Plane, seam: &Seam) -> f64 {
    let middle = plane.to_px(seam.path.points[seam.path.points.len() / 2]);
    let (at, side) = match seam.runs {
        Runs::Down => (middle.x, photo.width_px()),
        Runs::Across => (middle.y, photo.height_px()),
    };
    (2.0 * (at + 0.5) / f64::from(side) - 1.0).abs()
}

/// Every place where a seam may be, the surest first; none on more cloth than is searched.
pub fn places(photo: &Photo, plane: &Plane, seen: &Seen, runs: Option<Runs>) -> Vec<Place> {
    if is_little_enough(photo, plane).is_err() {
        return Vec::new();
    }
    let maps = seen.maps.iter().filter(|map| runs.is_none_or(|runs| map.runs == runs));
    let traces: Vec<Trace> = maps.flat_map(trace::plainest).collect();
    let mut all = threads::halves(&traces, |some| some.iter().filter_map(|trace| place(photo, plane, trace)).collect());
    all.sort_by(|a: &Place, b: &Place| b.seam.confidence.total_cmp(&a.seam.confidence));
    all
}

/// One path of the network's, weighed; `None` where no seam can be.
fn place(photo: &Photo, plane: &Plane, trace: &Trace) -> Option<Place> {
    let (seam, look) = looked_at(photo, plane, trace.seam(plane)?);
    let clues = clues(photo, plane, trace.shown, look.as_ref());
    let seam = Seam { confidence: likely(weigh::log_odds(&clues)), ..seam };
    Some(Place { seam, clues, dark: look.map(|look| look.darkness()) })
}

/// A look at a path of the network's, which stays where it is but for a gap: that runs midway between its folds, and the network may
/// have followed one of them.
fn looked_at(photo: &Photo, plane: &Plane, seam: Seam) -> (Seam, Option<Look>) {
    let of_gap = |look: &Look| look.gap_mm.is_some();
    let fine = |seam: &Seam| refine::look(photo, plane, seam, FINE_MM);
    let Some(straight) = fine(&seam) else { return (seam, None) };
    let beside = |aside_mm: f64| {
        let coarse = refine::look(photo, plane, &seam.moved(aside_mm)?, COARSE_MM).filter(of_gap)?;
        fine(&coarse.seam).filter(of_gap)
    };
    let with_gap = if of_gap(&straight) { None } else { [-ASIDE_MM, ASIDE_MM].into_iter().find_map(beside) };
    let look = with_gap.unwrap_or(straight);
    (if of_gap(&look) { Seam { gap_mm: look.gap_mm, ..look.seam.clone() } } else { seam }, Some(look))
}

/// What speaks for a seam on a path, from what the network and, where both sides show something, a look say.
fn clues(photo: &Photo, plane: &Plane, shown: trace::Shown, look: Option<&Look>) -> [f64; CLUES] {
    let through = look.map(|look| through::look(photo, plane, &look.seam, look.gap_mm.unwrap_or(0.0)));
    weigh::clues(shown, look.zip(through))
}

/// The likeliest seam of the picture that is another than a drawing's, by more than `apart_mm` or by its direction, where it is likelier
/// than not.
pub fn other_than(photo: &Photo, plane: &Plane, seen: &Seen, drawing: &Seam, apart_mm: f64) -> Option<Seam> {
    let other = |seam: &Seam| seam.runs != drawing.runs || aside_mm(drawing, seam).abs() > apart_mm;
    let mut places = places(photo, plane, seen, None).into_iter().map(|place| place.seam);
    let seam = places.find(other).filter(|seam| seam.confidence > 0.5)?;
    Some(trim::to_the_cloth(photo, plane, seam))
}

/// How far a path lies from another towards growing v, millimetres: the median along the other.
pub fn aside_mm(from: &Seam, to: &Seam) -> f64 {
    let mut aside: Vec<f64> = places_beside(from, to).collect();
    let half = aside.len() / 2;
    *aside.select_nth_unstable_by(half, f64::total_cmp).1
}

/// How far a path lies from another where it is furthest, millimetres.
pub fn furthest_mm(from: &Seam, to: &Seam) -> f64 {
    places_beside(from, to).fold(0.0, |furthest, aside| furthest.max(aside.abs()))
}

/// At every point of `from`, the place of `to` across it, millimetres towards growing v.
fn places_beside<'a>(from: &'a Seam, to: &'a Seam) -> impl Iterator<Item = f64> + 'a {
    (0..from.path.points.len()).map(|k| {
        let Across { point, v } = from.across(k as f64 * from.path.step_mm);
        let nearest = to.path.points.iter().min_by(|a, b| a.distance(point).total_cmp(&b.distance(point)));
        nearest.map_or(0.0, |p| (p.x - point.x) * v.x + (p.y - point.y) * v.y)
    })
}

/// One place for each seam, none too unlikely to be assumed. The first is the likeliest that can be measured: with lines on both sides.
fn distinct(surest_first: Vec<Place>) -> Vec<Place> {
    let mut seams: Vec<Place> = Vec::new();
    for place in surest_first.into_iter().filter(|place| place.seam.confidence >= ASSUMED) {
        let same =
            |other: &Place| other.seam.runs == place.seam.runs && aside_mm(&other.seam, &place.seam).abs() < APART_MM;
        if !seams.iter().any(same) {
            seams.push(place);
        }
    }
    seams.sort_by_key(|place| place.dark.is_none());
    seams
}

/// A seam with those that were not taken, and a note that names the plain ones.
fn with_others<'a>(taken: &Seam, others: impl Iterator<Item = &'a Place>, plane: &Plane) -> Seam {
    let ends = |seam: &Seam| {
        let points = &seam.path.points;
        let [a, b] = [points[0], points[points.len() - 1]].map(|p| plane.to_px(p));
        format!("{:.0},{:.0} {:.0},{:.0}", a.x, a.y, b.x, b.y)
    };
    let (mut seams, mut places) = (Vec::new(), Vec::new());
    for place in others {
        let seam = &place.seam;
        seams.push(OtherSeam { runs: seam.runs, path: seam.path.clone(), confidence: seam.confidence });
        if place.is_plain() {
            places.push(ends(seam));
        }
    }
    let mut notes = taken.notes.clone();
    if !places.is_empty() {
        notes.push(Note::new(
            "several-seams",
            format!(
                "More than one seam is in the picture; the one nearest to its middle was measured. For another, say --seam \
                 \"{}\".",
                places.join("\" or --seam \"")
            ),
        ));
    }
    Seam { others: seams, notes, ..taken.clone() }
}

/// A seam that was not plainly seen: its place is a likely one, no more.
fn assumed(seam: &Seam) -> Seam {
    Seam {
        source: SeamSource::Assumed,
        u_across_mm: seam.u_across_mm.max(ASSUMED_U_MM),
        notes: vec![Note::new(
            "seam-not-plain",
            "No plain trace of a seam was seen; the likeliest place was taken. Look at the picture, and say where the seam \
             is if that is not it (--seam).",
        )],
        ..seam.clone()
    }
}
