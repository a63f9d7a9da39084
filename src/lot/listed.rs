//! Which photographs: files, folders, lines of standard input, a list in CSV; each once.

use super::order::natural;
use super::pattern::Pattern;
use crate::problem::Problem;
use crate::record::Subject;
use std::collections::HashMap;
use std::io::BufRead;
use std::path::{Path, PathBuf};

/// The endings of photographs that are taken from a folder, in either case.
pub const ENDINGS: [&str; 8] = ["jpg", "jpeg", "png", "webp", "tif", "tiff", "heic", "heif"];
/// The longest line of standard input, bytes.
const LONGEST_BYTES: u64 = 1 << 16;

/// What is known of photographs beside their files.
#[derive(Clone, Debug, Default)]
pub struct Known {
    /// What a list says, by the file.
    by_file: HashMap<PathBuf, Subject>,
    /// What names say.
    pattern: Option<Pattern>,
}

impl Known {
    /// From a list and a pattern of names; the list goes before the names.
    pub fn new(list: &[Subject], pattern: Option<Pattern>) -> Self {
        Known { by_file: list.iter().map(|subject| (place_of(&subject.file), subject.clone())).collect(), pattern }
    }

    /// The photograph `file` with what is known of it, and whether its name fits the pattern, where there is one.
    pub fn subject(&self, file: String) -> (Subject, bool) {
        let known = self.by_file.get(&place_of(&file)).cloned().unwrap_or_default();
        self.named(Subject { file, ..known })
    }

    /// The same of a photograph that a list names.
    pub fn named(&self, mut subject: Subject) -> (Subject, bool) {
        let fits = self.pattern.as_ref().is_none_or(|pattern| pattern.fill_in(&mut subject));
        (subject, fits)
    }
}

/// Where a file is, however it is named.
fn place_of(file: &str) -> PathBuf {
    Path::new(file).canonicalize().unwrap_or_else(|_| file.into())
}

/// The files of `given`, each once: a file itself; of a folder its photographs ([`ENDINGS`]), not those of folders inside it;
/// of `-` the lines of `input`. Sorted as a person sorts names.
///
/// # Errors
/// [`Problem::Io`] where a folder or `input` cannot be read, [`Problem::Usage`] where there is no photograph at all.
pub fn files(given: &[PathBuf], input: impl BufRead) -> Result<Vec<String>, Problem> {
    let mut files = Vec::new();
    let mut input = Some(input);
    for path in given {
        if path.as_os_str() == "-" {
            for line in input.take().map(lines).into_iter().flatten() {
                files.push(line?);
            }
        } else if path.is_dir() {
            files.extend(inside(path)?);
        } else {
            files.push(path.display().to_string());
        }
    }
    if files.is_empty() {
        let what = match given {
            [one] if one.as_os_str() == "-" => "standard input names no photograph".to_owned(),
            [one] => format!("there is no photograph in the folder {}", one.display()),
            _ => "there is no photograph in what was given".to_owned(),
        };
        return Err(Problem::usage(
            what,
            format!("photographs end in .{}; folders inside a folder are given too", ENDINGS.join(", .")),
        ));
    }
    files.sort_by(|a, b| natural(a, b));
    files.dedup();
    Ok(files)
}

/// The photographs of a folder.
fn inside(folder: &Path) -> Result<Vec<String>, Problem> {
    let cannot = |e: std::io::Error| {
        Problem::io(format!("cannot read the folder {}: {e}", folder.display()), "check that you may read it")
    };
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(cannot)? {
        let path = entry.map_err(cannot)?.path();
        let hidden = path.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.'));
        let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
        if !hidden && ending.is_some_and(|e| ENDINGS.contains(&e.as_str())) && !path.is_dir() {
            files.push(path.display().to_string());
        }
    }
    Ok(files)
}

/// The paths that the lines of `input` name, read one by one; empty lines are passed over.
///
/// An item is [`Problem::Io`] where a line cannot be read; nothing follows it.
pub fn lines(mut input: impl BufRead) -> impl Iterator<Item = Result<String, Problem>> {
    let mut ended = false;
    std::iter::from_fn(move || {
        while !ended {
            let mut bytes = Vec::new();
            let read = std::io::Read::take(&mut input, LONGEST_BYTES).read_until(b'\n', &mut bytes);
            let trouble = match read {
                Ok(0) => break,
                Ok(n) if n as u64 == LONGEST_BYTES => Some("a line is longer than any path".to_owned()),
                Ok(_) => None,
                Err(e) => Some(e.to_string()),
            };
            if let Some(what) = trouble {
                ended = true;
                return Some(Err(Problem::io(
                    format!("cannot read the paths on standard input: {what}"),
                    "write one path a line, for example with ls",
                )));
            }
            let line = String::from_utf8_lossy(&bytes);
            let line = line.trim_end_matches(['\n', '\r']);
            if !line.trim().is_empty() {
                return Some(Ok(line.to_owned()));
            }
        }
        ended = true;
        None
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::Place;

    #[test]
    fn files_folders_and_lines_are_listed_once_and_sorted() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["b10.jpg", "b9.JPG", ".hidden.jpg", "notes.txt", "c.heic"] {
            std::fs::write(folder.path().join(name), "").unwrap();
        }
        std::fs::create_dir(folder.path().join("inside.jpg")).unwrap();
        let at = |name: &str| folder.path().join(name).display().to_string();
        let input = format!("{}\r\n\n  \nz.png", at("c.heic"));
        let given = [PathBuf::from("-"), folder.path().to_owned(), "-".into(), "no such.txt".into()];
        let listed = files(&given, input.as_bytes()).unwrap();
        assert_eq!(listed, [at("b9.JPG"), at("b10.jpg"), at("c.heic"), "no such.txt".into(), "z.png".into()]);
        let empty = folder.path().join("inside.jpg");
        assert!(files(&[empty], &b""[..]).unwrap_err().to_string().contains("inside.jpg"));
        assert!(files(&["-".into()], &b"\n"[..]).is_err());
        let endless = vec![b'x'; 1 << 17];
        assert!(files(&["-".into()], &endless[..]).unwrap_err().to_string().contains("longer"));
    }

    #[test]
    fn a_list_goes_before_the_name() {
        let list = [Subject { file: "./src/../src/lib.rs".into(), piece: Some("8".into()), ..Subject::default() }];
        let known = Known::new(&list, Some(Pattern::read("{piece}").unwrap()));
        let (subject, fits) = known.subject("src/lib.rs".into());
        assert!(fits && subject.file == "src/lib.rs" && subject.piece.as_deref() == Some("8"), "{subject:?}");
        assert_eq!(known.subject("9.jpg".into()).0.piece.as_deref(), Some("9"));
        let zips = Known::new(&[], Some(Pattern::read("{piece}_{place}").unwrap()));
        assert_eq!(zips.named(Subject { file: "9_zip.jpg".into(), ..Subject::default() }).0.place, Some(Place::Zip));
        assert!(!zips.subject("9.jpg".into()).1);
    }
}
