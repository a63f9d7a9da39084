//! The command line as a person types it.

use super::cloth::Cloth;
use super::compare::Compare;
use super::garment::Garment;
use super::lot::Lot;
use super::repeatability::Repeatability;
use super::tally::Tally;
use super::trial::Trial;
use crate::ask::Ask;
use crate::card::{Paper, SIDES_MM, USUAL_SIDE_MM};
use crate::conventions::Runs;
use crate::page::USUAL_PORT;
use crate::remedy::Stage;
use crate::scale::ScaleRequest;
use crate::units::PxPoint;
use crate::verdict::Place;
use crate::written::{self, Length, Rectangle, Units};
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::net::IpAddr;
use std::path::PathBuf;

/// Do the lines of striped or checked cloth run through the seam?
///
/// Measured from a phone photograph.
#[derive(Parser)]
#[command(name = "seamstep", version, max_term_width = 80)]
pub struct Arguments {
    #[command(subcommand)]
    pub command: Command,
}

#[derive(Subcommand)]
pub enum Command {
    Check(Box<Check>),
    Card(Card),
    Trial(Box<Trial>),
    Cloth(Box<Cloth>),
    Compare(Box<Compare>),
    Garment(Garment),
    Lot(Box<Lot>),
    Tally(Tally),
    Repeatability(Box<Repeatability>),
    Demo(Demo),
    Page(Page),
    Completions(Completions),
    Man(Man),
}

/// Measure one seam on a photograph and say whether it is worth unpicking
///
/// Exit status: 0 matched, 1 off, 2 usage or reading trouble, 3 unsure,
/// 4 the photograph cannot be judged.
#[derive(Args)]
#[command(verbatim_doc_comment)]
pub struct Check {
    /// The photograph: JPEG, PNG, WebP, TIFF or HEIC; - reads standard input
    pub photo: PathBuf,

    #[command(flatten)]
    pub scale: Scale,

    /// The seam: points in pixels of the upright picture; else it is found
    #[arg(long, value_name = "X,Y X,Y …", value_parser = points, allow_hyphen_values = true)]
    pub seam: Option<Points>,

    /// The seam is where I drew it, whether or not one shows there
    #[arg(long, requires = "seam")]
    pub insist: bool,

    /// How the seam runs in the picture; without it the picture decides
    #[arg(long)]
    pub along: Option<Along>,

    /// Every seam that shows in the picture, not only the one nearest to its middle:
    /// one table, the worst first, one picture
    #[arg(long, conflicts_with_all = ["seam", "explain", "chart", "report"], verbatim_doc_comment)]
    pub all: bool,

    #[command(flatten)]
    pub judged: Judged,

    /// Print one JSON object instead of text
    #[arg(long)]
    pub json: bool,

    /// Print every cure and where the uncertainty comes from too
    #[arg(long, conflicts_with = "json")]
    pub explain: bool,

    /// Draw seam, lines, jumps and the move that cures them on the photograph,
    /// straightened along the seam and as taken, into a .png or .jpg
    #[arg(long, value_name = "FILE", verbatim_doc_comment)]
    pub picture: Option<PathBuf>,

    /// Draw the charts (offset, profiles, spectrum), one below the other, into
    /// a .svg, .png or .jpg
    #[arg(long, value_name = "FILE", verbatim_doc_comment)]
    pub chart: Option<PathBuf>,

    /// Write everything on one page, into this .html file
    #[arg(long, value_name = "FILE.html")]
    pub report: Option<PathBuf>,
}

/// Where the scale comes from; without any of these a card is looked for.
#[derive(Args)]
#[group(multiple = false)]
pub struct Scale {
    /// The printed scale card must be in the picture
    #[arg(long)]
    pub card: bool,

    /// A thing of known size: corners clockwise from top left, size in mm
    #[arg(long, value_name = "X1,Y1,…,X4,Y4,WxH", value_parser = written::rectangle, allow_hyphen_values = true)]
    pub rectangle: Option<Rectangle>,

    /// Two points a known length apart, for example on a tape
    #[arg(long, value_name = "X1,Y1,X2,Y2,MM", value_parser = written::length, allow_hyphen_values = true)]
    pub length: Option<Length>,

    /// The cloth's repeat along the seam, measured flat over ten repeats
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    pub repeat: Option<f64>,
}

/// What a seam is judged by.
#[derive(Args)]
pub struct Judged {
    /// Where on the garment the seam is: decides the tolerance unless given
    #[arg(long)]
    pub place: Option<Place>,

    /// The largest jump you accept, in millimetres, or in inches as 1/16in
    #[arg(long, value_name = "MM", value_parser = written::tolerance, allow_hyphen_values = true)]
    pub tolerance: Option<f64>,

    /// How far the work has gone
    #[arg(long, default_value = "basted")]
    pub stage: Stage,

    /// Tell lengths in millimetres, or in sixteenths of an inch
    #[arg(long)]
    pub units: Option<Units>,

    /// Your own tolerances and rules; else seamstep.toml is looked for, from
    /// the photograph's folder upward
    #[arg(long, value_name = "FILE", verbatim_doc_comment)]
    pub settings: Option<PathBuf>,
}

impl Judged {
    /// What is asked about a photograph, its scale and seam to be found.
    pub fn ask(&self) -> Ask {
        Ask {
            place: self.place,
            tolerance_mm: self.tolerance,
            stage: self.stage,
            unit: self.units.map(Into::into),
            settings: self.settings.clone(),
            ..Ask::default()
        }
    }
}

impl Scale {
    /// Where the scale should come from.
    pub fn request(&self) -> ScaleRequest {
        if let Some(r) = self.rectangle {
            ScaleRequest::Rectangle { corners_px: r.corners_px, width_mm: r.width_mm, height_mm: r.height_mm }
        } else if let Some(l) = self.length {
            ScaleRequest::Length { ends_px: l.ends_px, length_mm: l.length_mm }
        } else if let Some(repeat_mm) = self.repeat {
            ScaleRequest::Repeat { repeat_mm }
        } else if self.card {
            ScaleRequest::Card
        } else {
            ScaleRequest::Auto
        }
    }
}

/// Points of a seam, kept together so that one argument is one value.
#[derive(Clone, Debug)]
pub struct Points(pub Vec<PxPoint>);

fn points(text: &str) -> Result<Points, String> {
    written::points(text).map(Points)
}

#[derive(Clone, Copy, ValueEnum)]
pub enum Along {
    /// From top to bottom
    Down,
    /// From left to right
    Across,
}

impl From<Along> for Runs {
    fn from(along: Along) -> Self {
        match along {
            Along::Down => Runs::Down,
            Along::Across => Runs::Across,
        }
    }
}

/// Make the scale card to print
#[derive(Args)]
pub struct Card {
    /// Where to write it: a .pdf or an .svg file
    #[arg(long, value_name = "FILE", default_value = "seamstep-card.pdf")]
    pub out: PathBuf,

    /// Width of the symbol, millimetres
    #[arg(long, value_name = "MM", default_value_t = USUAL_SIDE_MM, value_parser = side)]
    pub side: u32,

    /// Paper to print on: a4 or letter
    #[arg(long, default_value = "a4", value_parser = paper)]
    pub paper: Paper,
}

fn side(text: &str) -> Result<u32, String> {
    text.parse().ok().filter(|side| SIDES_MM.contains(side)).ok_or(format!(
        "give whole millimetres from {} to {}",
        SIDES_MM.start(),
        SIDES_MM.end()
    ))
}

fn paper(text: &str) -> Result<Paper, String> {
    text.parse().map_err(|_| "the papers are a4 and letter".to_owned())
}

/// See the whole thing on a rendered seam; no photograph needed
#[derive(Args)]
pub struct Demo {
    /// Render two whole waistcoats instead, one made at home and one bought,
    /// with their garment files
    #[arg(long, verbatim_doc_comment)]
    pub garment: bool,

    /// Folder for the files it writes
    #[arg(long, value_name = "FOLDER", default_value = "demo")]
    pub folder: PathBuf,
}

/// Open a page for the phone on the sewing table
///
/// It answers this machine alone, at an address that only this machine can
/// open, until Ctrl-C. With --lan the phone can open it too: by an address with
/// a random key, printed with a code to scan. Photographs stay in memory.
#[derive(Args)]
#[command(verbatim_doc_comment)]
pub struct Page {
    /// Let the local network in, by a key; ADDRESS: this machine's, of several
    #[arg(long, value_name = "ADDRESS", num_args = 0..=1)]
    pub lan: Option<Option<IpAddr>>,

    /// Port to answer at; 0 takes any that is free
    #[arg(long, default_value_t = USUAL_PORT)]
    pub port: u16,

    /// Keep the photographs in this folder, and show those that are in it
    #[arg(long, value_name = "FOLDER")]
    pub keep: Option<PathBuf>,

    /// Tell lengths in millimetres, or in sixteenths of an inch
    #[arg(long)]
    pub units: Option<Units>,

    /// Your own tolerances and rules; else seamstep.toml is looked for, from
    /// this folder upward
    #[arg(long, value_name = "FILE", verbatim_doc_comment)]
    pub settings: Option<PathBuf>,
}

/// Print what lets a shell complete commands and options
#[derive(Args)]
pub struct Completions {
    /// The shell
    pub shell: clap_complete::Shell,
}

/// Print the manual page
#[derive(Args)]
pub struct Man {}
