//! One row a photograph, for a spreadsheet: comma-separated values with a head.
//!
//! # Source
//! RFC 4180, Common Format and MIME Type for Comma-Separated Values (CSV) Files, 2005.

use crate::lot::{Line, Lot};
use crate::problem::Problem;
use crate::verdict::Place;
use csv::{Terminator, WriterBuilder};

/// The columns. An empty field is not known.
pub const COLUMNS: [&str; 20] = [
    "photo",
    "piece",
    "place",
    "by",
    "taken",
    "standing",
    "tolerance_mm",
    "mean_mm",
    "mean_expanded_uncertainty_mm",
    "worst_mm",
    "worst_expanded_uncertainty_mm",
    "worst_at_mm",
    "within_share",
    "seam_mm",
    "repeat_mm",
    "action",
    "worth_unpicking",
    "minutes",
    "why",
    "help",
];

/// The photographs of a lot, in the order of their names.
///
/// # Errors
/// [`Problem::Io`] where it cannot be written.
pub fn lot(lot: &Lot) -> Result<Vec<u8>, Problem> {
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    let cannot =
        |what: &dyn std::fmt::Display| Problem::io(format!("the table cannot be written: {what}"), "run it again");
    writer.write_record(COLUMNS).map_err(|e| cannot(&e))?;
    for line in &lot.lines {
        writer.write_record(row(line)).map_err(|e| cannot(&e))?;
    }
    writer.into_inner().map_err(|e| cannot(&e))
}

fn row(line: &Line) -> [String; COLUMNS.len()] {
    let subject = &line.record.subject;
    let measured = line.record.measured.as_ref();
    let lengths = measured.and_then(|measured| measured.lengths);
    let instead = line.record.instead.as_ref();
    let text = |value: Option<&str>| value.unwrap_or_default().to_owned();
    let figure = |value: Option<f64>| value.map_or(String::new(), |value| (value + 0.0).to_string());
    [
        subject.file.clone(),
        text(subject.piece.as_deref()),
        text(subject.place.map(Place::word)),
        text(subject.by.as_deref()),
        text(line.taken.as_deref()),
        line.record.standing.word().to_owned(),
        figure(measured.map(|m| m.tolerance_mm)),
        figure(lengths.map(|l| l.mean_mm)),
        figure(lengths.map(|l| l.mean_expanded_uncertainty_mm)),
        figure(lengths.map(|l| l.worst_mm)),
        figure(lengths.map(|l| l.worst_expanded_uncertainty_mm)),
        figure(lengths.map(|l| l.worst_at_mm)),
        figure(lengths.map(|l| l.within.best)),
        figure(lengths.map(|l| l.seam_mm)),
        figure(lengths.and_then(|l| l.repeat_mm)),
        text(measured.map(|m| m.action.word())),
        text(measured.and_then(|m| m.worth_unpicking).map(|worth| if worth { "yes" } else { "no" })),
        figure(measured.and_then(|m| m.minutes)),
        text(measured.map(|m| m.reason.as_str()).or(instead.map(|i| i.message.as_str()))),
        text(instead.map(|i| i.help.as_str())),
    ]
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    #[test]
    fn a_row_a_photograph_and_what_is_not_known_is_empty() {
        let made = sample::delivery();
        let bytes = lot(&made).unwrap();
        let mut reader = csv::Reader::from_reader(bytes.as_slice());
        assert_eq!(reader.headers().unwrap().iter().collect::<Vec<_>>(), COLUMNS);
        let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        assert_eq!(rows.len(), made.lines.len());
        let row = |file: &str| rows.iter().find(|row| &row[0] == file).unwrap();
        let off = row("lot/7_zip.jpg");
        assert_eq!([1, 2, 3, 5, 6, 7, 16].map(|k| &off[k]), ["7", "zip", "Jo", "off", "1.5", "4.8", "yes"]);
        let refused = row("lot/8_hem & <more>.jpg");
        assert_eq!((&refused[5], &refused[7], &refused[19]), ("refused", "", "hold still & photograph it again"));
        assert_eq!(&row("lot/8_zip.jpg")[9], "");
    }
}
