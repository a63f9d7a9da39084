//! One photograph's answer as one line: what many photographs are summed up from, on this machine or on others.
//!
//! A [`Record`] says which photograph, of which piece and place, by whom, and what came of it; of a finding it keeps the
//! [`Summary`]. It is written as one JSON object a line and read back from it, so that nothing has to be measured twice.

pub mod standing;

pub mod summary;

use crate::ask::{Answer, Refused};
use crate::problem::{Problem, Refusal};
use crate::verdict::Place;
use serde::{Deserialize, Serialize};
pub use standing::Standing;
pub use summary::{Lengths, Share, Summary};

/// Which photograph, and what it shows.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Subject {
    /// The file as given.
    pub file: String,
    /// The piece it belongs to.
    pub piece: Option<String>,
    /// Where on the garment; `None`: not said.
    pub place: Option<Place>,
    /// Who took it.
    pub by: Option<String>,
}

/// One photograph and what came of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// Which photograph.
    #[serde(flatten)]
    pub subject: Subject,
    /// How it stands.
    pub standing: Standing,
    /// What was measured; `None` unless it was.
    pub measured: Option<Summary>,
    /// Why there is no finding, and what to do; `None` where there is one.
    pub instead: Option<Instead>,
}

/// What there is instead of a finding.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Instead {
    /// The code of the refusal (of [`crate::problem::RefusalCode`]); `None` where the file itself gave trouble.
    pub code: Option<String>,
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub help: String,
}

impl Record {
    /// The record of what came of a photograph; a problem with its file becomes part of the record.
    pub fn of(subject: Subject, answer: &Result<Answer, Problem>) -> Self {
        let (standing, measured, instead) = match answer {
            Ok(Answer::Found { finding, .. }) => (finding.verdict.result.into(), Some(Summary::of(finding)), None),
            Ok(Answer::Refused(Refused { refusal, .. })) | Err(Problem::Refused(refusal)) => {
                (Standing::Refused, None, Some(refusal.into()))
            }
            Err(problem) => {
                let (message, help) = (problem.to_string(), problem.help().to_owned());
                (Standing::Trouble, None, Some(Instead { code: None, message, help }))
            }
        };
        Record { subject, standing, measured, instead }
    }
}

impl From<&Refusal> for Instead {
    fn from(refusal: &Refusal) -> Self {
        let Refusal { code, message, help } = refusal;
        Instead { code: Some(code.word().to_owned()), message: message.clone(), help: help.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::problem::RefusalCode;

    #[test]
    fn a_record_comes_back_from_its_line() {
        let subject = Subject { file: "a b.jpg".into(), piece: Some("7".into()), place: Some(Place::Zip), by: None };
        let refusal = Refusal::new(RefusalCode::NoLines, "no lines", "light it");
        let refused = Record::of(subject.clone(), &Ok(Answer::Refused(refusal.into())));
        let trouble = Record::of(subject, &Err(Problem::io("not there", "look")));
        assert_eq!((refused.standing, trouble.standing), (Standing::Refused, Standing::Trouble));
        for record in [refused, trouble] {
            let line = serde_json::to_string(&record).unwrap();
            assert_eq!(serde_json::from_str::<Record>(&line).unwrap(), record, "{line}");
        }
    }
}
