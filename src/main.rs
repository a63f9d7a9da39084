//! The `seamstep` command: arguments in, answer out, exit status.

use std::process::ExitCode;

fn main() -> ExitCode {
    seamstep::cli::main()
}
