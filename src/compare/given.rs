//! A piece as it is given: a garment file's seams, or one photograph.

use crate::ask::{Answer, answer_of};
use crate::garment::{self, Garment, Sheet};
use crate::inspect::Question;
use crate::problem::Problem;
use crate::record::{Lengths, Record, Standing, Subject};
use crate::verdict::Place;
use std::path::Path;

/// A piece, its seams measured.
#[derive(Clone, Debug)]
pub struct Given {
    /// What it is called here.
    pub name: String,
    /// Its seams.
    pub seams: Vec<Seam>,
}

/// A seam of a piece, and what came of its photograph.
#[derive(Clone, Debug)]
pub struct Seam {
    /// What it is called.
    pub name: String,
    /// Where on the garment.
    pub place: Place,
    /// What came of it.
    pub record: Record,
}

impl Seam {
    /// What was measured in millimetres; `None` where nothing was.
    pub fn lengths(&self) -> Option<&Lengths> {
        self.record.measured.as_ref()?.lengths.as_ref()
    }
}

impl Given {
    /// A whole piece, measured one photograph at a time; `seen` is told what came of each while its photograph is there, in the
    /// order of [`Self::seams`].
    ///
    /// # Errors
    /// As [`garment::judge`]: a photograph that is missing or refused is a seam without figures.
    pub fn of_garment(garment: Garment, seen: &mut dyn FnMut(&Result<Answer, Problem>)) -> Result<Self, Problem> {
        let sheet = garment::judge(garment, &mut |_, answer| {
            seen(answer);
            Ok(())
        })?;
        Ok(Self::of_sheet(sheet))
    }

    /// A whole piece that was judged.
    pub fn of_sheet(sheet: Sheet) -> Self {
        let seams = sheet.garment.seams.iter().zip(sheet.rows);
        let seams = seams.map(|(seam, row)| Seam { name: seam.name.clone(), place: seam.place, record: row.record });
        Self { seams: seams.collect(), name: sheet.garment.name }
    }

    /// One photograph as a piece of one seam, called by the file's name; one that is missing or refused is a seam without
    /// figures.
    pub fn of_photograph(file: &Path, question: &Question, seen: &mut dyn FnMut(&Result<Answer, Problem>)) -> Self {
        let answer = answer_of(file, question);
        seen(&answer);
        let place = question.demand.place();
        let subject = Subject { file: file.display().to_string(), place: question.demand.place, ..Subject::default() };
        let name = file.file_stem().unwrap_or(file.as_os_str()).to_string_lossy().into_owned();
        let called = if place == Place::Other { "The seam".into() } else { place.heading() };
        let seam = Seam { name: called, place, record: Record::of(subject, &answer) };
        Self { name, seams: vec![seam] }
    }

    /// How the piece stands: as its worst seam.
    pub fn standing(&self) -> Standing {
        self.seams.iter().map(|seam| seam.record.standing).max().unwrap_or(Standing::Trouble)
    }
}
