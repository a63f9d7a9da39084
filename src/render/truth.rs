//! What is true of a rendered seam: the figures a measurement should find.

use super::camera::Projection;
use super::card::LaidCard;
use super::scene::Scene;
use super::seam::{Course, Lines};
use crate::conventions::Runs;
use crate::problem::Problem;
use crate::units::PxPoint;

/// The truth of a rendered photograph. Offsets are those of [`crate::conventions`], not wrapped into one repeat.
#[derive(Clone, Debug)]
pub struct Truth {
    /// How the seam runs.
    pub runs: Runs,
    /// Millimetres to a pixel at the middle of the visible seam (the square root of the area one pixel sees).
    pub mm_per_px: f64,
    /// Repeat of each side's lines across along the seam (at its anchor), first side first, millimetres; `None` where none
    /// crosses the seam.
    pub repeat_mm: Option<[f64; 2]>,
    /// Slope of the lines across at the seam's anchor, du/dv, first side first.
    pub slope: [f64; 2],
    /// The visible seam in the picture, in the order of growing u, about every millimetre.
    pub seam_px: Vec<PxPoint>,
    /// Straight distance between the ends of the visible seam, millimetres.
    pub ends_apart_mm: f64,
    /// Length of the visible seam, millimetres.
    pub length_mm: f64,
    /// Where the visible seam begins, u of the scene, millimetres.
    pub begins_mm: f64,
    /// The offset along the visible seam, about every two millimetres.
    pub readings: Vec<TrueReading>,
    /// Mean offset over the visible seam, millimetres.
    pub mean_offset_mm: f64,
    /// Largest |offset| over the visible seam, millimetres.
    pub largest_offset_mm: f64,
    /// Distance between the folds; `None` where the sides touch.
    pub gap_mm: Option<f64>,
    /// Two points of the seam exactly 100 mm apart, about its visible middle; `None` where the picture shows less.
    pub hundred_mm_px: Option<[PxPoint; 2]>,
    /// Corners of each card's symbol without its quiet zone (of a ready picture: its own corners), from the card's top
    /// left clockwise.
    pub cards_px: Vec<[PxPoint; 4]>,
}

/// The offset at one place of the seam.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrueReading {
    /// Arc length along the seam from its first visible point, millimetres.
    pub along_mm: f64,
    /// Place in the picture.
    pub at_px: PxPoint,
    /// Offset of the line whose two ends have their middle here, millimetres.
    pub offset_mm: f64,
}

/// Step of the search for the visible seam, millimetres.
const SEARCH_MM: f64 = 0.25;

impl Truth {
    /// The truth of a scene; `reach_mm` is beyond the picture on either side of the seam's anchor.
    ///
    /// # Errors
    /// [`Problem::Usage`] where none of the seam is in the picture.
    pub(super) fn of(
        scene: &Scene,
        course: &Course,
        lines: &Lines,
        cards: &[LaidCard],
        reach_mm: f64,
    ) -> Result<Self, Problem> {
        let (seam, projection) = (&scene.seam, scene.camera.projection());
        let own_px = |u: f64| projection.to_px(course.at(u, 0.0));
        let px = |u: f64| scene.camera.arrives(own_px(u));
        let (from, to) = visible(scene, course, projection, reach_mm).ok_or_else(|| {
            Problem::usage(
                "this scene cannot be rendered: its seam lies outside the picture",
                "move the seam into the picture; for cloth without a seam, leave it there matched and without a crease",
            )
        })?;
        let length_mm = to - from;
        let spread = |step_mm: f64| {
            let count = ((length_mm / step_mm).round() as usize).max(1);
            (0..=count).map(move |k| from + length_mm * k as f64 / count as f64)
        };
        let offsets: Vec<f64> = spread(SEARCH_MM).map(|u| lines.offset(u)).collect();
        let count = offsets.len();
        // The trapezoidal rule: the two ends count half.
        let inner: f64 = offsets.iter().sum::<f64>() - (offsets[0] + offsets[count - 1]) / 2.0;
        let middle = (from + to) / 2.0;
        Ok(Self {
            runs: seam.runs,
            mm_per_px: projection.mm_per_px(own_px(middle)).unwrap_or(scene.camera.mm_per_px) / scene.camera.enlarged(),
            repeat_mm: seam
                .cloth
                .repeat_mm()
                .map(|repeat| [0, 1].map(|side| seam.repeat_factor[side] * repeat / seam.turn_rad[side].cos())),
            slope: [0, 1].map(|side| seam.slope[side] + seam.turn_rad[side].tan()),
            seam_px: spread(1.0).map(px).collect(),
            ends_apart_mm: course.at(from, 0.0).distance(course.at(to, 0.0)),
            length_mm,
            begins_mm: from,
            readings: spread(2.0)
                .map(|u| TrueReading { along_mm: u - from, at_px: px(u), offset_mm: lines.offset(u) })
                .collect(),
            mean_offset_mm: inner / (count - 1) as f64,
            largest_offset_mm: offsets.iter().fold(0.0, |largest, x| x.abs().max(largest)),
            gap_mm: seam.zip.map(|zip| zip.gap_mm),
            hundred_mm_px: hundred(course, middle, length_mm).map(|ends| ends.map(px)),
            cards_px: cards
                .iter()
                .map(|card| card.corners().map(|p| scene.camera.arrives(projection.to_px(p))))
                .collect(),
        })
    }
}

/// What is true at the place of a seam nearest to a point of the picture; between two readings it is read off the straight
/// line through them. `None` of fewer than two.
pub fn reading_at(readings: &[TrueReading], p: PxPoint) -> Option<TrueReading> {
    let pairs = readings.windows(2).map(|pair| {
        let (a, b) = (pair[0].at_px, pair[1].at_px);
        let (dx, dy) = (b.x - a.x, b.y - a.y);
        let share = (((p.x - a.x) * dx + (p.y - a.y) * dy) / (dx * dx + dy * dy).max(1e-12)).clamp(0.0, 1.0);
        let at_px = PxPoint::new(a.x + share * dx, a.y + share * dy);
        let between = |of: fn(&TrueReading) -> f64| of(&pair[0]) + share * (of(&pair[1]) - of(&pair[0]));
        let (along_mm, offset_mm) = (between(|r| r.along_mm), between(|r| r.offset_mm));
        (p.distance(at_px), TrueReading { along_mm, at_px, offset_mm })
    });
    pairs.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, reading)| reading)
}

/// The offset that [`reading_at`] tells, millimetres.
pub fn offset_at(readings: &[TrueReading], p: PxPoint) -> Option<f64> {
    reading_at(readings, p).map(|reading| reading.offset_mm)
}

/// The longest stretch of the seam that is in the picture and on the garment: its first and last u.
fn visible(scene: &Scene, course: &Course, projection: Projection, reach_mm: f64) -> Option<(f64, f64)> {
    let (right, bottom) = (f64::from(scene.camera.width_px) - 0.5, f64::from(scene.camera.height_px) - 0.5);
    let edges = scene.seam.edges;
    let seen = |u: f64| {
        let p = projection.to_px(course.at(u, 0.0));
        let framed = (-0.5..=right).contains(&p.x) && (-0.5..=bottom).contains(&p.y);
        framed && edges.waist_mm.is_none_or(|waist| u >= waist) && edges.hem_mm.is_none_or(|hem| u <= hem)
    };
    // The end of a stretch lies between a seen and an unseen place.
    let edge = |mut inside: f64, mut outside: f64| {
        for _ in 0..40 {
            let middle = (inside + outside) / 2.0;
            *(if seen(middle) { &mut inside } else { &mut outside }) = middle;
        }
        inside
    };
    let count = (2.0 * reach_mm / SEARCH_MM) as usize;
    let place = |k: usize| k as f64 * SEARCH_MM - reach_mm;
    let mut best: Option<(f64, f64)> = None;
    let mut begun: Option<f64> = None;
    for k in 1..=count {
        match (seen(place(k)), begun) {
            (true, None) => begun = Some(edge(place(k), place(k - 1))),
            (false, Some(from)) => {
                let to = edge(place(k - 1), place(k));
                begun = None;
                if best.is_none_or(|(a, b)| to - from > b - a) {
                    best = Some((from, to));
                }
            }
            _ => {}
        }
    }
    best
}

/// Two places of the seam about `middle` whose straight distance is 100 mm.
fn hundred(course: &Course, middle: f64, length_mm: f64) -> Option<[f64; 2]> {
    let mut half = 50.0;
    for _ in 0..8 {
        half *= 100.0 / course.at(middle - half, 0.0).distance(course.at(middle + half, 0.0));
    }
    (2.0 * half <= length_mm).then_some([middle - half, middle + half])
}
