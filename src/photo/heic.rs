//! HEIC, behind the cargo feature `heic`: the decoder is young, so its panic is caught and becomes a refusal.
//!
//! The decoder applies the file's own rotation (`irot`, `imir`); the EXIF orientation that phones store beside it
//! repeats that rotation and must not be applied again.

use super::{Limits, decode, iloc};
use crate::problem::Refusal;
use heifer::Options;
use image::RgbImage;
use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Once;

thread_local! { static GUARDED: Cell<bool> = const { Cell::new(false) }; }

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

/// Runs `work`; a panic inside becomes `Err(())` and prints nothing.
fn quietly<T>(work: impl FnOnce() -> T) -> Result<T, ()> {
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let usual = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            if !GUARDED.get() {
                usual(info);
            }
        }));
    });
    GUARDED.set(true);
    let result = catch_unwind(AssertUnwindSafe(work));
    GUARDED.set(false);
    result.map_err(|_| ())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::problem::RefusalCode;

    #[test]
    fn a_panic_in_the_decoder_is_an_error_and_later_panics_are_still_panics() {
        assert_eq!(quietly(|| -> u8 { panic!("inside") }), Err(()));
        assert_eq!(quietly(|| 7), Ok(7));
        assert!(!GUARDED.get());
    }
    #[test]
    fn more_extents_than_the_file_has_bytes_are_refused_before_the_decoder_makes_room_for_them() {
        // `meta` and in it `iloc`, each to the end (size 0): version 0, one item, 65 535 extents whose sizes take no byte.
        let head = b"\0\0\0\x10ftypheic\0\0\0\0\0\0\0\0meta\0\0\0\0\0\0\0\0iloc\0\0\0\0\0\0\0\x01";
        let refusal = decode(&[&head[..], &[0, 1, 0, 0, 0xff, 0xff]].concat(), &Limits::default()).unwrap_err();
        assert_eq!(refusal.code, RefusalCode::Truncated);
        assert!(refusal.message.contains("more pieces than it has bytes"), "{}", refusal.message);
    }
}
