//! Writing: a picture into the bytes its name asks for, and any bytes into a file, whole or not at all.

use crate::problem::Problem;
use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::PngEncoder;
use image::{ExtendedColorType, ImageEncoder, RgbImage};
use std::io::{ErrorKind, Write};
use std::path::Path;
use tempfile::NamedTempFile;

/// Quality of every JPEG that is written, 1 to 100.
pub const JPEG_QUALITY: u8 = 88;

/// The kinds of picture that can be written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PictureFormat {
    /// `.png`
    Png,
    /// `.jpg` and `.jpeg`
    Jpeg,
}

/// The kind of picture that a file of this name should be (in either case).
///
/// # Errors
/// [`Problem::Usage`] for any other ending.
pub fn picture_format(path: &Path) -> Result<PictureFormat, Problem> {
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase()).unwrap_or_default();
    match ending.as_str() {
        "png" => Ok(PictureFormat::Png),
        "jpg" | "jpeg" => Ok(PictureFormat::Jpeg),
        _ => Err(Problem::usage(
            format!("cannot tell which kind of picture {} should be", path.display()),
            "end the name in .png, .jpg or .jpeg",
        )),
    }
}

/// `picture` as the bytes of a file called `path`.
///
/// # Errors
/// As [`picture_format`]; [`Problem::Io`] where the picture cannot be encoded.
pub fn encode_picture(picture: &RgbImage, path: &Path) -> Result<Vec<u8>, Problem> {
    match picture_format(path)? {
        PictureFormat::Jpeg => jpeg(picture),
        PictureFormat::Png => {
            let mut bytes = Vec::new();
            PngEncoder::new(&mut bytes)
                .write_image(picture.as_raw(), picture.width(), picture.height(), ExtendedColorType::Rgb8)
                .map_err(|error| not_encoded(&error))?;
            Ok(bytes)
        }
    }
}

/// `picture` as the bytes of a JPEG.
///
/// # Errors
/// [`Problem::Io`] where the picture cannot be encoded (a side of more than 65 535 pixels, or none).
pub fn jpeg(picture: &RgbImage) -> Result<Vec<u8>, Problem> {
    let mut bytes = Vec::new();
    JpegEncoder::new_with_quality(&mut bytes, JPEG_QUALITY)
        .write_image(picture.as_raw(), picture.width(), picture.height(), ExtendedColorType::Rgb8)
        .map_err(|error| not_encoded(&error))?;
    Ok(bytes)
}

/// Writes `bytes` to `path`, whole or not at all: into a temporary file beside it, which then takes its name.
///
/// A file that is there already is replaced and keeps its permissions; a new one gets the permissions that the
/// system gives any new file.
///
/// # Errors
/// [`Problem::Io`] where the folder is missing or not writable, the disk is full, or `path` is not a plain file.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Problem> {
    let there = std::fs::metadata(path).ok();
    if there.as_ref().is_some_and(|facts| !facts.is_file()) {
        return Err(Problem::io(
            format!("cannot write {}: it is a folder or a device, not a file", path.display()),
            "give the name of a file",
        ));
    }
    // Where the name is a link, the file it points to is replaced, not the link.
    let target = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    if there.as_ref().is_some_and(|facts| facts.permissions().readonly()) {
        return Err(Problem::io(
            format!("cannot write {}: the file is read-only", path.display()),
            "give another name, or allow writing to it",
        ));
    }
    let file = beside(&target, path, bytes)?;
    if let Some(facts) = there {
        file.as_file()
            .set_permissions(facts.permissions())
            .map_err(|error| trouble(path, "its permissions cannot be kept", &error, "give another name"))?;
    }
    file.persist(&target).map(|_| ()).map_err(|error| no_name(path, &error.error))
}

/// Writes `bytes` to `path` as [`write_whole`] does, but never over anything that is there.
///
/// # Errors
/// As [`write_whole`], and where there is something of that name already.
pub fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Problem> {
    let file = beside(path, path, bytes)?;
    file.persist_noclobber(path).map(|_| ()).map_err(|error| match error.error.kind() {
        ErrorKind::AlreadyExists => {
            let message = format!("cannot write {}: there is something of that name already", path.display());
            Problem::io(message, "give another name, or take it away first")
        }
        _ => no_name(path, &error.error),
    })
}

/// `bytes` in a temporary file in the folder of `target`; `path` is what it is called where that fails.
fn beside(target: &Path, path: &Path, bytes: &[u8]) -> Result<NamedTempFile, Problem> {
    let folder = match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".seamstep-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // The umask still applies; without this the file would be readable by its owner alone.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.tempfile_in(folder).map_err(|error| {
        trouble(
            path,
            "no file can be made in its folder",
            &error,
            "check that the folder exists and is yours to write in",
        )
    })?;
    file.write_all(bytes)
        .and_then(|()| file.as_file().sync_all())
        .map_err(|error| trouble(path, "the bytes did not fit", &error, "free some space and run again"))?;
    Ok(file)
}

fn no_name(path: &Path, error: &std::io::Error) -> Problem {
    trouble(path, "it cannot take its name", error, "check that the folder is yours to write in")
}

fn trouble(path: &Path, what: &str, error: &dyn std::fmt::Display, help: &str) -> Problem {
    Problem::io(format!("cannot write {}: {what}: {error}", path.display()), help)
}

fn not_encoded(error: &image::ImageError) -> Problem {
    Problem::io(format!("the picture could not be encoded: {error}"), "try a smaller photograph")
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn a_picture_comes_back_from_the_kind_its_name_asks_for() {
        let picture = RgbImage::from_pixel(9, 5, Rgb([10, 200, 30]));
        let png = encode_picture(&picture, Path::new("a/b.PNG")).unwrap();
        assert_eq!(image::guess_format(&png).unwrap(), image::ImageFormat::Png);
        assert_eq!(image::load_from_memory(&png).unwrap().to_rgb8(), picture);
        for name in ["b.jpg", "b.JPEG"] {
            let bytes = encode_picture(&picture, Path::new(name)).unwrap();
            assert_eq!(image::guess_format(&bytes).unwrap(), image::ImageFormat::Jpeg);
        }
    }

    #[test]
    fn another_ending_is_a_usage_problem_that_names_what_works() {
        for name in ["b.gif", "b", ".png", "-"] {
            let problem = encode_picture(&RgbImage::new(2, 2), Path::new(name)).unwrap_err();
            assert!(matches!(problem, Problem::Usage { .. }));
            assert!(problem.help().contains(".png") && problem.help().contains(".jpg"));
        }
    }

    #[test]
    fn bytes_are_written_whole_and_nothing_is_left_beside_them() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("page.html");
        write_whole(&path, b"first").unwrap();
        write_whole(&path, b"second, longer").unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"second, longer");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn trouble_names_the_file_and_leaves_what_was_there() {
        let folder = tempfile::tempdir().unwrap();
        let missing = write_whole(&folder.path().join("none/page.html"), b"x").unwrap_err();
        assert!(missing.to_string().contains("page.html") && missing.help().contains("folder"));
        let taken = write_whole(folder.path(), b"x").unwrap_err();
        assert!(taken.to_string().contains("a folder or a device"));

        let path = folder.path().join("kept.txt");
        std::fs::write(&path, b"kept").unwrap();
        let mut permissions = std::fs::metadata(&path).unwrap().permissions();
        permissions.set_readonly(true);
        std::fs::set_permissions(&path, permissions).unwrap();
        assert!(write_whole(&path, b"lost").unwrap_err().to_string().contains("read-only"));
        assert_eq!(std::fs::read(&path).unwrap(), b"kept");
    }

    #[test]
    fn a_new_file_is_never_written_over_another() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("skirt.toml");
        write_new(&path, b"first").unwrap();
        let there = write_new(&path, b"second").unwrap_err();
        assert!(there.to_string().contains("skirt.toml") && there.help().contains("another name"), "{there}");
        assert_eq!(std::fs::read(&path).unwrap(), b"first");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn a_file_that_is_there_keeps_its_permissions() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("page.html");
        std::fs::write(&path, b"old").unwrap();
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o640)).unwrap();
        write_whole(&path, b"new").unwrap();
        assert_eq!(std::fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o640);
    }
}
