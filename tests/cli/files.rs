//! Files that are missing, unreadable, oddly named, or no files.

use super::pictures::{SEAM_LENGTH, SEAM_MARKS, encoded, put, put_seam, seam};
use super::run::{holds, seamstep, seamstep_fed, text};
use image::ImageFormat;
use tempfile::tempdir;

#[test]
fn a_missing_file_and_a_folder_are_trouble() {
    let folder = tempdir().expect("a folder");
    let missing = folder.path().join("none.jpg");
    seamstep(&["check", text(&missing), "--json"]).is_trouble(&["none.jpg", "no such file"]);
    seamstep(&["check", text(folder.path()), "--json"]).is_trouble(&["is a folder", "one photograph"]);
    seamstep(&["check", "", "--json"]).is_trouble(&[]);
    let photo = put_seam(folder.path());
    seamstep(&["check", text(&photo.join("inside.jpg"))]).is_trouble(&["inside.jpg"]);
}

#[cfg(unix)]
#[test]
fn an_unreadable_file_is_trouble() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempdir().expect("a folder");
    let photo = put_seam(folder.path());
    std::fs::set_permissions(&photo, std::fs::Permissions::from_mode(0o000)).expect("permissions");
    if std::fs::File::open(&photo).is_ok() {
        return; // this user may read everything
    }
    seamstep(&["check", text(&photo), "--json"]).is_trouble(&["seam.png", "may not be read"]);
}

#[cfg(unix)]
#[test]
fn a_pipe_with_a_name_is_read_to_its_end() {
    let folder = tempdir().expect("a folder");
    for (name, bytes) in [("whole", encoded(&seam(), ImageFormat::Png)), ("nothing", Vec::new())] {
        let pipe = folder.path().join(name);
        assert!(std::process::Command::new("mkfifo").arg(&pipe).status().expect("mkfifo").success());
        let writer = std::thread::spawn({
            let pipe = pipe.clone();
            let bytes = bytes.clone();
            move || std::fs::write(pipe, bytes)
        });
        let said = seamstep(&["check", text(&pipe), "--length", SEAM_LENGTH, "--seam", SEAM_MARKS, "--json"]);
        writer.join().expect("the writer ends").expect("all was read");
        if bytes.is_empty() {
            assert_eq!(said.refused(), "not-a-picture");
        } else {
            assert_eq!(said.finding()["photo"]["width_px"], 400);
        }
    }
}

#[cfg(unix)]
#[test]
fn a_pipe_that_nobody_writes_into_is_trouble_and_no_run_hangs_on_it() {
    let folder = tempdir().expect("a folder");
    let pipe = folder.path().join("pipe");
    assert!(std::process::Command::new("mkfifo").arg(&pipe).status().expect("mkfifo").success());
    let pipe = text(&pipe);
    let began = std::time::Instant::now();
    seamstep(&["check", pipe, "--json"]).is_trouble(&["pipe is a pipe", "nobody has written", "give a file"]);
    // What is no stream is not waited for at all.
    for arguments in [
        &["check", "none.jpg", "--settings", pipe][..],
        &["garment", pipe],
        &["lot", "none.jpg", "--out", pipe],
        &["lot", "--manifest", pipe],
        &["trial", "--cloth", pipe],
    ] {
        seamstep(arguments).is_trouble(&["pipe"]);
    }
    assert!(began.elapsed().as_secs() < 60, "{:?}", began.elapsed());
    holds(folder.path(), &["pipe"]);
}

#[cfg(unix)]
#[test]
fn files_are_written_under_names_that_are_not_utf_8_and_a_lot_says_which_it_cannot_read() {
    use std::ffi::{OsStr, OsString};
    use std::os::unix::ffi::OsStrExt;
    let folder = tempdir().expect("a folder");
    let photo = folder.path().join(OsStr::from_bytes(b"se\xffam.png"));
    if std::fs::write(&photo, "no picture").is_err() {
        return; // this file system stores no such name
    }
    let page = folder.path().join(OsStr::from_bytes(b"p\xffage.html"));
    let arguments: [OsString; 4] = ["check".into(), photo.into(), "--report".into(), page.clone().into()];
    let said = seamstep(&arguments);
    assert_eq!(said.status, 4, "{}", said.stderr);
    assert!(std::fs::read_to_string(&page).expect("a page").contains("se\u{fffd}am.png"));
    let said = seamstep(&["lot", text(folder.path())]);
    assert_eq!(said.status, 2, "{}{}", said.stdout, said.stderr);
    let words: Vec<&str> = said.stdout.split_whitespace().collect();
    assert!(words.join(" ").contains("its name is not UTF-8"), "{}", said.stdout);
}

#[cfg(unix)]
#[test]
fn a_name_that_is_not_utf_8_is_measured_and_shown_as_well_as_it_can_be() {
    use std::ffi::{OsStr, OsString};
    use std::os::unix::ffi::OsStrExt;
    let folder = tempdir().expect("a folder");
    let photo = folder.path().join(OsStr::from_bytes(b"se\xffam.png"));
    if std::fs::write(&photo, encoded(&seam(), ImageFormat::Png)).is_err() {
        return; // this file system stores no such name
    }
    let page = folder.path().join("page.html");
    let mut arguments: Vec<OsString> = vec!["check".into(), photo.into()];
    for more in ["--length", SEAM_LENGTH, "--seam", SEAM_MARKS, "--json", "--report", text(&page)] {
        arguments.push(more.into());
    }
    let finding = seamstep(&arguments).finding();
    let name = finding["photo"]["file"].as_str().expect("a name");
    assert!(name.contains("am.png") && name.contains('\u{FFFD}'), "{name}");
    assert!(std::fs::read_to_string(&page).expect("a page in UTF-8").contains("am.png"));
}

#[test]
fn spaces_quotes_and_markup_in_a_name_are_a_name() {
    let folder = tempdir().expect("a folder");
    let name = "my seam's \"back\" <b onclick=x>&amp;.png";
    let photo = put(folder.path(), name, &encoded(&seam(), ImageFormat::Png));
    let page = folder.path().join("a page.html");
    let common = ["--length", SEAM_LENGTH, "--seam", SEAM_MARKS, "--json", "--report", text(&page)];
    let finding = seamstep(&[&["check", text(&photo)][..], &common].concat()).finding();
    assert_eq!(finding["photo"]["file"], text(&photo));
    let written = std::fs::read_to_string(&page).expect("a page");
    assert!(!written.contains("<b onclick"), "the name became markup");
    assert!(written.contains("&lt;b onclick=x&gt;&amp;amp;.png"), "the name is not on the page as it is");

    std::fs::write(&photo, "no picture").expect("written");
    let refused = seamstep(&[&["check", text(&photo)][..], &common].concat());
    assert_eq!(refused.refused(), "not-a-picture");
    let written = std::fs::read_to_string(&page).expect("a page");
    assert!(!written.contains("<b onclick") && written.contains("&lt;b onclick=x&gt;"));
    holds(folder.path(), &["a page.html", name]);
}

#[test]
fn a_dash_reads_standard_input() {
    let bytes = encoded(&seam(), ImageFormat::Png);
    let arguments = ["check", "-", "--length", SEAM_LENGTH, "--seam", SEAM_MARKS, "--json"];
    let finding = seamstep_fed(&arguments, &bytes).finding();
    assert_eq!(finding["photo"]["file"], "-");
    assert_eq!(finding["photo"]["height_px"], 480);
    assert_eq!(seamstep_fed(&arguments, &[]).refused(), "not-a-picture");
    assert_eq!(seamstep_fed(&arguments, &bytes[..bytes.len() / 2]).refused(), "truncated");
}
