//! EXIF orientation: however the camera stored its pixels, the same seam has the same answer.

use super::pictures::{fine_jpeg, put};
use super::run::{fixture, seamstep, text};
use image::RgbImage;
use serde_json::Value;
use tempfile::tempdir;

/// Sides of the upright picture, from its edges: which of them a stored row or column counts from.
#[derive(Clone, Copy)]
enum Side {
    Top,
    Right,
    Bottom,
    Left,
}

/// EXIF orientation 1 to 8: what the 0th stored row and the 0th stored column show. Source: the jpegexiforient(1)
/// manual page and the libvips documentation of its orientation field, read.
const STORED: [(Side, Side); 8] = [
    (Side::Top, Side::Left),
    (Side::Top, Side::Right),
    (Side::Bottom, Side::Right),
    (Side::Bottom, Side::Left),
    (Side::Left, Side::Top),
    (Side::Right, Side::Top),
    (Side::Right, Side::Bottom),
    (Side::Left, Side::Bottom),
];

/// The pixels a camera stores so that `orientation` (1 to 8) turns them into `upright`.
fn stored(upright: &RgbImage, orientation: usize) -> RgbImage {
    let (width, height) = upright.dimensions();
    let (rows, columns) = STORED[orientation - 1];
    let turned = matches!(rows, Side::Left | Side::Right);
    let (stored_width, stored_height) = if turned { (height, width) } else { (width, height) };
    RgbImage::from_fn(stored_width, stored_height, |column, row| {
        let (mut x, mut y) = (0, 0);
        for (side, count) in [(rows, row), (columns, column)] {
            match side {
                Side::Top => y = count,
                Side::Bottom => y = height - 1 - count,
                Side::Left => x = count,
                Side::Right => x = width - 1 - count,
            }
        }
        *upright.get_pixel(x, y)
    })
}

/// A JPEG with an EXIF segment (APP1) that holds one tag, 0x0112: the layout of TIFF 6.0, section 2 (from memory).
fn with_orientation(jpeg: &[u8], orientation: u8, big_endian: bool) -> Vec<u8> {
    let tiff: &[u8] = if big_endian {
        &[b'M', b'M', 0, 42, 0, 0, 0, 8, 0, 1, 1, 0x12, 0, 3, 0, 0, 0, 1, 0, orientation, 0, 0, 0, 0, 0, 0]
    } else {
        &[b'I', b'I', 42, 0, 8, 0, 0, 0, 1, 0, 0x12, 1, 3, 0, 1, 0, 0, 0, orientation, 0, 0, 0, 0, 0, 0, 0]
    };
    let length = u16::try_from(2 + 6 + tiff.len()).expect("a short segment");
    let segment = [&[0xFF, 0xE1], &length.to_be_bytes()[..], b"Exif\0\0", tiff].concat();
    [&jpeg[..2], &segment, &jpeg[2..]].concat()
}

/// The upright picture: the middle of a fixture, its seam and 100 mm on it.
fn upright() -> RgbImage {
    let photo = image::open(fixture("nocard-02.jpg")).expect("a fixture").into_rgb8();
    image::imageops::crop_imm(&photo, 330, 150, 460, 600).to_image()
}

fn measured(jpeg: &[u8]) -> Value {
    let folder = tempdir().expect("a folder");
    let photo = put(folder.path(), "photo.jpg", jpeg);
    // From the fixture's truth: (545.82, 175.37) and (574.76, 722.96) lie on the seam, 100 mm apart.
    let marks = ["--length", "215.82,25.37,244.76,572.96,100", "--seam", "215.82,25.37 244.76,572.96"];
    seamstep(&[&["check", text(&photo), "--json"][..], &marks].concat()).finding()
}

fn mean_mm(finding: &Value) -> f64 {
    finding["offset"]["mean_mm"].as_f64().expect("a mean")
}

#[test]
fn the_layouts_are_the_eight_of_the_table() {
    // Stored 1 2 3 / 4 5 6 under each orientation, computed with Pillow 13.0.0 (exif_transpose): the way back here.
    let displayed: [&[[u8; 3]]; 4] =
        [&[[1, 2, 3], [4, 5, 6]], &[[3, 2, 1], [6, 5, 4]], &[[6, 5, 4], [3, 2, 1]], &[[4, 5, 6], [1, 2, 3]]];
    let turned: [&[[u8; 2]]; 4] =
        [&[[1, 4], [2, 5], [3, 6]], &[[4, 1], [5, 2], [6, 3]], &[[6, 3], [5, 2], [4, 1]], &[[3, 6], [2, 5], [1, 4]]];
    for orientation in 1..=8 {
        let upright = if orientation <= 4 {
            RgbImage::from_fn(3, 2, |x, y| image::Rgb([displayed[orientation - 1][y as usize][x as usize]; 3]))
        } else {
            RgbImage::from_fn(2, 3, |x, y| image::Rgb([turned[orientation - 5][y as usize][x as usize]; 3]))
        };
        let values: Vec<u8> = stored(&upright, orientation).pixels().map(|pixel| pixel[0]).collect();
        assert_eq!(values, [1, 2, 3, 4, 5, 6], "orientation {orientation}");
    }
}

#[test]
fn the_same_seam_has_the_same_offset_in_all_eight() {
    let upright = upright();
    let plain = mean_mm(&measured(&fine_jpeg(&upright)));
    // The fixture's truth.
    assert!((plain - 3.3).abs() < 0.3, "{plain}");
    for orientation in 1..=8u8 {
        let jpeg = with_orientation(&fine_jpeg(&stored(&upright, usize::from(orientation))), orientation, true);
        let finding = measured(&jpeg);
        assert_eq!(finding["photo"]["width_px"], 460, "orientation {orientation}");
        assert_eq!(finding["photo"]["height_px"], 600, "orientation {orientation}");
        let mean = mean_mm(&finding);
        assert!((mean - plain).abs() < 0.02, "orientation {orientation}: {mean} mm instead of {plain} mm");
    }
}

#[test]
fn little_endian_counts_and_an_orientation_that_is_none_is_upright() {
    let upright = upright();
    let plain = mean_mm(&measured(&fine_jpeg(&upright)));
    let little = measured(&with_orientation(&fine_jpeg(&stored(&upright, 6)), 6, false));
    assert_eq!(little["photo"]["width_px"], 460);
    assert!((mean_mm(&little) - plain).abs() < 0.02);
    for none in [0, 9, 255] {
        let finding = measured(&with_orientation(&fine_jpeg(&upright), none, true));
        assert_eq!(finding["photo"]["height_px"], 600);
        assert!((mean_mm(&finding) - plain).abs() < 1e-9, "orientation {none}");
    }
}
