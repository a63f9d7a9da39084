//! The recipes for other engines, each run where its engine is installed: GNU parallel (`.ci/run` says where it is left out),
//! and Apache Spark, where `python3`, or the interpreter that `SEAMSTEP_PYTHON` names, has pyspark and there is a Java.

use super::delivery::{ASKED, files};
use super::run::{binary, seamstep, text};
use std::process::Command;

/// The photographs of a run.
const SOME: usize = 12;

/// Whether this command can be run here.
fn is_here(command: &mut Command) -> bool {
    command.output().is_ok_and(|output| output.status.success())
}

/// Runs a recipe over a folder, and holds what its lines come to against one run of lot.
fn joins(program: &str, recipe: &str) {
    let folder = tempfile::tempdir().expect("a folder");
    let photographs = folder.path().join("photographs");
    std::fs::create_dir(&photographs).expect("a folder");
    for file in files().iter().take(SOME) {
        std::fs::copy(file, photographs.join(file.file_name().expect("a name"))).expect("a copy");
    }
    let script = format!("{}/tests/recipes/{recipe}", env!("CARGO_MANIFEST_DIR"));
    let lines = folder.path().join("lines.jsonl");
    let mut command = Command::new(program);
    command.args([&script, text(&photographs), text(&lines)]).args(ASKED).env("SEAMSTEP", binary());
    let ran = command.output().expect("the recipe runs");
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    let joined = seamstep(&["tally", text(&lines), "--json"]);
    let lot = seamstep(&[&["lot", text(&photographs), "--json"], &ASKED[..]].concat());
    assert_eq!((joined.status, joined.stdout), (lot.status, lot.stdout));
}

#[test]
fn gnu_parallel_spreads_the_paths_and_tally_joins_the_lines() {
    if is_here(Command::new("parallel").arg("--version")) {
        joins("sh", "parallel.sh");
    }
}

#[test]
fn spark_spreads_the_paths_and_tally_joins_the_lines() {
    let python = std::env::var("SEAMSTEP_PYTHON").unwrap_or("python3".into());
    if is_here(Command::new(&python).args(["-c", "import pyspark"])) && is_here(Command::new("java").arg("-version")) {
        joins(&python, "spark.py");
    }
}
