//! The offset against reference libraries, run live on the same stripes where they are installed, else against what they
//! said last.
//!
//! `SEAMSTEP_PYTHON` names the interpreter, python3 otherwise; `tests/libraries/shifts.py` runs the libraries and tells how to
//! store their answers anew.

#[path = "outside/stripes.rs"]
#[expect(dead_code, reason = "sides with noise of their own are not compared here")]
mod stripes;

use seamstep::conventions::wrap;
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use stripes::{Chance, STEP_MM, Stripes, clean, estimate};

struct Pair {
    name: &'static str,
    stripes: Stripes,
    samples: usize,
    true_px: f64,
    /// Noise of each side, grey levels.
    sigma: f64,
    /// How near to the libraries the fit comes without noise, pixels.
    near_px: f64,
    first: Vec<f64>,
    second: Vec<f64>,
}

impl Pair {
    fn new(name: &'static str, stripes: Stripes, samples: usize, true_px: f64, sigma: f64, near_px: f64) -> Self {
        let mut chance = Chance::new(31);
        let mut side = |displaced_px: f64| -> Vec<f64> {
            stripes.profile(samples, displaced_px).iter().map(|grey| grey + sigma * chance.normal()).collect()
        };
        let (first, second) = (side(0.0), side(true_px));
        Self { name, stripes, samples, true_px, sigma, near_px, first, second }
    }
}

fn pairs() -> Vec<Pair> {
    let sine = || Stripes { repeat_px: 32.0, amplitudes: &[50.0], phases_rad: &[0.3] };
    let three = || Stripes { repeat_px: 40.0, amplitudes: &[60.0, 20.0, 12.0], phases_rad: &[0.0, 1.1, -0.7] };
    let square = || Stripes { repeat_px: 24.0, amplitudes: &[63.66, 0.0, -21.22, 0.0, 12.73], phases_rad: &[0.0; 5] };
    let broken = || Stripes { repeat_px: 37.5, amplitudes: &[45.0, 15.0], phases_rad: &[0.2, -1.0] };
    vec![
        Pair::new("sine", sine(), 256, 2.37, 0.0, 0.005),
        Pair::new("three harmonics", three(), 400, 3.21, 0.0, 0.005),
        // Its fifth harmonic is five samples long, and the fit interpolates between samples.
        Pair::new("square", square(), 288, -1.75, 0.0, 0.025),
        Pair::new("broken repeat", broken(), 300, -4.4, 0.0, 0.01),
        Pair::new("noisy three harmonics", three(), 400, 3.21, 8.0, 0.005),
        Pair::new("noisy square", square(), 288, -1.75, 5.0, 0.025),
        Pair::new("noisy broken repeat", broken(), 300, -4.4, 10.0, 0.01),
    ]
}

/// What the libraries say.
#[derive(serde::Deserialize)]
struct Said {
    versions: HashMap<String, String>,
    upsample: f64,
    displacement: HashMap<String, HashMap<String, f64>>,
}

/// The libraries' answers on these pairs: live where the interpreter has them, else as stored.
fn said(pairs: &[Pair]) -> Said {
    let list: Vec<_> = pairs
        .iter()
        .map(|pair| serde_json::json!({ "name": pair.name, "first": pair.first, "second": pair.second }))
        .collect();
    let file: PathBuf = Path::new(env!("CARGO_TARGET_TMPDIR")).join("stripes.json");
    std::fs::write(&file, serde_json::to_vec(&list).expect("stripes")).expect("the target folder");
    let python = std::env::var("SEAMSTEP_PYTHON").unwrap_or_else(|_| "python3".into());
    let quiet = |command: &mut Command| {
        command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).status().is_ok_and(|s| s.success())
    };
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/libraries");
    if !quiet(Command::new(&python).args(["-c", "import numpy, skimage.registration"])) {
        let stored = std::fs::read(folder.join("stored.json")).expect("stored answers");
        return serde_json::from_slice(&stored).expect("stored answers");
    }
    let live = Command::new(&python).arg(folder.join("shifts.py")).arg(&file).stdin(Stdio::null()).output();
    let live = live.expect("an interpreter that ran before");
    assert!(live.status.success(), "{}", String::from_utf8_lossy(&live.stderr));
    serde_json::from_slice(&live.stdout).expect("the script's answers")
}

#[test]
fn the_offset_is_the_libraries() {
    let pairs = pairs();
    let said = said(&pairs);
    for pair in &pairs {
        let mut chance = Chance::new(7);
        let sides = [&pair.first, &pair.second].map(|profile| clean(profile, &mut chance));
        let found = estimate(sides, pair.stripes.repeat_px);
        let bound_px = pair.stripes.bound_px(pair.samples, pair.sigma);
        let repeat_px = pair.stripes.repeat_px;
        let libraries = &said.displacement[pair.name];
        let told = format!(
            "{}: first {:.4}, fit {:.4} ± {:.4} px of {STEP_MM} mm, true {}, bound {bound_px:.4}; {libraries:?} by {:?}",
            pair.name, found.first_px, found.offset_px, found.u_px, pair.true_px, said.versions
        );
        let library_px = libraries["scikit-image"];
        // A pure sinusoid's negative peak is as high as its positive one, and the library takes the highest of either
        // sign: half a repeat off, where the tool must not be.
        let due_px = if pair.name == "sine" { library_px + 0.5 * repeat_px } else { library_px };
        let step_px = 1.0 / said.upsample;
        if pair.sigma == 0.0 {
            assert!(wrap(due_px - pair.true_px, repeat_px).abs() < 1.01 * step_px, "{told}");
        }
        let near_px = pair.near_px + step_px + 1.5 * bound_px;
        assert!(wrap(found.offset_px - due_px, repeat_px).abs() < near_px, "{told}");
        assert!((found.offset_px - pair.true_px).abs() < pair.near_px + 3.0 * bound_px, "{told}");
        assert!((found.first_px - pair.true_px).abs() < 0.1 + 3.0 * bound_px, "{told}");
        // OpenCV takes a centroid around the peak of a whitened correlation: good to half a pixel, and on noisy stripes,
        // whose other bands it whitens too, not to that.
        if let (Some(coarse_px), true) = (libraries.get("OpenCV"), pair.sigma == 0.0) {
            assert!(wrap(found.offset_px - coarse_px, repeat_px).abs() < 0.5, "{told}");
        }
    }
}
