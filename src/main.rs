//! The `seamstep` command.
fn main() {}
