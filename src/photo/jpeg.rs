//! Whether a JPEG file reaches its end.
//!
//! The decoder fills what is missing with grey and says nothing; grey cloth would then be measured. So the markers
//! are walked here (ISO/IEC 10918-1, annex B) until the end-of-image marker of the picture itself, not of a thumbnail.

const END_OF_IMAGE: u8 = 0xD9;
const START_OF_SCAN: u8 = 0xDA;

/// True when the marker walk meets the end-of-image marker.
pub fn is_complete(bytes: &[u8]) -> bool {
    let mut at = 2; // past the start-of-image marker
    while let Some(&[0xFF, marker]) = bytes.get(at..at + 2) {
        at += match marker {
            END_OF_IMAGE => return true,
            0xFF => 1,               // fill byte
            0x01 | 0xD0..=0xD8 => 2, // markers without a segment
            _ => {
                let Some(&[high, low]) = bytes.get(at + 2..at + 4) else { return false };
                let segment = 2 + usize::from(u16::from_be_bytes([high, low]));
                let coded = if marker == START_OF_SCAN { coded_length(bytes.get(at + segment..)) } else { 0 };
                segment + coded
            }
        };
    }
    false
}

/// Length of the entropy-coded data up to the next marker that is neither stuffing nor a restart.
fn coded_length(bytes: Option<&[u8]>) -> usize {
    let bytes = bytes.unwrap_or_default();
    bytes.windows(2).position(|w| w[0] == 0xFF && !matches!(w[1], 0x00 | 0xD0..=0xD7)).unwrap_or(bytes.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{ImageFormat, RgbImage};
    use std::io::Cursor;

    #[test]
    fn every_cut_is_noticed_and_trailing_data_is_not_a_cut() {
        let mut bytes = Cursor::new(Vec::new());
        RgbImage::from_fn(96, 96, |x, y| image::Rgb([(x * 7) as u8, (y * 5) as u8, (x ^ y) as u8]))
            .write_to(&mut bytes, ImageFormat::Jpeg)
            .unwrap();
        let mut whole = bytes.into_inner();
        assert!(is_complete(&whole));
        for cut in 0..whole.len() - 1 {
            assert!(!is_complete(&whole[..cut]), "cut at {cut}");
        }
        whole.extend_from_slice(b"a phone's motion data");
        assert!(is_complete(&whole));
    }
}
