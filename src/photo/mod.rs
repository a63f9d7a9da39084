//! Room 1: bytes → [`Photo`].
//!
//! A file, or standard input, is read up to a limit, its format recognised by its content (never by its name),
//! its size checked before a pixel is decoded, and the picture turned upright by its EXIF orientation, once. What
//! cannot be decoded is refused with the reason: not a picture, truncated, too large. Colours stay 8-bit sRGB
//! until a room needs them; [`crate::light`] decodes them to linear light, which every average is taken in.

pub mod decode;

#[cfg(feature = "heic")]
mod heic;

pub mod jpeg;

pub mod sharpness;

pub mod interpolate;

use crate::problem::Problem;
use image::RgbImage;
use std::io::Read;
use std::path::Path;

/// A decoded photograph, upright.
#[derive(Clone, Debug)]
pub struct Photo {
    /// The name to show: the file's name as given, or `-` for standard input.
    pub name: String,
    /// 8-bit sRGB pixels with the EXIF orientation applied.
    pub pixels: RgbImage,
}

/// What a photograph may cost.
#[derive(Clone, Copy, Debug)]
pub struct Limits {
    /// Largest file, bytes.
    pub file_bytes: u64,
    /// Largest picture, pixels.
    pub pixels: u64,
    /// Longest side, pixels.
    pub side_px: u32,
    /// Shortest side, pixels: below it nothing can be measured.
    pub least_side_px: u32,
}

impl Default for Limits {
    fn default() -> Self {
        Self { file_bytes: 256 << 20, pixels: 120_000_000, side_px: 30_000, least_side_px: 64 }
    }
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

    /// Linear light (0 to 1, R G B) at a place of the picture, by Catmull-Rom interpolation in linear light.
    ///
    /// `None` outside the outermost pixel centres.
    pub fn linear_at(&self, x_px: f64, y_px: f64) -> Option<[f32; 3]> {
        interpolate::catmull_rom(&self.pixels, x_px, y_px)
    }
}

/// Reads the photograph at `path`; `-` reads standard input.
///
/// # Errors
/// [`Problem::Io`] when the file cannot be read, [`Problem::Refused`] when its bytes are no usable picture.
pub fn read(path: &Path, limits: &Limits) -> Result<Photo, Problem> {
    from_bytes(path.display().to_string(), &bytes(path, limits)?, limits)
}

/// The bytes of the file at `path`, not yet looked at; `-` reads standard input.
///
/// # Errors
/// As [`read`], of the file alone: `too-large` where it has more bytes than the limits allow.
pub fn bytes(path: &Path, limits: &Limits) -> Result<Vec<u8>, Problem> {
    let name = path.display().to_string();
    if name == "-" {
        return read_up_to(std::io::stdin().lock(), "standard input", limits);
    }
    let shown = format!("the photograph {name}");
    if path.is_dir() {
        return Err(Problem::io(
            format!("{shown} is a folder"),
            "give one photograph, for example a .jpg inside that folder",
        ));
    }
    let file = std::fs::File::open(path).map_err(|e| unreadable(&shown, &e))?;
    read_up_to(file, &shown, limits)
}

/// The photograph called `name` that these bytes of a file are.
///
/// # Errors
/// [`Problem::Refused`] where they are no usable picture.
pub fn from_bytes(name: String, bytes: &[u8], limits: &Limits) -> Result<Photo, Problem> {
    let pixels = decode::decode(bytes, limits)?;
    Ok(Photo { name, pixels })
}

fn read_up_to(source: impl Read, shown: &str, limits: &Limits) -> Result<Vec<u8>, Problem> {
    let mut bytes = Vec::new();
    source.take(limits.file_bytes + 1).read_to_end(&mut bytes).map_err(|e| unreadable(shown, &e))?;
    if bytes.len() as u64 > limits.file_bytes {
        return Err(decode::too_large(format!("{shown} is larger than {} MB", limits.file_bytes >> 20)).into());
    }
    Ok(bytes)
}

fn unreadable(shown: &str, error: &std::io::Error) -> Problem {
    let reason = match error.kind() {
        std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
        std::io::ErrorKind::PermissionDenied => "it may not be read by this user".to_owned(),
        _ => error.to_string(),
    };
    Problem::io(format!("cannot read {shown}: {reason}"), "check the name and the folder")
}
