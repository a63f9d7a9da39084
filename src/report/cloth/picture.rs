//! The patch straightened, warp upright, true to scale both ways, with the repeats marked and the bands of one numbered.

use crate::cloth::FlatCloth;
use crate::cloth::family::Family;
use crate::cloth::frame::Frame;
use crate::photo::Photo;
use crate::report::picture::WIDTH_PX;
use crate::report::picture::canvas::{self, Type, cased, words_size, write_on_cloth};
use crate::units::PxPoint;
use image::{Rgb, RgbImage};

/// Highest picture, pixels; a higher patch is drawn smaller.
const MOST_HEIGHT_PX: f64 = 1500.0;
/// Words, and the least distance from one number to the next, pixels.
const NUMBERS: Type = Type { height_px: 40.0, bold: true };
const APART_PX: f64 = 34.0;
/// Width of a stroke, dash and gap, pixels.
const PEN_PX: f64 = 4.0;
const DASHES_PX: [f64; 2] = [22.0, 16.0];

/// Where the patch is drawn.
struct View {
    frame: Frame,
    /// u and v of the picture's top left corner, millimetres.
    corner_mm: [f64; 2],
    px_per_mm: f64,
    size_px: [f64; 2],
}

impl View {
    fn at(&self, u_mm: f64, v_mm: f64) -> PxPoint {
        PxPoint::new((v_mm - self.corner_mm[1]) * self.px_per_mm, (u_mm - self.corner_mm[0]) * self.px_per_mm)
    }
}

/// The picture, [`WIDTH_PX`] wide at most; `None` where there is nothing to straighten.
pub fn straightened(photo: &Photo, cloth: &FlatCloth) -> Option<RgbImage> {
    let frame = match (&cloth.lengthwise, &cloth.crosswise) {
        (Some(family), _) => family.run.frame,
        (None, Some(family)) => family.run.frame.square(),
        (None, None) => return None,
    };
    let [a, b] = cloth.patch_px;
    let corners = [(a.x, a.y), (b.x, a.y), (b.x, b.y), (a.x, b.y)]
        .map(|(x, y)| frame.place(cloth.plane.to_mm(PxPoint::new(x, y))));
    let bound = |k: usize, pick: fn(f64, f64) -> f64| corners.iter().map(|c| c[k]).reduce(pick).unwrap_or(0.0);
    let (top, left) = (bound(0, f64::min), bound(1, f64::min));
    let (height_mm, width_mm) = (bound(0, f64::max) - top, bound(1, f64::max) - left);
    let px_per_mm = (f64::from(WIDTH_PX) / width_mm).min(MOST_HEIGHT_PX / height_mm);
    let size_px = [width_mm * px_per_mm, height_mm * px_per_mm];
    if !(size_px[0] >= 1.0 && size_px[1] >= 1.0) {
        return None;
    }
    let view = View { frame, corner_mm: [top, left], px_per_mm, size_px };
    let light = photo.light(1.0 / (px_per_mm * cloth.plane.mm_per_px));
    let mut picture = RgbImage::from_fn(size_px[0] as u32, size_px[1] as u32, |x, y| {
        let (u, v) = (top + (f64::from(y) + 0.5) / px_per_mm, left + (f64::from(x) + 0.5) / px_per_mm);
        let p = cloth.plane.to_px(frame.at(u, v));
        match light.at(p.x, p.y) {
            Some(light) => Rgb(crate::light::to_srgb8(light.map(f64::from))),
            None => canvas::LIGHT,
        }
    });
    if let Some(family) = &cloth.lengthwise {
        mark(&mut picture, &view, family, |u, v| view.at(u, v));
    }
    if let Some(family) = &cloth.crosswise {
        // This family's frame may be turned a little against the picture's: from the one to the plane and into the other.
        let place = |u: f64, v: f64| {
            let [u, v] = view.frame.place(family.run.frame.at(u, v));
            view.at(u, v)
        };
        mark(&mut picture, &view, family, place);
    }
    Some(picture)
}

/// The beginnings of a family's repeats as dashes, and the numbers of the bands of one repeat.
fn mark(picture: &mut RgbImage, view: &View, family: &Family, place: impl Fn(f64, f64) -> PxPoint) {
    let (Some(fold), Some((repeat_mm, _))) = (&family.fold, family.repeat_mm) else { return };
    let course = &family.run.course;
    let half_mm = 0.5 * family.run.breadth_mm;
    let inside = |p: PxPoint| p.x >= 0.0 && p.y >= 0.0 && p.x < view.size_px[0] && p.y < view.size_px[1];
    let reach = (family.length_mm / repeat_mm).ceil() as i64 + 2;
    let beginning = |k: i64| fold.from_mm + k as f64 * fold.repeat_mm;
    for k in -reach..=reach {
        let at = |v: f64| place(beginning(k) + course.further_mm(v), v);
        let step_mm = (DASHES_PX[0] + DASHES_PX[1]) / view.px_per_mm;
        let dash_mm = DASHES_PX[0] / view.px_per_mm;
        let count = (2.0 * half_mm / step_mm) as i64;
        for (from, to) in (0..=count).map(|n| -half_mm + n as f64 * step_mm).map(|v| (at(v), at(v + dash_mm))) {
            if inside(from) && inside(to) {
                cased(picture, from, to, PEN_PX, canvas::DARK);
            }
        }
    }
    // Numbers stand near the beginning of the lines, in the first repeat that is seen whole there.
    let v = -half_mm + 60.0 / view.px_per_mm;
    let at = |k: i64, share_mm: f64| place(beginning(k) + share_mm + course.further_mm(v), v);
    let margin =
        |p: PxPoint| p.x >= 40.0 && p.y >= 40.0 && p.x < view.size_px[0] - 40.0 && p.y < view.size_px[1] - 40.0;
    let Some(first) = (-reach..=reach).find(|&k| margin(at(k, 0.0)) && margin(at(k, repeat_mm))) else { return };
    let mut last: Option<PxPoint> = None;
    for band in &family.bands {
        let p = at(first, band.from_mm + 0.5 * band.width_mm);
        if last.is_some_and(|before| before.distance(p) < APART_PX) {
            continue;
        }
        last = Some(p);
        let number = band.number.to_string();
        let [width, height] = words_size(&number, NUMBERS);
        write_on_cloth(picture, PxPoint::new(p.x - 0.5 * width, p.y - 0.5 * height), &number, NUMBERS);
    }
}
