//! The `seamstep` command: arguments in, answer out, exit status.

use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(seamstep::cli::run(std::env::args_os()))
}
