//! Writing: a picture into the bytes its name asks for, and any bytes into a file, whole or not at all.

use crate::problem::Problem;
use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::PngEncoder;
use image::{ExtendedColorType, ImageEncoder, RgbImage};
use std::io::Write;
use std::path::Path;

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
    let trouble = |what: &str, error: &dyn std::fmt::Display, help: &str| {
        Problem::io(format!("cannot write {}: {what}: {error}", path.display()), help)
    };
    let there = std::fs::metadata(path).ok();
    if there.as_ref().is_some_and(|facts| !facts.is_file()) {
        return Err(Problem::io(
            format!("cannot write {}: it is a folder or a device, not a file", path.display()),
            "give the name of a file",
        ));
    }
    // Where the name is a link, the file it points to is replaced, not the link.
    let target = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let folder = match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    if there.as_ref().is_some_and(|facts| facts.permissions().readonly()) {
        return Err(Problem::io(
            format!("cannot write {}: the file is read-only", path.display()),
            "give another name, or allow writing to it",
        ));
    }
    let mut builder = tempfile::Builder::new();
    builder.prefix(".seamstep-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // The umask still applies; without this the file would be readable by its owner alone.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.tempfile_in(folder).map_err(|error| {
        trouble("no file can be made in its folder", &error, "check that the folder exists and is yours to write in")
    })?;
    file.write_all(bytes)
        .and_then(|()| file.as_file().sync_all())
        .map_err(|error| trouble("the bytes did not fit", &error, "free some space and run again"))?;
    if let Some(facts) = there {
        file.as_file()
            .set_permissions(facts.permissions())
            .map_err(|error| trouble("its permissions cannot be kept", &error, "give another name"))?;
    }
    file.persist(&target)
        .map(|_| ())
        .map_err(|error| trouble("it cannot take its name", &error.error, "check that the folder is yours to write in"))
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
