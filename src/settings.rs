//! The user's own figures from a settings file (`seamstep.toml`): tolerances by place, rules of thumb, units.
//!
//! The file is looked for in the photograph's folder and then upward, folder by folder; the first one found is used alone.

use crate::digits::Unit;
use crate::problem::Problem;
use crate::remedy::custom::Rules;
use crate::verdict::demand::{MOST_TOLERANCE_MM, is_tolerance};
use crate::verdict::{OwnTolerances, Place};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The name of a settings file.
pub const FILE_NAME: &str = "seamstep.toml";
/// The largest settings file that is read, bytes.
const MOST_BYTES: u64 = 1 << 20;

/// What a settings file may say; what it does not say stays as it is.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Settings {
    /// Tolerances by place, and the file they came from.
    pub tolerances: OwnTolerances,
    /// The rules of thumb.
    pub rules: Rules,
    /// What lengths are told in; `None`: not said.
    pub unit: Option<Unit>,
}

/// The file as it is written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    units: Option<WrittenUnit>,
    #[serde(default)]
    tolerance: BTreeMap<Place, Length>,
    #[serde(default)]
    rules: Rules,
}

#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "lowercase")]
enum WrittenUnit {
    Mm,
    In,
}

/// Millimetres, as a number or with a unit in quotes.
#[derive(Deserialize)]
#[serde(untagged)]
enum Length {
    Number(f64),
    Words(String),
}

impl Settings {
    /// The settings for a photograph: those of `named` when it is given, else of the first [`FILE_NAME`] in `folder` or above
    /// it, else none.
    ///
    /// # Errors
    /// [`Problem::Io`] where the file cannot be read, [`Problem::Usage`] where it says what cannot be.
    pub fn find(named: Option<&Path>, folder: &Path) -> Result<Self, Problem> {
        match named.map(Path::to_owned).or_else(|| above(folder)) {
            Some(file) => Self::read(&file),
            None => Ok(Self::default()),
        }
    }

    fn read(file: &Path) -> Result<Self, Problem> {
        let name = file.display();
        let cannot = |what: &dyn std::fmt::Display| {
            Problem::io(
                format!("the settings {name} cannot be read: {what}"),
                "name another file with --settings, or take this one away",
            )
        };
        let size = file.metadata().map_err(|e| cannot(&e))?.len();
        if size > MOST_BYTES {
            return Err(cannot(&format!("it has {size} bytes, and {MOST_BYTES} are the most")));
        }
        let text = std::fs::read_to_string(file).map_err(|e| cannot(&e))?;
        Self::parse(&text, &name.to_string())
    }

    /// The settings that `text` says; `file` is its name.
    ///
    /// # Errors
    /// [`Problem::Usage`] with the place in the text.
    pub fn parse(text: &str, file: &str) -> Result<Self, Problem> {
        let wrong = |what: String, help: &str| Problem::usage(format!("the settings {file}: {what}"), help.to_owned());
        let written: Written = toml::from_str(text).map_err(|e| {
            wrong(
                e.to_string().trim_end().to_owned(),
                "the README shows a settings file with every name that it may hold",
            )
        })?;
        let mut by_place_mm = BTreeMap::new();
        for (place, length) in written.tolerance {
            let mm = match &length {
                Length::Number(mm) => Some(*mm),
                Length::Words(words) => length_mm(words),
            };
            let mm = mm.filter(|&mm| is_tolerance(mm)).ok_or_else(|| {
                let said = match &length {
                    Length::Number(mm) => mm.to_string(),
                    Length::Words(words) => format!("{words:?}"),
                };
                wrong(
                    format!("the tolerance {} cannot be {said}", place.word()),
                    &format!("give millimetres from 0 to {MOST_TOLERANCE_MM}, or inches in quotes: \"1/16in\""),
                )
            })?;
            by_place_mm.insert(place, mm);
        }
        written.rules.check().map_err(|e| wrong(e.to_string(), e.help()))?;
        Ok(Self {
            tolerances: OwnTolerances { file: file.to_owned(), by_place_mm },
            rules: written.rules,
            unit: written.units.map(|unit| match unit {
                WrittenUnit::Mm => Unit::Millimetre,
                WrittenUnit::In => Unit::Sixteenth,
            }),
        })
    }
}

/// The first settings file in this folder or above it.
fn above(folder: &Path) -> Option<PathBuf> {
    let folder = folder.canonicalize().ok()?;
    folder.ancestors().map(|f| f.join(FILE_NAME)).find(|file| file.is_file())
}

/// A length with its unit, in millimetres: `1.5`, `1.5mm`, `1/16in`, `0.06 in`, `1 1/2in`; `None` where it is none.
pub fn length_mm(text: &str) -> Option<f64> {
    let text = text.trim();
    let (number, unit_mm) = match text.strip_suffix("in") {
        Some(inches) => (inches, 25.4),
        None => (text.strip_suffix("mm").unwrap_or(text), 1.0),
    };
    let plain = |part: &str| part.parse::<f64>().ok().filter(|v| v.is_finite());
    let parts: Vec<&str> = number.split_whitespace().collect();
    let fraction = |part: &str| match part.split_once('/') {
        Some((over, under)) => plain(under).filter(|u| *u > 0.0).and_then(|u| Some(plain(over)? / u)),
        None => plain(part),
    };
    let value = match parts[..] {
        [one] => fraction(one)?,
        [whole, part] if part.contains('/') => plain(whole)? + fraction(part)?,
        _ => return None,
    };
    Some(value * unit_mm)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_read_in_both_units() {
        for (text, mm) in [
            ("1.5", 1.5),
            (" 1.5 mm ", 1.5),
            ("1/16in", 1.5875),
            ("1/8 in", 3.175),
            ("1 1/2in", 38.1),
            ("0.5in", 12.7),
            ("-2", -2.0),
        ] {
            assert!((length_mm(text).unwrap() - mm).abs() < 1e-12, "{text}");
        }
        for text in ["", "in", "1/0in", "1 2", "a", "1cm", "1//2", "nan", "inf"] {
            assert!(length_mm(text).is_none(), "{text}");
        }
    }

    #[test]
    fn what_is_said_is_taken_and_the_rest_stays() {
        let text = "units = \"in\"\n[tolerance]\ncentre-back = 1\nhem = \"1/4in\"\n[rules]\nmost-ease-percent = 1.5\n";
        let settings = Settings::parse(text, "a.toml").unwrap();
        assert_eq!(settings.unit, Some(Unit::Sixteenth));
        assert_eq!(settings.tolerances.by_place_mm, [(Place::CentreBack, 1.0), (Place::Hem, 6.35)].into());
        assert_eq!(settings.rules, Rules { most_ease_percent: 1.5, ..Rules::default() });
        assert_eq!(Settings::parse("", "a.toml").unwrap().rules, Rules::default());
    }

    #[test]
    fn what_cannot_be_is_refused_with_its_name() {
        for (text, word) in [
            ("[tolerance]\nelbow = 1", "elbow"),
            ("[tolerance]\nhem = -1", "hem"),
            ("[tolerance]\nhem = \"wide\"", "wide"),
            ("[rules]\nease = 1", "ease"),
            ("[rules]\nmachine-stitch-mm = 0", "machine-stitch-mm"),
            ("units = \"yards\"", "yards"),
            ("colour = 1", "colour"),
            ("[tolerance", "1"),
        ] {
            let problem = Settings::parse(text, "a.toml").unwrap_err();
            assert!(problem.to_string().contains(word) && problem.to_string().contains("a.toml"), "{text}: {problem}");
        }
    }
}
