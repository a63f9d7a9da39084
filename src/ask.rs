//! What is asked about a photograph that lies in a file: the question, with the settings of the photograph's folder.

use crate::digits::Unit;
use crate::finding::Finding;
use crate::inspect::{OneOfAll, Question, Reached, inspect_all, inspect_telling};
use crate::photo::{self, Limits, Photo};
use crate::problem::{Problem, Refusal};
use crate::remedy::Stage;
use crate::scale::ScaleRequest;
use crate::seam::{SeamInPicture, SeamRequest};
use crate::settings::Settings;
use crate::verdict::{Demand, Place};
use std::path::{Path, PathBuf};

/// What a person says of a photograph; what is not said comes from the settings, or is the trade's custom.
#[derive(Clone, Debug, Default)]
pub struct Ask {
    /// Where the scale comes from.
    pub scale: ScaleRequest,
    /// Where the seam is.
    pub seam: SeamRequest,
    /// Where on the garment.
    pub place: Option<Place>,
    /// The largest jump accepted, millimetres.
    pub tolerance_mm: Option<f64>,
    /// How far the work has gone.
    pub stage: Stage,
    /// What lengths are told in.
    pub unit: Option<Unit>,
    /// The settings file; `None`: the one that [`Settings::find`] finds from the photograph's folder upward.
    pub settings: Option<PathBuf>,
}

/// What came of a photograph.
#[derive(Clone, Debug)]
pub enum Answer {
    /// It was measured.
    Found {
        /// The upright photograph.
        photo: Photo,
        /// All that was measured and judged on it.
        finding: Box<Finding>,
    },
    /// It cannot be judged.
    Refused(Refused),
}

/// What came of every place of a photograph where a seam may be.
#[derive(Clone, Debug)]
pub enum AnswerToAll {
    /// Each was looked at.
    Looked {
        /// The upright photograph.
        photo: Photo,
        /// The places, at least one.
        seams: Vec<OneOfAll>,
    },
    /// None can be looked for.
    Refused(Refused),
}

/// A photograph that cannot be judged.
#[derive(Clone, Debug)]
pub struct Refused {
    /// Width and height where they were read.
    pub size_px: Option<[u32; 2]>,
    /// Where its seam was taken to be, and where else one may be; none where it did not come to that.
    pub seams: Vec<SeamInPicture>,
    /// Why, and what to do.
    pub refusal: Refusal,
}

impl Refused {
    /// The refusal that a problem is, of a photograph where one was read.
    ///
    /// # Errors
    /// Every problem but a refusal.
    fn of(problem: Problem, photo: Option<&Photo>, seams: Vec<SeamInPicture>) -> Result<Self, Problem> {
        match problem {
            Problem::Refused(refusal) => {
                Ok(Refused { size_px: photo.map(|photo| [photo.width_px(), photo.height_px()]), seams, refusal })
            }
            problem => Err(problem),
        }
    }
}

impl From<Refusal> for Refused {
    fn from(refusal: Refusal) -> Self {
        Refused { size_px: None, seams: Vec::new(), refusal }
    }
}

impl Ask {
    /// The whole question about the photograph `file`; of `-`, standard input, the working folder stands for its folder.
    ///
    /// # Errors
    /// [`Problem::Usage`] where the tolerance or the settings say what cannot be, [`Problem::Io`] where the settings cannot
    /// be read.
    pub fn question(&self, file: &Path) -> Result<Question, Problem> {
        let folder = file.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let settings = Settings::find(self.settings.as_deref(), folder)?;
        let unit = self.unit.or(settings.unit).unwrap_or_default();
        let demand =
            Demand { place: self.place, tolerance_mm: self.tolerance_mm, own: settings.tolerances.clone(), unit };
        demand.check()?;
        Ok(Question { scale: self.scale, seam: self.seam.clone(), demand, stage: self.stage, rules: settings.rules })
    }

    /// Reads, measures and judges the photograph `file`.
    ///
    /// # Errors
    /// As [`Self::question`], and [`Problem::Io`] where the photograph cannot be read. A refusal is an answer.
    pub fn answer(&self, file: &Path) -> Result<Answer, Problem> {
        answer_of(file, &self.question(file)?)
    }

    /// The same of every place of the photograph where a seam may be.
    ///
    /// # Errors
    /// As [`Self::answer`].
    pub fn answer_all(&self, file: &Path) -> Result<AnswerToAll, Problem> {
        let question = self.question(file)?;
        let photo = match photo::read(file, &Limits::default()) {
            Ok(photo) => photo,
            Err(problem) => return Ok(AnswerToAll::Refused(Refused::of(problem, None, Vec::new())?)),
        };
        match inspect_all(&photo, &question) {
            Ok(seams) => Ok(AnswerToAll::Looked { photo, seams }),
            Err(problem) => Ok(AnswerToAll::Refused(Refused::of(problem, Some(&photo), Vec::new())?)),
        }
    }
}

/// What comes of the photograph `file` under `question`.
///
/// # Errors
/// [`Problem::Io`] where the photograph cannot be read. A refusal is an answer.
pub fn answer_of(file: &Path, question: &Question) -> Result<Answer, Problem> {
    answer(photo::read(file, &Limits::default()), question)
}

/// What comes of a photograph that was read, or could not be, under `question`.
///
/// # Errors
/// Every problem but a refusal.
pub fn answer(read: Result<Photo, Problem>, question: &Question) -> Result<Answer, Problem> {
    let photo = match read {
        Ok(photo) => photo,
        Err(problem) => return Ok(Answer::Refused(Refused::of(problem, None, Vec::new())?)),
    };
    let mut seams = Vec::new();
    let mut note = |reached: Reached<'_>| {
        if let Reached::Seam(plane, seam) = reached {
            seams = seam.in_picture(plane);
        }
    };
    match inspect_telling(&photo, question, &mut note) {
        Ok(finding) => Ok(Answer::Found { photo, finding: Box::new(finding) }),
        Err(problem) => Ok(Answer::Refused(Refused::of(problem, Some(&photo), seams)?)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_said_comes_from_the_settings_of_the_photographs_folder() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("seamstep.toml"), "units = \"in\"\n[tolerance]\nhem = 2.5\n").unwrap();
        let photo = folder.path().join("hem.jpg");
        let ask = Ask { place: Some(Place::Hem), ..Ask::default() };
        let question = ask.question(&photo).unwrap();
        assert_eq!((question.demand.tolerance().0, question.demand.unit), (2.5, Unit::Sixteenth));
        let own = Ask { tolerance_mm: Some(1.0), unit: Some(Unit::Millimetre), ..ask.clone() };
        let question = own.question(&photo).unwrap();
        assert_eq!((question.demand.tolerance().0, question.demand.unit), (1.0, Unit::Millimetre));
        assert!(Ask { tolerance_mm: Some(-1.0), ..ask }.question(&photo).is_err());
    }

    #[test]
    fn a_refusal_is_an_answer_and_a_missing_file_a_problem() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("words.jpg");
        std::fs::write(&file, "no picture").unwrap();
        let answer = Ask::default().answer(&file).unwrap();
        assert!(matches!(answer, Answer::Refused(Refused { size_px: None, .. })), "{answer:?}");
        assert!(matches!(Ask::default().answer(&folder.path().join("none.jpg")), Err(Problem::Io { .. })));
    }
}
