//! Arguments → questions; answers → standard output, talk → standard error, and the exit status. The only place that
//! speaks (`speak` holds the two streams).

mod arguments;

mod apart;

mod check;

mod cloth;

mod compare;

mod garment;

mod lot;

mod manual;

mod page;

mod repeatability;

mod speak;

mod tally;

mod trial;

use crate::problem::Problem;
use crate::record::Standing;
use crate::{card, demo, report};
use arguments::{Arguments, Card, Command, Demo};
use clap::Parser;
use std::ffi::OsString;

/// Runs a command line, the program's name first; the exit status.
pub fn run(words: impl IntoIterator<Item = OsString>) -> u8 {
    let arguments = match Arguments::try_parse_from(words) {
        Ok(arguments) => arguments,
        Err(e) => {
            // Help and version are results; everything else is talk.
            let wanted = !e.use_stderr();
            let text = e.render().to_string();
            let said = if wanted { speak::result(&text) } else { speak::talk(&text) };
            return if wanted && said.is_ok() { 0 } else { Standing::Trouble.exit_status() };
        }
    };
    let status = match &arguments.command {
        Command::Check(check) => check::run(check),
        Command::Card(card) => print_card(card),
        Command::Trial(trial) => trial::run(trial),
        Command::Cloth(cloth) => cloth::run(cloth),
        Command::Compare(asked) => compare::run(asked),
        Command::Garment(asked) => garment::run(asked),
        Command::Lot(lot) => lot::run(lot),
        Command::Tally(tally) => tally::run(tally),
        Command::Repeatability(asked) => repeatability::run(asked),
        Command::Demo(demo) => run_demo(demo),
        Command::Page(page) => page::run(page),
        Command::Completions(completions) => manual::completions(completions.shell),
        Command::Man(_) => manual::page(),
    };
    match status {
        Ok(status) => status,
        Err(problem) => {
            // Nothing is left to be done when standard error is closed too.
            let _ = speak::talk(&speak::problem(&problem));
            Standing::Trouble.exit_status()
        }
    }
}

fn print_card(arguments: &Card) -> Result<u8, Problem> {
    let options = card::CardOptions { side_mm: arguments.side, paper: arguments.paper };
    let extension = arguments.out.extension().and_then(|e| e.to_str()).unwrap_or_default().to_ascii_lowercase();
    let bytes = match extension.as_str() {
        "pdf" => card::pdf(&options)?,
        "svg" => card::svg(&options)?.into_bytes(),
        _ => {
            return Err(Problem::usage(
                format!("the card cannot be written to {}: its name must end in .pdf or .svg", arguments.out.display()),
                "for example: seamstep card --out card.pdf",
            ));
        }
    };
    report::write_whole(&arguments.out, &bytes)?;
    speak::result(&format!(
        "The scale card of {} mm is in {}.\n\
         Print it at 100 % (actual size), measure the ruler on the page, and cut the card out.\n",
        options.side_mm,
        arguments.out.display()
    ))?;
    Ok(0)
}

fn run_demo(arguments: &Demo) -> Result<u8, Problem> {
    if arguments.garment {
        speak::talk("Sewing and photographing two waistcoats of five seams …\n")?;
        speak::result(&demo::waistcoat::run(&arguments.folder)?)?;
        return Ok(0);
    }
    speak::talk("Sewing, basting and photographing a skirt's centre back seam …\n")?;
    speak::result(&demo::skirt::run(&arguments.folder)?)?;
    Ok(0)
}
