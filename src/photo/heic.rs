//! HEIC, behind the cargo feature `heic`.
//!
//! The decoder applies the file's own rotation (`irot`, `imir`); the EXIF orientation that phones store beside it
//! repeats that rotation and must not be applied again.

use super::guard::quietly;
use super::{Limits, decode, iloc};
use crate::problem::Refusal;
use heifer::Options;
use image::RgbImage;

/// Decodes a HEIC picture to upright 8-bit RGB.
pub fn decode(bytes: &[u8], limits: &Limits) -> Result<RgbImage, Refusal> {
    if !iloc::is_complete(bytes) {
        return Err(decode::truncated("HEIC: it says that its pictures lie in more pieces than it has bytes"));
    }
    let options = Options { max_threads: 1, max_pixels: limits.pixels };
    let decoded = quietly(|| heifer::decode_rgba8(bytes, &options))
        .map_err(|()| decode::truncated("the HEIC decoder gave up on it"))?
        .map_err(|e| decode::truncated(&format!("HEIC: {e}")))?;
    let (width, height) = (decoded.width, decoded.height);
    decode::check_size(width, height, limits)?;
    let rgb = decoded.data.chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
    RgbImage::from_raw(width, height, rgb).ok_or_else(|| decode::truncated("HEIC: pixels are missing"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::problem::RefusalCode;

    #[test]
    fn more_extents_than_the_file_has_bytes_are_refused_before_the_decoder_makes_room_for_them() {
        // `meta` and in it `iloc`, each to the end (size 0): version 0, one item, 65 535 extents whose sizes take no byte.
        let head = b"\0\0\0\x10ftypheic\0\0\0\0\0\0\0\0meta\0\0\0\0\0\0\0\0iloc\0\0\0\0\0\0\0\x01";
        let refusal = decode(&[&head[..], &[0, 1, 0, 0, 0xff, 0xff]].concat(), &Limits::default()).unwrap_err();
        assert_eq!(refusal.code, RefusalCode::Truncated);
        assert!(refusal.message.contains("more pieces than it has bytes"), "{}", refusal.message);
    }
}
