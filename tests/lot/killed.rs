//! Killed at any moment and run again, on one thread or on two: the same files, byte for byte.

use super::delivery::{ASKED, PHOTOGRAPHS, files, folder};
use super::run::{binary, text};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// The dice of the moments at which the run is killed.
const SEED: u64 = 20_261;

/// The files of a run in a folder of its own.
struct Files {
    folder: tempfile::TempDir,
}

impl Files {
    fn new() -> Self {
        Files { folder: tempfile::tempdir().expect("a folder") }
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The lot's command, its files here.
    fn command(&self, threads: usize) -> Command {
        let mut command = Command::new(binary());
        command.args(["lot", text(folder()), "--threads", &threads.to_string(), "--json"]).args(ASKED);
        for (option, name) in [("--out", "lot.jsonl"), ("--csv", "lot.csv"), ("--report", "lot.html")] {
            command.args([option, text(&self.at(name))]);
        }
        command
    }

    /// Runs to the end; gives every file's bytes, and what was printed.
    fn finished(&self, threads: usize) -> [Vec<u8>; 4] {
        let output = self.command(threads).output().expect("the binary runs");
        // The file that is no picture is refused, some seams are off: off is worse.
        assert_eq!(output.status.code(), Some(1), "{}", String::from_utf8_lossy(&output.stderr));
        let read = |name: &str| std::fs::read(self.at(name)).expect("a file");
        [read("lot.jsonl"), read("lot.csv"), read("lot.html"), output.stdout]
    }
}

/// The whole lines of a file; none where there is none yet.
fn lines(file: &Path) -> Vec<String> {
    let bytes = std::fs::read(file).unwrap_or_default();
    let whole = bytes.iter().rposition(|byte| *byte == b'\n').map_or(0, |end| end + 1);
    String::from_utf8(bytes[..whole].to_vec()).expect("UTF-8").lines().map(str::to_owned).collect()
}

#[test]
fn killed_five_times_and_resumed_gives_the_same_bytes_as_left_alone_on_any_number_of_threads() {
    assert_eq!(files().len(), PHOTOGRAPHS);
    let alone = Files::new();
    let one_thread = alone.finished(1);

    let killed = Files::new();
    let out = killed.at("lot.jsonl");
    let mut dice = ChaCha8Rng::seed_from_u64(SEED);
    let mut moments: Vec<usize> = (0..5).map(|_| dice.random_range(1..PHOTOGRAPHS - 1)).collect();
    moments.sort_unstable();
    let mut before: Vec<String> = Vec::new();
    for moment in moments {
        let mut child = killed.command(2).stdout(Stdio::null()).stderr(Stdio::null()).spawn().expect("the binary runs");
        let begun = Instant::now();
        while lines(&out).len() < moment && begun.elapsed() < Duration::from_secs(200) {
            assert!(child.try_wait().expect("a child").is_none(), "it ended before it was killed");
            std::thread::sleep(Duration::from_millis(2));
        }
        // Anywhere in the photograph after it.
        std::thread::sleep(Duration::from_micros(dice.random_range(0..60_000)));
        child.kill().expect("it is killed");
        child.wait().expect("it has ended");
        let after = lines(&out);
        assert!(after.len() >= moment && after.starts_with(&before), "a line that was written is lost");
        let each: BTreeSet<&String> = after.iter().collect();
        assert_eq!(each.len(), after.len(), "a line is doubled");
        assert!(!killed.at("lot.csv").exists(), "nothing half done is told");
        before = after;
    }
    let resumed = killed.finished(2);
    for (k, name) in ["lines", "table", "page", "object"].iter().enumerate() {
        assert!(one_thread[k] == resumed[k], "the {name} differ");
    }
    assert_eq!(lines(&out).len(), PHOTOGRAPHS);
    // Run once more there is nothing to measure, and nothing changes.
    assert!(killed.finished(1) == resumed);
}
