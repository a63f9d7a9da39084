//! A file in TOML, read so that what is wrong in it is told with its line and the nearest right word.

use super::{length_mm, nearest};
use crate::problem::Problem;
use serde::de::{DeserializeOwned, Error, Visitor};
use serde::{Deserialize, Deserializer};
use std::fmt;
use std::path::Path;

/// The largest file that is read, bytes.
const MOST_BYTES: u64 = 1 << 20;

/// The text of `file`; `kind` is what it is called (`settings`), `help` what to do where it cannot be read.
///
/// # Errors
/// [`Problem::Io`] where it is missing, no file, too large or not UTF-8.
pub fn read(file: &Path, kind: &str, help: &str) -> Result<String, Problem> {
    let cannot = |what: &dyn fmt::Display| {
        Problem::io(format!("the {kind} {} cannot be read: {what}", file.display()), help.to_owned())
    };
    let facts = file.metadata().map_err(|e| cannot(&e))?;
    if !facts.is_file() {
        return Err(cannot(&"it is no file"));
    }
    if facts.len() > MOST_BYTES {
        return Err(cannot(&format!("it has {} bytes, and {MOST_BYTES} are the most", facts.len())));
    }
    std::fs::read_to_string(file).map_err(|e| cannot(&e))
}

/// What `text` says; `name` is what the file is called in a sentence (`the settings seamstep.toml`).
///
/// # Errors
/// [`Problem::Usage`] with the line, and the nearest right word where a word is not known.
pub fn parse<T: DeserializeOwned>(text: &str, name: &str) -> Result<T, Problem> {
    toml::from_str(text).map_err(|e| {
        let (what, help) = told(e.message());
        wrong(text, name, e.span().map(|span| span.start), &what, help)
    })
}

/// The problem `what` at a byte of the file's text.
pub fn wrong(text: &str, name: &str, at: Option<usize>, what: &str, help: String) -> Problem {
    match at {
        Some(at) => Problem::usage(format!("{name}, line {}: {what}", line(text, at)), help),
        None => Problem::usage(format!("{name}: {what}"), help),
    }
}

/// The number of the line that holds this byte, from 1.
fn line(text: &str, byte: usize) -> usize {
    1 + text.bytes().take(byte).filter(|&b| b == b'\n').count()
}

/// What the reader says, in sentences: what is wrong, and what to do.
fn told(message: &str) -> (String, String) {
    let quoted: Vec<&str> = message.split('`').skip(1).step_by(2).collect();
    let known = quoted.get(1..).unwrap_or_default();
    let choice = |word: &str, what: &str| match nearest(word, known) {
        Some(near) => format!("did you mean {near}? The {what} are {}", known.join(", ")),
        None => format!("the {what} are {}", known.join(", ")),
    };
    match quoted.first() {
        Some(word) if message.starts_with("unknown field") => {
            (format!("there is no key {word:?}"), choice(word, "keys here"))
        }
        Some(word) if message.starts_with("unknown variant") => {
            (format!("{word:?} is not known"), choice(word, "words here"))
        }
        Some(word) if message.starts_with("missing field") => {
            (format!("the key {word} is missing"), format!("add a line {word} = …"))
        }
        Some(word) if message.starts_with("duplicate") => {
            (format!("{word} stands twice"), "take one of them away".to_owned())
        }
        _ => {
            let said = message.trim().replace('\n', "; ");
            (said, "write a key, an equals sign and a value, words in quotes: place = \"hem\"".to_owned())
        }
    }
}

/// Millimetres: a number, or a length in quotes with its unit, as [`length_mm`] reads it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Millimetres(pub f64);

impl<'de> Deserialize<'de> for Millimetres {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        fn no_length<E: Error>(written: &dyn fmt::Debug) -> E {
            E::custom(format!("{written:?} is no length; write it as 1.5 (millimetres) or as \"1/16in\""))
        }
        struct Length;
        impl Visitor<'_> for Length {
            type Value = Millimetres;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a length: 1.5 (millimetres), or \"1/16in\"")
            }

            fn visit_i64<E: Error>(self, mm: i64) -> Result<Millimetres, E> {
                Ok(Millimetres(mm as f64))
            }

            fn visit_f64<E: Error>(self, mm: f64) -> Result<Millimetres, E> {
                match mm.is_finite() {
                    true => Ok(Millimetres(mm)),
                    false => Err(no_length(&mm)),
                }
            }

            fn visit_str<E: Error>(self, words: &str) -> Result<Millimetres, E> {
                length_mm(words).map(Millimetres).ok_or_else(|| no_length(&words))
            }
        }
        deserializer.deserialize_any(Length)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::written::Units;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Written {
        #[allow(dead_code)]
        units: Units,
        #[allow(dead_code)]
        tolerance: Option<Millimetres>,
    }

    #[test]
    fn what_is_wrong_is_told_with_its_line_and_the_nearest_right_word() {
        for (text, what, help) in [
            ("units = \"mm\"\n\ntolerence = 1", "line 3: there is no key \"tolerence\"", "did you mean tolerance?"),
            ("units = \"mm\"\nqqq = 1", "line 2: there is no key", "the keys here are units, tolerance"),
            ("\nunits = \"mmm\"", "line 2: \"mmm\" is not known", "did you mean mm?"),
            ("tolerance = 1", "the key units is missing", "add a line units"),
            ("units = \"mm\"\ntolerance = \"wide\"", "line 2: \"wide\" is no length; write it as 1.5", ""),
            ("units = \"mm\"\ntolerance = \"1e308in\"", "line 2: \"1e308in\" is no length", ""),
            ("units = \"mm\"\ntolerance = inf", "line 2: inf is no length", ""),
            ("units = \"mm\"\ntolerance = nan", "is no length", ""),
            ("units = \"mm\"\nunits = \"in\"", "line 2", ""),
            ("units = \"mm\"\ntolerance = ", "line 2", "equals sign"),
        ] {
            let problem = parse::<Written>(text, "the settings a.toml").unwrap_err();
            let said = format!("{problem}\n{}", problem.help());
            assert!(said.contains(what) && said.contains("the settings a.toml"), "{text}: {said}");
            assert!(problem.help().contains(help), "{text}: {said}");
            assert!(!problem.to_string().contains('\n'), "{said}");
        }
    }
}
