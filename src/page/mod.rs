//! The page on the phone: a small web server on this machine, for the sewing table.
//!
//! A photograph comes in (`upload`), is kept (`store`, and in a folder the user names: `folder`), is asked about
//! (`asked`) and measured by the same corridor as `check` (`measure`), one at a time while the rest wait (`seats`);
//! what was found goes out as a sheet of HTML (`sheet`), or as `check`'s own JSON, page and picture (`answer`). The
//! `door` lets nobody else in: this machine alone, or with a key the network that the user asked for. What goes wrong is
//! said as problem details (RFC 9457), or as a sheet to a browser (`trouble`). The sheets work without a script; with it the
//! seam can be dragged and the steps are told while they are taken.

mod door;

mod trouble;

mod words;

mod seats;

mod asked;

mod store;

mod folder;

mod sheet;

mod upload;

mod measure;

mod answer;

mod server;

use crate::digits::Unit;
use crate::problem::Problem;
use crate::settings::Settings;
use std::net::IpAddr;
use std::path::PathBuf;

pub use server::Open;

/// The port that is listened on where none is named.
pub const USUAL_PORT: u16 = 8340;

/// How the page is to be served.
#[derive(Clone, Debug)]
pub struct PageOptions {
    /// Port; 0: any that is free.
    pub port: u16,
    /// Who may come in.
    pub reach: Reach,
    /// Folder that the photographs are kept in; `None`: in memory alone.
    pub folder: Option<PathBuf>,
    /// The user's own figures.
    pub settings: Settings,
    /// What lengths are told in until the user says otherwise.
    pub unit: Unit,
}

/// Who may come in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reach {
    /// This machine alone.
    ThisMachine,
    /// Whoever has the key, by this machine's address on the local network; `None`: find the address.
    Network(Option<IpAddr>),
}

/// Opens the page: binds its address and reads the folder; [`Open::serve`] then answers until it is told to stop.
///
/// # Errors
/// [`Problem::Io`] where the address cannot be bound or the folder not be read.
pub fn open(options: PageOptions) -> Result<Open, Problem> {
    Open::new(options)
}
