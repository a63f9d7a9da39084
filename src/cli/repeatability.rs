//! `seamstep repeatability`: is this way of photographing good enough?

use super::arguments::Judged;
use super::speak;
use crate::problem::Problem;
use crate::record::{Record, Standing, Subject};
use crate::repeatability::{Answer, Study};
use crate::trial::each::each;
use crate::{manifest, report};
use clap::Args;
use std::path::{Path, PathBuf};

/// Largest file of lines that is read, bytes.
const MOST_BYTES: u64 = 256 << 20;

/// Try whether your way of photographing is good enough for a tolerance
///
/// Photograph the same seams several times, by one or more people, and list
/// the photographs in a CSV file with a head: photo, piece, place, by. They
/// are measured as check would; or give the lines that lot has written of
/// them. Tells how far photographs of one seam scatter (repeatability), how
/// far people differ (reproducibility), and how much of the tolerance that is.
///
/// Exit status: 0 good enough, 1 not good enough, 3 fair or not to be told,
/// 4 nothing was measured in millimetres, 2 usage or reading trouble.
#[derive(Args)]
#[command(verbatim_doc_comment)]
pub struct Repeatability {
    /// Lists of photographs (.csv), or lines of lot (.jsonl)
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,

    #[command(flatten)]
    pub judged: Judged,

    /// Photographs worked on at the same time [default: one a core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,

    /// Print one JSON object instead of text
    #[arg(long)]
    pub json: bool,

    /// Write everything on one page, into this .html file
    #[arg(long, value_name = "FILE.html")]
    pub report: Option<PathBuf>,
}

/// Runs the study; the exit status says how good the measurement is.
pub fn run(asked: &Repeatability) -> Result<u8, Problem> {
    let mut records = Vec::new();
    for file in &asked.files {
        match file.extension().is_some_and(|e| e.eq_ignore_ascii_case("csv")) {
            true => records.extend(measured(asked, manifest::read(file)?)?),
            false => records.extend(lines(file)?),
        }
    }
    if let Some(tolerance_mm) = asked.judged.tolerance {
        let summaries = records.iter_mut().filter_map(|record| record.measured.as_mut());
        summaries.for_each(|summary| summary.tolerance_mm = tolerance_mm);
    }
    for record in records.iter().filter(|record| record.measured.is_none()) {
        let why = record.instead.as_ref().map_or("", |instead| &instead.message);
        speak::talk(&format!("Not measured: {}: {why}.\n", record.subject.file))?;
    }
    let Some(study) = Study::of(&records) else {
        speak::talk("No photograph was measured in millimetres: there is nothing to compare.\n")?;
        return Ok(Standing::Refused.exit_status());
    };
    if let Some(file) = &asked.report {
        report::write_whole(file, report::repeatability::html::page(&study)?.as_bytes())?;
        speak::talk(&format!("Wrote {}.\n", file.display()))?;
    }
    speak::result(&match asked.json {
        true => format!("{:#}\n", report::repeatability::json::study(&study)),
        false => report::repeatability::text::study(&study),
    })?;
    Ok(match study.answer() {
        Some(Answer::Good) => Standing::Matched.exit_status(),
        Some(Answer::Poor) => Standing::Off.exit_status(),
        Some(Answer::Fair) | None => Standing::Unsure.exit_status(),
    })
}

/// Measures the photographs of a list.
fn measured(asked: &Repeatability, subjects: Vec<Subject>) -> Result<Vec<Record>, Problem> {
    let ask = asked.judged.ask();
    // What cannot be asked at all is said once, and nothing is measured.
    if let Some(first) = subjects.first() {
        ask.question(Path::new(&first.file))?;
    }
    let bar = speak::progress(subjects.len());
    let threads = asked.threads.map_or_else(crate::threads::usual, usize::from);
    let records = each(
        subjects.len(),
        threads,
        |done| bar.set_position(done as u64),
        |k| {
            let subject = subjects[k].clone();
            let ask = crate::ask::Ask { place: subject.place.or(ask.place), ..ask.clone() };
            let answer = ask.answer(Path::new(&subject.file));
            Ok(Record::of(subject, &answer))
        },
    );
    bar.finish_and_clear();
    records
}

/// The lines of a file that lot has written.
fn lines(file: &Path) -> Result<Vec<Record>, Problem> {
    let name = file.display();
    let cannot = |what: String| {
        Problem::io(
            format!("{name} cannot be read: {what}"),
            "give a list (.csv), or lines that lot has written (.jsonl)",
        )
    };
    let size = file.metadata().map_err(|e| cannot(e.to_string()))?.len();
    if size > MOST_BYTES {
        return Err(cannot(format!("it has {size} bytes, and {MOST_BYTES} are the most")));
    }
    let text = std::fs::read_to_string(file).map_err(|e| cannot(e.to_string()))?;
    let numbered = text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty());
    numbered
        .map(|(k, line)| {
            serde_json::from_str(line).map_err(|e| cannot(format!("line {} is none of lot's: {e}", k + 1)))
        })
        .collect()
}
