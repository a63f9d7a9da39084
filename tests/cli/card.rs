//! `seamstep card`: the card's two formats, and what is no card.

use super::run::{Said, holds, seamstep, text};
use std::path::Path;
use tempfile::tempdir;

fn card(out: &Path, more: &[&str]) -> Said {
    seamstep(&[&["card", "--out", text(out)][..], more].concat())
}

#[test]
fn a_card_is_written_as_pdf_and_as_svg() {
    let folder = tempdir().expect("a folder");
    for (name, start, end) in [("card.pdf", "%PDF-", "%%EOF"), ("card.SVG", "<", "</svg>")] {
        let out = folder.path().join(name);
        let said = card(&out, &["--side", "40", "--paper", "letter"]);
        assert_eq!((said.status, said.stderr.as_str()), (0, ""));
        assert!(said.stdout.contains(name) && said.stdout.contains("40 mm") && said.stdout.contains("100 %"));
        let bytes = std::fs::read(&out).expect("a card");
        let written = String::from_utf8_lossy(&bytes);
        assert!(written.starts_with(start) && written.trim_end().ends_with(end), "{name}");
    }
    holds(folder.path(), &["card.SVG", "card.pdf"]);
}

#[test]
fn other_endings_sides_and_papers_are_trouble() {
    let folder = tempdir().expect("a folder");
    for name in ["card.png", "card", "card.pdf.txt"] {
        card(&folder.path().join(name), &[]).is_trouble(&[name, ".pdf", ".svg"]);
    }
    let out = folder.path().join("card.pdf");
    for side in ["0", "1", "1000", "-30", "30.5", "wide", "99999999999999999999"] {
        card(&out, &["--side", side]).is_trouble(&[]);
    }
    card(&out, &["--side", "7"]).is_trouble(&["--side", "whole millimetres from"]);
    card(&out, &["--paper", "a7"]).is_trouble(&["--paper", "a4", "letter"]);
    card(&folder.path().join("none/card.pdf"), &[]).is_trouble(&["card.pdf", "folder"]);
    holds(folder.path(), &[]);
}
