//! `seamstep garment`: a whole piece, one sheet.

use super::{apart, speak};
use crate::garment::{self, example::EXAMPLE};
use crate::problem::Problem;
use crate::report;
use clap::Args;
use std::path::{Path, PathBuf};

/// Judge all seams of one piece and say what to redo in which order
///
/// A garment file (TOML) names the piece, how far the work has gone, and its
/// seams, each with its place and photograph; --new writes one to begin with.
/// One sheet comes of it, the worst first: what is off, what is worth redoing in
/// which order (a seam before the one that covers its ends), and how long all of
/// it takes. A photograph that is missing or cannot be judged is one row.
///
/// Exit status, that of the worst seam: 0 all matched, 1 one is off, 3 one is
/// unsure, 4 one cannot be judged, 2 usage or reading trouble, also with one
/// photograph. Of several, the first of 2, 1, 4, 3, 0 is the worst.
#[derive(Args)]
#[command(verbatim_doc_comment)]
pub struct Garment {
    /// The garment file; with --new, where to write one
    #[arg(value_name = "FILE.toml", required_unless_present = "new")]
    pub file: Option<PathBuf>,

    /// Write a commented garment file to begin with, or print it where
    /// no file is named; one that is there already is left as it is
    #[arg(long, conflicts_with_all = ["json", "report"], verbatim_doc_comment)]
    pub new: bool,

    /// Print one JSON object instead of text
    #[arg(long)]
    pub json: bool,

    /// Write the sheet with a picture and a chart of each seam on one page,
    /// into this .html file
    #[arg(long, value_name = "FILE.html", verbatim_doc_comment)]
    pub report: Option<PathBuf>,
}

/// Judges the piece; the exit status is that of its worst seam.
pub fn run(asked: &Garment) -> Result<u8, Problem> {
    let Some(file) = asked.file.as_deref().filter(|_| !asked.new) else { return begin(asked.file.as_deref()) };
    if let Some(page) = &asked.report {
        apart::page(page)?;
    }
    let piece = garment::read(file)?;
    let photos = piece.seams.iter().map(|seam| ("a photograph", seam.photo.as_path()));
    let read = std::iter::once(("the garment file", file)).chain(photos);
    apart::keep(read, &[("--report", asked.report.as_deref())])?;
    let bar = speak::progress(piece.seams.len());
    let mut pictures = Vec::new();
    let sheet = garment::judge(piece, &mut |k, answer| {
        bar.set_position(k as u64 + 1);
        if asked.report.is_some() {
            pictures.push(report::garment::html::picture(answer)?);
        }
        Ok(())
    });
    bar.finish_and_clear();
    let sheet = sheet?;
    if let Some(page) = &asked.report {
        apart::write(page, report::garment::html::page(&sheet, &pictures)?.as_bytes())?;
    }
    speak::result(&match asked.json {
        true => format!("{:#}\n", report::garment::json::sheet(&sheet)),
        false => report::garment::text::sheet(&sheet),
    })?;
    Ok(sheet.standing.exit_status())
}

/// Writes or prints a garment file to begin with.
fn begin(file: Option<&Path>) -> Result<u8, Problem> {
    match file {
        None => speak::result(EXAMPLE)?,
        Some(file) => {
            report::write_new(file, EXAMPLE.as_bytes())?;
            speak::talk(&format!("Wrote {}. Fill it in, then: seamstep garment {0}\n", file.display()))?;
        }
    }
    Ok(0)
}
