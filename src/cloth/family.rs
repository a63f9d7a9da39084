//! One family of lines: are there any, how they run, their repeat, one repeat of them.

use super::balance::{self, Balance, Told};
use super::course::{self, Course};
use super::distortion::Run;
use super::fold::Fold;
use super::frame::{Frame, Ribs};
use super::notch;
use super::sequence::{self, Band};
use crate::lines::relief::{self, Profile};
use crate::lines::repeat::{self, Repeat, Spectrum};
use crate::lines::{LEAST_RELIEF, MOST_CHANCE, chance, contrast, shared_repeat, strength};
use crate::photo::Photo;
use crate::scale::Plane;
use crate::units::PxPoint;

/// Shade is taken off with a smooth of this share of the ribs' length while the repeat is unknown.
const BROAD_SHARE: f64 = 0.125;
/// And of so many repeats once it is known: whole repeats must not lose their own slow change.
const BROAD_REPEATS: f64 = 1.0;
/// Parts along the lines whose repeats are compared.
const REPEAT_PARTS: usize = 4;
/// The share of the patch that must show the family's lines.
const LEAST_AGREEING: f64 = 0.5;
/// Without a repeat, so many stretches of one colour must be seen.
const LEAST_STRETCHES: usize = 9;
/// The repeat is refined by less than this share of it; else it stands as found, with this relative standard uncertainty.
const MOST_REFINED: f64 = 0.06;
const UNREFINED: f64 = 0.01;
/// Repeats that differ by this much (natural logarithm of light, as [`Balance::by_chance`]) do not lie on one another: the
/// camera was tilted, or the cloth does not lie flat.
const UNEVEN: f64 = 0.2;
/// Fewer repeats than these are hardly seen twice anywhere, and only near the picture's edges.
const FEW_TO_COMPARE: f64 = 2.5;
/// Fewer ribs show no lines to be followed.
const LEAST_RIBS: usize = 8;

/// What crosses the cloth one way: lines that run one way, met one after the other the other way.
#[derive(Clone, Debug)]
pub struct Family {
    /// Where they run.
    pub run: Run,
    /// Length of cloth along which they are met, millimetres.
    pub length_mm: f64,
    /// The repeat with its standard uncertainty in the plane of the cloth, the scale's not counted, millimetres; `None` where
    /// less than one and a third repeats are seen.
    pub repeat_mm: Option<(f64, f64)>,
    /// Root mean square of the lines' relief (natural logarithm).
    pub relief: f64,
    /// Michelson contrast of the lines on linear luminance, 0 to 1.
    pub contrast: f64,
    /// How strongly the lines return, by how often.
    pub spectrum: Spectrum,
    /// One repeat; `None` without a repeat.
    pub fold: Option<Fold>,
    /// It as a sequence of bands, the widest of the ground first; empty without a repeat, or where the lines have no edges.
    pub bands: Vec<Band>,
    /// Whether it is the same read backwards; `None` without a repeat.
    pub balance: Option<Balance>,
    /// Which of the bands (an index) to put on the notches.
    pub notch: Option<usize>,
    /// Whether the repeats lie on one another; where they do not, they are not told band by band.
    pub is_even: bool,
}

impl Family {
    /// The same with its repeat and widths taken square to the lines.
    pub fn squared(mut self) -> Self {
        let share = 1.0 / 1.0f64.hypot(self.run.course.slope);
        self.repeat_mm = self.repeat_mm.map(|(repeat_mm, u_mm)| (share * repeat_mm, u_mm));
        for band in &mut self.bands {
            (band.from_mm, band.width_mm) = (share * band.from_mm, share * band.width_mm);
        }
        self
    }

    /// The bands (numbers) about whose middle the repeat mirrors, where it is the same read backwards: up to two.
    pub fn mirrors(&self) -> Vec<usize> {
        let (Some(balance), Some((repeat_mm, _))) = (self.balance, self.repeat_mm) else { return Vec::new() };
        if balance.same != Told::Yes {
            return Vec::new();
        }
        let places = [balance.mirror_mm, balance.mirror_mm + 0.5 * repeat_mm].map(|place| place.rem_euclid(repeat_mm));
        // The mirror stands at a band's middle; the first band may begin a little before the repeat.
        let apart = |band: &Band, place: f64| {
            let middle = band.from_mm + 0.5 * band.width_mm;
            let apart = (place - middle).rem_euclid(repeat_mm);
            apart.min(repeat_mm - apart)
        };
        let nearest = |place: f64| {
            let middle = self.bands.iter().min_by(|a, b| apart(a, place).total_cmp(&apart(b, place)));
            middle.filter(|band| apart(band, place) < 0.5 * band.width_mm).map(|band| band.number)
        };
        let mut numbers: Vec<usize> = places.into_iter().filter_map(nearest).collect();
        numbers.sort_unstable();
        numbers.dedup();
        numbers
    }

    /// The light at each place of the repeat read backwards about its best mirror; empty without a repeat.
    pub fn backwards(&self) -> Vec<[f64; 3]> {
        let (Some(balance), Some(fold)) = (&self.balance, &self.fold) else { return Vec::new() };
        let n = fold.places();
        let mirror = (2.0 * balance.mirror_mm / fold.step_mm()).round() as usize;
        (0..n).map(|j| fold.mean[(mirror + n - j) % n]).collect()
    }

    /// How many repeats are seen; `None` without one.
    pub fn repeats_seen(&self) -> Option<f64> {
        self.repeat_mm.map(|(repeat_mm, _)| self.length_mm / repeat_mm)
    }
}

/// How strong the lines of a frame are, and their slope in it, up to `steepest`; `None` where hardly any cloth is seen.
pub fn look(photo: &Photo, plane: &Plane, frame: Frame, patch_px: [PxPoint; 2], steepest: f64) -> Option<(f64, f64)> {
    let ribs = Ribs::cut(photo, plane, frame, patch_px);
    if ribs.ribs.len() < LEAST_RIBS {
        return None;
    }
    let profiles = relief::of_ribs(&ribs.ribs, ribs.step_mm, BROAD_SHARE * ribs.length_mm());
    Some(course::first_slope(&profiles, ribs.step_mm, steepest))
}

/// Measures the lines that run about along v of a frame, with about this slope; `None` where there are none. Their repeat and
/// widths are taken along u, which should run along the other family: ribs that cross its lines show those too.
pub fn measure(photo: &Photo, plane: &Plane, frame: Frame, patch_px: [PxPoint; 2], slope: f64) -> Option<Family> {
    let ribs = Ribs::cut(photo, plane, frame, patch_px);
    if ribs.ribs.len() < LEAST_RIBS {
        return None;
    }
    let step_mm = ribs.step_mm;
    let mut profiles = relief::of_ribs(&ribs.ribs, step_mm, BROAD_SHARE * ribs.length_mm());
    let course = course::follow(&ribs, &mut profiles, slope);
    let whole = course::whole(&profiles, &course, step_mm);
    let laid = |ribs: &[Profile]| course::whole(ribs, &course, step_mm);
    let chance = chance::of_noise(&whole, &profiles, laid, step_mm);
    let relief = strength(&whole.0, &whole.1);
    if relief < LEAST_RELIEF || chance > MOST_CHANCE || course.agreeing < LEAST_AGREEING {
        return None;
    }
    let mut family = Family {
        run: Run { frame, course, breadth_mm: ribs.breadth_mm() },
        length_mm: whole.1.iter().filter(|&&w| w > 0.0).count() as f64 * step_mm,
        repeat_mm: None,
        relief,
        contrast: contrast(&ribs.ribs, |v_mm| course.further_mm(v_mm), step_mm),
        spectrum: repeat::spectrum(&whole.0, &whole.1, step_mm),
        fold: None,
        bands: Vec::new(),
        balance: None,
        notch: None,
        is_even: true,
    };
    let Some(start) = shared_repeat(std::slice::from_ref(&whole), step_mm) else {
        // A fold, a hem or the table's edge is a line or two; a cloth whose repeat is not seen has more.
        return (sequence::stretches(&whole.0, step_mm) >= LEAST_STRETCHES).then_some(family);
    };
    // Over hardly more than one repeat the fit may leave for another length altogether.
    let fitted = Some(repeat::refine(&whole.0, &whole.1, start))
        .filter(|fitted| (fitted.samples - start).abs() < MOST_REFINED * start)
        .unwrap_or(Repeat { samples: start, u_samples: UNREFINED * start });
    let u_samples = fitted.u_samples.max(scatter(&profiles, &course, step_mm, fitted.samples));
    let Some(fold) = folded(&ribs, &profiles, &course, fitted.samples) else { return Some(family) };
    let (fold, cut) = sequence::cut(fold, step_mm);
    let balance = balance::of(&fold, step_mm);
    let few = family.length_mm < FEW_TO_COMPARE * fold.repeat_mm;
    family.is_even = few || balance.by_chance.is_none_or(|chance| chance < UNEVEN);
    if family.is_even {
        let light = fold.light(&ribs, &course);
        family.bands = sequence::measured(&fold, &cut, step_mm, &light);
        family.notch = notch::choose(&family.bands);
    }
    family.balance = Some(balance);
    family.repeat_mm = Some((fitted.samples * step_mm, u_samples * step_mm));
    family.fold = Some(fold);
    Some(family)
}

/// Standard uncertainty of the repeat from how parts of the cloth side by side differ, samples.
fn scatter(profiles: &[Profile], course: &Course, step_mm: f64, repeat: f64) -> f64 {
    let size = profiles.len().div_ceil(REPEAT_PARTS).max(1);
    let each: Vec<f64> = profiles
        .chunks(size)
        .map(|part| course::whole(part, course, step_mm))
        .map(|(value, weight)| repeat::refine(&value, &weight, repeat).samples)
        .collect();
    let count = each.len() as f64;
    if count < 2.0 {
        return 0.0;
    }
    let middle = each.iter().sum::<f64>() / count;
    (each.iter().map(|x| (x - middle).powi(2)).sum::<f64>() / (count - 1.0) / count).sqrt()
}

/// One repeat of the light over its mean, all ribs laid along the course.
fn folded(ribs: &Ribs, profiles: &[Profile], course: &Course, repeat: f64) -> Option<Fold> {
    let step_mm = ribs.step_mm;
    let mut light = relief::of_ribs(&ribs.ribs, step_mm, BROAD_REPEATS * repeat * step_mm);
    for (profile, kept) in light.iter_mut().zip(profiles) {
        profile.weight.clone_from(&kept.weight);
        profile.value.iter_mut().for_each(|v| *v = v.map(f32::exp));
    }
    Fold::new(&course::whole(&light, course, step_mm), repeat, ribs)
}
