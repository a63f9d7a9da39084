//! What could not be judged, by the reason.

use super::line::Line;
use crate::record::Instead;

/// Photographs that could not be judged for one reason.
#[derive(Clone, Debug, PartialEq)]
pub struct Refused {
    /// The refusal's code; `None`: the file gave trouble.
    pub code: Option<String>,
    /// What is wrong with the first of them, and what to do.
    pub first: Instead,
    /// Their numbers among the lines.
    pub lines: Vec<usize>,
}

/// The reasons, the most frequent first.
pub fn of(lines: &[Line]) -> Vec<Refused> {
    let mut all: Vec<Refused> = Vec::new();
    for (k, line) in lines.iter().enumerate() {
        let Some(instead) = &line.record.instead else { continue };
        match all.iter_mut().find(|refused| refused.code == instead.code) {
            Some(refused) => refused.lines.push(k),
            None => all.push(Refused { code: instead.code.clone(), first: instead.clone(), lines: vec![k] }),
        }
    }
    all.sort_by_key(|refused| std::cmp::Reverse(refused.lines.len()));
    all
}

#[cfg(test)]
mod tests {
    use super::super::line::tests::measured;
    use super::*;
    use crate::verdict::{Judgement, Place};

    #[test]
    fn the_most_frequent_reason_comes_first() {
        let line = |k: usize, code: Option<&str>| {
            let mut line = measured(&format!("{k}.jpg"), "", Place::Zip, 0.0, Judgement::Matched);
            let message = format!("message {k}");
            line.record.instead = Some(Instead { code: code.map(str::to_owned), message, help: "do".into() });
            line
        };
        let fine = measured("a.jpg", "", Place::Zip, 0.0, Judgement::Matched);
        let lines =
            [line(0, None), fine, line(2, Some("no-lines")), line(3, Some("blurred")), line(4, Some("no-lines"))];
        let told: Vec<_> = of(&lines).into_iter().map(|r| (r.code, r.first.message, r.lines)).collect();
        assert_eq!(
            told,
            [
                (Some("no-lines".into()), "message 2".into(), vec![2, 4]),
                (None, "message 0".into(), vec![0]),
                (Some("blurred".into()), "message 3".into(), vec![3]),
            ]
        );
    }
}
