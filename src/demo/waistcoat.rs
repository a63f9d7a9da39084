//! Two rendered waistcoats: one made at home in a moss check, basted, and one bought, in another check, finished. Five
//! seams of each are photographed, a scale card beside each.

use crate::compare::{self, Given};
use crate::conventions::Runs;
use crate::digits::Unit;
use crate::garment;
use crate::problem::Problem;
use crate::remedy::Stage;
use crate::render::{
    Band, Basting, Camera, Card, CardFace, Cloth, Crease, Light, OffsetProfile, Pin, Rendered, Scene, SeamScene, Slip,
    Srgb, Wander, Weave, render,
};
use crate::report;
use crate::verdict::Place;
use std::path::{Path, PathBuf};

/// A waistcoat.
#[derive(Clone, Debug)]
pub struct Waistcoat {
    /// Its name.
    pub name: &'static str,
    /// The name of its files' folder, and of its garment file.
    pub folder: &'static str,
    /// How far the work has gone.
    pub stage: Stage,
    /// The cloth in words.
    pub cloth: &'static str,
    /// Its seams.
    pub seams: Vec<Sewn>,
}

/// One seam of it.
#[derive(Clone, Debug)]
pub struct Sewn {
    /// What it is called on the sheet.
    pub name: &'static str,
    /// The name of its photograph, without an ending.
    pub file: &'static str,
    /// Where it is.
    pub place: Place,
    /// Whether the garment file says where the seam is: a well matched seam leaves no plain trace.
    pub marked: bool,
    scene: Scene,
}

impl Sewn {
    /// The photograph, with its truth.
    ///
    /// # Errors
    /// As [`render`]; the scenes are fixed, so none is expected.
    pub fn photograph(&self) -> Result<Rendered, Problem> {
        render(&self.scene)
    }
}

/// Renders both waistcoats into `folder`: a garment file each, its sheet as a page, a folder of its name with the photographs,
/// and both side by side on a page. Returns what a person should read.
///
/// # Errors
/// [`Problem::Io`] when a folder cannot be made or written to.
pub fn run(folder: &Path) -> Result<String, Problem> {
    for piece in [handmade(), bought()] {
        let photographs = folder.join(piece.folder);
        std::fs::create_dir_all(&photographs).map_err(|e| {
            Problem::io(
                format!("cannot make the folder {}: {e}", photographs.display()),
                "give another folder with --folder",
            )
        })?;
        let rendered = piece.seams.iter().map(Sewn::photograph).collect::<Result<Vec<_>, _>>()?;
        for (sewn, rendered) in piece.seams.iter().zip(&rendered) {
            report::write_whole(&photographs.join(format!("{}.jpg", sewn.file)), &rendered.jpeg)?;
        }
        let file = folder.join(format!("{}.toml", piece.folder));
        report::write_whole(&file, piece.toml(&rendered).as_bytes())?;
    }
    judge(&[bought().folder, handmade().folder].map(|name| folder.join(format!("{name}.toml"))), folder)?;
    let shown = folder.display();
    Ok(format!(
        "Two waistcoats of five seams each are in {shown}:\n\
         handmade.toml and bought.toml, their photographs and sheets (.html) beside them,\n\
         and both side by side in compared.html. Judge them:\n\n  \
         seamstep garment {shown}/handmade.toml\n  \
         seamstep compare {shown}/bought.toml {shown}/handmade.toml\n"
    ))
}

/// Judges the garment files' pieces, each photograph once; writes each one's sheet beside its file and both side by side into
/// `folder`.
fn judge(files: &[PathBuf], folder: &Path) -> Result<(), Problem> {
    let (mut pieces, mut all_strips) = (Vec::new(), Vec::new());
    for file in files {
        let (mut pictures, mut strips) = (Vec::new(), Vec::new());
        let sheet = garment::judge(garment::read(file)?, &mut |_, answer| {
            pictures.push(report::garment::html::picture(answer)?);
            strips.push(report::compare::strips::of(answer));
            Ok(())
        })?;
        let page = report::garment::html::page(&sheet, &pictures)?;
        report::write_whole(&file.with_extension("html"), page.as_bytes())?;
        pieces.push(Given::of_sheet(sheet));
        all_strips.push(strips);
    }
    let page = report::compare::html::page(&compare::compare(pieces)?, &all_strips, Unit::default())?;
    report::write_whole(&folder.join("compared.html"), page.as_bytes())
}

impl Waistcoat {
    /// The garment file, as a person would write it; `rendered` are the photographs of [`Self::seams`], in their order.
    pub fn toml(&self, rendered: &[Rendered]) -> String {
        let mut text =
            format!("name = \"{}\"\nstage = \"{}\"\ncloth = \"{}\"\n", self.name, self.stage.word(), self.cloth);
        for (sewn, rendered) in self.seams.iter().zip(rendered) {
            let Sewn { name, file, place, marked, .. } = sewn;
            let (folder, place) = (self.folder, place.word());
            text += &format!("\n[[seam]]\nname = \"{name}\"\nplace = \"{place}\"\nphoto = \"{folder}/{file}.jpg\"\n");
            if *marked {
                let points = &rendered.truth.seam_px;
                let [first, middle, last] = [0, points.len() / 2, points.len() - 1].map(|k| points[k]);
                let points =
                    [first, middle, last].map(|p| format!("{},{}", p.x.round() as i64, p.y.round() as i64)).join(" ");
                text += &format!("seam = \"{points}\"\n");
            }
        }
        text
    }
}

const MOSS: Srgb = [104, 114, 84];
const CHALK: Srgb = [226, 221, 204];
const PLUM: Srgb = [112, 58, 82];
const HONEY: Srgb = [190, 140, 62];
const SLATE: Srgb = [92, 104, 122];
const MILK: Srgb = [218, 216, 210];
const BRICK: Srgb = [148, 66, 52];

/// The waistcoat that was made at home: the centre back and the left side meet, a pin let go at the right side, the pocket
/// was set on too low, the centre front wanders.
pub fn handmade() -> Waistcoat {
    let cloth = check(0.4, &[(24, MOSS), (3, CHALK), (9, MOSS), (12, PLUM), (9, MOSS), (3, HONEY), (10, MOSS)]);
    let seam = |sewn: Offset, seed: u64| {
        let scene = SeamScene {
            basting: Some(Basting { colour: [232, 226, 210], stitch_mm: 7.0, gap_mm: 5.0, aside_mm: 0.6 }),
            pins: vec![Pin {
                at_mm: 58.0,
                turn_rad: -0.1,
                head: [206, 60, 70],
                head_on_second: seed.is_multiple_of(2),
            }],
            drape_mm: 0.3,
            ..seam(cloth.clone(), &sewn)
        };
        photographed(scene, seed)
    };
    let offset = |constant_mm: f64| OffsetProfile { constant_mm, ..OffsetProfile::default() };
    let (down, across) = (Runs::Down, Runs::Across);
    let slip = Slip { at_mm: 12.0, amount_mm: 4.6, half_width_mm: 30.0 };
    let wander = Wander { amplitude_mm: 0.5, wavelength_mm: 90.0, phase_rad: 0.0 };
    Waistcoat {
        name: "Handmade waistcoat",
        folder: "handmade",
        stage: Stage::Basted,
        cloth: "moss wool in a plum and honey check",
        seams: vec![
            sewn("Centre back", "centre-back", Place::CentreBack, seam(Offset::new(down, offset(0.3)), 31)),
            sewn("Left side", "left-side", Place::SideSeam, seam(Offset::new(down, offset(-0.8)), 32)),
            sewn(
                "Right side",
                "right-side",
                Place::SideSeam,
                seam(Offset::new(down, OffsetProfile { slips: vec![slip], ..offset(0.4) }), 33),
            ),
            sewn("Welt pocket", "pocket", Place::Pocket, seam(Offset::new(across, offset(2.4)), 34)),
            sewn(
                "Centre front",
                "centre-front",
                Place::CentreFront,
                seam(Offset::new(down, OffsetProfile { wander: Some(wander), ..offset(-0.2) }), 35),
            ),
        ],
    }
}

/// The waistcoat that was bought: cut without a thought for the check.
pub fn bought() -> Waistcoat {
    let cloth = check(0.4, &[(22, SLATE), (4, MILK), (16, SLATE), (8, BRICK), (12, SLATE), (4, MILK)]);
    let seam = |sewn: Offset, seed: u64| photographed(seam(cloth.clone(), &sewn), seed);
    let offset = |constant_mm: f64, drift_mm_per_100_mm: f64| OffsetProfile {
        constant_mm,
        drift_mm_per_100_mm,
        ..OffsetProfile::default()
    };
    let (down, across) = (Runs::Down, Runs::Across);
    Waistcoat {
        name: "Bought waistcoat",
        folder: "bought",
        stage: Stage::Finished,
        cloth: "slate cotton in a milk and brick check",
        seams: vec![
            sewn("Centre back", "centre-back", Place::CentreBack, seam(Offset::new(down, offset(2.6, 0.0)), 41)),
            sewn("Left side", "left-side", Place::SideSeam, seam(Offset::new(down, offset(5.4, 1.2)), 42)),
            sewn("Right side", "right-side", Place::SideSeam, seam(Offset::new(down, offset(-3.9, -0.8)), 43)),
            sewn("Welt pocket", "pocket", Place::Pocket, seam(Offset::new(across, offset(7.2, 0.0)), 44)),
            sewn("Centre front", "centre-front", Place::CentreFront, seam(Offset::new(down, offset(0.7, 0.0)), 45)),
        ],
    }
}

/// How a seam runs in the picture, and how far its lines jump.
struct Offset {
    runs: Runs,
    profile: OffsetProfile,
}

impl Offset {
    fn new(runs: Runs, profile: OffsetProfile) -> Self {
        Self { runs, profile }
    }
}

fn sewn(name: &'static str, file: &'static str, place: Place, scene: Scene) -> Sewn {
    Sewn { name, file, place, marked: place == Place::CentreFront, scene }
}

/// A check in 2/2 twill, the same both ways; the threads are counted.
fn check(thread_mm: f64, threads: &[(u32, Srgb)]) -> Cloth {
    let bands: Vec<Band> =
        threads.iter().map(|&(count, colour)| Band { width_mm: f64::from(count) * thread_mm, colour }).collect();
    Cloth { weave: Weave::Twill, thread_mm, weft: bands.clone(), warp: bands, texture: 1.0 }
}

fn seam(cloth: Cloth, sewn: &Offset) -> SeamScene {
    SeamScene {
        runs: sewn.runs,
        offset: sewn.profile.clone(),
        crease: Crease { depth: 0.6, width_mm: 0.32 },
        cards: vec![Card { face: CardFace::Scale { side_mm: 30.0 }, u_mm: -18.0, v_mm: 32.0, turn_rad: 0.08 }],
        ..SeamScene::new(cloth)
    }
}

/// The scene under a camera that a hand holds: chance decides how far it tilts, and where the light comes from.
fn photographed(mut seam: SeamScene, seed: u64) -> Scene {
    // Fractions of the golden ratio are spread evenly, and are the same on every machine.
    let share = |k: f64| (seed as f64 * 0.618_033_988_75 + k * 0.414_213_562_37).fract();
    seam.lean_rad = 0.06 * (share(1.0) - 0.5);
    seam.bow_mm = 1.6 * (share(2.0) - 0.5);
    let camera = Camera {
        tilt_rad: 0.05 + 0.12 * share(3.0),
        tilt_towards_rad: std::f64::consts::TAU * share(4.0),
        light: Light {
            unevenness: 0.1 + 0.1 * share(5.0),
            darker_towards_rad: std::f64::consts::TAU * share(6.0),
            ..Light::even()
        },
        jpeg_quality: 80,
        ..Camera::new(840, 1120, 0.14)
    };
    Scene { seam, camera, seed }
}
