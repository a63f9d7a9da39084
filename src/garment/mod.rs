//! A whole piece: its seams are measured one by one, and one sheet says which are off, what to redo in which order, and how
//! long that takes.
//!
//! [`file`](mod@file) reads what a person writes of a piece, [`example`] is one to begin with; [`sheet`] measures it and sums up, with the
//! table of which seam closes which ([`order`]).

pub mod file;

pub mod example;

pub mod order;

pub mod sheet;

use crate::ask::Ask;
use crate::problem::Problem;
use crate::remedy::Stage;
use crate::verdict::Place;
pub use sheet::{Sheet, judge};
use std::path::{Path, PathBuf};

/// A piece, as its file says.
#[derive(Clone, Debug)]
pub struct Garment {
    /// The file it was read from.
    pub file: PathBuf,
    /// What it is called.
    pub name: String,
    /// How far the work has gone.
    pub stage: Stage,
    /// The cloth in words; `None`: not said.
    pub cloth: Option<String>,
    /// Its seams, in the order of the file; one or more, each with a name of its own.
    pub seams: Vec<PieceSeam>,
}

/// One seam of a piece, and its photograph.
#[derive(Clone, Debug)]
pub struct PieceSeam {
    /// What it is called; where the file does not say, the place in words (`Centre back`).
    pub name: String,
    /// Where it is.
    pub place: Place,
    /// Its photograph; what the file says starts at the file's own folder.
    pub photo: PathBuf,
    ask: Ask,
}

impl PieceSeam {
    /// What is asked about [`Self::photo`]: all that the file says of the piece and of this seam.
    pub fn ask(&self) -> Ask {
        self.ask.clone()
    }
}

/// Reads the garment file `path`.
///
/// No photograph is opened: one that is missing is found out when it is asked about, and does not end the others.
///
/// # Errors
/// [`Problem::Io`] where the file cannot be read; [`Problem::Usage`] with the line where it says what cannot be, and the
/// nearest right word where a word is not known.
pub fn read(path: &Path) -> Result<Garment, Problem> {
    file::read(path)
}
