//! The two streams: standard output for results, standard error for talk.

use crate::problem::Problem;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::{ErrorKind, IsTerminal, Write};

/// Writes a result to standard output. A reader that has gone away is no trouble.
pub fn result(text: &str) -> Result<(), Problem> {
    write(std::io::stdout().lock(), text, "standard output")
}

/// Writes talk to standard error.
pub fn talk(text: &str) -> Result<(), Problem> {
    write(std::io::stderr().lock(), text, "standard error")
}

fn write(mut stream: impl Write, text: &str, name: &str) -> Result<(), Problem> {
    match stream.write_all(text.as_bytes()).and_then(|()| stream.flush()) {
        Err(e) if e.kind() != ErrorKind::BrokenPipe => {
            Err(Problem::io(format!("cannot write to {name}: {e}"), "check where the output goes"))
        }
        _ => Ok(()),
    }
}

/// A bar on standard error that counts up to `count`; none where standard error is no terminal.
pub fn progress(count: usize) -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let style = ProgressStyle::with_template("{bar:40} {pos} of {len} photographs, {eta} left")
        .unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::new(count as u64).with_style(style)
}

/// A problem as three short lines: what happened, and what to try.
pub fn problem(problem: &Problem) -> String {
    format!("error: {problem}\n  try: {}\n", problem.help())
}
