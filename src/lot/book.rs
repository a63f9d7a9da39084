//! The file that lines are written into as photographs are done, so that nothing is lost whenever the run ends.
//!
//! A line is appended whole and brought to the disk before the next. What a killed run left of a line at the end is cut off;
//! every line before it is kept. One run at a time writes.

use super::line::{BEGINNING, Line};
use crate::problem::Problem;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{BufRead, BufReader, ErrorKind, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// The longest line that is read, bytes; a line has about a thousand.
const LONGEST_BYTES: u64 = 1 << 20;

/// An open file of lines.
#[derive(Debug)]
pub struct Book {
    file: File,
    path: PathBuf,
}

impl Book {
    /// Opens the file, or makes it, for this run alone; gives the lines that it holds.
    ///
    /// # Errors
    /// [`Problem::Io`] where it cannot be read or written, or another run is at it; [`Problem::Usage`] where it holds
    /// anything else than lines: it is not written to then.
    pub fn open(path: &Path) -> Result<(Self, Vec<Line>), Problem> {
        let cannot = |e: std::io::Error| {
            Problem::io(
                format!("cannot open {}: {e}", path.display()),
                "check its folder, and that you may write there",
            )
        };
        if std::fs::metadata(path).is_ok_and(|facts| !facts.is_file()) {
            return Err(Problem::io(
                format!("cannot open {}: it is a folder, a pipe or a device, not a file", path.display()),
                "give the name of a file",
            ));
        }
        let file = OpenOptions::new().read(true).append(true).create(true).open(path).map_err(cannot)?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Err(busy(path)),
            // Some network folders know no locks.
            Err(TryLockError::Error(e)) if e.kind() == ErrorKind::Unsupported => {}
            Err(TryLockError::Error(e)) => return Err(cannot(e)),
        }
        if !still_there(&file, path) {
            return Err(busy(path));
        }
        let mut book = Book { file, path: path.to_owned() };
        let Found { lines, whole_bytes, .. } = read(&mut BufReader::new(&book.file), &path.display().to_string())?;
        book.file.set_len(whole_bytes).and_then(|()| book.file.seek(SeekFrom::End(0))).map_err(|e| book.trouble(&e))?;
        Ok((book, lines))
    }

    /// Adds a line; it is on the disk when this returns.
    ///
    /// # Errors
    /// [`Problem::Io`] where it cannot be written.
    pub fn add(&mut self, line: &Line) -> Result<(), Problem> {
        let text = line.text()?;
        self.file.write_all(text.as_bytes()).and_then(|()| self.file.sync_data()).map_err(|e| self.trouble(&e))
    }

    fn trouble(&self, error: &std::io::Error) -> Problem {
        Problem::io(
            format!("cannot write to {}: {error}", self.path.display()),
            "free some space and run again: what is written there is kept",
        )
    }
}

fn busy(path: &Path) -> Problem {
    Problem::io(
        format!("another run is writing {}", path.display()),
        "wait until it has ended, or give another file with --out",
    )
}

/// Whether `path` still leads to this file: another run may have put its own in its place.
#[cfg(unix)]
fn still_there(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let known = |facts: std::io::Result<std::fs::Metadata>| facts.ok().map(|f| (f.dev(), f.ino()));
    known(file.metadata()) == known(std::fs::metadata(path))
}

#[cfg(not(unix))]
fn still_there(_: &File, _: &Path) -> bool {
    true
}

/// What a file holds.
#[derive(Clone, Debug, Default)]
pub struct Found {
    /// Its lines.
    pub lines: Vec<Line>,
    /// How many of its bytes they are.
    pub whole_bytes: u64,
    /// Whether the beginning of a further line follows.
    pub torn: bool,
}

/// What a file called `name` holds.
///
/// # Errors
/// [`Problem::Io`] where it cannot be read, [`Problem::Usage`] where it holds anything else than lines and, at its end, the
/// beginning of one.
pub fn read(source: &mut impl BufRead, name: &str) -> Result<Found, Problem> {
    let mut found = Found::default();
    loop {
        let mut bytes = Vec::new();
        let count = source.take(LONGEST_BYTES).read_until(b'\n', &mut bytes).map_err(|e| {
            Problem::io(format!("cannot read {name}: {e}"), "check that it is there and that you may read it")
        })?;
        if count == 0 {
            return Ok(found);
        }
        let text = String::from_utf8_lossy(&bytes);
        let torn = !text.ends_with('\n') && begins(&bytes);
        match Line::read(&text) {
            // A line without its end may be a number cut short.
            Some(line) if text.ends_with('\n') => found.lines.push(line),
            _ if torn => return Ok(Found { torn, ..found }),
            _ => {
                return Err(Problem::usage(
                    format!("{name} holds something else than photographs of a lot, in line {}", found.lines.len() + 1),
                    "give a file that lot --out or lot --jsonl wrote; this one is left as it is",
                ));
            }
        }
        found.whole_bytes += count as u64;
    }
}

/// Whether these bytes may be the beginning of a line.
fn begins(bytes: &[u8]) -> bool {
    let known = bytes.len().min(BEGINNING.len());
    bytes[..known] == BEGINNING.as_bytes()[..known]
}

#[cfg(test)]
mod tests {
    use super::super::line::tests::measured;
    use super::*;
    use crate::verdict::{Judgement, Place};

    fn lines(count: usize) -> Vec<Line> {
        let line = |k: usize| measured(&format!("é{k}.jpg"), "1", Place::Hem, 0.1 * k as f64, Judgement::Matched);
        (0..count).map(line).collect()
    }

    #[test]
    fn wherever_a_run_is_killed_the_whole_lines_before_are_kept() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("lot.jsonl");
        let three = lines(3);
        let text: String = three.iter().map(|line| line.text().unwrap()).collect();
        let first = three[0].text().unwrap().len();
        for cut in 0..=text.len() {
            std::fs::write(&path, &text.as_bytes()[..cut]).unwrap();
            let (mut book, kept) = Book::open(&path).unwrap();
            let whole = text.as_bytes()[..cut].iter().filter(|byte| **byte == b'\n').count();
            assert_eq!(kept, three[..whole], "{cut}");
            for line in &three[whole..] {
                book.add(line).unwrap();
            }
            drop(book);
            assert_eq!(std::fs::read_to_string(&path).unwrap(), text, "{cut}");
            assert!(cut <= first || whole > 0);
        }
    }

    #[test]
    fn a_file_that_is_something_else_is_left_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("photo.jpg");
        let two = lines(2);
        let [one, other] = [two[0].text().unwrap(), two[1].text().unwrap().replace("lot/1", "lot/9")];
        for text in [
            "words",
            "words\n",
            "{}\n",
            "\n",
            "{\"schema\":\"seamstep/check/1\"",
            &(one.clone() + &other),
            &(one + "x"),
        ] {
            std::fs::write(&path, text).unwrap();
            let problem = Book::open(&path).unwrap_err();
            assert!(matches!(problem, Problem::Usage { .. }) && problem.to_string().contains("photo.jpg"), "{text}");
            assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
        }
    }

    #[test]
    fn two_runs_at_once_do_not_write_one_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("lot.jsonl");
        let (book, _) = Book::open(&path).unwrap();
        let problem = Book::open(&path).unwrap_err();
        assert!(problem.to_string().contains("another run"), "{problem}");
        drop(book);
        assert!(Book::open(&path).is_ok());
        assert!(Book::open(&folder.path().join("none/lot.jsonl")).is_err());
        assert!(Book::open(folder.path()).is_err());
    }
}
