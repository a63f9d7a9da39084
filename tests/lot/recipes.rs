//! The recipe for GNU parallel, run where `parallel` is installed; `.ci/run` says where it is left out.

use super::delivery::files;
use super::run::{binary, seamstep, text};
use std::process::Command;

/// The photographs of this run.
const SOME: usize = 12;

#[test]
fn gnu_parallel_spreads_the_paths_and_tally_joins_the_lines() {
    if !Command::new("parallel").arg("--version").output().is_ok_and(|output| output.status.success()) {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let photographs = folder.path().join("photographs");
    std::fs::create_dir(&photographs).expect("a folder");
    for file in files().iter().take(SOME) {
        std::fs::copy(file, photographs.join(file.file_name().expect("a name"))).expect("a copy");
    }
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/recipes/parallel.sh");
    let lines = folder.path().join("lines.jsonl");
    let ran = Command::new("sh").args([script, text(&photographs), text(&lines)]).env("SEAMSTEP", binary()).output();
    let ran = ran.expect("a shell");
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    let joined = seamstep(&["tally", text(&lines), "--json"]);
    assert_eq!(joined.stdout, seamstep(&["lot", text(&photographs), "--json"]).stdout);
}
