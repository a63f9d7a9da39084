//! What people and programs write: settings and garment files (TOML), lists (CSV), cloths (JSON), lines of a lot (JSON lines),
//! marks and lengths. The first byte says which.
#![no_main]

use libfuzzer_sys::fuzz_target;
use seamstep::digits::Unit;
use seamstep::lot::sample::Sampling;
use seamstep::lot::{Line, book, sum_up};
use seamstep::problem::Problem;
use seamstep::settings::Settings;
use seamstep::trial::{TrialRequest, cloth_file};
use seamstep::{garment, manifest, report, written};
use std::path::Path;

fuzz_target!(|bytes: &[u8]| {
    let Some((which, rest)) = bytes.split_first() else { return };
    let text = String::from_utf8_lossy(rest);
    match which {
        b's' => told(Settings::parse(&text, "seamstep.toml")),
        b'g' => told(garment::file::parse(&text, Path::new("pieces/skirt.toml"))),
        b'm' => told(manifest::parse(rest, "list.csv", Path::new("lot"))),
        b'c' => told(cloth_file::read(&text, "cloth.json").and_then(|cloth| TrialRequest::new(cloth).check())),
        b'l' => told(lot(rest)),
        _ => marks(&text),
    }
});

/// What is wrong is one line without control characters, with what to do on another.
fn told<T>(read: Result<T, Problem>) {
    if let Err(problem) = read {
        for words in [problem.to_string().as_str(), problem.help()] {
            assert!(!words.is_empty() && !words.contains(char::is_control), "{words:?}");
        }
    }
}

/// Lines are summed up and told in every way.
fn lot(mut bytes: &[u8]) -> Result<(), Problem> {
    let lines = book::read(&mut bytes, "lot.jsonl")?.lines;
    // Names and messages are told as they stand in the lines: only what no line holds is the summary's own word.
    let echoed = lines.iter().map(Line::text).collect::<Result<String, Problem>>()?;
    let aql_percent = (lines.len() % 2 == 1).then_some(2.5);
    let lot = sum_up(lines, &Sampling { aql_percent, lot_size: None })?;
    let json = report::lot::json::lot(&lot).to_string();
    assert!(!json.is_empty());
    for unit in [Unit::Millimetre, Unit::Sixteenth] {
        let said = report::lot::text::lot(&lot, unit);
        for (word, as_told) in [("NaN", "NaN"), ("inf", "inf ")] {
            assert!(echoed.contains(word) || !said.contains(as_told), "{said}");
        }
        assert!(!said.contains(|c: char| c.is_control() && c != '\n'), "{said:?}");
        report::lot::html::page(&lot, unit)?;
    }
    report::lot::csv::lot(&lot).map(|_| ())
}

fn marks(text: &str) {
    for point in written::points(text).into_iter().flatten() {
        assert!(point.x.is_finite() && point.y.is_finite(), "{text}");
    }
    if let Ok(r) = written::rectangle(text) {
        assert!(r.width_mm.is_finite() && r.height_mm.is_finite(), "{text}");
    }
    if let Ok(length) = written::length(text) {
        assert!(length.length_mm.is_finite(), "{text}");
    }
    if let Ok((length_mm, _)) = written::pieces(text) {
        assert!(length_mm.is_finite() && length_mm > 0.0, "{text}");
    }
    if let Ok(mm) = written::tolerance(text) {
        assert!(mm.is_finite(), "{text}");
    }
    let _ = (written::two_points(text), manifest::place(text));
}
