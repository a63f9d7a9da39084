//! A delivery of a hundred and twenty small photographs, rendered once for all tests: sixty pieces of a workshop's own, two seams
//! of each, taken on a stand; some are off, some show no lines, and one file is no picture.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use seamstep::render::{Band, Camera, Cloth, OffsetProfile, Scene, SeamScene, Weave, render};
use std::path::{Path, PathBuf};
use std::sync::LazyLock;
use tempfile::TempDir;

/// Photographs of the delivery.
pub const PHOTOGRAPHS: usize = 120;

static DELIVERY: LazyLock<TempDir> = LazyLock::new(|| {
    let folder = tempfile::tempdir().expect("a folder");
    let cores = std::thread::available_parallelism().map_or(2, |n| n.get());
    let write = |number| {
        let bytes = if number == 77 { b"no picture".to_vec() } else { photograph(number) };
        std::fs::write(folder.path().join(name(number)), bytes).expect("a photograph");
        Ok(())
    };
    seamstep::trial::each::each(PHOTOGRAPHS, cores, |_| (), write).expect("a delivery");
    folder
});

/// The folder.
pub fn folder() -> &'static Path {
    DELIVERY.path()
}

/// The photographs, in the order of their names.
pub fn files() -> Vec<PathBuf> {
    (0..PHOTOGRAPHS).map(|number| folder().join(name(number))).collect()
}

/// Millimetres of cloth to a pixel.
const MM_PER_PX: f64 = 0.4;

/// What is said of all of them: the names' pattern, the stand's scale, and how the seams run.
pub const ASKED: [&str; 5] = ["--named", "{piece}_{place}_{by}", "--length", "0,0,100,0,40", "--along=down"];

fn name(number: usize) -> String {
    let place = ["centre-back", "zip"][number % 2];
    format!("P{}_{place}_{}.jpg", number / 2 + 1, ["Alma", "Bo", "Cleo"][number / 2 % 3])
}

fn photograph(number: usize) -> Vec<u8> {
    let mut dice = ChaCha8Rng::seed_from_u64(4100 + number as u64);
    let mut within = |low: f64, high: f64| low + (high - low) * dice.random::<f64>();
    let band = |width_mm: f64, colour: [u8; 3]| Band { width_mm, colour };
    let (ground, line) = ([206, 193, 168], [58, 70, 104]);
    // Every eleventh shows no lines.
    let weft = if number % 11 == 7 { vec![band(0.4, ground)] } else { vec![band(4.4, ground), band(2.0, line)] };
    let cloth = Cloth { weave: Weave::Printed, thread_mm: 0.4, weft, warp: vec![band(0.4, ground)], texture: 0.6 };
    // Most lie well within tolerance; every ninth is far out.
    let jump_mm = if number % 9 == 4 { 2.3 } else { within(-0.7, 0.7) };
    let seam = SeamScene { offset: OffsetProfile::constant(jump_mm), ..SeamScene::new(cloth) };
    render(&Scene { seam, camera: Camera::new(130, 190, MM_PER_PX), seed: number as u64 }).expect("a photograph").jpeg
}
