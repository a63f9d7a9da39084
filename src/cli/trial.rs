//! `seamstep trial`: how well would seams like these be measured?

use super::speak;
use crate::problem::Problem;
use crate::render::{Cloth, Srgb};
use crate::report;
use crate::trial::cloth_file::{self, Lines, USUAL_REPEAT_MM};
use crate::trial::{self, Conditions, Lighting, TrialRequest, USUAL_MM_PER_PX, USUAL_SEAMS};
use crate::verdict::{Demand, Place};
use clap::Args;
use std::path::{Path, PathBuf};

/// Try how well seams like yours would be measured, before you photograph
///
/// Renders seams of known offset in cloth like yours, photographs each at
/// every distance, measures each photograph as check would, and tells how
/// wrong and how sure that was, the smallest jump told from none, how many
/// photographs were refused, and how close to photograph.
#[derive(Args)]
#[command(verbatim_doc_comment)]
pub struct Trial {
    #[arg(long, value_name = "MM", help = repeat_help(), allow_hyphen_values = true)]
    pub repeat: Option<f64>,

    /// Widths of the lines in one repeat [default: a quarter of it]
    #[arg(long, value_name = "MM,…", value_delimiter = ',', allow_hyphen_values = true)]
    pub line: Vec<f64>,

    /// Colours: the ground, then the lines in turn
    #[arg(long, value_name = "#RRGGBB,…", value_delimiter = ',', value_parser = colour)]
    pub colours: Vec<Srgb3>,

    /// The same lines run along the seam too
    #[arg(long)]
    pub checked: bool,

    /// Any cloth, described in JSON: weave (plain, twill, printed),
    /// thread_mm, and weft and warp, each one repeat of bands
    /// {"width_mm": 15, "colour": "#cec1a8"}; the weft is what is met along
    /// the seam; warp, and texture (0 to 2), may be left out
    #[arg(long, value_name = "FILE.json", conflicts_with_all = ["repeat", "line", "colours", "checked"], verbatim_doc_comment)]
    pub cloth: Option<PathBuf>,

    /// Distances, in mm of cloth to a pixel: a 12-megapixel phone held 30 cm
    /// above the cloth sees 0.1
    #[arg(long, value_name = "X,…", value_delimiter = ',', default_values_t = USUAL_MM_PER_PX, allow_hyphen_values = true, verbatim_doc_comment)]
    pub mm_per_px: Vec<f64>,

    /// Length of seam in the picture, millimetres
    #[arg(long, value_name = "MM", default_value_t = Conditions::default().seam_mm, allow_hyphen_values = true)]
    pub length: f64,

    /// How far the camera is tilted, degrees; which way is chance
    #[arg(long, value_name = "DEG", default_value_t = tilt_deg(), allow_hyphen_values = true)]
    pub tilt: f64,

    /// The light
    #[arg(long, default_value = Conditions::default().light.word())]
    pub light: Lighting,

    /// Pins across the seam
    #[arg(long, value_name = "N", default_value_t = Conditions::default().pins)]
    pub pins: usize,

    /// How far drape bends the lines beside the seam, millimetres
    #[arg(long, value_name = "MM", default_value_t = Conditions::default().drape_mm, allow_hyphen_values = true)]
    pub drape: f64,

    /// How far the jump wanders about its mean along the seam, millimetres
    #[arg(long, value_name = "MM", default_value_t = Conditions::default().wander_mm, allow_hyphen_values = true)]
    pub wander: f64,

    /// Blur beside the lens's own (standard deviation), pixels
    #[arg(long, value_name = "PX", default_value_t = Conditions::default().blur_px, allow_hyphen_values = true)]
    pub blur: f64,

    /// Give each seam's place as a hand would draw it; else it is looked for
    #[arg(long)]
    pub seam_drawn: bool,

    /// Where on the garment the seam is: decides the tolerance unless given
    #[arg(long)]
    pub place: Option<Place>,

    /// The largest jump you accept, millimetres
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    pub tolerance: Option<f64>,

    /// Seams to try; each is photographed at every distance
    #[arg(long, value_name = "N", default_value_t = USUAL_SEAMS)]
    pub seams: usize,

    /// The same seed gives the same seams and photographs
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,

    /// Photographs worked on at the same time [default: one a core]
    #[arg(long, value_name = "N")]
    pub threads: Option<usize>,

    /// Print one JSON object instead of text
    #[arg(long)]
    pub json: bool,

    /// Draw errors.svg and distances.svg into this folder
    #[arg(long, value_name = "FOLDER")]
    pub charts: Option<PathBuf>,
}

fn repeat_help() -> String {
    format!("The cloth's repeat along the seam, millimetres [default: {USUAL_REPEAT_MM}]")
}

fn tilt_deg() -> f64 {
    // The default is kept in radians: whole degrees come back a rounding error away.
    Conditions::default().tilt_rad.to_degrees().round()
}

/// A colour, kept together so that one argument is one value.
#[derive(Clone, Copy, Debug)]
pub struct Srgb3(Srgb);

fn colour(text: &str) -> Result<Srgb3, String> {
    cloth_file::colour(text).map(Srgb3)
}

/// Largest description of a cloth that is read, bytes.
const MOST_BYTES: u64 = 1 << 20;

/// Runs the trial; exit status 0.
pub fn run(asked: &Trial) -> Result<u8, Problem> {
    let request = request(asked)?;
    request.check()?;
    if let Some(folder) = &asked.charts {
        std::fs::create_dir_all(folder).map_err(|e| {
            Problem::io(
                format!("cannot make the folder {}: {e}", folder.display()),
                "give another folder with --charts",
            )
        })?;
    }
    let bar = speak::progress(request.seams * request.mm_per_px.len());
    let tried = trial::run(&request, |done| bar.set_position(done as u64));
    bar.finish_and_clear();
    let tried = tried?;
    if let Some(folder) = &asked.charts {
        draw(folder, &tried)?;
    }
    speak::result(&if asked.json {
        format!("{:#}\n", report::trial::json::trial(&tried))
    } else {
        report::trial::text::trial(&tried)
    })?;
    Ok(0)
}

fn request(asked: &Trial) -> Result<TrialRequest, Problem> {
    let usual = TrialRequest::new(cloth(asked)?);
    Ok(TrialRequest {
        conditions: Conditions {
            seam_mm: asked.length,
            tilt_rad: asked.tilt.to_radians(),
            light: asked.light,
            pins: asked.pins,
            drape_mm: asked.drape,
            wander_mm: asked.wander,
            blur_px: asked.blur,
            ..usual.conditions
        },
        mm_per_px: asked.mm_per_px.clone(),
        seams: asked.seams,
        seed: asked.seed,
        seam_drawn: asked.seam_drawn,
        demand: Demand { place: asked.place, tolerance_mm: asked.tolerance, ..Demand::default() },
        threads: asked.threads.unwrap_or(usual.threads),
        ..usual
    })
}

fn cloth(asked: &Trial) -> Result<Cloth, Problem> {
    let Some(file) = &asked.cloth else {
        return Lines {
            repeat_mm: asked.repeat,
            widths_mm: asked.line.clone(),
            colours: asked.colours.iter().map(|colour| colour.0).collect(),
            checked: asked.checked,
        }
        .cloth();
    };
    let name = file.display().to_string();
    let trouble = |what: String| {
        Problem::io(format!("--cloth: cannot read {name}: {what}"), "give a file that describes a cloth in JSON")
    };
    let facts = std::fs::metadata(file).map_err(|e| trouble(e.to_string()))?;
    if !facts.is_file() || facts.len() > MOST_BYTES {
        return Err(trouble("it is no file, or larger than a megabyte".into()));
    }
    let text = std::fs::read_to_string(file).map_err(|e| trouble(e.to_string()))?;
    cloth_file::read(&text, &name)
}

fn draw(folder: &Path, tried: &trial::Trial) -> Result<(), Problem> {
    let over: Vec<_> = tried.distances.iter().map(|d| (d.mm_per_px, &d.figures)).collect();
    let tolerance_mm = Some(tried.closeness.tolerance_mm);
    let charts = [
        ("errors.svg", report::trial::chart::errors_svg(tried)?),
        ("distances.svg", report::trial::chart::figures_svg("mm to a pixel", &over, tolerance_mm)?),
    ];
    for (name, svg) in charts {
        let file = folder.join(name);
        report::write_whole(&file, svg.as_bytes())?;
        speak::talk(&format!("Wrote {}.\n", file.display()))?;
    }
    Ok(())
}
