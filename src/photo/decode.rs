//! Bytes → upright RGB: the format by content, the limits before the pixels, the orientation once.

use super::guard::quietly;
use super::{Limits, jpeg, tiff, webp};
use crate::problem::{Refusal, RefusalCode};
use image::error::{ImageError, LimitErrorKind};
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, RgbImage};
use std::io::Cursor;

/// The formats that can be read, as a person names them.
pub const FORMATS: &str =
    if cfg!(feature = "heic") { "JPEG, PNG, WebP, TIFF and HEIC" } else { "JPEG, PNG, WebP and TIFF" };

/// Decodes a photograph and turns it upright.
///
/// # Errors
/// A refusal: `not-a-picture`, `truncated`, `too-large` or `too-small`.
pub fn decode(bytes: &[u8], limits: &Limits) -> Result<RgbImage, Refusal> {
    if bytes.is_empty() {
        return Err(not_a_picture("the file is empty"));
    }
    let pixels = if is_heic(bytes) { decode_heic(bytes, limits)? } else { decode_common(bytes, limits)? };
    let (width, height) = pixels.dimensions();
    if width.min(height) < limits.least_side_px {
        return Err(Refusal::new(
            RefusalCode::TooSmall,
            format!("the picture is only {width} by {height} pixels"),
            format!("send the photograph itself, not a thumbnail: at least {} pixels a side", limits.least_side_px),
        ));
    }
    Ok(pixels)
}

/// The refusal of what is larger than the limits allow.
pub fn too_large(message: impl Into<String>) -> Refusal {
    Refusal::new(RefusalCode::TooLarge, message, "send a smaller picture: 12 to 48 megapixels are plenty")
}

/// Refuses a picture of this size if it breaks the limits; called before any pixel is decoded.
pub(super) fn check_size(width: u32, height: u32, limits: &Limits) -> Result<(), Refusal> {
    let pixels = u64::from(width) * u64::from(height);
    if width > limits.side_px || height > limits.side_px || pixels > limits.pixels {
        return Err(too_large(format!(
            "the picture says it is {width} by {height} pixels; the limit is {} megapixels and {} pixels a side",
            limits.pixels / 1_000_000,
            limits.side_px
        )));
    }
    Ok(())
}

pub(super) fn not_a_picture(what: &str) -> Refusal {
    Refusal::new(
        RefusalCode::NotAPicture,
        format!("{what}; it cannot be read as a photograph"),
        format!("give a photograph in one of the formats {FORMATS}"),
    )
}

pub(super) fn truncated(what: &str) -> Refusal {
    Refusal::new(
        RefusalCode::Truncated,
        format!("the photograph is damaged or cut short: {what}"),
        "copy the file from the phone again and check that its size is the same",
    )
}

fn decode_common(bytes: &[u8], limits: &Limits) -> Result<RgbImage, Refusal> {
    let mut reader =
        ImageReader::new(Cursor::new(bytes)).with_guessed_format().map_err(|e| not_a_picture(&e.to_string()))?;
    let Some(format) = reader.format() else {
        return Err(not_a_picture("the file's content is not a picture that is known here"));
    };
    let is_complete = match format {
        ImageFormat::Jpeg => jpeg::is_complete(bytes),
        ImageFormat::WebP => webp::is_complete(bytes),
        ImageFormat::Tiff => tiff::is_complete(bytes),
        _ => true,
    };
    if !is_complete {
        return Err(truncated("its data end before the picture does"));
    }
    if format == ImageFormat::Tiff && tiff::may_hold_jpeg(bytes) {
        return Err(Refusal::new(
            RefusalCode::NotAPicture,
            "this is a TIFF with JPEG inside, or it does not say how its pixels are compressed; such a TIFF is not read",
            "save it as JPEG or PNG, or as TIFF without JPEG inside",
        ));
    }
    if format == ImageFormat::WebP {
        webp::frames(bytes).try_for_each(|[width, height]| check_size(width, height, limits))?;
    }
    let mut bounds = image::Limits::default();
    bounds.max_alloc = Some(limits.pixels * 8);
    reader.limits(bounds);
    let decoded = quietly(|| {
        let mut decoder = reader.into_decoder().map_err(explain)?;
        let (width, height) = decoder.dimensions();
        check_size(width, height, limits)?;
        let orientation = decoder.orientation().map_err(explain)?;
        let mut picture = DynamicImage::from_decoder(decoder).map_err(explain)?;
        picture.apply_orientation(orientation);
        Ok(picture.into_rgb8())
    });
    decoded.unwrap_or_else(|()| Err(truncated("its decoder gave up on it")))
}

fn explain(error: ImageError) -> Refusal {
    match error {
        ImageError::Limits(limit) if matches!(limit.kind(), LimitErrorKind::DimensionError) => {
            too_large("the picture's sides are longer than the limits allow")
        }
        ImageError::Limits(_) => too_large("decoding the picture would take more memory than the limits allow"),
        ImageError::Unsupported(e) => not_a_picture(&format!("the picture uses something not supported ({e})")),
        ImageError::Decoding(e) => truncated(&e.to_string()),
        ImageError::IoError(e) => truncated(&e.to_string()),
        other => not_a_picture(&other.to_string()),
    }
}

/// Whether the bytes begin with an ISO base media `ftyp` box of an HEVC still picture (ISO/IEC 23008-12).
fn is_heic(bytes: &[u8]) -> bool {
    bytes.len() >= 12
        && &bytes[4..8] == b"ftyp"
        && matches!(&bytes[8..12], b"heic" | b"heix" | b"hevc" | b"heim" | b"heis" | b"mif1" | b"msf1")
}

#[cfg(feature = "heic")]
fn decode_heic(bytes: &[u8], limits: &Limits) -> Result<RgbImage, Refusal> {
    super::heic::decode(bytes, limits)
}

#[cfg(not(feature = "heic"))]
fn decode_heic(_: &[u8], _: &Limits) -> Result<RgbImage, Refusal> {
    Err(Refusal::new(
        RefusalCode::NotAPicture,
        "this is a HEIC photograph, and this build of seamstep was made without HEIC",
        "export it as JPEG on the phone, or build seamstep with its `heic` feature",
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn png(width: u32, height: u32) -> Vec<u8> {
        let mut bytes = Cursor::new(Vec::new());
        RgbImage::from_fn(width, height, |x, y| image::Rgb([x as u8, y as u8, 7]))
            .write_to(&mut bytes, ImageFormat::Png)
            .unwrap();
        bytes.into_inner()
    }

    fn code(bytes: &[u8]) -> RefusalCode {
        decode(bytes, &Limits::default()).unwrap_err().code
    }

    #[test]
    fn what_is_no_picture_is_refused_by_its_kind() {
        assert_eq!(code(b""), RefusalCode::NotAPicture);
        assert_eq!(code(b"a text file about a skirt"), RefusalCode::NotAPicture);
        assert_eq!(code(&png(1, 1)), RefusalCode::TooSmall);
        let whole = png(200, 200);
        assert_eq!(code(&whole[..whole.len() / 2]), RefusalCode::Truncated);
    }

    #[test]
    fn a_header_that_promises_too_much_is_refused_before_decoding() {
        let mut bytes = png(100, 100);
        // IHDR: width at bytes 16 to 19, CRC at 29 to 32 (PNG specification, second edition, 11.2.2).
        bytes[16..20].copy_from_slice(&65_535u32.to_be_bytes());
        let crc = crc32(&bytes[12..29]);
        bytes[29..33].copy_from_slice(&crc.to_be_bytes());
        assert_eq!(code(&bytes), RefusalCode::TooLarge);
    }

    #[test]
    fn a_tiff_with_jpeg_inside_is_refused_before_the_jpeg_is_believed() {
        let mut bytes = Cursor::new(Vec::new());
        RgbImage::new(80, 80).write_to(&mut bytes, ImageFormat::Tiff).unwrap();
        let whole = bytes.into_inner();
        assert!(decode(&whole, &Limits::default()).is_ok());
        // Tag 259, one SHORT (TIFF 6.0, section 8).
        let entry = [3, 1, 3, 0, 1, 0, 0, 0];
        let at = whole.windows(8).position(|w| w == entry).unwrap() + entry.len();
        for jpeg in [6, 7] {
            let mut inside = whole.clone();
            inside[at] = jpeg;
            let refusal = decode(&inside, &Limits::default()).unwrap_err();
            assert_eq!(refusal.code, RefusalCode::NotAPicture);
            assert!(refusal.message.contains("JPEG inside") && refusal.help.contains("as JPEG or PNG"), "{refusal:?}");
        }
    }

    #[test]
    fn a_palette_of_one_colour_and_a_third_is_refused_and_not_the_end() {
        let chunk = |name: &[u8], data: &[u8]| {
            let body = [name, data].concat();
            [&(data.len() as u32).to_be_bytes()[..], &body, &crc32(&body).to_be_bytes()].concat()
        };
        // 80 by 80 pixels, 8 bits, indexed colour.
        let header = [0, 0, 0, 80, 0, 0, 0, 80, 8, 3, 0, 0, 0];
        // Rows of a filter byte and 80 zeros, stored (RFC 1950 and 1951): one block, its length and the complement; Adler-32.
        let length = 80 * 81u16;
        let stored =
            [&[0x78, 1, 1][..], &length.to_le_bytes(), &(!length).to_le_bytes(), &vec![0; usize::from(length)]];
        let sum = (u32::from(length) << 16) | 1;
        let rows = [&stored.concat()[..], &sum.to_be_bytes()].concat();
        let png = |palette: &[u8]| {
            let parts = [chunk(b"IHDR", &header), chunk(b"PLTE", palette), chunk(b"IDAT", &rows), chunk(b"IEND", b"")];
            [&b"\x89PNG\r\n\x1a\n"[..], &parts.concat()].concat()
        };
        assert_eq!(decode(&png(&[200, 10, 10]), &Limits::default()).unwrap().dimensions(), (80, 80));
        assert_eq!(code(&png(&[200, 10, 10, 9])), RefusalCode::Truncated);
    }

    fn crc32(bytes: &[u8]) -> u32 {
        !bytes.iter().fold(!0u32, |crc, &b| {
            (0..8).fold(crc ^ u32::from(b), |c, _| if c & 1 == 1 { (c >> 1) ^ 0xEDB8_8320 } else { c >> 1 })
        })
    }
}
