//! What is there more than once: the same line again, or the same photograph under another name.

use super::line::Line;
use std::collections::{BTreeMap, HashMap};

/// What was there more than once. Each photograph was counted once.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Twice {
    /// Lines of a file that stood there once more, with the same bytes and the same question.
    pub repeated: usize,
    /// Files with the same bytes as another one, under the same question: each beside the one that was counted.
    pub doubles: Vec<Double>,
    /// Names under which different photographs, or different questions, stand; all of them were counted.
    pub namesakes: Vec<String>,
}

/// A file with the same bytes as another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Double {
    /// The file that was not counted.
    pub file: String,
    /// The one that was.
    pub same_as: String,
}

/// The lines sorted, each photograph under each question once, and what stood there more than once.
pub fn once_each(mut lines: Vec<Line>) -> (Vec<Line>, Twice) {
    lines.sort_by(Line::order);
    let mut twice = Twice::default();
    let mut counted: HashMap<(String, String), String> = HashMap::new();
    let mut kept: Vec<Line> = Vec::with_capacity(lines.len());
    for line in lines {
        let file = &line.record.subject.file;
        let Some((content, question)) = line.key() else {
            // Nothing is known of its bytes: one line of the same file and question is enough.
            if kept.last().is_some_and(|last| *last == line) {
                twice.repeated += 1
            } else {
                kept.push(line)
            }
            continue;
        };
        let key = (content.to_owned(), question.to_owned());
        match counted.get(&key) {
            Some(other) if other == file => twice.repeated += 1,
            Some(other) => twice.doubles.push(Double { file: file.clone(), same_as: other.clone() }),
            None => {
                counted.insert(key, file.clone());
                kept.push(line);
            }
        }
    }
    let mut names: BTreeMap<&str, usize> = BTreeMap::new();
    kept.iter().for_each(|line| *names.entry(&line.record.subject.file).or_default() += 1);
    twice.namesakes = names.into_iter().filter(|(_, count)| *count > 1).map(|(name, _)| name.to_owned()).collect();
    (kept, twice)
}

#[cfg(test)]
mod tests {
    use super::super::line::tests::measured;
    use super::*;
    use crate::verdict::{Judgement, Place};

    #[test]
    fn each_photograph_counts_once_under_each_question() {
        let line = |file: &str, content: &str, question: &str| Line {
            content: Some(content.to_owned()).filter(|c| !c.is_empty()),
            question: Some(question.into()),
            ..measured(file, "", Place::Zip, 0.0, Judgement::Matched)
        };
        let lines = vec![
            line("b.jpg", "1", "q"),
            line("a.jpg", "1", "q"),
            line("a.jpg", "1", "q"),
            line("a.jpg", "1", "other"),
            line("c.jpg", "2", "q"),
            line("d.jpg", "", "q"),
            line("d.jpg", "", "q"),
        ];
        let (kept, twice) = once_each(lines);
        assert_eq!(kept.len(), 4);
        assert_eq!((twice.repeated, twice.namesakes), (2, vec!["a.jpg".into()]));
        assert_eq!(twice.doubles, [Double { file: "b.jpg".into(), same_as: "a.jpg".into() }]);
    }
}
