//! The garment file: TOML, with the spellings that `check` has on the command line.

use super::{Garment, PieceSeam};
use crate::ask::Ask;
use crate::conventions::Runs;
use crate::problem::Problem;
use crate::remedy::Stage;
use crate::scale::ScaleRequest;
use crate::seam::SeamRequest;
use crate::units::PxPoint;
use crate::verdict::Place;
use crate::verdict::demand::{MOST_TOLERANCE_MM, is_tolerance};
use crate::written::toml_file::{self, Millimetres};
use crate::written::{self, Units};
use serde::de::Error;
use serde::{Deserialize, Deserializer};
use std::path::{Path, PathBuf};
use toml::Spanned;

/// The file as it is written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    name: String,
    #[serde(default)]
    stage: Stage,
    cloth: Option<String>,
    units: Option<Units>,
    settings: Option<PathBuf>,
    #[serde(default)]
    seam: Vec<Spanned<WrittenSeam>>,
}

/// A `[[seam]]` as it is written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenSeam {
    name: Option<String>,
    place: Place,
    photo: PathBuf,
    tolerance: Option<Spanned<Millimetres>>,
    #[serde(default, deserialize_with = "points")]
    seam: Vec<PxPoint>,
    along: Option<Runs>,
    #[serde(default)]
    insist: bool,
    #[serde(default)]
    card: bool,
    #[serde(default, deserialize_with = "rectangle")]
    rectangle: Option<written::Rectangle>,
    #[serde(default, deserialize_with = "length")]
    length: Option<written::Length>,
    repeat: Option<Millimetres>,
}

fn points<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<PxPoint>, D::Error> {
    written::points(&String::deserialize(deserializer)?).map_err(D::Error::custom)
}

fn rectangle<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<written::Rectangle>, D::Error> {
    written::rectangle(&String::deserialize(deserializer)?).map(Some).map_err(D::Error::custom)
}

fn length<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<written::Length>, D::Error> {
    written::length(&String::deserialize(deserializer)?).map(Some).map_err(D::Error::custom)
}

/// Reads a garment file: [`super::read`].
pub(super) fn read(path: &Path) -> Result<Garment, Problem> {
    let text = toml_file::read(path, "garment file", "seamstep garment --new FILE.toml writes one to begin with")?;
    parse(&text, path)
}

/// The piece that `text` says; `path` is the name of its file, from whose folder photographs and settings are named.
///
/// # Errors
/// [`Problem::Usage`] with the line.
pub fn parse(text: &str, path: &Path) -> Result<Garment, Problem> {
    let called = format!("the garment file {}", path.display());
    let folder = path.parent().unwrap_or(Path::new(""));
    let written: Written = toml_file::parse(text, &called)?;
    let wrong = |at: usize, what: &str, help: &str| toml_file::wrong(text, &called, Some(at), what, help.to_owned());
    if written.name.trim().is_empty() {
        return Err(toml_file::wrong(text, &called, None, "the piece has no name", "write name = \"Skirt\"".into()));
    }
    if written.seam.is_empty() {
        let help = "begin each seam with a line [[seam]], and say place and photo below it";
        return Err(toml_file::wrong(text, &called, None, "it has no seam", help.to_owned()));
    }
    let mut seams: Vec<PieceSeam> = Vec::new();
    for entry in written.seam {
        let at = entry.span().start;
        let seam = entry.into_inner();
        let scale = seam.scale().map_err(|both| wrong(at, &both, "keep one of them"))?;
        let tolerance_mm = match &seam.tolerance {
            Some(given) if !is_tolerance(given.get_ref().0) => {
                return Err(wrong(
                    given.span().start,
                    &format!("{} mm cannot be a tolerance", given.get_ref().0),
                    &format!("give millimetres from 0 to {MOST_TOLERANCE_MM}, or inches in quotes: \"1/16in\""),
                ));
            }
            given => given.as_ref().map(|given| given.get_ref().0),
        };
        let name = match seam.name.as_deref().map(str::trim) {
            Some("") => return Err(wrong(at, "this seam's name is empty", "say what it is called, or leave name out")),
            Some(name) => name.to_owned(),
            None => seam.place.heading(),
        };
        if seams.iter().any(|other| other.name == name) {
            return Err(wrong(
                at,
                &format!("two seams are called {name:?}"),
                "give each a name of its own, for example name = \"Left side\"",
            ));
        }
        let ask = Ask {
            scale,
            seam: SeamRequest { points_px: seam.seam, runs: seam.along, insist: seam.insist },
            place: Some(seam.place),
            tolerance_mm,
            stage: written.stage,
            unit: written.units.map(Into::into),
            settings: written.settings.as_ref().map(|file| folder.join(file)),
        };
        let photo = folder.join(seam.photo);
        if seams.iter().any(|other| other.photo == photo && may_be_one(&other.ask.seam, &ask.seam)) {
            return Err(wrong(
                at,
                &format!("{} shows two seams, and it is not said which is where", photo.display()),
                "give each its points, seam = \"X,Y X,Y\"; seamstep check with --all finds them",
            ));
        }
        seams.push(PieceSeam { name, place: seam.place, photo, ask });
    }
    Ok(Garment { file: path.to_owned(), name: written.name, stage: written.stage, cloth: written.cloth, seams })
}

/// Whether two seams of one photograph may be taken for one: no two drawings, nor one down and one across.
fn may_be_one(a: &SeamRequest, b: &SeamRequest) -> bool {
    let drawn = !a.points_px.is_empty() && !b.points_px.is_empty();
    let cross = matches!((a.runs, b.runs), (Some(a), Some(b)) if a != b);
    !drawn && !cross
}

impl WrittenSeam {
    /// Where the scale comes from.
    ///
    /// # Errors
    /// What is wrong, where more than one is given.
    fn scale(&self) -> Result<ScaleRequest, String> {
        let said = [
            ("card", self.card.then_some(ScaleRequest::Card)),
            (
                "rectangle",
                self.rectangle.map(|r| ScaleRequest::Rectangle {
                    corners_px: r.corners_px,
                    width_mm: r.width_mm,
                    height_mm: r.height_mm,
                }),
            ),
            ("length", self.length.map(|l| ScaleRequest::Length { ends_px: l.ends_px, length_mm: l.length_mm })),
            ("repeat", self.repeat.map(|r| ScaleRequest::Repeat { repeat_mm: r.0 })),
        ];
        let given: Vec<(&str, ScaleRequest)> =
            said.into_iter().filter_map(|(key, scale)| Some((key, scale?))).collect();
        match given[..] {
            [] => Ok(ScaleRequest::Auto),
            [(_, one)] => Ok(one),
            [(first, _), (second, _), ..] => Err(format!("{first} and {second} both give the scale")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::digits::Unit;

    fn parsed(text: &str) -> Result<Garment, Problem> {
        parse(text, Path::new("pieces/skirt.toml"))
    }

    #[test]
    fn a_file_is_read_with_the_spellings_of_check() {
        let text = "name = \"Skirt\"\nstage = \"sewn\"\ncloth = \"grey check\"\nunits = \"in\"\nsettings = \"own.toml\"\n\
                    [[seam]]\nplace = \"centre-back\"\nphoto = \"a b.jpg\"\ntolerance = \"1/16in\"\n\
                    seam = \"1,2 3,4\"\nalong = \"across\"\ninsist = true\nrepeat = 36\n\
                    [[seam]]\nname = \"Left\"\nplace = \"side-seam\"\nphoto = \"/x/l.jpg\"\ntolerance = 2\ncard = true\n";
        let garment = parsed(text).unwrap();
        assert_eq!((garment.name.as_str(), garment.stage), ("Skirt", Stage::Sewn));
        assert_eq!(garment.cloth.as_deref(), Some("grey check"));
        let [back, left] = &garment.seams[..] else { panic!("{garment:?}") };
        assert_eq!((back.name.as_str(), back.place), ("Centre back", Place::CentreBack));
        assert_eq!((back.photo.as_path(), left.photo.as_path()), (Path::new("pieces/a b.jpg"), Path::new("/x/l.jpg")));
        let ask = back.ask();
        assert_eq!((ask.tolerance_mm, ask.stage, ask.unit), (Some(25.4 / 16.0), Stage::Sewn, Some(Unit::Sixteenth)));
        assert_eq!(
            ask.seam,
            SeamRequest {
                points_px: vec![PxPoint::new(1.0, 2.0), PxPoint::new(3.0, 4.0)],
                runs: Some(Runs::Across),
                insist: true
            }
        );
        assert_eq!(ask.scale, ScaleRequest::Repeat { repeat_mm: 36.0 });
        assert_eq!(ask.settings.as_deref(), Some(Path::new("pieces/own.toml")));
        assert_eq!((left.ask().scale, left.ask().tolerance_mm), (ScaleRequest::Card, Some(2.0)));
        assert_eq!(left.ask().place, Some(Place::SideSeam));
    }

    #[test]
    fn one_photograph_may_show_two_seams_that_are_told_apart() {
        let seams = |one: &str, two: &str| {
            let seam = |place: &str, more: &str| format!("[[seam]]\nplace = \"{place}\"\nphoto = \"a.jpg\"\n{more}\n");
            parsed(&format!("name = \"A\"\n{}{}", seam("zip", one), seam("hem", two)))
        };
        let drawn = |x: u32| format!("seam = \"{x},10 {x},90\"");
        assert_eq!(seams(&drawn(20), &drawn(60)).unwrap().seams.len(), 2);
        assert_eq!(seams("along = \"down\"", "along = \"across\"").unwrap().seams.len(), 2);
        for (one, two) in [(drawn(20), String::new()), ("along = \"down\"".into(), "along = \"down\"".into())] {
            assert!(seams(&one, &two).is_err(), "{one} {two}");
        }
    }

    #[test]
    fn what_is_wrong_is_told_with_its_line_and_what_to_do() {
        let seam = "name = \"A\"\n[[seam]]\nplace = \"hem\"\nphoto = \"a.jpg\"\n";
        for (text, what, help) in [
            ("", "the key name is missing", "name = "),
            ("name = \"A\"", "it has no seam", "[[seam]]"),
            ("name = \" \"", "no name", "name = "),
            ("name = \"A\"\nstge = \"sewn\"", "line 2: there is no key \"stge\"", "did you mean stage?"),
            ("name = \"A\"\nstage = \"sown\"", "line 2: \"sown\" is not known", "did you mean sewn?"),
            (&format!("{seam}tolerence = 1"), "line 5: there is no key \"tolerence\"", "did you mean tolerance?"),
            (&format!("{seam}tolerance = \"wide\""), "line 5: \"wide\" is no length", ""),
            (&format!("{seam}tolerance = -1"), "line 5: -1 mm cannot be a tolerance", "from 0 to"),
            (&format!("{seam}seam = \"1,2\""), "line 5: a seam needs two points", ""),
            (&format!("{seam}rectangle = \"1\""), "line 5: write it as X1", ""),
            (&format!("{seam}length = \"1\""), "line 5: write it as X1", ""),
            (&format!("{seam}along = \"acros\""), "line 5: \"acros\" is not known", "did you mean across?"),
            (&format!("{seam}card = true\nrepeat = 3"), "line 2: card and repeat both give the scale", "keep one"),
            (&format!("{seam}[[seam]]\nplace = \"hem\"\nphoto = \"b.jpg\""), "line 5: two seams are called", "own"),
            (
                &format!("{seam}[[seam]]\nplace = \"zip\"\nphoto = \"a.jpg\""),
                "line 5: pieces/a.jpg shows two seams",
                "--all",
            ),
            (&format!("{seam}[[seam]]\nplace = \"elbow\""), "line 6: \"elbow\" is not known", "centre-back"),
            (&format!("{seam}[[seam]]\nplace = \"zip\""), "the key photo is missing", "photo = "),
            (&format!("{seam}name = \"\""), "line 2: this seam's name is empty", "leave name out"),
        ] {
            let problem = parsed(text).unwrap_err();
            assert!(problem.to_string().contains(what), "{text}: {problem}");
            assert!(problem.to_string().contains("pieces/skirt.toml"), "{problem}");
            assert!(problem.help().contains(help), "{text}: {}", problem.help());
        }
        assert!(matches!(read(Path::new("no such.toml")), Err(Problem::Io { .. })));
        assert!(matches!(read(Path::new("src")), Err(Problem::Io { .. })));
    }
}
