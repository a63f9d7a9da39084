//! What is no picture, a broken one, or a picture without a seam: refused with the right reason, or honestly unsure.

use super::pictures::{SEAM_LENGTH, SEAM_MARKS, chessboard, encoded, no_seams, page_of_text, put, seam, two_garments};
use super::run::{holds, seamstep, text};
use image::{ImageFormat, RgbImage};
use tempfile::tempdir;

/// The code with which these bytes are refused; the text of the same refusal says what to do too.
fn code(name: &str, bytes: &[u8]) -> String {
    let folder = tempdir().expect("a folder");
    let photo = put(folder.path(), name, bytes);
    let drawn = folder.path().join("drawn.png");
    let code = seamstep(&["check", text(&photo), "--json", "--picture", text(&drawn)]).refused();
    let spoken = seamstep(&["check", text(&photo)]);
    assert_eq!(spoken.status, 4);
    assert!(spoken.stdout.lines().count() >= 2, "{}", spoken.stdout);
    holds(folder.path(), &[name]);
    code
}

#[test]
fn what_is_no_picture_is_called_so() {
    assert_eq!(code("empty.jpg", b""), "not-a-picture");
    assert_eq!(code("notes.jpg", b"Skirt, centre back: re-pin from the third line down.\n"), "not-a-picture");
    let random: Vec<u8> = (0..60_000u32).map(|k| (k.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
    assert_eq!(code("random.png", &random), "not-a-picture");
    assert_eq!(code("one.png", &encoded(&RgbImage::new(1, 1), ImageFormat::Png)), "too-small");
    assert_eq!(code("thin.png", &encoded(&RgbImage::new(2000, 3), ImageFormat::Png)), "too-small");
}

#[test]
fn a_picture_that_is_cut_short_is_truncated_in_every_format() {
    let formats = [
        ("jpg", ImageFormat::Jpeg),
        ("png", ImageFormat::Png),
        ("webp", ImageFormat::WebP),
        ("tif", ImageFormat::Tiff),
    ];
    for (ending, format) in formats {
        let whole = encoded(&seam(), format);
        for tenths in [1, 5, 9] {
            let cut = whole.len() * tenths / 10;
            assert_eq!(code(&format!("cut.{ending}"), &whole[..cut]), "truncated", "{ending} cut at {tenths}/10");
        }
        // A header alone, or less.
        for cut in [3, 12, 40] {
            let code = code(&format!("cut.{ending}"), &whole[..cut]);
            assert!(["truncated", "not-a-picture"].contains(&code.as_str()), "{ending} cut at {cut} bytes: {code}");
        }
    }
}

#[test]
fn a_header_that_promises_65535_pixels_is_too_large() {
    for size in [[65_535u32, 65_535], [65_535, 100], [100, 65_535]] {
        let mut bytes = encoded(&RgbImage::new(100, 100), ImageFormat::Png);
        // IHDR: width and height at bytes 16 to 23, CRC at 29 to 32 (PNG specification, 11.2.2, from memory).
        bytes[16..20].copy_from_slice(&size[0].to_be_bytes());
        bytes[20..24].copy_from_slice(&size[1].to_be_bytes());
        let crc = !bytes[12..29].iter().fold(!0u32, |crc, &byte| {
            (0..8).fold(crc ^ u32::from(byte), |c, _| if c & 1 == 1 { (c >> 1) ^ 0xEDB8_8320 } else { c >> 1 })
        });
        bytes[29..33].copy_from_slice(&crc.to_be_bytes());
        assert_eq!(code("large.png", &bytes), "too-large", "{size:?}");
    }
}

/// Asks in every way whether this picture's seam is matched; it must never be answered with a sure verdict.
fn is_never_sure(name: &str, picture: &RgbImage) {
    is_unsure_when_asked(name, picture, &[&["--length", "20,20,20,340,80", "--seam", "210,10 210,350"]]);
    is_unsure_when_asked(name, picture, &[]);
}

/// Asks with and without a scale, the seam looked for, and in the ways given.
fn is_unsure_when_asked(name: &str, picture: &RgbImage, ways: &[&[&str]]) {
    let folder = tempdir().expect("a folder");
    let photo = put(folder.path(), "photo.png", &encoded(picture, ImageFormat::Png));
    let length: &[&str] = &["--length", "20,20,20,340,80"];
    for more in [&[&[][..], length, &["--repeat", "15"]], ways].concat() {
        let said = seamstep(&[&["check", text(&photo), "--json", "--tolerance", "3"][..], more].concat());
        if said.status == 4 {
            said.refused();
        } else {
            said.finding();
            assert_eq!(said.status, 3, "{name} {more:?}: {}", said.stdout);
        }
    }
    let code = seamstep(&["check", text(&photo), "--json", "--card"]).refused();
    assert!(["no-card", "blurred"].contains(&code.as_str()), "{name}: {code}");
}

#[test]
fn a_picture_without_a_seam_is_never_matched_or_off() {
    for (name, picture) in no_seams() {
        is_never_sure(name, &picture);
    }
}

/// Rows of print run straight on, so with a seam marked across them "matched" is the right answer; no seam may be found.
#[test]
fn no_seam_is_found_on_a_page_of_text() {
    is_unsure_when_asked("text", &page_of_text(), &[]);
}

#[test]
fn a_chessboard_has_no_seam_of_its_own() {
    let folder = tempdir().expect("a folder");
    let photo = put(folder.path(), "photo.png", &encoded(&chessboard(), ImageFormat::Png));
    for more in [&[][..], &["--length", "20,20,20,340,80"]] {
        let said = seamstep(&[&["check", text(&photo), "--json"][..], more].concat());
        assert!([3, 4].contains(&said.status), "{more:?}: {}", said.stdout);
        said.object();
    }
}

/// Where one garment ends and another begins there is no seam, and no line has its partner.
#[test]
fn two_garments_in_one_picture_are_not_taken_for_the_sides_of_a_seam() {
    let folder = tempdir().expect("a folder");
    let photo = put(folder.path(), "two.png", &encoded(&two_garments(), ImageFormat::Png));
    let marked = seamstep(&["check", text(&photo), "--json", "--length", SEAM_LENGTH, "--seam", SEAM_MARKS]);
    assert_eq!(marked.refused(), "sides-differ");
    let looked_for = seamstep(&["check", text(&photo), "--json", "--length", SEAM_LENGTH]);
    assert_eq!(looked_for.refused(), "sides-differ");
}
