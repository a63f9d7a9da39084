//! When a photograph was taken, as its camera wrote it into the file.
//!
//! # Source
//! CIPA DC-008 / JEITA CP-3451 (Exif), tag DateTimeOriginal 0x9003, `YYYY:MM:DD HH:MM:SS`, from memory.

use exif::{In, Reader, Tag, Value};
use std::io::Cursor;

/// The camera's clock at the moment of the photograph, `2026-03-01T14:05:59`; `None` where the file does not say it plainly.
pub fn taken(bytes: &[u8]) -> Option<String> {
    let exif = Reader::new().read_from_container(&mut Cursor::new(bytes)).ok()?;
    let Value::Ascii(texts) = &exif.get_field(Tag::DateTimeOriginal, In::PRIMARY)?.value else { return None };
    written(texts.first()?)
}

fn written(text: &[u8]) -> Option<String> {
    const FORM: &[u8; 19] = b"0000:00:00 00:00:00";
    let text = text.get(..FORM.len())?;
    let plain = text.iter().zip(FORM).all(|(c, form)| if *form == b'0' { c.is_ascii_digit() } else { c == form });
    // A clock that was never set says year 0.
    if !plain || text.starts_with(b"0000") {
        return None;
    }
    let text = std::str::from_utf8(text).ok()?;
    Some(format!("{}T{}", text[..10].replace(':', "-"), &text[11..]))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A little-endian TIFF header whose EXIF directory holds `DateTimeOriginal`, in the APP1 of a JPEG.
    pub fn jpeg_taken(date: &[u8; 19]) -> Vec<u8> {
        let mut tiff = b"II*\0\x08\0\0\0".to_vec();
        let entry = |tag: u16, kind: u16, count: u32, value: u32| {
            [&tag.to_le_bytes()[..], &kind.to_le_bytes(), &count.to_le_bytes(), &value.to_le_bytes()].concat()
        };
        // Directory 0 at 8: one entry, the pointer to the EXIF directory at 26; there one entry, its text at 44.
        tiff.extend([&1u16.to_le_bytes()[..], &entry(0x8769, 4, 1, 26), &[0; 4]].concat());
        tiff.extend([&1u16.to_le_bytes()[..], &entry(0x9003, 2, 20, 44), &[0; 4]].concat());
        tiff.extend(date);
        tiff.push(0);
        let length = (tiff.len() + 8) as u16;
        [&b"\xff\xd8\xff\xe1"[..], &length.to_be_bytes(), b"Exif\0\0", &tiff, b"\xff\xd9"].concat()
    }

    #[test]
    fn the_cameras_clock_is_read_and_nonsense_is_not() {
        assert_eq!(taken(&jpeg_taken(b"2026:03:01 14:05:59")).as_deref(), Some("2026-03-01T14:05:59"));
        assert_eq!(taken(&jpeg_taken(b"0000:00:00 00:00:00")), None);
        assert_eq!(taken(&jpeg_taken(b"    :  :     :  :  ")), None);
        assert_eq!(taken(b"no picture"), None);
        assert_eq!(taken(&[]), None);
    }
}
