//! The finder's confidence fitted again: what the network and a close look say of places that are seams and of places that are
//! none, on chance scenes and on drawn cloth that served no training (`tests/seamnet/write.py`). Not run by itself:
//! `cargo test --release --test confidence -- --ignored --nocapture` prints the weights for `src/seam/find/weigh.rs`.
//!
//! `SEAMSTEP_DRAWN_CLOTH` is a folder of such cloth; without it only the scenes are fitted to.

#![expect(clippy::print_stdout, reason = "the weights are for whoever asks for them")]

#[path = "support/away.rs"]
mod away;
#[path = "support/each.rs"]
mod each;
#[path = "support/kinds.rs"]
mod kinds;
#[path = "support/seams.rs"]
mod seams;

use away::away_px;
use each::each;
use image::{DynamicImage, GrayImage};
use kinds::Kind;
use nalgebra::{SMatrix, SVector};
use seamstep::conventions::Runs;
use seamstep::photo::Photo;
use seamstep::render::Scene;
use seamstep::scale::{self, Plane, ScaleRequest};
use seamstep::seam::Seam;
use seamstep::seam::find::{self, CLUES, Place, Seen};
use std::path::{Path, PathBuf};

/// The chance scenes fitted to, none of them looked at by `tests/finder.rs`: plain seams, cloth without one, and of each kind.
const SEAMS: (u64, u64) = (100, 300);
const UNSEAMED: (u64, u64) = (100_000, 100);
const OF_A_KIND: (u64, u64) = (40_000, 20);
/// A place within this of the seam is right, millimetres (median distance).
const RIGHT_MM: f64 = 1.5;
/// On drawn cloth: so many of its points lie within so many cells of the truth.
const RIGHT_SHARE: f64 = 0.7;
const RIGHT_CELLS: i64 = 2;
/// Of which of the clues the network tells how sure it is.
const SURE: usize = 2;
/// Precision of the prior of each weight, so that clues that never differ get none.
const RIDGE: f64 = 0.5;

/// A place and whether it is right.
struct Sample {
    clues: [f64; CLUES],
    right: bool,
    /// Root mean square distance of its path from the seam, 320ths of the picture's longer side (about a cell of the network's map).
    away: f64,
}

/// The network's places in a scene.
fn of_scene(scene: &Scene, seamed: bool) -> Vec<Sample> {
    let (photo, request, rendered) = seams::photograph(scene);
    let Ok(plane) = scale::read(&photo, &request) else { return Vec::new() };
    let truth = &rendered.truth;
    let cell_px = f64::from(photo.width_px().max(photo.height_px())) / 320.0;
    let judged = |seam: &Seam| {
        let mut away_px: Vec<f64> = seam.path.points.iter().map(|&p| away_px(&truth.seam_px, plane.to_px(p))).collect();
        let square = away_px.iter().map(|px| px * px).sum::<f64>() / away_px.len() as f64;
        away_px.sort_by(f64::total_cmp);
        (seamed && away_px[away_px.len() / 2] * truth.mm_per_px <= RIGHT_MM, square.sqrt() / cell_px)
    };
    samples(&photo, &plane, judged)
}

/// The same of a picture of drawn cloth, whose truth lies beside it: red where a seam runs down, green where one runs across.
fn of_drawn(path: &Path) -> Vec<Sample> {
    let pixels = image::open(path).expect("a picture").into_rgb8();
    let truth = image::open(path.with_extension("truth.png")).expect("its truth");
    let (down, across) = channels(&truth);
    let photo = Photo::new("drawn", pixels);
    let plane = scale::read(&photo, &ScaleRequest::default()).expect("a provisional plane");
    let right = |seam: &Seam| {
        let map = if seam.runs == Runs::Down { &down } else { &across };
        let cell = |p: f64| ((p + 0.5) / 2.0 - 0.5).round() as i64;
        let near = |(x, y): (i64, i64)| {
            let marked = |i: i64, j: i64| {
                (0..i64::from(map.width())).contains(&i)
                    && (0..i64::from(map.height())).contains(&j)
                    && map.get_pixel(i as u32, j as u32).0[0] > 110
            };
            (-RIGHT_CELLS..=RIGHT_CELLS)
                .any(|k| if seam.runs == Runs::Down { marked(x + k, y) } else { marked(x, y + k) })
        };
        let points = seam.path.points.iter().map(|&p| plane.to_px(p)).map(|p| (cell(p.x), cell(p.y)));
        let count = seam.path.points.len() as f64;
        (points.filter(|p| near(*p)).count() as f64 >= RIGHT_SHARE * count, f64::NAN)
    };
    samples(&photo, &plane, right)
}

fn channels(truth: &DynamicImage) -> (GrayImage, GrayImage) {
    let rgb = truth.to_rgb8();
    let channel =
        |c: usize| GrayImage::from_fn(rgb.width(), rgb.height(), |x, y| image::Luma([rgb.get_pixel(x, y).0[c]]));
    (channel(0), channel(1))
}

fn samples(photo: &Photo, plane: &Plane, judged: impl Fn(&Seam) -> (bool, f64)) -> Vec<Sample> {
    let places = find::places(photo, plane, &Seen::of(photo, plane), None);
    let sample = |Place { seam, clues, .. }| {
        let (right, away) = judged(&seam);
        Sample { clues, right, away }
    };
    places.into_iter().map(sample).collect()
}

/// All samples: of the scenes, and of drawn cloth.
fn gather() -> [Vec<Sample>; 2] {
    let kinds = Kind::ALL.len() as u64;
    let counts = [SEAMS.1, UNSEAMED.1, OF_A_KIND.1 * kinds];
    let scenes = each(counts.iter().sum(), |k| {
        if k < counts[0] {
            of_scene(&seams::seam(SEAMS.0 + k), true)
        } else if k < counts[0] + counts[1] {
            of_scene(&seams::unseamed(UNSEAMED.0 + k - counts[0]), false)
        } else {
            let k = k - counts[0] - counts[1];
            of_scene(&kinds::scene(Kind::ALL[(k % kinds) as usize], OF_A_KIND.0 + k / kinds), true)
        }
    });
    let mut drawn: Vec<PathBuf> = Vec::new();
    if let Some(folder) = std::env::var_os("SEAMSTEP_DRAWN_CLOTH") {
        let all =
            std::fs::read_dir(folder).expect("the folder of drawn cloth").map(|entry| entry.expect("an entry").path());
        drawn = all
            .filter(|p| p.to_string_lossy().ends_with(".png") && !p.to_string_lossy().ends_with(".truth.png"))
            .collect();
        drawn.sort();
    }
    let drawn = each(drawn.len() as u64, |k| of_drawn(&drawn[k as usize]));
    [scenes, drawn].map(|of| of.into_iter().flatten().collect())
}

type Weights = SVector<f64, { CLUES + 1 }>;

fn with_constant(clues: &[f64; CLUES]) -> Weights {
    Weights::from_fn(|k, _| clues.get(k).copied().unwrap_or(1.0))
}

/// Logistic regression by Newton's method; each of the two kinds of pictures weighs the same.
fn fit(samples: &[Vec<Sample>; 2]) -> Weights {
    let mut weights = Weights::zeros();
    for _ in 0..50 {
        let mut gradient = -RIDGE * weights;
        let mut curvature = SMatrix::<f64, { CLUES + 1 }, { CLUES + 1 }>::identity() * RIDGE;
        let most = samples.iter().map(Vec::len).max().unwrap_or(1) as f64;
        for of in samples {
            let share = most / of.len().max(1) as f64;
            for sample in of {
                let x = with_constant(&sample.clues);
                let p = find::likely(weights.dot(&x));
                gradient += share * (f64::from(u8::from(sample.right)) - p) * x;
                curvature += share * p * (1.0 - p) * x * x.transpose();
            }
        }
        weights += curvature.cholesky().expect("a ridge makes it definite").solve(&gradient);
    }
    weights
}

#[test]
#[ignore = "prints the weights of src/seam/find/weigh.rs, in minutes"]
fn fitted_again() {
    let samples = gather();
    let weights = fit(&samples);
    for (name, of) in ["scenes", "drawn cloth"].iter().zip(&samples) {
        println!("{name}: {} places, {} right", of.len(), of.iter().filter(|s| s.right).count());
        for band in 0..10 {
            let (low, high) = (f64::from(band) / 10.0, f64::from(band + 1) / 10.0);
            let said = |s: &&Sample| (low..high).contains(&find::likely(weights.dot(&with_constant(&s.clues))));
            let in_band: Vec<&Sample> = of.iter().filter(said).collect();
            let right = in_band.iter().filter(|s| s.right).count();
            println!("  {low:.1} to {high:.1}: {} places, {right} right", in_band.len());
        }
    }
    let mut away: Vec<f64> = (samples[0].iter().filter(|s| s.right && s.clues[SURE] >= 0.5)).map(|s| s.away).collect();
    away.sort_by(f64::total_cmp);
    let part = |of: f64| away[(of * (away.len() - 1) as f64) as usize];
    println!("well seen: {:.2}, {:.2}, {:.2} cells off (68, 90, 95 of 100)", part(0.68), part(0.9), part(0.95));
    println!("{:.2?} constant {:.2}", &weights.as_slice()[..CLUES], weights[CLUES]);
}
