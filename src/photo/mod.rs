//! Room 1: bytes → [`Photo`].
//!
//! A file, or standard input, is read up to a limit, its format recognised by its content (never by its name),
//! its size checked before a pixel is decoded, and the picture turned upright by its EXIF orientation, once. What
//! cannot be decoded is refused with the reason: not a picture, truncated, too large. Colours stay 8-bit sRGB
//! until a room needs them; [`crate::light`] decodes them to linear light, which every average is taken in.

mod guard;

pub mod decode;

#[cfg(feature = "heic")]
mod heic;

#[cfg(feature = "heic")]
mod iloc;

pub mod jpeg;

pub mod webp;

pub mod tiff;

pub mod sharpness;

pub mod interpolate;

pub mod halved;

use crate::light;
use crate::problem::Problem;
use halved::Halved;
use image::RgbImage;
use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::sync::OnceLock;
use std::time::Duration;

/// The smallest size that is made: a 32nd.
const MOST_HALVINGS: usize = 5;
/// How long a named pipe is waited for until somebody opens it to write.
const PIPE_PATIENCE: Duration = Duration::from_secs(5);

/// A decoded photograph, upright.
#[derive(Clone, Debug)]
pub struct Photo {
    /// The name to show: the file's name as given, or `-` for standard input.
    pub name: String,
    /// 8-bit sRGB pixels with the EXIF orientation applied.
    pub pixels: RgbImage,
    /// Half, a quarter … of it, once somebody asked for them.
    halved: [OnceLock<Box<Halved>>; MOST_HALVINGS],
}

/// The photograph in linear light at the size that a measurement needs.
#[derive(Clone, Copy, Debug)]
pub enum Light<'a> {
    /// Pixel by pixel.
    Whole(&'a RgbImage),
    /// Means of its pixels.
    Halved(&'a Halved),
}

impl Light<'_> {
    /// Pixels of the photograph along one side of a pixel of this.
    pub fn block(&self) -> usize {
        match self {
            Self::Whole(_) => 1,
            Self::Halved(halved) => halved.block,
        }
    }

    /// Pixels along a row, and rows.
    pub fn size(&self) -> [usize; 2] {
        match self {
            Self::Whole(pixels) => [pixels.width() as usize, pixels.height() as usize],
            Self::Halved(halved) => [halved.width, halved.height],
        }
    }

    /// Linear light (0 to 1, R G B) of the pixel that holds a place of the photograph; `None` outside.
    #[inline]
    pub fn nearest(&self, x_px: f64, y_px: f64) -> Option<[f32; 3]> {
        let [width, height] = self.size();
        let [x, y] = [x_px, y_px].map(|px| (px + 0.5) / self.block() as f64);
        if !(x > 0.0 && y > 0.0 && x < width as f64 && y < height as f64) {
            return None;
        }
        let pixel = y as usize * width + x as usize;
        match self {
            Self::Whole(pixels) => {
                let rgb = pixels.as_raw().get(3 * pixel..3 * pixel + 3)?;
                Some([0, 1, 2].map(|c| light::linear(rgb[c])))
            }
            Self::Halved(halved) => Some(halved.light(pixel)),
        }
    }

    /// Linear light (0 to 1, R G B) at a place of the photograph, by Catmull-Rom interpolation in linear light.
    ///
    /// `None` outside the outermost pixel centres.
    #[inline]
    pub fn at(&self, x_px: f64, y_px: f64) -> Option<[f32; 3]> {
        match self {
            Self::Whole(pixels) => {
                let (raw, light) = (pixels.as_raw(), light::of_codes());
                let four = |i: usize| {
                    let codes: &[u8; 12] = raw[3 * i..3 * i + 12].try_into().expect("twelve codes");
                    codes.map(|code| light[usize::from(code)])
                };
                let pixel = |i: usize| [0, 1, 2].map(|c| light[usize::from(raw[3 * i + c])]);
                interpolate::catmull_rom(self.size(), x_px, y_px, four, pixel)
            }
            Self::Halved(halved) => halved.at(x_px, y_px),
        }
    }
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
    /// The photograph of these pixels, upright.
    pub fn new(name: impl Into<String>, pixels: RgbImage) -> Self {
        Self { name: name.into(), pixels, halved: Default::default() }
    }

    /// Width of the upright picture, pixels.
    pub fn width_px(&self) -> u32 {
        self.pixels.width()
    }

    /// Height of the upright picture, pixels.
    pub fn height_px(&self) -> u32 {
        self.pixels.height()
    }

    /// The photograph in linear light, as small as it may be with no more than `largest` of its own pixels along one side of
    /// one of these; made when it is asked for first.
    pub fn light(&self, largest: f64) -> Light<'_> {
        // Not a number, and less than two: as it is.
        let halvings = if largest >= 2.0 { (largest.log2() as usize).min(MOST_HALVINGS) } else { 0 };
        match halvings {
            0 => Light::Whole(&self.pixels),
            _ => Light::Halved(self.halved(halvings)),
        }
    }

    fn halved(&self, halvings: usize) -> &Halved {
        self.halved[halvings - 1].get_or_init(|| match halvings {
            1 => Box::new(Halved::of(&self.pixels)),
            _ => Box::new(self.halved(halvings - 1).halved()),
        })
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
    let file = if is_pipe(path) { open_pipe(path, &shown)? } else { File::open(path) };
    read_up_to(file.map_err(|e| unreadable(&shown, &e))?, &shown, limits)
}

#[cfg(unix)]
fn is_pipe(path: &Path) -> bool {
    use std::os::unix::fs::FileTypeExt;
    path.metadata().is_ok_and(|facts| facts.file_type().is_fifo())
}

#[cfg(not(unix))]
fn is_pipe(_: &Path) -> bool {
    false
}

/// Opening a named pipe waits until somebody opens it to write, for ever if nobody does; so another thread waits.
fn open_pipe(path: &Path, shown: &str) -> Result<std::io::Result<File>, Problem> {
    let (send, receive) = std::sync::mpsc::channel();
    let path = path.to_owned();
    if let Err(no_thread) = std::thread::Builder::new().spawn(move || send.send(File::open(path))) {
        return Ok(Err(no_thread));
    }
    receive.recv_timeout(PIPE_PATIENCE).map_err(|_| {
        Problem::io(
            format!("{shown} is a pipe, and nobody has written into it for {} s", PIPE_PATIENCE.as_secs()),
            "start what writes the photograph into the pipe first, or give a file",
        )
    })
}

/// The photograph called `name` that these bytes of a file are.
///
/// # Errors
/// [`Problem::Refused`] where they are no usable picture.
pub fn from_bytes(name: String, bytes: &[u8], limits: &Limits) -> Result<Photo, Problem> {
    let pixels = decode::decode(bytes, limits)?;
    Ok(Photo::new(name, pixels))
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
        std::io::ErrorKind::NotFound if shown.contains(char::REPLACEMENT_CHARACTER) => {
            "there is no such file, or its name is not UTF-8".to_owned()
        }
        std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
        std::io::ErrorKind::PermissionDenied => "it may not be read by this user".to_owned(),
        _ => error.to_string(),
    };
    Problem::io(format!("cannot read {shown}: {reason}"), "check the name and the folder")
}
