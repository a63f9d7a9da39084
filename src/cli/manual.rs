//! `seamstep completions` and `seamstep man`: what the command line knows about itself, for shells and for `man`.

use super::arguments::Arguments;
use super::speak;
use crate::problem::Problem;
use clap::CommandFactory;
use clap_complete::Shell;

/// Prints the completions of a shell.
pub fn completions(shell: Shell) -> Result<u8, Problem> {
    let mut bytes = Vec::new();
    clap_complete::generate(shell, &mut Arguments::command(), "seamstep", &mut bytes);
    speak::result(&String::from_utf8_lossy(&bytes))?;
    Ok(0)
}

/// Prints the manual page (troff, `man -l`): the command itself, then each of its commands.
pub fn page() -> Result<u8, Problem> {
    let mut bytes = Vec::new();
    let mut command = Arguments::command();
    command.build();
    let mut written = clap_mangen::Man::new(command.clone()).render(&mut bytes);
    for part in command.get_subcommands().filter(|part| part.get_name() != "help") {
        // `build` names a part by all that is typed before it.
        written = written.and_then(|()| clap_mangen::Man::new(part.clone()).render(&mut bytes));
    }
    written.map_err(|e| Problem::io(format!("the manual cannot be written: {e}"), "run it again"))?;
    speak::result(&String::from_utf8_lossy(&bytes))?;
    Ok(0)
}
