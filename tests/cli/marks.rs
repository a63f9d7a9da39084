//! Marks on the picture that cannot be what they are said to be.

use super::pictures::{SEAM_JUMP_PX, SEAM_LENGTH, SEAM_MARKS, put_seam};
use super::run::{Said, fixture, holds, seamstep, text};
use serde_json::Value;
use tempfile::tempdir;

/// Checks the small seam with these further arguments, and that nothing is left in its folder.
fn check(more: &[&str]) -> Said {
    let folder = tempdir().expect("a folder");
    let photo = put_seam(folder.path());
    let said = seamstep(&[&["check", text(&photo), "--json"][..], more].concat());
    holds(folder.path(), &["seam.png"]);
    said
}

#[test]
fn the_small_seam_itself_is_measured() {
    // Without this the refusals below would prove nothing.
    let finding = check(&["--length", SEAM_LENGTH, "--seam", SEAM_MARKS]).finding();
    let mean_mm = finding["offset"]["mean_mm"].as_f64().expect("a mean");
    assert!((mean_mm - SEAM_JUMP_PX * 0.25).abs() < 0.1, "{mean_mm}");
    assert_eq!(finding["verdict"]["result"], "off");
    assert_eq!(finding["seam"]["source"], "given");
}

#[test]
fn a_seam_outside_the_picture_is_refused() {
    for bad in ["200,10 200,900", "-50,10 200,470", "900,900 901,1200", "200,10 1e12,470", "200,10 200,-1e300"] {
        let said = check(&["--length", SEAM_LENGTH, "--seam", bad]);
        assert_eq!(said.refused(), "outside-picture", "{bad}");
        assert!(said.stdout.contains("--seam") && said.stdout.contains("400 by 480"), "{}", said.stdout);
    }
    assert_eq!(check(&["--length", "40,40,40,900,100"]).refused(), "outside-picture");
    assert_eq!(check(&["--rectangle", "10,10,300,12,298,220,8,900,148x105"]).refused(), "outside-picture");
}

#[test]
fn a_seam_of_no_length_is_trouble() {
    for bad in ["200,100 200,100", "200,100 200,100 200,100", "200,100 200,101", "200,100 200.000001,100"] {
        check(&["--length", SEAM_LENGTH, "--seam", bad]).is_trouble(&["--seam", "two or more points"]);
    }
    check(&["--length", SEAM_LENGTH, "--seam", "200,100"]).is_trouble(&["--seam", "two points or more"]);
}

/// Checks the fixture whose lines return every 14 mm and jump by 2.1 mm, a card beside the seam.
fn check_flat(more: &[&str]) -> Said {
    seamstep(&[&["check", &fixture("flat-01.jpg"), "--json"][..], more].concat())
}

fn notes(finding: &Value, code: &str) -> Vec<String> {
    let all = finding["notes"].as_array().expect("notes").iter();
    all.filter(|note| note["code"] == code).map(|note| note["text"].as_str().expect("a text").to_owned()).collect()
}

#[test]
fn a_repeat_that_the_card_contradicts_is_a_question() {
    let said = check_flat(&["--repeat", "28", "--tolerance", "1.5"]);
    let finding = said.finding();
    assert_eq!((said.status, &finding["verdict"]["result"]), (3, &Value::from("unsure")));
    assert_eq!(finding["remedy"]["action"], "photograph-again");
    let told = notes(&finding, "repeat-contradicts-card");
    assert!(told.len() == 1 && told[0].contains("the repeat is 14.0 mm, not 28 mm"), "{told:?}");
    // What was typed is used all the same.
    let repeat_mm = finding["offset"]["modulo_mm"].as_f64().expect("a repeat");
    assert!((repeat_mm - 28.0).abs() < 0.2, "{repeat_mm}");
    let agrees = check_flat(&["--repeat", "13.99", "--tolerance", "1.5"]).finding();
    assert_eq!(agrees["verdict"]["result"], "off");
    assert!(notes(&agrees, "repeat-contradicts-card").is_empty());
    let mean_mm = agrees["offset"]["mean_mm"].as_f64().expect("a mean");
    assert!((mean_mm + 2.1).abs() < 0.05, "{mean_mm}");
}

#[test]
fn a_tolerance_that_nothing_can_fail_is_said() {
    let said = check_flat(&["--tolerance", "8"]);
    let finding = said.finding();
    assert_eq!((said.status, &finding["verdict"]["result"]), (3, &Value::from("unsure")));
    let told = notes(&finding, "tolerance-beyond-half-a-repeat");
    assert!(
        told.len() == 1 && told[0].contains("more than 7.0 mm") && told[0].contains("a tolerance of 8 mm"),
        "{told:?}"
    );
    let finding = check_flat(&["--tolerance", "6"]).finding();
    assert_eq!(finding["verdict"]["result"], "matched");
    assert!(notes(&finding, "tolerance-beyond-half-a-repeat").is_empty());
}

#[test]
fn a_point_given_twice_changes_nothing() {
    let twice = check(&["--length", SEAM_LENGTH, "--seam", "200,10 200,240 200,240 200,470"]).finding();
    let once = check(&["--length", SEAM_LENGTH, "--seam", "200,10 200,240 200,470"]).finding();
    let [twice, once] = [twice, once].map(|finding| finding["offset"]["mean_mm"].as_f64().expect("a mean"));
    assert!((twice - once).abs() < 0.02, "{twice} {once}");
}

#[test]
fn a_seam_that_turns_back_on_itself_is_trouble() {
    let there_and_back = "200,10 200,470 200,10";
    let twice = "200,10 200,470 200,10 200,470";
    let zigzag = "60,60 340,400 60,400 340,60";
    for along in ["down", "across"] {
        for bad in [there_and_back, twice, zigzag] {
            let said = check(&["--length", SEAM_LENGTH, "--along", along, "--seam", bad]);
            said.is_trouble(&["--seam", "turn back on themselves", "in order"]);
        }
    }
}

#[test]
fn a_seam_that_crosses_itself_in_a_loop_is_never_sure() {
    // Each step turns by less than a quarter, and the last crosses the first.
    let loop_px = "200,20 200,240 250,330 340,300 340,220 250,200 150,230 60,300";
    let said = check(&["--length", SEAM_LENGTH, "--seam", loop_px]);
    assert!([3, 4].contains(&said.status), "{}{}", said.stdout, said.stderr);
}

#[test]
fn with_a_tolerance_of_nothing_what_jumps_is_off() {
    let finding = check(&["--length", SEAM_LENGTH, "--seam", SEAM_MARKS, "--tolerance", "0"]).finding();
    assert_eq!(finding["verdict"]["result"], "off");
    assert_eq!(finding["verdict"]["tolerance_mm"].as_f64(), Some(0.0));
}

#[test]
fn a_length_whose_points_coincide_is_trouble() {
    for bad in ["40,40,40,40,100", "40,40,41,41,100"] {
        check(&["--length", bad]).is_trouble(&["--length", "apart"]);
    }
    for bad in ["40,40,40,440,0", "40,40,40,440,-100", "40,40,40,440,1e9"] {
        check(&["--length", bad]).is_trouble(&["--length", "millimetres"]);
    }
}

#[test]
fn a_rectangle_that_is_none_is_trouble() {
    let not_convex = "40,40,360,40,150,100,40,440,148x105";
    let crossing = "40,40,360,440,360,40,40,440,148x105";
    let anticlockwise = "40,40,40,440,360,440,360,40,148x105";
    let in_one_line = "40,40,140,40,240,40,340,40,148x105";
    let one_point = "40,40,40,40,40,40,40,40,148x105";
    for bad in [not_convex, crossing, anticlockwise, in_one_line, one_point] {
        check(&["--rectangle", bad]).is_trouble(&["--rectangle", "clockwise"]);
    }
    for bad in ["40,40,360,40,360,440,40,440,0x105", "40,40,360,40,360,440,40,440,148x-5"] {
        check(&["--rectangle", bad]).is_trouble(&["--rectangle", "millimetres"]);
    }
    check(&["--rectangle", "40,40,360,40,201,439,199,439,148x105"]).is_trouble(&["--rectangle", "horizon"]);
}

#[test]
fn a_repeat_that_is_none_is_trouble() {
    for bad in ["0", "-12", "NaN", "inf", "1e308"] {
        check(&["--repeat", bad]).is_trouble(&["--repeat", "millimetres"]);
    }
}

#[test]
fn a_card_that_is_asked_for_must_be_there() {
    let said = seamstep(&["check", &fixture("nocard-02.jpg"), "--json", "--card"]);
    assert_eq!(said.refused(), "no-card");
    assert!(said.stdout.contains("seamstep card"), "how to make one is told");
    assert_eq!(check(&["--card"]).refused(), "no-card");
}

#[test]
fn without_a_scale_the_answer_is_unsure_with_the_cure_and_holds_no_millimetres() {
    let finding = check(&["--seam", SEAM_MARKS]).finding();
    assert_eq!(finding["verdict"]["result"], "unsure");
    assert_eq!(finding["scale"]["source"], "none");
    assert!(finding["offset"]["mean_mm"].is_null());
    let jump = finding["offset"]["mean_repeats"].as_f64().expect("a mean in repeats");
    assert!((jump - SEAM_JUMP_PX / 60.0).abs() < 0.01, "{jump}");
    let cure = finding["verdict"]["cure"].as_str().expect("a cure");
    assert!(cure.contains("card") || cure.contains("scale"), "{cure}");
}

#[test]
fn a_scale_that_nobody_photographs_is_trouble_and_never_fills_the_memory() {
    check(&["--length", "0,0,399,0,5000"]).is_trouble(&["scale", "millimetres"]);
    check(&["--rectangle", "180,10,220,10,395,470,5,470,148x2000"]).is_trouble(&["--rectangle", "directly above"]);
    let photo = fixture("nocard-02.jpg");
    seamstep(&["check", &photo, "--json", "--repeat", "5000"]).is_trouble(&["scale", "millimetres"]);
    // Two metres of cloth can be a photograph, but no seam is looked for in it.
    assert_eq!(seamstep(&["check", &photo, "--json", "--length", "0,0,1199,0,1940"]).refused(), "no-seam");
}

#[test]
fn along_must_fit_the_seam_that_is_given() {
    check(&["--length", SEAM_LENGTH, "--seam", SEAM_MARKS, "--along", "across"]).is_trouble(&["--along", "--seam"]);
    check(&["--length", SEAM_LENGTH, "--seam", SEAM_MARKS, "--along", "down"]).finding();
}
