//! The camera's tilt from the cloth itself, where no card tells it.
//!
//! On flat cloth the lines of a family run parallel and evenly spaced; seen at an angle they converge and their spacing
//! changes across the picture. The photograph is made small ([`picture`]), straightened by the tilt known so far
//! ([`view`]) and cut into ribs across each family of lines ([`ribs`]); what the ribs say of direction and spacing gives
//! the tilt that is left ([`fit`]), until none is. It is believed where it stands well out of its own uncertainty, which
//! counts that neighbouring places err together (drape), and where two families meet at a right angle.

pub mod view;

pub mod picture;

pub mod ribs;

pub mod fit;

use super::marks::UNKNOWN_TILT_RELATIVE;
use crate::conventions::COVERAGE_FACTOR;
use crate::photo::Photo;
use crate::problem::Note;
use crate::units::PxPoint;
use fit::{Family, Left};
use nalgebra::{Matrix2, Vector2};
use picture::Picture;
use ribs::Ribs;
use std::f64::consts::{FRAC_PI_2, PI};
use view::View;

/// Widths of the ribs, round by round, small pixels: lines that still converge blur in broad ribs.
const RIB_WIDTHS: [f64; 4] = [10.0, 16.0, 24.0, 32.0];
/// Directions tried at the start, over half a turn; how many of them a tilt may turn a family off the square to the other;
/// and the width of their ribs, pixels of the coarse picture.
const DIRECTIONS: usize = 46;
const AROUND_SQUARE: usize = 5;
const START_WIDTH: f64 = 16.0;
/// Least relief of the second family against the first for its own direction to count.
const LEAST_RELIEF: f64 = 0.25;
/// Least angle between the two families; nearer, both follow the same lines.
const LEAST_BETWEEN_RAD: f64 = 1.1;
/// Rounds at most, how many of them go the whole step, and the horizon left (times half the picture's length) at which
/// they end, or at which the last may.
const MOST_ROUNDS: usize = 10;
const WHOLE_STEPS: usize = 5;
const SETTLED: f64 = 5e-4;
const NEARLY_SETTLED: f64 = 0.01;
/// The most that a family is turned in a round, radians.
const MOST_TURN_RAD: f64 = 0.15;

/// Standard uncertainty of the assumed focal length, relative: main cameras of phones are 24 to 28 mm equivalents
/// (from memory), rectangular about their middle and rounded up for crops.
const FOCAL_RELATIVE: f64 = 0.06;
/// What the cells' scores do not know: the cloth's waves are as long as the picture. From rendered photographs.
const WAVES: f64 = 2.5;
/// Least standard uncertainty of a component of the tilt, radians: where both families tell it; where one tells it by its
/// spacing; and where one tells it by its direction (cloth that curves in its plane looks the same).
const LEAST_BOTH_RAD: f64 = 0.004;
const LEAST_SPACING_RAD: f64 = 0.009;
const LEAST_DIRECTION_RAD: f64 = 0.02;
/// A family is there where its lines are seen in this share of the picture, and as often as this against the other's: a
/// seam alone is none.
const LEAST_SPREAD: f64 = 0.72;
const LEAST_SHARE: f64 = 0.25;
/// A component of the tilt is told where its standard uncertainty is below this, radians.
const MOST_UNCERTAIN_RAD: f64 = 0.045;
/// The tilt is believed where it is so many standard uncertainties away from none.
pub const SIGNIFICANT: f64 = 4.0;
/// And so many where the cloth lies flat and shows no seam: nothing but a tilt makes its lines converge.
pub const SIGNIFICANT_ON_FLAT: f64 = 1.0;
/// Most scatter of the slopes, least share of sightings that agree, most that the families may miss the right angle by
/// (radians), and the largest tilt: beyond, the cloth is not flat, or flared, or misread.
const MOST_SCATTER: f64 = 0.05;
const LEAST_AGREEING: f64 = 0.6;
const MOST_SKEW_RAD: f64 = 0.09;
const LARGEST_RAD: f64 = 0.8;

/// A tilt that the cloth tells.
#[derive(Clone, Debug)]
pub struct Tilt {
    /// Horizon of the cloth's plane, per pixel of the photograph about its middle.
    pub horizon: [f64; 2],
    /// Focal length that it was read with, pixels of the photograph.
    pub focal_px: f64,
    /// Angle between the camera's axis and the cloth's normal, radians.
    pub angle_rad: f64,
    /// Its standard uncertainty, that of the focal length included.
    pub u_angle_rad: f64,
    /// Relative standard uncertainty that it brings to lengths elsewhere in the picture: a quarter of its long side away.
    pub relative_uncertainty: f64,
    /// What told it.
    pub told_by: ToldBy,
}

/// Which lines told the tilt.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ToldBy {
    /// Two families of lines at right angles.
    BothFamilies,
    /// One family, by its direction and its spacing.
    OneFamily,
    /// One family, one component of the tilt only; the other is taken to be none.
    OneComponent,
}

impl Tilt {
    /// The remark that the tilt was taken out, with its expanded uncertainty (k = 2).
    pub fn note(&self) -> Note {
        let lines = match self.told_by {
            ToldBy::BothFamilies => "the cloth's lines, both ways",
            ToldBy::OneFamily => "the direction and the spacing of the cloth's lines",
            ToldBy::OneComponent => "the cloth's lines, which show it in one direction only",
        };
        Note::new(
            "tilt-from-cloth",
            format!(
                "The camera's tilt of {:.1} ± {:.1}° was read from {lines}, and was taken out.",
                self.angle_rad.to_degrees(),
                COVERAGE_FACTOR * self.u_angle_rad.to_degrees()
            ),
        )
    }
}

/// Reads the tilt from the lines of the cloth; `None` where they do not tell it.
///
/// `focal_px` is the focal length in pixels of the photograph; `covered` says what is not cloth. It is believed from so many
/// standard uncertainties on.
pub fn from_cloth(photo: &Photo, focal_px: f64, significant: f64, covered: impl Fn(PxPoint) -> bool) -> Option<Tilt> {
    let picture = Picture::new(photo, covered);
    let [hx, hy] = picture.half();
    let reach = hx.max(hy);
    let level = View::new([0.0, 0.0], focal_px / picture.shrink)?;
    let mut along = start(&picture, &level);
    let mut view = level.refined(uneven(&picture, &level, along))?;
    for round in 0..MOST_ROUNDS {
        let width = RIB_WIDTHS[round.min(RIB_WIDTHS.len() - 1)];
        let left = fit::fit(&look(&picture, &view, along, width), reach)?;
        // Waves of the cloth may throw the last steps to and fro between two answers: halved, they end between them.
        let part = if round < WHOLE_STEPS { 1.0 } else { 0.5 };
        view = view.refined(left.horizon.map(|h| part * h))?;
        for k in 0..2 {
            along[k] += left.turn_rad[k].clamp(-MOST_TURN_RAD, MOST_TURN_RAD);
        }
        if between(along[0], along[1]) < LEAST_BETWEEN_RAD {
            along[1] = along[0] + FRAC_PI_2;
        }
        let size = left.horizon[0].hypot(left.horizon[1]) * reach;
        let last = round + 1 == MOST_ROUNDS;
        if round + 1 >= RIB_WIDTHS.len() && size < if last { NEARLY_SETTLED } else { SETTLED } {
            return believed(&view, &left, along, &picture, significant);
        }
    }
    None
}

/// The tilt if it can be believed.
fn believed(view: &View, left: &Left, along: [f64; 2], picture: &Picture, significant: f64) -> Option<Tilt> {
    let share = left.slopes[0].min(left.slopes[1]) / left.slopes[0].max(left.slopes[1]).max(1.0);
    let both = share >= LEAST_SHARE && left.spread.iter().all(|&s| s >= LEAST_SPREAD);
    let skew = FRAC_PI_2 - between(along[0], along[1]);
    let sound = left.scatter[0] <= MOST_SCATTER && left.agreeing >= LEAST_AGREEING && view.tilt_rad() <= LARGEST_RAD;
    if !sound || (both && skew.abs() > MOST_SKEW_RAD) {
        return None;
    }
    // Components of the tilt as slopes of the plane: horizon times focal length.
    let [hx, hy] = picture.half();
    let focal = view.focal_px();
    let slope = Vector2::from(view.horizon) * focal;
    let plainer = if left.slopes[0] >= left.slopes[1] { along[0] } else { along[1] };
    let (lines, across) = (Vector2::new(plainer.cos(), plainer.sin()), Vector2::new(-plainer.sin(), plainer.cos()));
    let least = match both {
        true => Matrix2::identity() * LEAST_BOTH_RAD.powi(2),
        false => {
            lines * lines.transpose() * LEAST_DIRECTION_RAD.powi(2)
                + across * across.transpose() * LEAST_SPACING_RAD.powi(2)
        }
    };
    let covariance = left.covariance * (WAVES * focal).powi(2) + least;
    let parts = covariance.symmetric_eigen();
    let (mut told, mut significance) = (Vector2::zeros(), 0.0);
    let (mut count, mut largest_u) = (0, 0.0f64);
    for k in 0..2 {
        let (axis, u) = (parts.eigenvectors.column(k), parts.eigenvalues[k].max(0.0).sqrt());
        if u > MOST_UNCERTAIN_RAD {
            continue;
        }
        let component = axis.dot(&slope);
        told += axis * component;
        significance += (component / u).powi(2);
        largest_u = largest_u.max(u);
        count += 1;
    }
    if significance < significant * significant {
        return None;
    }
    let angle_rad = told.norm().atan();
    let (sin, cos) = angle_rad.sin_cos();
    let towards = told.normalize();
    let u_slope = (towards.transpose() * covariance * towards)[(0, 0)].sqrt().min(largest_u);
    Some(Tilt {
        horizon: (told / (focal * picture.shrink)).into(),
        focal_px: focal * picture.shrink,
        angle_rad,
        u_angle_rad: (u_slope * cos * cos).hypot(FOCAL_RELATIVE * sin * cos),
        relative_uncertainty: (largest_u / focal * hx.max(hy) / 2.0)
            .hypot(0.5 * FOCAL_RELATIVE * sin * sin)
            .hypot(if count == 1 { UNKNOWN_TILT_RELATIVE } else { 0.0 }),
        told_by: match (both, count) {
            (_, 1) => ToldBy::OneComponent,
            (true, _) => ToldBy::BothFamilies,
            (false, _) => ToldBy::OneFamily,
        },
    })
}

/// The directions of the two families in the picture, radians, the plainer first; where the cloth has one only, the other is about square to
/// it: the pair along which ribs of the coarse picture keep most of their relief.
fn start(picture: &Picture, level: &View) -> [f64; 2] {
    let coarse = picture.coarse();
    let step = PI / DIRECTIONS as f64;
    let relief: Vec<f64> =
        (0..DIRECTIONS).map(|k| Ribs::cut(&coarse, level, k as f64 * step, START_WIDTH).relief()).collect();
    let at = |k: usize| relief[k % DIRECTIONS];
    // The tail of the plainer family's peak is no family: the other must have a peak of its own, and a plain one.
    let is_peak = |k: usize| at(k) >= at(k + 1) && at(k) >= at(k + DIRECTIONS - 1);
    let mut pairs = Vec::new();
    for a in 0..DIRECTIONS {
        let square = a + DIRECTIONS / 2;
        let around = square - AROUND_SQUARE..=square + AROUND_SQUARE;
        pairs.extend(around.filter(|&b| is_peak(b) && at(b) >= LEAST_RELIEF * at(a)).map(|b| (a, b)));
        pairs.push((a, square));
    }
    let sum = |&(a, b): &(usize, usize)| at(a) + at(b);
    let (a, b) = pairs.into_iter().max_by(|p, q| sum(p).total_cmp(&sum(q))).expect("there are pairs");
    if at(a) >= at(b) { [a as f64 * step, b as f64 * step] } else { [b as f64 * step, a as f64 * step] }
}

/// Angle between two lines, radians.
fn between(a: f64, b: f64) -> f64 {
    let turn = (a - b).rem_euclid(PI);
    turn.min(PI - turn)
}

/// A first value of the horizon from how uneven the spacing of each family is.
fn uneven(picture: &Picture, level: &View, along: [f64; 2]) -> [f64; 2] {
    let mut horizon = [0.0; 2];
    for along_rad in along {
        let q = Ribs::cut(picture, level, along_rad, RIB_WIDTHS[0]).unevenness();
        horizon[0] -= q * along_rad.sin();
        horizon[1] += q * along_rad.cos();
    }
    horizon
}

fn look(picture: &Picture, view: &View, along: [f64; 2], width: f64) -> [Family; 2] {
    along.map(|along_rad| {
        let ribs = Ribs::cut(picture, view, along_rad, width);
        let spacings = ribs.repeat().map(|repeat| ribs.spacings(repeat)).unwrap_or_default();
        Family { along_rad, slopes: ribs.slopes(), spacings }
    })
}
