//! The EXIF orientation, each of the eight.

use image::codecs::jpeg::JpegEncoder;
use image::{ImageEncoder, Rgb, RgbImage};
use seamstep::photo::{Limits, decode};

/// Side of a cell in the picture, pixels: so that the tiny table is larger than the least picture.
const CELL_PX: u32 = 40;

/// What a file that stores [[1,2,3],[4,5,6]] shows at each orientation, 1 to 8. The meaning of the eight: the manual
/// page of jpegexiforient and a public library's tag documentation (read); the tables: exif_transpose of Pillow 13.0.0
/// (computed).
const SHOWN: [&[&[u8]]; 8] = [
    &[&[1, 2, 3], &[4, 5, 6]],
    &[&[3, 2, 1], &[6, 5, 4]],
    &[&[6, 5, 4], &[3, 2, 1]],
    &[&[4, 5, 6], &[1, 2, 3]],
    &[&[1, 4], &[2, 5], &[3, 6]],
    &[&[4, 1], &[5, 2], &[6, 3]],
    &[&[6, 3], &[5, 2], &[4, 1]],
    &[&[3, 6], &[2, 5], &[1, 4]],
];

/// The grey of a cell's number.
fn grey(number: u8) -> u8 {
    number * 40
}

/// A TIFF block that holds nothing but the orientation (tag 0x0112, type SHORT; TIFF 6.0, from memory).
fn exif(orientation: u8) -> Vec<u8> {
    let mut block = b"MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    block.extend([orientation, 0, 0, 0, 0, 0, 0]);
    block
}

fn stored() -> RgbImage {
    RgbImage::from_fn(3 * CELL_PX, 2 * CELL_PX, |x, y| Rgb([grey((x / CELL_PX + 3 * (y / CELL_PX) + 1) as u8); 3]))
}

fn jpeg(orientation: u8) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut bytes, 95);
    encoder.set_exif_metadata(exif(orientation)).expect("JPEG holds EXIF");
    encoder.encode_image(&stored()).expect("written");
    bytes
}

fn png(orientation: u8) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = image::codecs::png::PngEncoder::new(&mut bytes);
    encoder.set_exif_metadata(exif(orientation)).expect("PNG holds EXIF");
    let picture = stored();
    encoder.write_image(&picture, picture.width(), picture.height(), image::ExtendedColorType::Rgb8).expect("written");
    bytes
}

#[test]
fn each_orientation_is_shown_as_the_table_says() {
    for (k, due) in SHOWN.iter().enumerate() {
        let orientation = k as u8 + 1;
        for (format, bytes) in [("JPEG", jpeg(orientation)), ("PNG", png(orientation))] {
            let upright = decode::decode(&bytes, &Limits::default()).expect("a picture");
            let size = (due[0].len() as u32 * CELL_PX, due.len() as u32 * CELL_PX);
            assert_eq!(upright.dimensions(), size, "{format} {orientation}");
            for (row, numbers) in due.iter().enumerate() {
                for (column, &number) in numbers.iter().enumerate() {
                    let middle = |k: usize| k as u32 * CELL_PX + CELL_PX / 2;
                    let seen = upright.get_pixel(middle(column), middle(row))[0];
                    assert!(
                        seen.abs_diff(grey(number)) <= 3,
                        "{format} {orientation}: {seen} at row {row}, column {column}"
                    );
                }
            }
        }
    }
}
