//! `seamstep page`: opens the page and says where.

use super::arguments::Page;
use super::speak;
use crate::page::{self, PageOptions, Reach};
use crate::problem::Problem;
use crate::settings::Settings;
use qrcode::render::unicode::Dense1x2;
use qrcode::{EcLevel, QrCode};
use std::path::Path;

/// Opens the page, and answers until it is told to stop.
pub fn run(arguments: &Page) -> Result<u8, Problem> {
    let settings = Settings::find(arguments.settings.as_deref(), Path::new("."))?;
    let unit = arguments.units.map(Into::into).or(settings.unit).unwrap_or_default();
    let reach = arguments.lan.map_or(Reach::ThisMachine, Reach::Network);
    let open = page::open(PageOptions { port: arguments.port, reach, folder: arguments.keep.clone(), settings, unit })?;
    let url = open.url();
    match reach {
        Reach::ThisMachine => speak::result(&format!(
            "The page is open on this machine, at\n\n  {url}\n\nFor the phone, start it with --lan. Ctrl-C closes it.\n"
        ))?,
        Reach::Network(_) => speak::result(&format!(
            "The page is open on the local network. Open this address on the phone, or scan\n\
             its code:\n\n  {url}\n\n{}\n\
             Whoever has the address can see and remove the photographs while the page is\n\
             open. The network carries them unencrypted: use one that you trust. Ctrl-C\n\
             closes the page.\n",
            code(&url)
        ))?,
    }
    open.serve()?;
    speak::talk("The page is closed.\n")?;
    Ok(0)
}

/// The address as a QR code (ISO/IEC 18004) of half blocks.
fn code(url: &str) -> String {
    let Ok(code) = QrCode::with_error_correction_level(url, EcLevel::L) else { return String::new() };
    speak::dark_on_light(&code.render::<Dense1x2>().build())
}
