//! Room 1: bytes → [`Photo`].

use image::RgbImage;

/// A decoded photograph, upright.
#[derive(Clone, Debug)]
pub struct Photo {
    /// The name to show: the file's name as given, or `-` for standard input.
    pub name: String,
    /// 8-bit sRGB pixels with the EXIF orientation applied.
    pub pixels: RgbImage,
}

impl Photo {
    /// Width of the upright picture, pixels.
    pub fn width_px(&self) -> u32 {
        self.pixels.width()
    }

    /// Height of the upright picture, pixels.
    pub fn height_px(&self) -> u32 {
        self.pixels.height()
    }
}
