//! A drawing of a seam, and what shows of a seam beside it.

use super::map::SeamMap;
use super::refine::{self, Look};
use super::trace::{self, Trace};
use super::{DRAWN_WITHIN_MM, FINE_MM, Seen, aside_mm, clues, draw, furthest_mm, gap, looked_at, trim, weigh};
use crate::photo::Photo;
use crate::scale::Plane;
use crate::seam::Seam;
use crate::units::PxPoint;

/// Standard uncertainty across the seam of a path of which only a look tells the place, millimetres.
const LOOKED_U_MM: f64 = 0.3;
/// A path that a look moves by less than this has settled, millimetres.
const SETTLED_MM: f64 = 0.5;
/// The share of its rows of which the network is sure from which a drawing is looked for where the network has a seam and not where a look
/// has one: of 61 rendered seams they stood 0.07 and 0.25 mm off in the median.
const WELL_SEEN: f32 = 0.5;
/// A fold stands at least so far beside a drawing in the middle of its gap, and the other as far give or take as much, millimetres.
const FOLD_MM: f64 = 1.5;

/// What shows of a seam beside a drawing.
#[derive(Clone, Debug)]
pub struct Shown {
    /// The drawing, drawn to it: with its gap, and how sure its place across is by what the picture shows.
    pub seam: Seam,
    /// Log-odds that a seam is there, as they are of a place that the network proposes.
    pub evidence: f64,
}

/// A drawing, looked at once, whatever reach a seam is then looked for in.
pub struct Drawing<'a> {
    photo: &'a Photo,
    plane: &'a Plane,
    map: &'a SeamMap,
    seam: &'a Seam,
    points_px: Vec<PxPoint>,
    look: Option<Look>,
}

impl<'a> Drawing<'a> {
    /// Looks at a drawing.
    pub fn of(photo: &'a Photo, plane: &'a Plane, seen: &'a Seen, seam: &'a Seam) -> Self {
        let points_px = seam.points_px(plane);
        Self {
            photo,
            plane,
            map: seen.map(seam.runs),
            seam,
            points_px,
            look: refine::look(photo, plane, seam, FINE_MM),
        }
    }

    /// Looks for a seam within `reach_px` of it; `None` where the network sees none and a side shows no lines.
    pub fn beside(&self, reach_px: f64) -> Option<Shown> {
        let Self { photo, plane, map, .. } = *self;
        let trace = trace::beside(map, &self.points_px, reach_px);
        let shown = trace.as_ref().map_or_else(trace::Shown::default, |trace| trace.shown);
        let in_a_gap = self.look.as_ref().is_some_and(|look| look.gap_mm.is_some());
        let well_seen = trace.filter(|trace| trace.shown.sure >= WELL_SEEN && !in_a_gap);
        let (seam, look) = match well_seen {
            Some(trace) => self.as_the_network_has_it(&trace)?,
            None => {
                let first = self.look.clone()?;
                let settled = first.moved_mm < SETTLED_MM;
                let look = if settled { first } else { refine::look(photo, plane, &first.seam, FINE_MM)? };
                (Seam { gap_mm: look.gap_mm, ..look.seam.clone() }, Some(look))
            }
        };
        let clues = clues(photo, plane, shown, look.as_ref());
        let mut seam = Seam { u_across_mm: LOOKED_U_MM, ..seam };
        // The folds of a gap are where the look has them.
        if let (None, Some(look)) = (seam.gap_mm, &look) {
            for reach_mm in DRAWN_WITHIN_MM {
                let (drawn, u_mm) = draw::to_the_seam(photo, plane, map, &seam, reach_mm, look.darkness())?;
                seam = Seam { u_across_mm: u_mm, ..drawn };
            }
        }
        Some(Shown { seam: trim::to_the_picture(photo, plane, seam), evidence: weigh::log_odds(&clues) })
    }

    /// The path that the network sees well, and a look at it.
    fn as_the_network_has_it(&self, trace: &Trace) -> Option<(Seam, Option<Look>)> {
        let seam = Seam { path: trace.seam(self.plane)?.path, ..self.seam.clone() };
        let (seam, look) = looked_at(self.photo, self.plane, seam);
        let seam = self.between_folds(&seam).unwrap_or(seam);
        // A careful drawing is nearer to the seam than where the network goes astray.
        let careful = seam.gap_mm.is_none() && furthest_mm(self.seam, &seam) <= DRAWN_WITHIN_MM[0];
        Some((if careful { self.seam.clone() } else { seam }, look))
    }

    /// The middle of a gap in which the drawing lies, where the network sees one fold on either side of it, that of `seam` and another;
    /// `None` where it does not.
    fn between_folds(&self, seam: &Seam) -> Option<Seam> {
        let fold_mm = aside_mm(self.seam, seam);
        (seam.gap_mm.is_none() && fold_mm.abs() >= FOLD_MM).then_some(())?;
        let beyond = self.seam.moved(-fold_mm)?.points_px(self.plane);
        let other = trace::beside(self.map, &beyond, FOLD_MM / self.plane.mm_per_px)
            .filter(|other| other.shown.sure >= WELL_SEEN)?;
        let other_mm = aside_mm(self.seam, &other.seam(self.plane)?);
        let gap_mm = Some((fold_mm - other_mm).abs()).filter(|&gap_mm| gap_mm >= gap::LEAST_GAP_MM)?;
        Some(Seam { gap_mm: Some(gap_mm), ..self.seam.moved(0.5 * (fold_mm + other_mm))? })
    }
}
