//! The user's own figures from a settings file (`seamstep.toml`): tolerances by place, rules of thumb, units.
//!
//! The file is looked for in the photograph's folder and then upward, folder by folder; the first one found is used alone.

use crate::digits::Unit;
use crate::problem::Problem;
use crate::remedy::custom::Rules;
use crate::verdict::demand::{MOST_TOLERANCE_MM, is_tolerance};
use crate::verdict::{OwnTolerances, Place};
use crate::written::Units;
use crate::written::toml_file::{self, Millimetres};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The name of a settings file.
pub const FILE_NAME: &str = "seamstep.toml";

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
    units: Option<Units>,
    #[serde(default)]
    tolerance: BTreeMap<Place, Millimetres>,
    #[serde(default)]
    rules: Rules,
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
        let text = toml_file::read(file, "settings", "name another file with --settings, or take this one away")?;
        Self::parse(&text, &file.display().to_string())
    }

    /// The settings that `text` says; `file` is its name.
    ///
    /// # Errors
    /// [`Problem::Usage`] with the place in the text.
    pub fn parse(text: &str, file: &str) -> Result<Self, Problem> {
        let wrong = |what: String, help: &str| Problem::usage(format!("the settings {file}: {what}"), help.to_owned());
        let written: Written = toml_file::parse(text, &format!("the settings {file}"))?;
        let mut by_place_mm = BTreeMap::new();
        for (place, Millimetres(mm)) in written.tolerance {
            if !is_tolerance(mm) {
                return Err(wrong(
                    format!("the tolerance {} cannot be {mm} mm", place.word()),
                    &format!("give millimetres from 0 to {MOST_TOLERANCE_MM}, or inches in quotes: \"1/16in\""),
                ));
            }
            by_place_mm.insert(place, mm);
        }
        written.rules.check().map_err(|e| wrong(e.to_string(), e.help()))?;
        Ok(Self {
            tolerances: OwnTolerances { file: file.to_owned(), by_place_mm },
            rules: written.rules,
            unit: written.units.map(Into::into),
        })
    }
}

/// The first settings file in this folder or above it.
fn above(folder: &Path) -> Option<PathBuf> {
    let folder = folder.canonicalize().ok()?;
    folder.ancestors().map(|f| f.join(FILE_NAME)).find(|file| file.is_file())
}

#[cfg(test)]
mod tests {
    use super::*;

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
