//! One run of the binary, and what every run owes: no panic, an exit status of the contract, clean streams.

use assert_cmd::Command;
use serde_json::Value;
use std::ffi::OsStr;
use std::path::Path;
use std::time::Duration;

/// Longest a run may take before it counts as hanging.
const PATIENCE: Duration = Duration::from_secs(300);

/// What a run left behind.
pub struct Said {
    pub status: i32,
    pub stdout: String,
    pub stderr: String,
}

/// The binary.
pub fn binary() -> &'static str {
    env!("CARGO_BIN_EXE_seamstep")
}

/// Runs the binary with these arguments and an empty standard input.
pub fn seamstep<S: AsRef<OsStr>>(arguments: &[S]) -> Said {
    seamstep_fed(arguments, &[])
}

/// Runs the binary with these arguments and these bytes on standard input.
pub fn seamstep_fed<S: AsRef<OsStr>>(arguments: &[S], stdin: &[u8]) -> Said {
    let mut command = Command::new(binary());
    command.args(arguments).write_stdin(stdin).timeout(PATIENCE);
    Said::of(&command.output().expect("the binary runs"))
}

impl Said {
    /// The outcome of a run that has ended by itself, and without a panic.
    pub fn of(output: &std::process::Output) -> Self {
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("both streams are UTF-8");
        let said = Said {
            status: output.status.code().expect("the run ended by itself, not by a signal"),
            stdout: text(&output.stdout),
            stderr: text(&output.stderr),
        };
        assert!(!said.stderr.contains("panicked") && !said.stdout.contains("panicked"), "{}", said.stderr);
        assert!([0, 1, 2, 3, 4].contains(&said.status), "exit status {}: {}", said.status, said.stderr);
        said
    }

    /// Asserts usage or I/O trouble: status 2, nothing on standard output, and talk that holds every word of `words`
    /// and says what to try.
    #[track_caller]
    pub fn is_trouble(&self, words: &[&str]) {
        assert_eq!(self.status, 2, "{}{}", self.stdout, self.stderr);
        assert_eq!(self.stdout, "", "standard output is for results");
        assert!(self.stderr.starts_with("error: "), "{}", self.stderr);
        assert!(self.stderr.contains("try"), "nothing to try is told: {}", self.stderr);
        for word in words {
            assert!(self.stderr.contains(word), "no {word:?} in: {}", self.stderr);
        }
    }

    /// The one JSON object on standard output.
    #[track_caller]
    pub fn object(&self) -> Value {
        assert!(self.stdout.starts_with('{') && self.stdout.ends_with("}\n"), "{}{}", self.stdout, self.stderr);
        // `from_str` refuses anything after the object.
        let object: Value = serde_json::from_str(&self.stdout).expect("one JSON object and nothing else");
        assert_eq!(object["schema"], "seamstep/check/1");
        object
    }

    /// Asserts a refusal with `--json`: status 4 and the refusal's object alone; gives its code.
    #[track_caller]
    pub fn refused(&self) -> String {
        assert_eq!(self.status, 4, "{}{}", self.stdout, self.stderr);
        let object = self.object();
        let refused = object["refused"].as_object().expect("a refusal");
        for (name, of) in [("message", refused), ("help", refused)] {
            assert!(of[name].as_str().is_some_and(|text| text.len() > 10), "{name}: {object}");
        }
        assert_eq!(refused.len(), 3, "{object}");
        // Where a seam was looked for, the places where one may be are told too.
        let told = |name: &&String| name.as_str() != "seams" || object["seams"].as_array().is_none_or(Vec::is_empty);
        let fields: Vec<&String> = object.as_object().expect("an object").keys().filter(told).collect();
        assert_eq!(fields, ["photo", "refused", "schema"]);
        refused["code"].as_str().expect("a code").to_owned()
    }

    /// Asserts a finding with `--json`, its exit status the verdict's; gives the object.
    #[track_caller]
    pub fn finding(&self) -> Value {
        let object = self.object();
        let due = match object["verdict"]["result"].as_str() {
            Some("matched") => 0,
            Some("off") => 1,
            Some("unsure") => 3,
            _ => panic!("no verdict: {object}"),
        };
        assert_eq!(self.status, due, "{}", self.stderr);
        object
    }
}

/// Asserts that a folder holds exactly these files, hidden ones included.
#[track_caller]
pub fn holds(folder: &Path, names: &[&str]) {
    let mut found: Vec<String> = std::fs::read_dir(folder)
        .expect("a folder")
        .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
        .collect();
    found.sort();
    let mut due: Vec<&str> = names.to_vec();
    due.sort_unstable();
    assert_eq!(found, due);
}

/// A fixture photograph.
pub fn fixture(name: &str) -> String {
    format!("{}/fixtures/{name}", env!("CARGO_MANIFEST_DIR"))
}

/// A path as an argument.
pub fn text(path: &Path) -> &str {
    path.to_str().expect("a path in UTF-8")
}
