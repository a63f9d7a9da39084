//! One photograph of a lot as one line of JSON: what was asked of which bytes, and what came of it.

use super::order::natural;
use crate::problem::Problem;
use crate::record::Record;
use serde::{Deserialize, Serialize};
use std::cmp::Ordering;

/// The schema's name and version, of a line and of the summary.
pub const SCHEMA: &str = "seamstep/lot/1";
/// How every line begins.
pub(super) const BEGINNING: &str = "{\"schema\":\"seamstep/lot/1\",";

/// The schema's word; no other is read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Schema {
    /// This version.
    #[default]
    #[serde(rename = "seamstep/lot/1")]
    Lot1,
}

/// A line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// The schema.
    pub schema: Schema,
    /// Which photograph, and what came of it.
    #[serde(flatten)]
    pub record: Record,
    /// SHA-256 of the file's bytes, in hexadecimal digits; `None` where it could not be read.
    pub content: Option<String>,
    /// What was asked ([`super::measure::fingerprint`]); `None` where it could not be asked.
    pub question: Option<String>,
    /// Size of the file; `None` where it could not be read.
    pub bytes: Option<u64>,
    /// When the photograph was taken, by the camera's clock: `2026-03-01T14:05:59`; `None` where the file does not say.
    pub taken: Option<String>,
}

impl Line {
    /// The line as it is written, its end of line included.
    ///
    /// # Errors
    /// [`Problem::Io`] where it cannot be put into JSON.
    pub fn text(&self) -> Result<String, Problem> {
        let text = serde_json::to_string(self)
            .map_err(|e| Problem::io(format!("a line cannot be written: {e}"), "run again with another file name"))?;
        Ok(text + "\n")
    }

    /// The line that this text is; `None` where it is none.
    pub fn read(text: &str) -> Option<Self> {
        serde_json::from_str(text).ok()
    }

    /// The same bytes under the same question have the same key; `None` where either is not known.
    pub fn key(&self) -> Option<(&str, &str)> {
        Some((self.content.as_deref()?, self.question.as_deref()?))
    }

    /// The piece that the photograph belongs to: the one named, else the photograph is a piece of its own.
    pub fn piece(&self) -> &str {
        let subject = &self.record.subject;
        subject.piece.as_deref().unwrap_or(&subject.file)
    }

    /// The order of lines: by the file's name, numbers in it by their value; then by whatever tells two apart.
    pub fn order(&self, other: &Self) -> Ordering {
        let [a, b] = [self, other].map(|line| &line.record.subject);
        natural(&a.file, &b.file)
            .then_with(|| (a.place, &a.piece, &a.by).cmp(&(b.place, &b.piece, &b.by)))
            .then_with(|| (&self.content, &self.question).cmp(&(&other.content, &other.question)))
            .then_with(|| (self.record.standing, &self.taken).cmp(&(other.record.standing, &other.taken)))
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::record::{Lengths, Standing, Subject, Summary, summary::Share};
    use crate::remedy::Action;
    use crate::verdict::{Judgement, Place};

    /// A measured seam of a piece.
    pub(in crate::lot) fn measured(file: &str, piece: &str, place: Place, mean_mm: f64, result: Judgement) -> Line {
        let tolerance_mm = place.custom().tolerance_mm;
        let lengths = Lengths {
            seam_mm: 120.0,
            repeat_mm: Some(14.0),
            mean_mm,
            mean_standard_uncertainty_mm: 0.02,
            mean_freedom: None,
            mean_expanded_uncertainty_mm: 0.04,
            worst_mm: mean_mm * 1.2,
            worst_expanded_uncertainty_mm: 0.1,
            worst_at_mm: 40.0,
            within: Share { best: 1.0, least: 0.9, most: 1.0 },
        };
        let summary = Summary {
            result,
            place,
            tolerance_mm,
            reason: "because".into(),
            action: Action::Leave,
            worth_unpicking: Some(false),
            minutes: None,
            visible_from_m: Some(1.5),
            lengths: Some(lengths),
        };
        let subject = Subject {
            file: file.into(),
            piece: Some(piece.to_owned()).filter(|p| !p.is_empty()),
            place: Some(place),
            by: None,
        };
        Line {
            schema: Schema::Lot1,
            record: Record { subject, standing: Standing::from(result), measured: Some(summary), instead: None },
            content: Some(format!("c{file}")),
            question: Some("q".into()),
            bytes: Some(9),
            taken: None,
        }
    }

    #[test]
    fn a_line_read_and_written_again_is_the_same_bytes() {
        let mut line = measured("a \"b\".jpg", "7", Place::Zip, 0.1 + 0.2, Judgement::Off);
        line.taken = Some("2026-03-01T14:05:59".into());
        let text = line.text().unwrap();
        assert!(text.starts_with(BEGINNING) && text.ends_with("}\n") && text.matches('\n').count() == 1, "{text}");
        assert!(BEGINNING.contains(SCHEMA));
        let again = Line::read(&text).unwrap();
        assert_eq!((again.text().unwrap(), &again), (text.clone(), &line));
        assert_eq!(Line::read(&text.replace("lot/1", "lot/2")), None);
        assert_eq!(Line::read(&text[..text.len() - 5]), None);
    }
}
