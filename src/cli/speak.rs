//! The two streams: standard output for results, standard error for talk.

use crate::problem::Problem;
use std::io::{ErrorKind, Write};

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

/// A problem as three short lines: what happened, and what to try.
pub fn problem(problem: &Problem) -> String {
    format!("error: {problem}\n  try: {}\n", problem.help())
}
