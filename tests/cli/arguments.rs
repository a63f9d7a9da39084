//! Arguments that cannot be meant.

use super::run::seamstep;
use tempfile::tempdir;

/// A photograph that is not there: what is rejected with it was rejected before anything was read or measured.
const NOT_THERE: &str = "not-there.jpg";

#[test]
fn an_unknown_option_or_command_or_none_is_trouble() {
    seamstep(&["check", NOT_THERE, "--colour"]).is_trouble(&["--colour"]);
    seamstep(&["unpick", NOT_THERE]).is_trouble(&["unpick"]);
    seamstep(&["check"]).is_trouble(&["PHOTO"]);
    seamstep(&["check", "a.jpg", "b.jpg"]).is_trouble(&["b.jpg"]);
    seamstep(&["check", NOT_THERE, "--along", "sideways"]).is_trouble(&["sideways", "down", "across"]);
    seamstep(&["check", NOT_THERE, "--stage", "worn"]).is_trouble(&["worn", "basted", "sewn", "finished"]);
    seamstep(&["check", NOT_THERE, "--place", "nowhere"]).is_trouble(&["nowhere", "centre-back"]);
    let bare: [&str; 0] = [];
    let said = seamstep(&bare);
    assert_eq!((said.status, said.stdout.as_str()), (2, ""));
    assert!(said.stderr.contains("check") && said.stderr.contains("--help"), "{}", said.stderr);
}

#[test]
fn a_tolerance_that_is_none_is_trouble_before_the_photograph_is_read() {
    for bad in ["-1", "-0.01", "NaN", "inf", "1e308", "1001"] {
        seamstep(&["check", NOT_THERE, "--json", "--tolerance", bad]).is_trouble(&["--tolerance", "millimetres"]);
    }
    for bad in ["two", "", "1,5", "3cm", "1/0in"] {
        seamstep(&["check", NOT_THERE, "--tolerance", bad]).is_trouble(&["--tolerance"]);
    }
}

#[test]
fn two_scales_at_once_are_trouble() {
    let options =
        [vec!["--card"], vec!["--repeat", "12"], vec!["--length", "1,1,300,1,50"], vec!["--rectangle", RECTANGLE]];
    for (k, first) in options.iter().enumerate() {
        for second in &options[k + 1..] {
            let arguments = [&["check", NOT_THERE][..], first, second].concat();
            seamstep(&arguments).is_trouble(&["cannot be used with", first[0], second[0]]);
        }
    }
    let said = seamstep(&["check", NOT_THERE, "--json", "--explain"]);
    said.is_trouble(&["--json", "--explain"]);
}

const RECTANGLE: &str = "10,10,300,12,298,220,8,215,148x105";

#[test]
fn malformed_marks_are_trouble_and_the_form_is_told() {
    for bad in ["", "10,10", "10,10 20", "10,10 20,x", "10,10 20,20,30", "10,10;20,20", "1e999,1 2,3", "10,NaN 2,3"] {
        seamstep(&["check", NOT_THERE, "--seam", bad]).is_trouble(&["--seam"]);
    }
    for bad in ["", "10,10", "0,0,10,0,10,10,0,10", "0,0,10,0,10,10,0,10,20", "0,0,10,0,10,10,0,10,axb"] {
        seamstep(&["check", NOT_THERE, "--rectangle", bad]).is_trouble(&["--rectangle"]);
    }
    for bad in ["", "1,2,3,4", "1,2,3,4,", "1,2,3,4,5,6", "a,b,c,d,e", "1,2,3,4,inf"] {
        seamstep(&["check", NOT_THERE, "--length", bad]).is_trouble(&["--length"]);
    }
    seamstep(&["check", NOT_THERE, "--seam", "10,10"]).is_trouble(&["two points or more"]);
    seamstep(&["check", NOT_THERE, "--rectangle", "1,2"]).is_trouble(&["X1,Y1", "WIDTHxHEIGHT"]);
    seamstep(&["check", NOT_THERE, "--length", "1,2,3,4"]).is_trouble(&["X1,Y1,X2,Y2,MM"]);
    seamstep(&["check", NOT_THERE, "--repeat", "wide"]).is_trouble(&["--repeat"]);
}

#[test]
fn a_wrong_ending_is_trouble_before_the_photograph_is_read() {
    let folder = tempdir().expect("a folder");
    for bad in ["out.gif", "out", "out.png.txt", "-"] {
        let file = folder.path().join(bad);
        let arguments = ["check", NOT_THERE, "--picture", file.to_str().expect("UTF-8")];
        seamstep(&arguments).is_trouble(&[bad, ".png", ".jpg"]);
    }
    for bad in ["out.pdf", "out", "html", "out.html.zip"] {
        let file = folder.path().join(bad);
        let arguments = ["check", NOT_THERE, "--report", file.to_str().expect("UTF-8")];
        seamstep(&arguments).is_trouble(&["--report", bad, ".html"]);
    }
    super::run::holds(folder.path(), &[]);
}
