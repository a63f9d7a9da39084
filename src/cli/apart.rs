//! The files that a command writes: each another one, none of them a photograph, each told when it is written.

use super::speak;
use crate::problem::Problem;
use crate::report;
use std::path::{Path, PathBuf};

/// Where a file is; one that is not there yet is known by its folder and its name.
fn known(file: &Path) -> Option<PathBuf> {
    let folder = file.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
    file.canonicalize().or_else(|_| folder.canonicalize().map(|f| f.join(file.file_name().unwrap_or_default()))).ok()
}

/// What is written must be other files than what is read, and than one another; each has its name.
///
/// # Errors
/// [`Problem::Usage`] with the two that are the same.
pub fn keep<'a>(
    read: impl Iterator<Item = (&'a str, &'a Path)>,
    written: &[(&'a str, Option<&Path>)],
) -> Result<(), Problem> {
    let written: Vec<_> = written.iter().filter_map(|(name, file)| Some((*name, known((*file)?)?))).collect();
    if written.is_empty() {
        return Ok(());
    }
    let both = |over: &str, (name, file): &(&str, PathBuf)| {
        Err(Problem::usage(
            format!("{name} would be written over {over}: both are {}", file.display()),
            "give another name; what is read is never written to",
        ))
    };
    for (k, one) in written.iter().enumerate() {
        if let Some((other, _)) = written[..k].iter().find(|(_, before)| *before == one.1) {
            return both(other, one);
        }
    }
    for (name, file) in read.filter_map(|(name, file)| Some((name, known(file)?))) {
        if let Some(one) = written.iter().find(|(_, written)| *written == file) {
            return both(name, one);
        }
    }
    Ok(())
}

/// The name of a page must say that it is one.
///
/// # Errors
/// [`Problem::Usage`] where it does not.
pub fn page(file: &Path) -> Result<(), Problem> {
    if file.extension().is_some_and(|e| e.eq_ignore_ascii_case("html") || e.eq_ignore_ascii_case("htm")) {
        return Ok(());
    }
    Err(Problem::usage(
        format!("--report: {} does not end in .html", file.display()),
        "for example: --report back.html",
    ))
}

/// Writes a file, whole or not at all, and says so.
///
/// # Errors
/// As [`report::write_whole`].
pub fn write(file: &Path, bytes: &[u8]) -> Result<(), Problem> {
    report::write_whole(file, bytes)?;
    speak::talk(&format!("Wrote {}.\n", file.display()))
}
