//! One photograph → its line: the bytes are read once, known again by their hash, or measured.

use super::line::{Line, Schema};
use super::taken::taken;
use crate::ask::{self, Answer, Ask};
use crate::inspect::Question;
use crate::photo::{self, Limits};
use crate::problem::Problem;
use crate::record::{Record, Subject};
use sha2::{Digest, Sha256};
use std::collections::HashMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

/// Bytes of a question's fingerprint: enough that no two questions ever meet.
const FINGERPRINT_BYTES: usize = 16;

/// Lines that are there already, by what was asked of which bytes.
#[derive(Clone, Debug, Default)]
pub struct Measured(HashMap<(String, String), Line>);

impl Measured {
    /// From lines; those of photographs that could not be read tell nothing about them.
    pub fn of(lines: &[Line]) -> Self {
        let keyed = lines.iter().filter_map(|line| {
            let (content, question) = line.key()?;
            Some(((content.to_owned(), question.to_owned()), line.clone()))
        });
        Measured(keyed.collect())
    }
}

/// The line of a photograph under the question `ask`, its place the subject's where it has one. Whatever is wrong with the
/// photograph stands in its line.
pub fn line(subject: &Subject, ask: &Ask, measured: &Measured) -> Line {
    let ask = Ask { place: subject.place.or(ask.place), ..ask.clone() };
    let subject = Subject { place: ask.place, ..subject.clone() };
    let file = Path::new(&subject.file);
    let bare = |answer: &Result<Answer, Problem>, question: Option<String>| Line {
        schema: Schema::Lot1,
        record: Record::of(subject.clone(), answer),
        content: None,
        question,
        bytes: None,
        taken: None,
    };
    let question = match ask.question(file) {
        Ok(question) => question,
        Err(problem) => return bare(&Err(problem), None),
    };
    let asked = fingerprint(&question);
    let limits = Limits::default();
    let bytes = match photo::bytes(file, &limits) {
        Ok(bytes) => bytes,
        Err(problem) => return bare(&ask::answer(Err(problem), &question), Some(asked)),
    };
    let content = hexadecimal(&Sha256::digest(&bytes));
    let key = (content, asked);
    if let Some(known) = measured.0.get(&key) {
        return Line { record: Record { subject, ..known.record.clone() }, ..known.clone() };
    }
    let (size, taken) = (bytes.len() as u64, taken(&bytes));
    let answer = guarded(|| {
        let photo = photo::from_bytes(subject.file.clone(), &bytes, &limits);
        drop(bytes);
        ask::answer(photo, &question)
    });
    let (content, asked) = key;
    Line { content: Some(content), bytes: Some(size), taken, ..bare(&answer, Some(asked)) }
}

/// What is asked, as hexadecimal digits: equal for questions that no photograph answers differently. Another version of the
/// program is another question.
pub fn fingerprint(question: &Question) -> String {
    let Question { scale, seam, demand, stage, rules } = question;
    let judged = (demand.place(), demand.tolerance().0, demand.unit);
    let text = format!("{} {:?}", env!("CARGO_PKG_VERSION"), (scale, seam, judged, stage, rules));
    hexadecimal(&Sha256::digest(text.as_bytes())[..FINGERPRINT_BYTES])
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// One photograph never stops the others, whatever goes wrong with it.
fn guarded(answer: impl FnOnce() -> Result<Answer, Problem>) -> Result<Answer, Problem> {
    catch_unwind(AssertUnwindSafe(answer)).unwrap_or_else(|_| {
        Err(Problem::io(
            "the measurement of this photograph broke off",
            "measure it by itself with check, and report the fault",
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Standing;
    use crate::remedy::Stage;
    use crate::verdict::Place;

    fn subject(file: &Path, place: Option<Place>) -> Subject {
        Subject { file: file.display().to_string(), place, ..Subject::default() }
    }

    #[test]
    fn what_is_wrong_with_a_photograph_stands_in_its_line() {
        let folder = tempfile::tempdir().unwrap();
        let words = folder.path().join("words.jpg");
        std::fs::write(&words, "no picture").unwrap();
        let none = Measured::default();
        let refused = line(&subject(&words, None), &Ask { place: Some(Place::Zip), ..Ask::default() }, &none);
        assert_eq!((refused.record.standing, refused.bytes), (Standing::Refused, Some(10)));
        assert_eq!(refused.record.subject.place, Some(Place::Zip));
        // SHA-256 of "no picture", by sha256sum of GNU coreutils.
        assert_eq!(
            refused.content.as_deref(),
            Some("9ed97c950c330a5b556b00fe9d46390594f0a34437886edd034c323444fbd7d8")
        );
        let missing = line(&subject(&folder.path().join("none.jpg"), None), &Ask::default(), &none);
        assert_eq!((missing.record.standing, missing.key()), (Standing::Trouble, None));
        std::fs::write(folder.path().join("seamstep.toml"), "nonsense = 1").unwrap();
        let unasked = line(&subject(&words, None), &Ask::default(), &none);
        assert_eq!((unasked.record.standing, unasked.question), (Standing::Trouble, None));
    }

    #[test]
    fn the_same_bytes_under_the_same_question_are_known_again() {
        let folder = tempfile::tempdir().unwrap();
        let [one, two] = ["1.jpg", "2.jpg"].map(|name| folder.path().join(name));
        for file in [&one, &two] {
            std::fs::write(file, "no picture").unwrap();
        }
        let mut first = line(&subject(&one, None), &Ask::default(), &Measured::default());
        first.taken = Some("it was this line".into());
        let measured = Measured::of(&[first]);
        let again = line(&subject(&two, None), &Ask::default(), &measured);
        assert_eq!(again.taken.as_deref(), Some("it was this line"));
        assert_eq!(again.record.subject, subject(&two, None));
        for other in [
            Ask { tolerance_mm: Some(0.7), ..Ask::default() },
            Ask { stage: Stage::Sewn, ..Ask::default() },
            Ask { place: Some(Place::Hem), ..Ask::default() },
        ] {
            assert_eq!(line(&subject(&two, None), &other, &measured).taken, None, "{other:?}");
        }
    }

    #[test]
    fn a_measurement_that_breaks_off_is_trouble_of_that_photograph() {
        let answer = guarded(|| std::panic::resume_unwind(Box::new("broken")));
        assert_eq!(Record::of(Subject::default(), &answer).standing, Standing::Trouble);
    }
}
