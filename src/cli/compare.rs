//! `seamstep compare`: pieces side by side.

use super::arguments::Judged;
use super::{apart, speak};
use crate::ask::Answer;
use crate::compare::{self, Given, MOST_PIECES};
use crate::digits::Unit;
use crate::garment::{self, Garment};
use crate::inspect::Question;
use crate::problem::Problem;
use crate::report::compare as faces;
use crate::report::{self, compare::html::Strips};
use clap::Args;
use image::RgbImage;
use std::path::{Path, PathBuf};

/// Set two or more pieces side by side: which one is matched better?
///
/// A piece is a garment file (.toml, see garment) or one photograph. Place by
/// place and over all seams: how far the lines jump, how much of the seam is
/// within tolerance, from how far it is seen, and whether the pieces differ by
/// more than the measurement. --place, --tolerance and --stage are for
/// photographs; a garment file says its own.
///
/// Exit status, that of the worst seam of all pieces: 0 matched, 1 off, 3
/// unsure, 4 not to be judged, 2 usage or reading trouble. Of several, the
/// first of 2, 1, 4, 3, 0 is the worst.
#[derive(Args)]
#[command(verbatim_doc_comment)]
pub struct Compare {
    /// Garment files or photographs, two to six
    #[arg(required = true, num_args = 2..=MOST_PIECES, value_name = "PIECE")]
    pub pieces: Vec<PathBuf>,

    /// What the pieces are called, in their order [default: what the garment
    /// file says, or the photograph's name]
    #[arg(long, value_name = "NAME,…", value_delimiter = ',', verbatim_doc_comment)]
    pub names: Vec<String>,

    #[command(flatten)]
    pub judged: Judged,

    /// Print one JSON object instead of text
    #[arg(long)]
    pub json: bool,

    /// Draw the seams of each place side by side at one scale, into a .png or
    /// .jpg
    #[arg(long, value_name = "FILE", verbatim_doc_comment)]
    pub picture: Option<PathBuf>,

    /// Write everything on one page, into this .html file
    #[arg(long, value_name = "FILE.html")]
    pub report: Option<PathBuf>,
}

/// Compares the pieces; the exit status is that of the worst seam.
pub fn run(asked: &Compare) -> Result<u8, Problem> {
    if !asked.names.is_empty() && asked.names.len() != asked.pieces.len() {
        return Err(Problem::usage(
            format!("--names: {} names for {} pieces", asked.names.len(), asked.pieces.len()),
            "give one name for each piece, in their order",
        ));
    }
    if let Some(file) = &asked.picture {
        report::picture_format(file)?;
    }
    if let Some(page) = &asked.report {
        apart::page(page)?;
    }
    let read = asked.pieces.iter().map(|file| ("a piece", file.as_path()));
    apart::keep(read, &[("--picture", asked.picture.as_deref()), ("--report", asked.report.as_deref())])?;
    // What cannot be asked at all is said before anything is measured.
    let sources = asked.pieces.iter().map(|file| Source::of(asked, file)).collect::<Result<Vec<_>, _>>()?;
    let (mut pieces, mut pictures) = (Vec::new(), Strips::new());
    for (file, source) in asked.pieces.iter().zip(sources) {
        speak::talk(&format!("Measuring {} …\n", file.display()))?;
        let (given, strips) = measured(asked, source)?;
        pieces.push(given);
        pictures.push(strips);
    }
    pieces.iter_mut().zip(&asked.names).for_each(|(piece, name)| name.clone_into(&mut piece.name));
    told_apart(&mut pieces);
    let unit = asked.judged.units.map_or(Unit::default(), Into::into);
    let compared = compare::compare(pieces)?;
    if let Some(file) = &asked.picture {
        let parts: Vec<_> = (compared.places.iter())
            .filter_map(|place| {
                Some((place.joint.name.clone(), faces::html::picture(&compared, place, &pictures, unit)?))
            })
            .collect();
        match parts.is_empty() {
            true => speak::talk(&format!("No picture was written to {}: there is nothing to draw.\n", file.display()))?,
            false => apart::write(file, &report::encode_picture(&faces::strips::stacked(&parts), file)?)?,
        }
    }
    if let Some(file) = &asked.report {
        apart::write(file, faces::html::page(&compared, &pictures, unit)?.as_bytes())?;
    }
    speak::result(&match asked.json {
        true => format!("{:#}\n", faces::json::comparison(&compared)),
        false => faces::text::comparison(&compared, unit),
    })?;
    Ok(compared.standing().exit_status())
}

/// What a piece is measured from.
enum Source {
    Garment(Garment),
    Photograph(PathBuf, Box<Question>),
}

impl Source {
    fn of(asked: &Compare, file: &Path) -> Result<Self, Problem> {
        if file.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml")) {
            return garment::read(file).map(Source::Garment);
        }
        let question = asked.judged.ask().question(file)?;
        Ok(Source::Photograph(file.to_owned(), Box::new(question)))
    }
}

/// Measures one piece, and cuts the strips of its seams where they are asked for.
fn measured(asked: &Compare, source: Source) -> Result<(Given, Vec<Option<RgbImage>>), Problem> {
    let mut strips = Vec::new();
    let drawn = asked.picture.is_some() || asked.report.is_some();
    let mut seen = |answer: &Result<Answer, Problem>| {
        strips.push(if drawn { faces::strips::of(answer) } else { None });
    };
    let given = match source {
        Source::Garment(garment) => Given::of_garment(garment, &mut seen)?,
        Source::Photograph(file, question) => Given::of_photograph(&file, &question, &mut seen),
    };
    Ok((given, strips))
}

/// Pieces of one name are numbered.
fn told_apart(pieces: &mut [Given]) {
    for k in 0..pieces.len() {
        let name = pieces[k].name.clone();
        let before = pieces[..k].iter().filter(|piece| piece.name == name).count();
        if before > 0 {
            pieces[k].name = format!("{name} ({})", before + 1);
        }
    }
}
