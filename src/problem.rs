//! What can go wrong, said so that a person can act on it: what happened, and what to do.

use serde::Serialize;

/// Why a photograph was refused. The word of the JSON contract is in [`RefusalCode::word`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum RefusalCode {
    /// The bytes are not a picture in a format that can be read.
    NotAPicture,
    /// The picture stops before its end.
    Truncated,
    /// More pixels, or more memory, than the limits allow.
    TooLarge,
    /// Too few pixels to measure anything.
    TooSmall,
    /// The lines are too soft to be placed.
    Blurred,
    /// A card was asked for, or is needed, and none can be read.
    NoCard,
    /// No line crosses the seam.
    NoLines,
    /// The cloth has lines, but they run along the seam only.
    LinesAlongOnly,
    /// Lines of two families cross the seam, leaning either way: cloth cut on the bias.
    LinesBothWays,
    /// Lines cross the seam, but too few to fix an offset.
    TooFewLines,
    /// No cloth on one side of the seam, or too little.
    NoCloth,
    /// No seam was found.
    NoSeam,
    /// The seam, or the marks for the scale, lie outside the picture.
    OutsidePicture,
    /// The two sides do not show the same lines.
    SidesDiffer,
}

impl RefusalCode {
    /// The code as the JSON contract writes it.
    pub fn word(self) -> &'static str {
        match self {
            RefusalCode::NotAPicture => "not-a-picture",
            RefusalCode::Truncated => "truncated",
            RefusalCode::TooLarge => "too-large",
            RefusalCode::TooSmall => "too-small",
            RefusalCode::Blurred => "blurred",
            RefusalCode::NoCard => "no-card",
            RefusalCode::NoLines => "no-lines",
            RefusalCode::LinesAlongOnly => "lines-along-only",
            RefusalCode::LinesBothWays => "lines-both-ways",
            RefusalCode::TooFewLines => "too-few-lines",
            RefusalCode::NoCloth => "no-cloth",
            RefusalCode::NoSeam => "no-seam",
            RefusalCode::OutsidePicture => "outside-picture",
            RefusalCode::SidesDiffer => "sides-differ",
        }
    }
}

/// A photograph that cannot be judged, with the reason and the cure.
#[derive(Clone, Debug, PartialEq)]
pub struct Refusal {
    /// Which refusal.
    pub code: RefusalCode,
    /// What is wrong, and where, with the figures that decided it.
    pub message: String,
    /// What the person can do about it.
    pub help: String,
}

impl Refusal {
    /// A refusal with its message and its cure, each as one line.
    pub fn new(code: RefusalCode, message: impl Into<String>, help: impl Into<String>) -> Self {
        Self { code, message: one_line(message), help: one_line(help) }
    }
}

/// Anything that ends a run without a finding.
#[derive(Clone, Debug, thiserror::Error)]
pub enum Problem {
    /// An argument or a setting that cannot be used. Exit status 2.
    #[error("{message}")]
    Usage {
        /// What is wrong with which argument.
        message: String,
        /// What would have worked.
        help: String,
    },
    /// Reading or writing failed. Exit status 2.
    #[error("{message}")]
    Io {
        /// What was being read or written, and what the system said.
        message: String,
        /// What to do.
        help: String,
    },
    /// The photograph cannot be judged. Exit status 4.
    #[error("{}", .0.message)]
    Refused(Refusal),
}

impl Problem {
    /// A usage problem, message and help each as one line.
    pub fn usage(message: impl Into<String>, help: impl Into<String>) -> Self {
        Problem::Usage { message: one_line(message), help: one_line(help) }
    }

    /// A reading or writing problem, message and help each as one line.
    pub fn io(message: impl Into<String>, help: impl Into<String>) -> Self {
        Problem::Io { message: one_line(message), help: one_line(help) }
    }

    /// What to do about it.
    pub fn help(&self) -> &str {
        match self {
            Problem::Usage { help, .. } | Problem::Io { help, .. } => help,
            Problem::Refused(refusal) => &refusal.help,
        }
    }
}

/// Words that may hold a file's own: a control character is written as its escape, `\n` or `\u{1b}`, so that it neither
/// breaks the line nor commands a terminal.
fn one_line(words: impl Into<String>) -> String {
    let words = words.into();
    if !words.contains(char::is_control) {
        return words;
    }
    let escaped = |c: char| if c.is_control() { c.escape_default().to_string() } else { c.to_string() };
    words.chars().map(escaped).collect()
}

impl From<Refusal> for Problem {
    fn from(refusal: Refusal) -> Self {
        Problem::Refused(refusal)
    }
}

/// A doubt that does not stop the measurement: said beside the result, with its evidence.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Note {
    /// A short stable code, words joined by hyphens.
    pub code: &'static str,
    /// One sentence a person can read.
    pub text: String,
}

impl Note {
    /// A note.
    pub fn new(code: &'static str, text: impl Into<String>) -> Self {
        Self { code, text: text.into() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_wrong_and_what_to_do_are_one_line_each_without_control_characters() {
        let (foreign, told) =
            ("Stoff \u{e4}\r\n\t\u{1b}[2J\u{9b}1m\u{7f}\0", "Stoff \u{e4}\\r\\n\\t\\u{1b}[2J\\u{9b}1m\\u{7f}\\u{0}");
        let refusal = Refusal::new(RefusalCode::NoSeam, foreign, foreign);
        for problem in [Problem::usage(foreign, foreign), Problem::io(foreign, foreign), refusal.into()] {
            assert_eq!((problem.to_string().as_str(), problem.help()), (told, told));
        }
    }
}
