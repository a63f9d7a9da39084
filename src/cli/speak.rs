//! The two streams: standard output for results, standard error for talk.

use crate::problem::Problem;
use crate::report::text::printable;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::{ErrorKind, IsTerminal, Write};

/// Writes a result to standard output. A reader that has gone away is no trouble.
pub fn result(text: &str) -> Result<(), Problem> {
    write(std::io::stdout().lock(), text, "standard output")
}

/// Writes a line of a stream of results; `false`: its reader has gone away, and there is no need for more.
pub fn line(text: &str) -> Result<bool, Problem> {
    let mut stream = std::io::stdout().lock();
    match stream.write_all(text.as_bytes()).and_then(|()| stream.flush()) {
        Err(e) if e.kind() == ErrorKind::BrokenPipe => Ok(false),
        written => told(written, "standard output").map(|()| true),
    }
}

/// Writes talk to standard error, each line printable: it names files, which a list or a line of a lot may do too.
pub fn talk(text: &str) -> Result<(), Problem> {
    let lines: Vec<String> = text.split('\n').map(printable).collect();
    write(std::io::stderr().lock(), &lines.join("\n"), "standard error")
}

/// Lines for standard output that are dark on light whatever the terminal's colours are (ECMA-48, SGR 30 and 107); as they
/// are where standard output is no terminal.
pub fn dark_on_light(text: &str) -> String {
    let [on, off] = if std::io::stdout().is_terminal() { ["\u{1b}[30;107m", "\u{1b}[0m"] } else { [""; 2] };
    text.lines().map(|line| format!("  {on}{line}{off}\n")).collect()
}

fn write(mut stream: impl Write, text: &str, name: &str) -> Result<(), Problem> {
    told(stream.write_all(text.as_bytes()).and_then(|()| stream.flush()), name)
}

fn told(written: std::io::Result<()>, name: &str) -> Result<(), Problem> {
    match written {
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
