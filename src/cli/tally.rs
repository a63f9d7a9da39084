//! `seamstep tally`: lines of many runs, on this machine or on others, summed up like those of one.

use super::{apart, speak};
use crate::acceptance::table::AQL_PERCENT;
use crate::digits::Unit;
use crate::lot::book::{self, Found};
use crate::lot::sample::Sampling;
use crate::lot::{self, Line};
use crate::problem::Problem;
use crate::report;
use crate::written::Units;
use clap::Args;
use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};

/// Sum up the lines that lot wrote, on this machine or on many
///
/// Reads what lot --out and lot --jsonl wrote and tells what one run over all
/// those photographs would have told. The order of the files does not matter,
/// and a photograph that stands in several of them is counted once.
///
/// Exit status: as of lot.
#[derive(Args)]
#[command(verbatim_doc_comment)]
pub struct Tally {
    /// Files of lines; - reads standard input
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,

    /// Tell lengths in millimetres, or in sixteenths of an inch
    #[arg(long)]
    pub units: Option<Units>,

    #[command(flatten)]
    pub told: Told,
}

/// How a lot is judged and told.
#[derive(Args)]
pub struct Told {
    #[arg(long, value_name = "PERCENT", help = aql_help(), allow_hyphen_values = true)]
    pub aql: Option<f64>,

    /// Pieces in the whole lot, of which those photographed are a sample
    /// [default: the pieces photographed]
    #[arg(long, value_name = "N", requires = "aql", verbatim_doc_comment)]
    pub lot_size: Option<u64>,

    /// Print one JSON object instead of text
    #[arg(long)]
    pub json: bool,

    /// Write a table, one row a photograph, into this .csv file
    #[arg(long, value_name = "FILE.csv")]
    pub csv: Option<PathBuf>,

    /// Write everything on one page, into this .html file
    #[arg(long, value_name = "FILE.html")]
    pub report: Option<PathBuf>,
}

fn aql_help() -> String {
    let known: Vec<String> = AQL_PERCENT.iter().map(f64::to_string).collect();
    format!(
        "Accept the lot or not: the acceptance quality limit, per cent of pieces that are off, one of {} (ISO 2859-1, \
         single, normal, level II)",
        known.join(", ")
    )
}

/// Sums up what the files hold; the exit status of the lot.
pub fn run(tally: &Tally) -> Result<u8, Problem> {
    tally.told.check()?;
    apart::keep(tally.files.iter().map(|file| ("the lines", file.as_path())), &tally.told.written())?;
    let mut lines = Vec::new();
    for file in &tally.files {
        let name = file.display().to_string();
        let found = match name.as_str() {
            "-" => book::read(&mut std::io::stdin().lock(), "standard input")?,
            _ => {
                let opened = File::open(file).map_err(|e| {
                    Problem::io(format!("cannot read {name}: {e}"), "give a file that lot --out or lot --jsonl wrote")
                })?;
                book::read(&mut BufReader::new(opened), &name)?
            }
        };
        let Found { lines: more, torn, .. } = found;
        if torn {
            speak::talk(&format!("{name} ends in the middle of a line, which is left out.\n"))?;
        }
        lines.extend(more);
    }
    if lines.is_empty() {
        return Err(Problem::usage("the files hold no photograph", "give files that lot --out or lot --jsonl wrote"));
    }
    tally.told.tell(lines, tally.units.map_or_else(Unit::default, Into::into))
}

impl Told {
    /// Refuses what cannot be, before a photograph is measured.
    ///
    /// # Errors
    /// [`Problem::Usage`].
    pub fn check(&self) -> Result<(), Problem> {
        self.sampling().check()?;
        self.report.as_deref().map_or(Ok(()), apart::page)
    }

    fn sampling(&self) -> Sampling {
        Sampling { aql_percent: self.aql, lot_size: self.lot_size }
    }

    /// The files that are written.
    pub fn written(&self) -> [(&'static str, Option<&Path>); 2] {
        [("--csv", self.csv.as_deref()), ("--report", self.report.as_deref())]
    }

    /// Sums up and tells; the exit status.
    ///
    /// # Errors
    /// [`Problem::Io`] where something cannot be written.
    pub fn tell(&self, lines: Vec<Line>, unit: Unit) -> Result<u8, Problem> {
        let lot = lot::sum_up(lines, &self.sampling())?;
        if let Some(file) = &self.csv {
            apart::write(file, &report::lot::csv::lot(&lot)?)?;
        }
        if let Some(file) = &self.report {
            apart::write(file, report::lot::html::page(&lot, unit)?.as_bytes())?;
        }
        speak::result(&if self.json {
            format!("{:#}\n", report::lot::json::lot(&lot))
        } else {
            report::lot::text::lot(&lot, unit)
        })?;
        Ok(lot.sample.map_or(lot.standing(), |sample| sample.standing()).exit_status())
    }
}
