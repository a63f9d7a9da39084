//! A room imports only rooms before it: the walk of `src/lib.rs`, held by a test.
#![allow(missing_docs)]

use std::fs;
use std::path::{Path, PathBuf};

/// The rooms in walking order. `ground` may be used by every room and uses nothing but itself.
const GROUND: [&str; 10] =
    ["conventions", "problem", "units", "digits", "budget", "light", "signal", "smooth", "threads", "colour"];
const WALK: [&str; 30] = [
    "photo",
    "scale",
    "seam",
    "strip",
    "lines",
    "offset",
    "verdict",
    "remedy",
    "written",
    "settings",
    "finding",
    "inspect",
    "ask",
    "record",
    "manifest",
    "card",
    "render",
    "trial",
    "cloth",
    "garment",
    "compare",
    "acceptance",
    "capability",
    "lot",
    "repeatability",
    "report",
    "demo",
    "page",
    "cli",
    "main",
];

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

fn room_of(path: &Path) -> String {
    let first = path.components().nth(1).unwrap().as_os_str().to_string_lossy().into_owned();
    first.trim_end_matches(".rs").to_owned()
}

/// The rooms that a source names in code, comments and doc links left out.
fn named(text: &str) -> Vec<String> {
    text.lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .flat_map(|line| line.split("crate::").skip(1))
        .flat_map(|rest| match rest.strip_prefix('{') {
            Some(group) => group
                .split('}')
                .next()
                .unwrap()
                .split(',')
                .map(|part| part.trim().split("::").next().unwrap().trim().to_owned())
                .collect::<Vec<_>>(),
            None => vec![rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect()],
        })
        .filter(|name| !name.is_empty())
        .collect()
}

#[test]
fn rooms_import_only_rooms_before_them() {
    let mut files = Vec::new();
    sources(Path::new("src"), &mut files);
    let rank = |room: &str| WALK.iter().position(|r| *r == room);
    let mut checked = 0;
    for file in files.iter().filter(|f| !f.ends_with("src/lib.rs")) {
        let room = room_of(file);
        let own = rank(&room);
        assert!(own.is_some() || GROUND.contains(&room.as_str()), "{} is in no known room", file.display());
        let text = fs::read_to_string(file).unwrap();
        for name in named(&text) {
            if name == room || GROUND.contains(&name.as_str()) {
                continue;
            }
            let Some(theirs) = rank(&name) else { panic!("{} names crate::{name}, no known room", file.display()) };
            assert!(own.is_some_and(|own| theirs < own), "{} imports {name}, which comes after it", file.display());
            checked += 1;
        }
    }
    assert!(checked > 60, "only {checked} imports were seen: does the test still read them?");
}

#[test]
fn no_room_has_a_drawer_for_everything_and_no_file_holds_two_nouns() {
    let mut files = Vec::new();
    sources(Path::new("src"), &mut files);
    for file in files {
        let name = file.file_stem().unwrap().to_string_lossy().into_owned();
        assert!(
            !["utils", "util", "helpers", "helper", "common", "misc"].contains(&name.as_str()),
            "{}",
            file.display()
        );
        let lines = fs::read_to_string(&file).unwrap().lines().count();
        assert!(lines <= 430, "{} has {lines} lines: two nouns?", file.display());
    }
}

#[test]
fn only_the_command_line_prints() {
    let mut files = Vec::new();
    sources(Path::new("src"), &mut files);
    for file in files.iter().filter(|f| !f.ends_with("src/cli/speak.rs")) {
        let text = fs::read_to_string(file).unwrap();
        for word in ["println!", "eprintln!", "print!(", "io::stdout()", "io::stderr()"] {
            assert!(!text.contains(word), "{} speaks: {word}", file.display());
        }
    }
}
