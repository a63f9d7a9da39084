//! Command lines, a word a line: what cannot be meant is refused before any work begins, with a status of the contract.
//!
//! The working folder holds no photograph that can be measured, and words that would reach out of it are bent back into it.
//! The commands that need no photograph to begin (`demo`, `page`, `trial`) get one argument more that they must refuse.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::ffi::OsString;
use std::os::unix::ffi::OsStringExt;
use std::path::Path;
use std::sync::OnceLock;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Longest that a refusal may take.
const PATIENCE: Duration = Duration::from_secs(20);
/// So many words are a command line.
const MOST_WORDS: usize = 40;
/// So many files that were written may lie in the folder before they are taken away.
const MOST_FILES: usize = 64;

/// What each of these refuses before it begins.
const REFUSED: [(&[u8], [&str; 2]); 3] = [
    (b"demo", ["--folder", "words.jpg/demo"]),
    (b"page", ["--settings", "none.toml"]),
    (b"trial", ["--tolerance", "-1"]),
];

fuzz_target!(|bytes: &[u8]| {
    static FOLDER: OnceLock<TempDir> = OnceLock::new();
    let folder = FOLDER.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a folder");
        std::env::set_current_dir(folder.path()).expect("it is there");
        folder
    });
    tidy(folder.path());
    let mut words: Vec<OsString> = vec!["seamstep".into()];
    for (k, word) in bytes.split(|&byte| byte == b'\n').take(MOST_WORDS).enumerate() {
        let word = kept_in(word);
        words.push(OsString::from_vec(word.clone()));
        let refused = REFUSED.iter().filter(|(command, _)| k == 0 && *command == word);
        words.extend(refused.flat_map(|(_, more)| more.map(OsString::from)));
    }
    let began = Instant::now();
    let status = seamstep::cli::run(words);
    assert!(began.elapsed() < PATIENCE, "refused after {:?}", began.elapsed());
    assert!(status <= 4, "exit status {status}");
});

/// The word without what leads out of the working folder. A null byte cannot be in a word.
fn kept_in(word: &[u8]) -> Vec<u8> {
    let mut kept: Vec<u8> = word.iter().copied().filter(|&byte| byte != 0).collect();
    for k in 0..kept.len() {
        let begins = k == 0 || matches!(kept[k - 1], b'=' | b',' | b'/');
        if (kept[k] == b'/' && begins) || (kept[k] == b'.' && k > 0 && kept[k - 1] == b'.') {
            kept[k] = b'_';
        }
    }
    kept
}

/// Puts the folder into its first state where too much lies in it.
fn tidy(folder: &Path) {
    let there = std::fs::read_dir(folder).expect("a folder").count();
    if there > 0 && there < MOST_FILES {
        return;
    }
    for entry in std::fs::read_dir(folder).expect("a folder").flatten() {
        let path = entry.path();
        let _ = if path.is_dir() { std::fs::remove_dir_all(path) } else { std::fs::remove_file(path) };
    }
    for (name, text) in [
        ("words.jpg", "no picture"),
        ("list.csv", "photo,piece,place,by\nwords.jpg,1,hem,Ann\n"),
        ("skirt.toml", "name = \"Skirt\"\n[[seam]]\nplace = \"hem\"\nphoto = \"words.jpg\"\n"),
        ("own.toml", "units = \"in\"\n[tolerance]\nhem = 2\n"),
    ] {
        std::fs::write(folder.join(name), text).expect("written");
    }
}
