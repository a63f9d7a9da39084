//! Pictures made for the tests: a small seam that can be measured, and what is no seam at all.

use ab_glyph::FontRef;
use image::{DynamicImage, ImageFormat, Rgb, RgbImage};
use std::f64::consts::TAU;
use std::io::Cursor;
use std::path::{Path, PathBuf};

/// Width of [`seam`], pixels.
pub const SEAM_WIDTH_PX: u32 = 400;
/// Height of [`seam`], pixels.
pub const SEAM_HEIGHT_PX: u32 = 480;
/// How far its lines jump, pixels: the right side stands lower.
pub const SEAM_JUMP_PX: f64 = 8.0;
/// Marks that make its scale 0.25 mm to the pixel: 400 pixels are 100 mm.
pub const SEAM_LENGTH: &str = "40,40,40,440,100";
/// Its seam, marked by hand.
pub const SEAM_MARKS: &str = "200,10 200,470";

/// Stripes of 60 pixels that jump at a dark crease in the middle, with a little grain.
pub fn seam() -> RgbImage {
    seams(SEAM_WIDTH_PX, &[200.0])
}

/// The same with a crease in each of these columns.
pub fn seams(width_px: u32, columns: &[f64]) -> RgbImage {
    RgbImage::from_fn(width_px, SEAM_HEIGHT_PX, |x, y| {
        let across = columns.iter().map(|column| f64::from(x) - column);
        let shift = across.clone().filter(|across| *across > 0.0).count() as f64 * SEAM_JUMP_PX;
        let turn = TAU * (f64::from(y) - shift) / 60.0;
        let stripe = turn.sin() + 0.35 * (2.0 * turn + 0.6).sin() + 0.2 * (3.0 * turn + 1.9).sin();
        let crease: f64 = across.map(|across| 1.0 - 0.45 * (-across * across / 4.0).exp()).product();
        let value = (135.0 + 55.0 * stripe) * crease + grain(x, y, 6.0);
        Rgb([value as u8, (value * 0.9) as u8, (value * 0.75) as u8])
    })
}

/// Grain between −`most` and `most`, the same for the same pixel.
fn grain(x: u32, y: u32, most: f64) -> f64 {
    let mut h = x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA77);
    for _ in 0..3 {
        h ^= h >> 15;
        h = h.wrapping_mul(0xC2B2_AE3D);
    }
    most * (f64::from(h >> 8) / f64::from(1u32 << 23) - 1.0)
}

/// Pictures that show no seam in cloth, each with its name.
pub fn no_seams() -> Vec<(&'static str, RgbImage)> {
    let of = |make: fn(u32, u32) -> [u8; 3]| RgbImage::from_fn(420, 360, |x, y| Rgb(make(x, y)));
    vec![
        ("black", of(|_, _| [0; 3])),
        ("white", of(|_, _| [255; 3])),
        ("one colour", of(|_, _| [120, 64, 48])),
        ("gradient", of(|x, y| [(x / 2) as u8, (y / 2) as u8, ((x + y) / 4) as u8])),
        ("noise", of(|x, y| [0, 1, 2].map(|c| (128.0 + grain(x + 1000 * c, y, 120.0)) as u8))),
    ]
}

/// Two garments that lie edge to edge, of other cloths: broad brown stripes on the left, narrow blue ones on the right.
pub fn two_garments() -> RgbImage {
    RgbImage::from_fn(SEAM_WIDTH_PX, SEAM_HEIGHT_PX, |x, y| {
        let (period, tint) = if x < 200 { (60.0, [1.0, 0.8, 0.6]) } else { (37.0, [0.6, 0.8, 1.0]) };
        let value = 135.0 + 55.0 * (TAU * f64::from(y) / period).sin() + grain(x, y, 6.0);
        Rgb(tint.map(|t| (t * value) as u8))
    })
}

/// A chessboard of squares of 30 pixels.
pub fn chessboard() -> RgbImage {
    RgbImage::from_fn(420, 360, |x, y| Rgb([if (x / 30 + y / 30).is_multiple_of(2) { 235 } else { 30 }; 3]))
}

/// A page of drawn text.
pub fn page_of_text() -> RgbImage {
    let mut page = RgbImage::from_pixel(420, 360, Rgb([250; 3]));
    let font = FontRef::try_from_slice(dejavu::sans::regular()).expect("a font");
    for (line, words) in ["Pin the seam, then", "baste along it; take", "every pin out before", "the needle comes."]
        .iter()
        .cycle()
        .take(11)
        .enumerate()
    {
        imageproc::drawing::draw_text_mut(&mut page, Rgb([20; 3]), 20, 12 + 31 * line as i32, 26.0, &font, words);
    }
    page
}

/// A picture as the bytes of a file.
pub fn encoded(picture: &RgbImage, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    DynamicImage::ImageRgb8(picture.clone()).write_to(&mut bytes, format).expect("encoded");
    bytes.into_inner()
}

/// A picture as a JPEG of high quality.
pub fn fine_jpeg(picture: &RgbImage) -> Vec<u8> {
    let mut bytes = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 97).encode_image(picture).expect("encoded");
    bytes
}

/// Writes bytes into a folder under this name.
pub fn put(folder: &Path, name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, bytes).expect("written");
    path
}

/// Writes [`seam`] into a folder, as `seam.png`.
pub fn put_seam(folder: &Path) -> PathBuf {
    put(folder, "seam.png", &encoded(&seam(), ImageFormat::Png))
}
