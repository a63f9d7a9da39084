//! A list of photographs with what each shows, as a spreadsheet writes it: comma-separated values with a head.
//!
//! The columns, in any order: `photo` (needed), `piece`, `place`, `by` (who took it). A photograph's name is taken from the
//! list's own folder. An empty field is not said.
//!
//! # Source
//! RFC 4180, Common Format and MIME Type for Comma-Separated Values (CSV) Files, 2005.

use crate::problem::Problem;
use crate::record::Subject;
use crate::verdict::Place;
use crate::written::nearest;
use clap::ValueEnum;
use csv::{ReaderBuilder, StringRecord, Trim};
use std::collections::BTreeSet;
use std::path::Path;

/// The columns that are known.
pub const COLUMNS: [&str; 4] = ["photo", "piece", "place", "by"];
/// The largest list that is read, bytes.
const MOST_BYTES: u64 = 64 << 20;

/// Reads the list in `file`, in its order.
///
/// # Errors
/// [`Problem::Io`] where the file cannot be read, [`Problem::Usage`] with the line where it says what cannot be.
pub fn read(file: &Path) -> Result<Vec<Subject>, Problem> {
    let name = file.display();
    let cannot = |what: String| {
        Problem::io(format!("the list {name} cannot be read: {what}"), "give a list in CSV with a column photo")
    };
    let facts = file.metadata().map_err(|e| cannot(e.to_string()))?;
    if !facts.is_file() {
        return Err(cannot("it is no file".into()));
    }
    if facts.len() > MOST_BYTES {
        return Err(cannot(format!("it has {} bytes, and {MOST_BYTES} are the most", facts.len())));
    }
    let bytes = std::fs::read(file).map_err(|e| cannot(e.to_string()))?;
    let folder = file.parent().unwrap_or(Path::new(""));
    parse(&bytes, &name.to_string(), folder)
}

/// The list that these bytes say; `name` is its own, `folder` the one that its photographs are named from.
///
/// # Errors
/// [`Problem::Usage`] with the line.
pub fn parse(bytes: &[u8], name: &str, folder: &Path) -> Result<Vec<Subject>, Problem> {
    let wrong = |what: String, help: String| -> Problem { Problem::usage(format!("the list {name}: {what}"), help) };
    // What spreadsheets put before UTF-8.
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut reader = ReaderBuilder::new().trim(Trim::All).from_reader(bytes);
    let unreadable = |e: csv::Error| {
        wrong(
            e.to_string(),
            "give comma-separated values in UTF-8, a head, and as many fields in each line as in the head".into(),
        )
    };
    let head = reader.headers().map_err(unreadable)?.clone();
    let mut seen = BTreeSet::new();
    for column in &head {
        if !COLUMNS.contains(&column) {
            return Err(wrong(
                format!("there is no column {column:?}"),
                match nearest(column, &COLUMNS) {
                    Some(known) => format!("did you mean {known}? The columns are {}", COLUMNS.join(", ")),
                    None => format!("the columns are {}", COLUMNS.join(", ")),
                },
            ));
        }
        if !seen.insert(column.to_owned()) {
            return Err(wrong(format!("the column {column} stands twice"), "take one of them away".into()));
        }
    }
    if !seen.contains("photo") {
        return Err(wrong("there is no column photo".into(), "name the photographs in a column called photo".into()));
    }
    let column = |row: &StringRecord, name: &str| -> Option<String> {
        let at = head.iter().position(|c| c == name)?;
        row.get(at).filter(|field| !field.is_empty()).map(str::to_owned)
    };
    let mut subjects = Vec::new();
    for row in reader.records() {
        let row = row.map_err(unreadable)?;
        let line = row.position().map_or(0, csv::Position::line);
        let Some(photo) = column(&row, "photo") else {
            return Err(wrong(format!("line {line} names no photograph"), "fill in its column photo".into()));
        };
        subjects.push(Subject {
            file: folder.join(photo).display().to_string(),
            piece: column(&row, "piece"),
            place: column(&row, "place")
                .map(|word| place(&word))
                .transpose()
                .map_err(|help| wrong(format!("line {line}: the place is not known"), help))?,
            by: column(&row, "by"),
        });
    }
    Ok(subjects)
}

/// The place that this word names.
///
/// # Errors
/// What would have worked.
pub fn place(word: &str) -> Result<Place, String> {
    Place::from_str(word, true).map_err(|_| {
        let known: Vec<&str> = Place::value_variants().iter().map(|place| place.word()).collect();
        match nearest(word, &known) {
            Some(near) => format!("write {near} for {word:?}? The places are {}", known.join(", ")),
            None => format!("{word:?} is none of the places {}", known.join(", ")),
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(text: &str) -> Result<Vec<Subject>, Problem> {
        parse(text.as_bytes(), "list.csv", Path::new("lot"))
    }

    #[test]
    fn a_list_is_read_in_any_order_of_columns() {
        let text = "\u{feff}place, photo ,by\r\ncentre-back,\"a, b.jpg\",Ann\r\n,c.jpg,\r\n";
        let list = parsed(text).unwrap();
        assert_eq!(list.len(), 2);
        assert_eq!((list[0].file.as_str(), list[0].place), ("lot/a, b.jpg", Some(Place::CentreBack)));
        assert_eq!((list[0].by.as_deref(), &list[0].piece), (Some("Ann"), &None));
        assert_eq!(list[1], Subject { file: "lot/c.jpg".into(), ..Subject::default() });
        assert!(parsed("photo\n").unwrap().is_empty());
    }

    #[test]
    fn what_is_wrong_is_told_with_its_line_and_the_nearest_right_word() {
        for (text, what, help) in [
            ("", "no column photo", "called photo"),
            ("phto\na.jpg\n", "\"phto\"", "did you mean photo"),
            ("photo,photo\na,b\n", "twice", "take one"),
            ("photo,place\na.jpg,hem\nb.jpg,centre-bak\n", "line 3", "centre-back"),
            ("photo,by\n,Ann\n", "line 2", "photo"),
            ("photo,by\na.jpg\n", "line: 2", "as many fields"),
        ] {
            let problem = parsed(text).unwrap_err();
            assert!(
                problem.to_string().contains(what) && problem.help().contains(help),
                "{text}: {problem}: {}",
                problem.help()
            );
        }
        assert!(parse(b"photo\n\xff\xfe.jpg\n", "x", Path::new("")).is_err());
        assert!(read(Path::new("no such list.csv")).is_err() && read(Path::new("src")).is_err());
    }
}
