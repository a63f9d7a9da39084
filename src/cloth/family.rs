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
use crate::lines::{LEAST_RELIEF, MOST_CHANCE, chance, contrast, strength};
use crate::photo::Photo;
use crate::scale::Plane;
use crate::signal::{self, Signal};
use crate::units::PxPoint;

/// Shade is taken off with a smooth of this share of the ribs' length while the repeat is unknown.
const BROAD_SHARE: f64 = 0.125;
/// And of so many repeats once it is known: whole repeats must not lose their own slow change.
const BROAD_REPEATS: f64 = 1.0;
/// Parts along the lines whose repeats, and whose edges without a repeat, are compared.
const REPEAT_PARTS: usize = 4;
/// The share of the patch that must show the family's lines.
const LEAST_AGREEING: f64 = 0.5;
/// Repeats have more in common than not ([`Fold::told`]); else what returns is none, but the rhythm of something fine in the
/// lines, a twill's threads for one. Repeats seen hardly twice have few bands in common, and those may be alike by chance: of
/// them three quarters. (Rendered cloths: 0.98 where a repeat is seen hardly twice, 0.6 where a tilt blurs them; a mirrored sett
/// laid on itself at a wrong place 0.45.)
const LEAST_TOLD: f64 = 0.5;
const LEAST_TOLD_BY_FEW: f64 = 0.75;
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
/// Lines that would cross others lean by no more than this against the square to them, du/dv (8°): a twill's threads lean more.
const MOST_LEAN: f64 = 0.15;
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
    /// less than one and a third repeats are seen, or no repeat tells most of the lines.
    pub repeat_mm: Option<(f64, f64)>,
    /// Root mean square of the lines' relief (natural logarithm).
    pub relief: f64,
    /// Michelson contrast of the lines on linear luminance, 0 to 1.
    pub contrast: f64,
    /// How strongly the lines return, by how often.
    pub spectrum: Spectrum,
    /// One repeat; `None` without a repeat.
    pub fold: Option<Fold>,
    /// It as a sequence of bands, the widest of the ground first; without a repeat what is seen of the lines, in the order of
    /// u, from the first band that is seen whole to the last. Empty where the lines have no edges.
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
    let in_order = |family: Family| {
        // A fold, a hem or the table's edge is a line or two; a cloth whose repeat is not seen has more.
        let bands = || in_order(&ribs, &profiles, &course).unwrap_or_default();
        (sequence::stretches(&whole.0, step_mm) >= LEAST_STRETCHES).then(|| Family { bands: bands(), ..family })
    };
    let Some(start) = signal::repeat_of(&[&whole], step_mm) else { return in_order(family) };
    // Over hardly more than one repeat the fit may leave for another length altogether.
    let fitted = Some(repeat::refine(&whole.0, &whole.1, start))
        .filter(|fitted| (fitted.samples - start).abs() < MOST_REFINED * start)
        .unwrap_or(Repeat { samples: start, u_samples: UNREFINED * start });
    let u_samples = fitted.u_samples.max(scatter(&profiles, &course, step_mm, fitted.samples));
    let Some(fold) = folded(&ribs, &profiles, &course, fitted.samples) else { return Some(family) };
    let few = family.length_mm < FEW_TO_COMPARE * fold.repeat_mm;
    if fold.told() < if few { LEAST_TOLD_BY_FEW } else { LEAST_TOLD } {
        return in_order(family);
    }
    let (fold, cut) = sequence::cut(fold, step_mm);
    let balance = balance::of(&fold, step_mm);
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

/// Whether the cloth is even the way that `other`'s lines run, so that none cross them: a finding, and not only that none were
/// recognised. At least so many millimetres must be seen that way, and neighbouring ribs share less than the weakest lines that
/// are measured, however they lean.
pub fn is_plain_along(photo: &Photo, plane: &Plane, other: &Family, patch_px: [PxPoint; 2], least_mm: f64) -> bool {
    let Run { frame, course, .. } = other.run;
    let ribs = Ribs::cut_bent(photo, plane, frame.square(), patch_px, |v_mm| course.further_mm(v_mm));
    if ribs.ribs.len() < LEAST_RIBS || ribs.length_mm() < least_mm {
        return false;
    }
    let profiles = relief::of_ribs(&ribs.ribs, ribs.step_mm, BROAD_SHARE * ribs.length_mm());
    course::shared_power(&profiles, ribs.step_mm, MOST_LEAN) < LEAST_RELIEF * LEAST_RELIEF
}

/// The bands of the longest piece that is seen without a gap, where no repeat is.
fn in_order(ribs: &Ribs, profiles: &[Profile], course: &Course) -> Option<Vec<Band>> {
    let light = light_over_mean(ribs, profiles, ribs.samples as f64);
    let stack = course::whole(&light, course, ribs.step_mm);
    let mut at = 0;
    let pieces = stack.1.chunk_by(|a, b| (*a > 0.0) == (*b > 0.0)).map(|piece| {
        at += piece.len();
        (at - piece.len()..at, piece[0] > 0.0)
    });
    let (longest, _) = pieces.filter(|piece| piece.1).max_by_key(|piece| piece.0.len())?;
    let size = light.len().div_ceil(REPEAT_PARTS).max(1);
    let parts: Vec<Signal> = light.chunks(size).map(|part| course::whole(part, course, ribs.step_mm)).collect();
    let fold = Fold::once(&stack, &parts, longest, ribs);
    Some(sequence::once(&fold, ribs.step_mm, &fold.light(ribs, course)))
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
    let light = light_over_mean(ribs, profiles, BROAD_REPEATS * repeat);
    Fold::new(&course::whole(&light, course, ribs.step_mm), repeat, ribs)
}

/// The light of every rib over its mean over so many samples.
fn light_over_mean(ribs: &Ribs, profiles: &[Profile], samples: f64) -> Vec<Profile> {
    let mut light = relief::of_ribs(&ribs.ribs, ribs.step_mm, samples * ribs.step_mm);
    for (profile, kept) in light.iter_mut().zip(profiles) {
        profile.weight.clone_from(&kept.weight);
        profile.value.iter_mut().for_each(|v| *v = v.map(f32::exp));
    }
    light
}
