//! Files that are written: whole, where they were asked for, or not at all.

use super::pictures::{SEAM_LENGTH, SEAM_MARKS, put, put_seam};
use super::run::{Said, holds, seamstep, text};
use std::path::Path;
use tempfile::tempdir;

/// Checks the small seam with `--json` and one file to write.
fn check(photo: &Path, option: &str, file: &Path) -> Said {
    let marks = ["--length", SEAM_LENGTH, "--seam", SEAM_MARKS];
    seamstep(&[&["check", text(photo), "--json", option, text(file)][..], &marks].concat())
}

#[test]
fn a_picture_and_a_page_are_written_whole() {
    let folder = tempdir().expect("a folder");
    let photo = put_seam(folder.path());
    let page = put(folder.path(), "page.html", b"an older page");
    for name in ["drawn.png", "drawn.JPG", "drawn.jpeg"] {
        let file = folder.path().join(name);
        check(&photo, "--picture", &file).finding();
        let drawn = image::ImageReader::open(&file).and_then(image::ImageReader::with_guessed_format);
        let drawn = drawn.expect("a file").decode().expect("a picture").into_rgb8();
        assert!(drawn.width() >= 400 && drawn.height() >= 480, "{name}: {:?}", drawn.dimensions());
    }
    check(&photo, "--report", &page).finding();
    let written = std::fs::read_to_string(&page).expect("a page");
    assert!(written.starts_with("<!DOCTYPE html>") && written.trim_end().ends_with("</html>"));
    assert!(!written.contains("src=\"http") && !written.contains("<script src"), "the page is self-contained");
    holds(folder.path(), &["drawn.JPG", "drawn.jpeg", "drawn.png", "page.html", "seam.png"]);
}

#[test]
fn a_folder_that_is_missing_or_a_file_that_is_a_folder_is_trouble() {
    let folder = tempdir().expect("a folder");
    let photo = put_seam(folder.path());
    for (option, name) in [("--picture", "out.png"), ("--chart", "out.svg"), ("--report", "out.html")] {
        check(&photo, option, &folder.path().join("none").join(name)).is_trouble(&[name, "folder"]);
        check(&photo, option, &photo.join(name)).is_trouble(&[name]);
        let taken = folder.path().join(name);
        std::fs::create_dir(&taken).expect("a folder");
        check(&photo, option, &taken).is_trouble(&[name, "is a folder"]);
        holds(&taken, &[]);
    }
    holds(folder.path(), &["out.html", "out.png", "out.svg", "seam.png"]);
}

#[test]
fn charts_are_drawn_into_the_kind_of_file_that_is_asked_for() {
    let folder = tempdir().expect("a folder");
    let photo = put_seam(folder.path());
    let [svg, png] = ["charts.SVG", "charts.png"].map(|name| folder.path().join(name));
    check(&photo, "--chart", &svg).finding();
    let drawn = std::fs::read_to_string(&svg).expect("charts");
    assert!(drawn.starts_with("<svg") && drawn.contains("offset, mm") && drawn.contains("times to 100 mm"));
    check(&photo, "--chart", &png).finding();
    let drawn = image::open(&png).expect("charts").into_rgb8();
    assert_eq!(drawn.width(), 1520, "two pixels to a unit of the SVG");
    check(&photo, "--chart", &folder.path().join("charts.pdf")).is_trouble(&["--chart", "charts.pdf", ".svg"]);
    check(&photo, "--chart", &photo).is_trouble(&["photograph", "another name"]);
    holds(folder.path(), &["charts.SVG", "charts.png", "seam.png"]);
}

#[cfg(unix)]
#[test]
fn a_folder_that_may_not_be_written_to_is_trouble() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempdir().expect("a folder");
    let photo = put_seam(folder.path());
    let closed = folder.path().join("closed");
    std::fs::create_dir(&closed).expect("a folder");
    std::fs::set_permissions(&closed, std::fs::Permissions::from_mode(0o555)).expect("permissions");
    if std::fs::write(closed.join("probe"), "").is_ok() {
        return; // this user may write everywhere
    }
    check(&photo, "--report", &closed.join("out.html")).is_trouble(&["out.html"]);
    check(&photo, "--picture", &closed.join("out.png")).is_trouble(&["out.png"]);
    holds(&closed, &[]);
}

/// Nobody may write there, whoever the user is.
#[cfg(target_os = "linux")]
#[test]
fn a_folder_that_takes_no_file_is_trouble() {
    let folder = tempdir().expect("a folder");
    let photo = put_seam(folder.path());
    for (option, name) in [("--report", "/proc/out.html"), ("--picture", "/proc/out.png"), ("--chart", "/proc/out.svg")]
    {
        check(&photo, option, Path::new(name)).is_trouble(&[
            name,
            "no file can be made in its folder",
            "yours to write",
        ]);
    }
    for command in [&["card", "--out", "/proc/card.pdf"][..], &["garment", "--new", "/proc/a.toml"]] {
        seamstep(command).is_trouble(&[command[2], "its folder"]);
    }
    let photo = text(&photo);
    seamstep(&["lot", photo, "--length", SEAM_LENGTH, "--out", "/proc/lot.jsonl"])
        .is_trouble(&["/proc/lot.jsonl", "folder"]);
    holds(folder.path(), &["seam.png"]);
}

/// Runs a command line in a folder that holds no more than 64 kilobytes, the photograph being elsewhere; the outcome, and what
/// lies in the folder afterwards. `None` where this user may mount no file system of its own.
#[cfg(target_os = "linux")]
fn on_a_full_disk(disk: &Path, arguments: &[&str]) -> Option<(Said, String)> {
    use std::process::Command;
    let script =
        "mount -t tmpfs -o size=64k none \"$1\" || exit 99; shift; \"$@\"; s=$?; ls -A \"$DISK\" >\"$LEFT\"; exit $s";
    let left = disk.with_extension("left");
    let output = Command::new("unshare")
        .args(["--mount", "--map-root-user", "sh", "-c", script, "sh", text(disk), super::run::binary()])
        .args(arguments)
        .env("DISK", disk)
        .env("LEFT", &left)
        .output()
        .ok()?;
    let listed = std::fs::read_to_string(left).ok()?;
    Some((Said::of(&output), listed))
}

#[cfg(target_os = "linux")]
#[test]
fn on_a_full_disk_nothing_half_written_is_left() {
    let folder = tempdir().expect("a folder");
    let photo = put_seam(folder.path());
    let disk = folder.path().join("disk");
    std::fs::create_dir(&disk).expect("a folder");
    let marks = ["check", text(&photo), "--length", SEAM_LENGTH, "--seam", SEAM_MARKS];
    for (option, name) in [("--report", "out.html"), ("--picture", "out.png")] {
        let file = disk.join(name);
        let Some((said, left)) = on_a_full_disk(&disk, &[&marks[..], &[option, text(&file)]].concat()) else { return };
        said.is_trouble(&[name, "did not fit", "free some space"]);
        assert_eq!(left, "", "{option}");
    }
}

/// A file that may not grow beyond a kilobyte is the same trouble, without a file system of its own.
#[cfg(target_os = "linux")]
#[test]
fn a_file_that_may_not_grow_is_trouble_and_nothing_half_written_is_left() {
    let folder = tempdir().expect("a folder");
    let photo = put_seam(folder.path());
    let out = folder.path().join("out");
    std::fs::create_dir(&out).expect("a folder");
    let limited = "trap '' XFSZ; ulimit -f 1; exec \"$0\" \"$@\"";
    let page = out.join("out.html");
    let check = ["check", text(&photo), "--length", SEAM_LENGTH, "--seam", SEAM_MARKS, "--report", text(&page)];
    let lot = ["lot", text(&photo), "--length", SEAM_LENGTH, "--report", text(&page)];
    for arguments in [&check[..], &lot] {
        let output =
            std::process::Command::new("sh").args(["-c", limited, super::run::binary()]).args(arguments).output();
        Said::of(&output.expect("a shell")).is_trouble(&["out.html", "did not fit", "free some space"]);
        holds(&out, &[]);
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_device_is_not_written_to() {
    let folder = tempdir().expect("a folder");
    let photo = put_seam(folder.path());
    for (option, name) in [("--report", "full.html"), ("--picture", "full.png")] {
        let link = folder.path().join(name);
        std::os::unix::fs::symlink("/dev/full", &link).expect("a link");
        check(&photo, option, &link).is_trouble(&[name, "device"]);
        assert!(link.is_symlink());
    }
    holds(folder.path(), &["full.html", "full.png", "seam.png"]);
}

#[test]
fn a_file_that_is_there_stays_when_the_run_refuses_or_fails() {
    let folder = tempdir().expect("a folder");
    let notes = put(folder.path(), "notes.jpg", b"no picture");
    let drawn = put(folder.path(), "drawn.png", b"mine");
    let said = check(&notes, "--picture", &drawn);
    assert_eq!(said.refused(), "not-a-picture");
    assert!(said.stderr.contains("drawn.png"), "that no picture was drawn is told: {}", said.stderr);
    let missing = folder.path().join("missing.jpg");
    let page = put(folder.path(), "page.html", b"mine too");
    check(&missing, "--picture", &drawn).is_trouble(&["missing.jpg"]);
    check(&missing, "--report", &page).is_trouble(&["missing.jpg"]);
    let photo = put_seam(folder.path());
    let files = ["--report", text(&page), "--picture", text(&drawn), "--repeat", "-3"];
    seamstep(&[&["check", text(&photo)][..], &files].concat()).is_trouble(&["--repeat"]);
    assert_eq!(std::fs::read(&drawn).expect("the picture"), b"mine");
    assert_eq!(std::fs::read(&page).expect("the page"), b"mine too");
    holds(folder.path(), &["drawn.png", "notes.jpg", "page.html", "seam.png"]);
}

#[test]
fn a_refusal_has_its_page_too() {
    let folder = tempdir().expect("a folder");
    let notes = put(folder.path(), "notes.jpg", b"no picture");
    let page = folder.path().join("page.html");
    let said = check(&notes, "--report", &page);
    assert_eq!(said.refused(), "not-a-picture");
    let help = said.object()["refused"]["help"].as_str().expect("help").to_owned();
    let written = std::fs::read_to_string(&page).expect("a page");
    assert!(written.contains(&help[1..]) && written.contains("notes.jpg"));
}

#[test]
fn nothing_is_written_over_the_photograph() {
    let folder = tempdir().expect("a folder");
    let photo = put_seam(folder.path());
    let before = std::fs::read(&photo).expect("the photograph");
    // The same file by its own name, by a roundabout way, and twice the same output.
    let roundabout = folder.path().join(".").join("seam.png");
    for file in [&photo, &roundabout] {
        check(&photo, "--picture", file).is_trouble(&["photograph", "another name"]);
    }
    assert_eq!(std::fs::read(&photo).expect("the photograph"), before);
    holds(folder.path(), &["seam.png"]);
}
