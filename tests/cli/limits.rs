//! What a photograph may cost: bytes, pixels and memory. Where the shell can, the run gets so little memory that a decoder
//! which believed the header would be ended by the system.

use super::pictures::{encoded, put, seam};
use super::run::{Said, binary, text};
use image::{ImageFormat, RgbImage};
use std::path::Path;
use std::process::Command;
use tempfile::tempdir;

/// Memory that is addressed at most, kilobytes: three quarters of what a picture at the limit of pixels may take.
const MOST_KB: u32 = 700_000;

/// Checks a photograph in a process that may not address more than [`MOST_KB`].
fn check(photo: &Path) -> Said {
    let limited = format!("ulimit -v {MOST_KB} 2>/dev/null; exec \"$0\" \"$@\"");
    let output = Command::new("sh").args(["-c", &limited, binary(), "check", text(photo), "--json"]).output();
    Said::of(&output.expect("a shell"))
}

/// The code with which these bytes are refused, and that the message holds these words.
#[track_caller]
fn code(name: &str, bytes: &[u8], words: &[&str]) -> String {
    let folder = tempdir().expect("a folder");
    let said = check(&put(folder.path(), name, bytes));
    let code = said.refused();
    for word in words {
        assert!(said.stdout.contains(word), "no {word:?} in {}", said.stdout);
    }
    assert_eq!(said.stderr, "", "the decoder keeps quiet");
    code
}

/// The bytes with `from`, which stands there once or more, replaced by `to` wherever it stands.
fn with(bytes: &[u8], from: &[u8], to: &[u8]) -> Vec<u8> {
    let mut changed = bytes.to_vec();
    let places: Vec<usize> = (0..=bytes.len() - from.len()).filter(|&k| bytes[k..].starts_with(from)).collect();
    assert!(!places.is_empty(), "it stands nowhere");
    places.into_iter().for_each(|k| changed[k..k + to.len()].copy_from_slice(to));
    changed
}

#[test]
fn a_file_of_more_than_256_megabytes_is_too_large_and_not_decoded() {
    let folder = tempdir().expect("a folder");
    let photo = folder.path().join("film.jpg");
    // No block of the disk is taken up by what is not written.
    std::fs::File::create(&photo).expect("a file").set_len((256 << 20) + 1).expect("a long file");
    let said = check(&photo);
    assert_eq!(said.refused(), "too-large");
    assert!(said.stdout.contains("256 MB"), "{}", said.stdout);
}

#[test]
fn a_header_that_promises_too_much_is_too_large_in_every_format() {
    let small = RgbImage::new(100, 80);
    // JPEG: height and width in the frame header (ISO/IEC 10918-1, B.2.2).
    let jpeg = with(&encoded(&small, ImageFormat::Jpeg), &[8, 0, 80, 0, 100], &[8, 0xff, 0xff, 0xff, 0xff]);
    assert_eq!(code("a.jpg", &jpeg, &["65535 by 65535", "120 megapixels"]), "too-large");
    // TIFF: tags 256 and 257, one LONG each (TIFF 6.0, section 3); 40 000 pixels a side.
    let tiff = encoded(&small, ImageFormat::Tiff);
    let long = |tag: u8, value: u32| [&[tag, 1, 4, 0, 1, 0, 0, 0][..], &value.to_le_bytes()].concat();
    let wide = with(&tiff, &long(0, 100), &long(0, 40_000));
    assert_eq!(code("a.tif", &wide, &["40000 by 80", "30000 pixels a side"]), "too-large");
    // WebP: 14 bits each of width and height less 1 after the signature 0x2f (RFC 9649, 3.4).
    let webp = encoded(&small, ImageFormat::WebP);
    let size = |w: u32, h: u32| [&[0x2f][..], &((h - 1) << 14 | (w - 1)).to_le_bytes()].concat();
    let large = with(&webp, &size(100, 80), &size(16_383, 16_383));
    assert_eq!(code("a.webp", &large, &["16383 by 16383"]), "too-large");
}

#[cfg(feature = "heic")]
#[test]
fn a_heic_that_promises_too_much_is_refused() {
    let whole = std::fs::read(super::run::fixture("flat-01-turned.heic")).expect("the fixture");
    // The box ispe: version and flags, width, height (ISO/IEC 23008-12, 6.5.3, from memory).
    let ispe = |w: u32, h: u32| [&b"ispe\0\0\0\0"[..], &w.to_be_bytes(), &h.to_be_bytes()].concat();
    let at = whole.windows(4).position(|four| four == b"ispe").expect("a size");
    let mut large = whole.clone();
    large[at..at + 16].copy_from_slice(&ispe(60_000, 60_000));
    let code = code("a.heic", &large, &[]);
    assert!(["too-large", "truncated"].contains(&code.as_str()), "{code}");
}

/// Found by fuzzing: 4 GB were asked for on the word of 400 bytes.
#[test]
fn a_part_that_says_it_is_longer_than_the_file_is_not_believed() {
    let whole = encoded(&seam(), ImageFormat::WebP);
    let (kind, data) = (&whole[12..16], &whole[20..]);
    let chunk = |kind: &[u8], says: u32, data: &[u8]| [kind, &says.to_le_bytes(), data].concat();
    // An extended file (RFC 9649, 2.7) with EXIF: flags, three bytes kept free, width and height less 1 (400 by 480).
    let extended = chunk(b"VP8X", 10, &[8, 0, 0, 0, 0x8f, 1, 0, 0xdf, 1, 0]);
    let file = |exif: u32| {
        let exif = chunk(b"EXIF", exif, b"MM\0\x2a\0\0\0\x08\0\0");
        let chunks = [extended.clone(), chunk(kind, data.len() as u32, data), exif].concat();
        [&b"RIFF"[..], &(chunks.len() as u32 + 4).to_le_bytes(), b"WEBP", &chunks].concat()
    };
    let folder = tempdir().expect("a folder");
    let sound = check(&put(folder.path(), "a.webp", &file(10)));
    assert_eq!(sound.finding()["photo"]["width_px"], 400, "as it should be it is a photograph");
    assert_eq!(code("a.webp", &file(0xffff_fff0), &["cut short"]), "truncated");

    let tiff = encoded(&seam(), ImageFormat::Tiff);
    // BitsPerSample, three SHORTs; then text of 4 GB, of which the decoder spoke on standard error.
    let many = with(&tiff, &[2, 1, 3, 0, 3, 0, 0, 0], &[2, 1, 3, 0, 0, 0, 0, 4]);
    assert_eq!(code("a.tif", &many, &["cut short"]), "truncated");
    let words = with(&tiff, &[2, 1, 3, 0, 3, 0, 0, 0], &[2, 1, 2, 0, 0xff, 0xff, 0xff, 0xff]);
    assert_eq!(code("a.tif", &words, &["cut short"]), "truncated");
}

/// Found by fuzzing: a frame of 16 383 pixels a side in a picture of 400.
#[test]
fn a_frame_larger_than_the_limits_in_a_small_picture_is_too_large() {
    let lossy = [&[0x10, 0, 0, 0x9d, 1, 0x2a][..], &[0xff, 0x3f, 0xff, 0x3f], &[0; 40]].concat();
    let chunk = |kind: &[u8], data: &[u8]| [kind, &(data.len() as u32).to_le_bytes(), data].concat();
    let chunks = [chunk(b"VP8X", &[0, 0, 0, 0, 0x8f, 1, 0, 0xdf, 1, 0]), chunk(b"VP8 ", &lossy)].concat();
    let file = [&b"RIFF"[..], &(chunks.len() as u32 + 4).to_le_bytes(), b"WEBP", &chunks].concat();
    assert_eq!(code("a.webp", &file, &["16383 by 16383"]), "too-large");
}
