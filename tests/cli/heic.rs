//! HEIC, as phones store it. The fixture holds the pixels of `flat-01.jpg` turned a quarter anticlockwise, the box
//! `irot` that turns them back, and the EXIF orientation 6 that says the same turn once more.

#![cfg(feature = "heic")]

use super::pictures::put;
use super::run::{fixture, seamstep, text};
use serde_json::Value;
use tempfile::tempdir;

const TURNED: &str = "flat-01-turned.heic";

fn refusal(bytes: &[u8]) -> String {
    let folder = tempdir().expect("a folder");
    let photo = put(folder.path(), "photo.heic", bytes);
    let said = seamstep(&["check", text(&photo), "--json"]);
    assert_eq!(said.stderr, "", "the decoder keeps quiet");
    said.refused()
}

#[test]
fn the_fixture_says_its_turn_twice() {
    // ISO/IEC 23008-12, 6.5.10 (from memory): the box irot holds quarter turns anticlockwise; 3 is a quarter clockwise.
    let bytes = std::fs::read(fixture(TURNED)).expect("the fixture");
    let holds = |part: &[u8]| bytes.windows(part.len()).any(|window| window == part);
    assert!(holds(b"\0\0\0\x09irot\x03"));
    assert!(holds(&[0x01, 0x12, 0, 3, 0, 0, 0, 1, 0, 6]), "EXIF tag 0x0112, one SHORT, 6");
}

#[test]
fn a_heic_photograph_is_turned_once_and_measured_like_its_jpeg() {
    let measured = |name: &str| -> Value { seamstep(&["check", &fixture(name), "--json", "--card"]).finding() };
    let (heic, jpeg) = (measured(TURNED), measured("flat-01.jpg"));
    // Upright the picture is 900 wide and 1200 high; not turned, or turned twice, the sides or the seam would differ.
    for side in ["width_px", "height_px"] {
        assert_eq!(heic["photo"][side], jpeg["photo"][side], "{side}");
    }
    assert_eq!(heic["seam"]["runs"], "down");
    let of = |finding: &Value, at: &str| finding.pointer(at).and_then(Value::as_f64).expect("a number");
    for at in ["/offset/mean_mm", "/offset/worst_mm"] {
        let (heic, jpeg) = (of(&heic, at), of(&jpeg, at));
        assert!((heic - jpeg).abs() < 0.05, "{at}: {heic} mm, as a JPEG {jpeg} mm");
    }
    let (heic_x, jpeg_x) = (of(&heic, "/seam/points_px/0/0"), of(&jpeg, "/seam/points_px/0/0"));
    assert!((heic_x - jpeg_x).abs() < 5.0, "the seam stands at {heic_x} px, in the JPEG at {jpeg_x} px");
}

#[test]
fn a_heic_that_is_cut_short_is_refused_without_a_word_from_the_decoder() {
    let whole = std::fs::read(fixture(TURNED)).expect("the fixture");
    for cut in [12, 24, 100, 600, 1000, whole.len() / 4, whole.len() / 2, whole.len() * 9 / 10] {
        assert_eq!(refusal(&whole[..cut]), "truncated", "cut at {cut} of {} bytes", whole.len());
    }
}

#[test]
fn a_heic_header_before_garbage_is_refused() {
    let garbage: Vec<u8> = (0..4000u32).map(|k| (k.wrapping_mul(2_654_435_761) >> 11) as u8).collect();
    for brand in [b"heic", b"mif1", b"heix"] {
        let bytes = [&[0, 0, 0, 24][..], b"ftyp", brand, &garbage].concat();
        let code = refusal(&bytes);
        assert!(["truncated", "not-a-picture"].contains(&code.as_str()), "{code}");
    }
    let whole = std::fs::read(fixture(TURNED)).expect("the fixture");
    for step in [7, 31, 97] {
        // Every so many bytes of the coded pixels and of the boxes before them are wrong.
        let mut broken = whole.clone();
        broken.iter_mut().skip(24).step_by(step).for_each(|byte| *byte = byte.wrapping_mul(31).wrapping_add(77));
        refusal(&broken);
    }
}
