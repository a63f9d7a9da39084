//! `seamstep cloth`: the flat cloth before it is cut.

use super::arguments::Along;
use super::{apart, speak};
use crate::cloth::{self, ClothRequest, FlatCloth};
use crate::conventions::Runs;
use crate::photo::{self, Limits, Photo};
use crate::problem::{Problem, Refusal};
use crate::record::Standing;
use crate::report;
use crate::scale::ScaleRequest;
use crate::settings::Settings;
use crate::units::PxPoint;
use crate::written::Units;
use crate::written::{self, Length, Rectangle};
use clap::Args;
use std::path::{Path, PathBuf};

/// Measure the flat cloth before you cut it
///
/// Photograph the cloth flat, from straight above, filling the picture, with
/// the scale card on it. Tells the repeat along the warp and across, one
/// repeat band by band, whether the pattern is the same upside down and
/// mirrored, which line to put on the notches, skew and bow of the lines
/// across (read off this patch, not over the whole width), and how much more
/// cloth matching takes.
///
/// Exit status: 0 measured, 3 measured but not all of it (no scale, or less
/// than a repeat of some lines), 4 the photograph cannot be judged, 2 usage
/// or reading trouble.
#[derive(Args)]
#[command(verbatim_doc_comment)]
pub struct Cloth {
    /// The photograph: JPEG, PNG, WebP, TIFF or HEIC; - reads standard input
    pub photo: PathBuf,

    #[command(flatten)]
    pub marks: Marks,

    /// How the warp, and with it the selvedge, runs in the picture
    #[arg(long, default_value = "down")]
    pub warp: Along,

    /// Two points of the selvedge, in pixels: skew is told against it, else
    /// against the lines that run along the warp
    #[arg(long, value_name = "X,Y X,Y", value_parser = two_points, allow_hyphen_values = true, verbatim_doc_comment)]
    pub selvedge: Option<Pair>,

    /// Look at this part of the picture only: two opposite corners, in pixels
    #[arg(long, value_name = "X,Y X,Y", value_parser = two_points, allow_hyphen_values = true)]
    pub patch: Option<Pair>,

    /// Lengths of the pieces along the warp, seam allowances counted in:
    /// millimetres, or inches as 24in; 540x2 is two of them
    #[arg(long, value_name = "LENGTH,…", value_delimiter = ',', value_parser = written::pieces, allow_hyphen_values = true, verbatim_doc_comment)]
    pub pieces: Vec<(f64, usize)>,

    /// Tell lengths in millimetres, or in inches and sixteenths; else as
    /// seamstep.toml says, from the photograph's folder upward
    #[arg(long, verbatim_doc_comment)]
    pub units: Option<Units>,

    /// Print one JSON object instead of text
    #[arg(long)]
    pub json: bool,

    /// Write everything on one page, into this .html file
    #[arg(long, value_name = "FILE.html")]
    pub report: Option<PathBuf>,
}

/// Where the scale comes from; without any of these a card is looked for. The cloth's own repeat is what is measured.
#[derive(Args)]
#[group(multiple = false)]
pub struct Marks {
    /// The printed scale card must be in the picture
    #[arg(long)]
    pub card: bool,

    /// A thing of known size: corners clockwise from top left, size in mm
    #[arg(long, value_name = "X1,Y1,…,X4,Y4,WxH", value_parser = written::rectangle, allow_hyphen_values = true)]
    pub rectangle: Option<Rectangle>,

    /// Two points a known length apart, for example on a tape
    #[arg(long, value_name = "X1,Y1,X2,Y2,MM", value_parser = written::length, allow_hyphen_values = true)]
    pub length: Option<Length>,
}

/// Two points, kept together so that one argument is one value.
#[derive(Clone, Copy, Debug)]
pub struct Pair([PxPoint; 2]);

fn two_points(text: &str) -> Result<Pair, String> {
    written::two_points(text).map(Pair)
}

/// Measures the cloth; the exit status says how complete the answer is.
pub fn run(asked: &Cloth) -> Result<u8, Problem> {
    if let Some(file) = &asked.report {
        apart::page(file)?;
    }
    let photograph = [("the photograph", asked.photo.as_path())];
    apart::keep(photograph.into_iter(), &[("--report", asked.report.as_deref())])?;
    let request = request(asked)?;
    let read = photo::read(&asked.photo, &Limits::default());
    match read.and_then(|photo| Ok((cloth::measure(&photo, &request)?, photo))) {
        Ok((flat, photo)) => answered(asked, &photo, &flat),
        Err(Problem::Refused(refusal)) => refused(asked, &refusal),
        Err(problem) => Err(problem),
    }
}

fn request(asked: &Cloth) -> Result<ClothRequest, Problem> {
    let folder = asked.photo.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let unit = match asked.units {
        Some(units) => units.into(),
        None => Settings::find(None, folder)?.unit.unwrap_or_default(),
    };
    let marks = &asked.marks;
    let scale = if let Some(r) = marks.rectangle {
        ScaleRequest::Rectangle { corners_px: r.corners_px, width_mm: r.width_mm, height_mm: r.height_mm }
    } else if let Some(l) = marks.length {
        ScaleRequest::Length { ends_px: l.ends_px, length_mm: l.length_mm }
    } else if marks.card {
        ScaleRequest::Card
    } else {
        ScaleRequest::Auto
    };
    // One more than may be: a number of pieces that nobody cuts is refused, not laid out in memory.
    let most = cloth::cutting::MOST_PIECES + 1;
    let pieces = asked.pieces.iter().flat_map(|&(length_mm, count)| std::iter::repeat_n(length_mm, count.min(most)));
    Ok(ClothRequest {
        scale,
        warp: Runs::from(asked.warp),
        selvedge_px: asked.selvedge.map(|pair| pair.0),
        patch_px: asked.patch.map(|pair| pair.0),
        pieces_mm: pieces.take(most).collect(),
        unit,
    })
}

fn answered(asked: &Cloth, photo: &Photo, flat: &FlatCloth) -> Result<u8, Problem> {
    if let Some(file) = &asked.report {
        apart::write(file, report::cloth::html::page(photo, flat)?.as_bytes())?;
    }
    speak::result(&match asked.json {
        true => format!("{:#}\n", report::cloth::json::cloth(flat)),
        false => report::cloth::text::cloth(flat),
    })?;
    let standing = if flat.is_complete() { Standing::Matched } else { Standing::Unsure };
    Ok(standing.exit_status())
}

fn refused(asked: &Cloth, refusal: &Refusal) -> Result<u8, Problem> {
    let name = asked.photo.display().to_string();
    if let Some(file) = &asked.report {
        apart::write(file, report::html::refusal(&name, refusal).as_bytes())?;
    }
    speak::result(&match asked.json {
        true => format!("{:#}\n", report::cloth::json::refusal(&name, refusal)),
        false => report::text::refusal(&name, refusal),
    })?;
    Ok(Standing::Refused.exit_status())
}
