//! Cuts a path where the cloth ends inside the picture: waist, hem, the table beyond.
//!
//! What lies beyond the cloth is of one colour along the path. A plain end of the cloth itself looks the same and is cut
//! too; without lines it has nothing to measure.

use crate::light;
use crate::photo::Photo;
use crate::scale::Plane;
use crate::seam::Seam;
use crate::seam::path::Path;
use crate::units::MmPoint;

/// Steps along the path, millimetres.
const STEP_MM: f64 = 1.0;
/// Distances from the seam at which the colour is looked at, millimetres.
const ASIDE_MM: [f64; 6] = [3.0, 5.5, 8.0, 10.5, 13.0, 15.5];
/// The light is that of means of pixels up to this size, millimetres.
const PIXEL_MM: f64 = 0.25;
/// Colours this near (logarithm of light) are one.
const ONE_COLOUR: f64 = 0.07;
/// A run of one colour is cut when it is at least this long, with this much more for the edge itself, millimetres.
const LEAST_RUN_MM: f64 = 6.0;
const EDGE_MM: f64 = 2.0;
/// A path is left alone when less than this would remain, millimetres.
const LEAST_LEFT_MM: f64 = 40.0;

/// The seam with its path cut to what the picture shows.
pub fn to_the_picture(photo: &Photo, plane: &Plane, mut seam: Seam) -> Seam {
    let shown = |p: &MmPoint| {
        let at = plane.to_px(*p);
        let (width, height) = (f64::from(photo.width_px()), f64::from(photo.height_px()));
        (0.0..=width - 1.0).contains(&at.x) && (0.0..=height - 1.0).contains(&at.y)
    };
    let points = &mut seam.path.points;
    if let (Some(from), Some(to)) = (points.iter().position(shown), points.iter().rposition(shown))
        && from < to
    {
        points.truncate(to + 1);
        points.drain(..from);
    }
    seam
}

/// The seam with its path cut to the cloth.
pub fn to_the_cloth(photo: &Photo, plane: &Plane, seam: Seam) -> Seam {
    let length_mm = seam.length_mm();
    let steps = (length_mm / STEP_MM) as usize;
    let colours: Vec<Option<[f64; 3]>> = (0..=steps).map(|k| colour(photo, plane, &seam, k as f64 * STEP_MM)).collect();
    let begin = run(colours.iter()) as f64 * STEP_MM;
    let end = length_mm - run(colours.iter().rev()) as f64 * STEP_MM;
    let cut = |run_mm: f64| if run_mm >= LEAST_RUN_MM { run_mm + EDGE_MM } else { 0.0 };
    let (from, to) = (cut(begin), length_mm - cut(length_mm - end));
    if (from == 0.0 && to == length_mm) || to - from < LEAST_LEFT_MM {
        return seam;
    }
    let marks: Vec<_> = (0..=8).map(|k| seam.at(from + (to - from) * f64::from(k) / 8.0, 0.0)).collect();
    match Path::through(&marks) {
        Some(path) => Seam { path, ..seam },
        None => seam,
    }
}

/// Mean colour (logarithm of light) beside the seam on both sides at u.
fn colour(photo: &Photo, plane: &Plane, seam: &Seam, u_mm: f64) -> Option<[f64; 3]> {
    let (covered, light) = (plane.covered(), photo.light(PIXEL_MM / plane.mm_per_px));
    let (mut sum, mut count) = ([0.0; 3], 0.0);
    for aside in ASIDE_MM.iter().flat_map(|a| [-a, *a]) {
        for along in [-0.33, 0.0, 0.33] {
            let p = plane.to_px(seam.at(u_mm + along, aside));
            if covered.holds(p) {
                continue;
            }
            if let Some(seen) = light.at(p.x, p.y) {
                for c in 0..3 {
                    sum[c] += f64::from(light::tone(seen[c]));
                }
                count += 1.0;
            }
        }
    }
    (count >= 8.0).then(|| sum.map(|s| s / count))
}

/// Number of steps from one end that are of one colour, or where nothing is seen.
fn run<'a>(colours: impl Iterator<Item = &'a Option<[f64; 3]>>) -> usize {
    let (mut mean, mut count) = ([0.0; 3], 0.0f64);
    let mut steps = 0;
    for colour in colours {
        if let Some(colour) = colour {
            if count > 0.0 && (0..3).any(|c| (colour[c] - mean[c]).abs() > ONE_COLOUR) {
                break;
            }
            count += 1.0;
            // The light changes slowly: the last few millimetres count.
            let share = 1.0 / count.min(8.0);
            for c in 0..3 {
                mean[c] += share * (colour[c] - mean[c]);
            }
        }
        steps += 1;
    }
    steps
}
