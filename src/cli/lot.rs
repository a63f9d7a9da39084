//! `seamstep lot`: many photographs, each a line, and what they come to.

use super::arguments::{Along, Judged, Scale};
use super::tally::Told;
use super::{apart, speak};
use crate::ask::Ask;
use crate::lot::book::Book;
use crate::lot::line::Line;
use crate::lot::listed::{self, Known};
use crate::lot::measure::{self, Measured};
use crate::lot::pattern::Pattern;
use crate::problem::Problem;
use crate::record::Subject;
use crate::seam::SeamRequest;
use crate::{manifest, report, threads};
use clap::Args;
use std::collections::HashSet;
use std::io::BufReader;
use std::path::{Path, PathBuf};

/// Measure a delivery: many photographs, one answer
///
/// Measures each photograph as check would and sums them up: how many pieces
/// are matched, off or unsure, the worst, what could not be judged, which
/// places bring most of what is off, and whether the jumps shift from one to
/// the next. One bad photograph never stops the others.
///
/// With --out each photograph is a line on the disk as soon as it is done. A
/// run that was stopped, by whatever, is run again with the same words: only
/// what is new, changed, or asked otherwise is measured.
///
/// Exit status: that of the worst photograph, from the worst: 2 not readable,
/// 1 off, 4 not to be judged, 3 unsure, 0 matched. 2 is usage and writing
/// trouble too. With --aql: 0 accepted, 1 rejected, 3 not settled. With
/// --jsonl: 0 when every photograph has its line.
#[derive(Args)]
#[command(verbatim_doc_comment)]
pub struct Lot {
    /// Photographs; folders of them (folders inside are not looked into);
    /// - reads paths on standard input, one a line
    #[arg(value_name = "PHOTO|FOLDER|-", required_unless_present_any = ["manifest", "jsonl"], verbatim_doc_comment)]
    pub photos: Vec<PathBuf>,

    /// A list in CSV with a head: photo, and, if known, piece, place, by. Says
    /// what the photographs given show; without any, its own are measured
    #[arg(long, value_name = "FILE.csv", verbatim_doc_comment)]
    pub manifest: Option<PathBuf>,

    /// How the files are named: {piece}, {place}, {by}, {} for anything else,
    /// for example "{piece}_{place}_{by}" or "{piece}/{place}". The ending does
    /// not matter; the list goes before the names
    #[arg(long, value_name = "PATTERN", verbatim_doc_comment)]
    pub named: Option<String>,

    #[command(flatten)]
    pub scale: Scale,

    /// How the seams run in the pictures; without it each picture decides
    #[arg(long)]
    pub along: Option<Along>,

    #[command(flatten)]
    pub judged: Judged,

    /// Write a line of JSON a photograph into this file as they are done, and
    /// leave those that it holds already as they are
    #[arg(long, value_name = "FILE.jsonl", verbatim_doc_comment)]
    pub out: Option<PathBuf>,

    /// Take lines of photographs that are not given any more out of --out
    #[arg(long, requires = "out")]
    pub forget: bool,

    /// Photographs worked on at the same time [default: one a core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,

    /// Nothing but lines: reads paths on standard input, one a line, and prints
    /// a line of JSON each, in that order, as they are done. Keeps nothing, so
    /// that other programs can spread the paths over machines; tally sums up
    #[arg(long, conflicts_with_all = ["photos", "out", "json", "csv", "report", "aql"], verbatim_doc_comment)]
    pub jsonl: bool,

    #[command(flatten)]
    pub told: Told,
}

/// Measures the photographs; the exit status of the worst.
pub fn run(asked: &Lot) -> Result<u8, Problem> {
    let pattern = asked.named.as_deref().map(Pattern::read).transpose()?;
    let list = asked.manifest.as_deref().map(manifest::read).transpose()?;
    let known = Known::new(list.as_deref().unwrap_or_default(), pattern.clone());
    let ask = Ask {
        scale: asked.scale.request(),
        seam: SeamRequest { runs: asked.along.map(Into::into), ..SeamRequest::default() },
        ..asked.judged.ask()
    };
    let threads = asked.threads.map_or_else(threads::usual, usize::from);
    if asked.jsonl {
        return stream(&ask, &known, threads);
    }
    asked.told.check()?;
    let subjects = subjects(asked, list, &known, pattern.as_ref())?;
    keep_apart(asked, &subjects)?;
    // What cannot be asked at all is said once, not in every line.
    let question = ask.question(Path::new(&subjects[0].file))?;
    let lines = measure(asked, &ask, &subjects, threads)?;
    asked.told.tell(lines, question.demand.unit)
}

/// Lines in, lines out; 0 when each has one.
fn stream(ask: &Ask, known: &Known, threads: usize) -> Result<u8, Problem> {
    let paths = listed::lines(BufReader::new(std::io::stdin()));
    let one =
        |_, path: Result<String, Problem>| measure::line(&known.subject(path?).0, ask, &Measured::default()).text();
    // A reader that has gone away ends it without a problem.
    let told = threads::in_order(paths, threads, one, |_, line| match speak::line(&line?)? {
        true => Ok(()),
        false => Err(Ended::NoReader),
    });
    match told {
        Err(Ended::Problem(problem)) => Err(problem),
        Ok(()) | Err(Ended::NoReader) => Ok(0),
    }
}

/// Why a stream of lines ended before its end.
enum Ended {
    NoReader,
    Problem(Problem),
}

impl From<Problem> for Ended {
    fn from(problem: Problem) -> Self {
        Ended::Problem(problem)
    }
}

/// The photographs that are asked about, in the order of their names.
fn subjects(
    asked: &Lot,
    list: Option<Vec<Subject>>,
    known: &Known,
    pattern: Option<&Pattern>,
) -> Result<Vec<Subject>, Problem> {
    let named: Vec<(Subject, bool)> = match list {
        Some(list) if asked.photos.is_empty() => list.into_iter().map(|subject| known.named(subject)).collect(),
        _ => {
            let files = listed::files(&asked.photos, BufReader::new(std::io::stdin()))?;
            files.into_iter().map(|file| known.subject(file)).collect()
        }
    };
    if named.is_empty() {
        return Err(Problem::usage(
            "the list names no photograph",
            "give photographs, or a line a photograph in the list",
        ));
    }
    let unfit: Vec<&str> = named.iter().filter(|(_, fits)| !fits).map(|(subject, _)| subject.file.as_str()).collect();
    if let (Some(pattern), [first, ..]) = (pattern, unfit.as_slice()) {
        speak::talk(&format!(
            "{} of {} names do not fit {}, the first is {first}: they are measured all the same.\n",
            unfit.len(),
            named.len(),
            pattern.text()
        ))?;
    }
    Ok(named.into_iter().map(|(subject, _)| subject).collect())
}

/// Nothing is written over a photograph or a list.
fn keep_apart(asked: &Lot, subjects: &[Subject]) -> Result<(), Problem> {
    let [csv, report] = asked.told.written();
    let list = asked.manifest.iter().map(|file| ("the list", file.as_path()));
    let photos = subjects.iter().map(|subject| ("the photograph", Path::new(&subject.file)));
    apart::keep(list.chain(photos), &[("--out", asked.out.as_deref()), csv, report])
}

fn measure(asked: &Lot, ask: &Ask, subjects: &[Subject], threads: usize) -> Result<Vec<Line>, Problem> {
    let (mut book, kept) = match &asked.out {
        Some(file) => {
            let (book, lines) = Book::open(file)?;
            (Some((book, file)), kept(asked, lines, subjects, file)?)
        }
        None => (None, Vec::new()),
    };
    let measured = Measured::of(&kept);
    let there: HashSet<String> = kept.iter().map(Line::text).collect::<Result<_, _>>()?;
    let bar = speak::progress(subjects.len());
    let mut lines = Vec::with_capacity(subjects.len());
    let one = |_, subject: &Subject| measure::line(subject, ask, &measured);
    let told = threads::as_done(subjects.iter(), threads.min(subjects.len()), one, |_, line| {
        if let Some((book, _)) = book.as_mut().filter(|_| line.text().is_ok_and(|text| !there.contains(&text))) {
            book.add(&line)?;
        }
        lines.push(line);
        bar.inc(1);
        Ok::<(), Problem>(())
    });
    bar.finish_and_clear();
    told?;
    lines.sort_by(Line::order);
    if let Some((_, file)) = &book {
        let text = lines.iter().map(Line::text).collect::<Result<String, _>>()?;
        report::write_whole(file, text.as_bytes())?;
        speak::talk(&format!("Wrote {}.\n", file.display()))?;
    }
    Ok(lines)
}

/// The lines that a file held before, of the photographs that are given.
fn kept(asked: &Lot, mut lines: Vec<Line>, subjects: &[Subject], file: &Path) -> Result<Vec<Line>, Problem> {
    let given: HashSet<&str> = subjects.iter().map(|subject| subject.file.as_str()).collect();
    let held = lines.len();
    let is_given = |line: &Line| given.contains(line.record.subject.file.as_str());
    if let Some(other) = lines.iter().find(|line| !is_given(line)).filter(|_| !asked.forget) {
        return Err(Problem::usage(
            format!(
                "{} holds photographs that are not given now, for example {}",
                file.display(),
                other.record.subject.file
            ),
            "give them too, or another file with --out, or --forget to take them out of this one",
        ));
    }
    lines.retain(is_given);
    if lines.len() < held {
        speak::talk(&format!("{} lines of photographs not given now are taken out.\n", held - lines.len()))?;
    }
    Ok(lines)
}
