//! What the page does for one who means well.

use super::open::{Open, form};
use serde_json::Value;
use std::process::Command;

fn fixture(name: &str) -> Vec<u8> {
    std::fs::read(format!("fixtures/{name}")).unwrap()
}

#[test]
fn a_photograph_is_measured_as_check_measures_it() {
    let page = Open::with(&[]);
    let id = page.send("flat-01.jpg", &fixture("flat-01.jpg"));
    page.get(&format!("/photographs/{id}/finding")).is_trouble(409);
    let target = format!("/photographs/{id}/finding");
    let measured = page.post(&target, "application/json", "place=zip&stage=sewn&tolerance=1&scale=card");
    assert_eq!(measured.status, 200, "{}", measured.text());
    let check = Command::new(env!("CARGO_BIN_EXE_seamstep"))
        .args(["check", "fixtures/flat-01.jpg", "--place", "zip", "--stage", "sewn", "--tolerance", "1", "--json"])
        .output()
        .unwrap();
    let mut expected: Value = serde_json::from_slice(&check.stdout).unwrap();
    expected["photo"]["file"] = "flat-01.jpg".into();
    assert_eq!(measured.json(), expected);
    assert_eq!(page.get(&target).json(), expected);

    let picture = page.get(&format!("/photographs/{id}/picture"));
    assert!(picture.header("content-type") == Some("image/jpeg") && picture.body.starts_with(&[0xff, 0xd8]));
    let report = page.get(&format!("/photographs/{id}/report"));
    assert!(report.text().starts_with("<!DOCTYPE html>") && report.text().contains("OFF"));
    // What is saved needs nothing, and may do nothing, beside itself.
    assert!(report.header("content-security-policy").unwrap().contains("sandbox"));
    assert!(page.get("/card.pdf").body.starts_with(b"%PDF"));
    assert_eq!(page.ask("DELETE", &format!("/photographs/{id}"), &[], &[]).status, 204);
    page.get(&target).is_trouble(404);
}

#[test]
fn the_steps_are_told_while_they_are_taken() {
    let page = Open::with(&[]);
    let id = page.send("flat-01.jpg", &fixture("flat-01.jpg"));
    let told = page.post(&format!("/photographs/{id}/finding"), "application/x-ndjson", "seam=");
    let steps: Vec<Value> = told.text().lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let names: Vec<&str> = steps.iter().map(|step| step["step"].as_str().unwrap()).collect();
    assert_eq!(names, ["waiting", "begun", "scale", "seam", "lines", "offset", "answer"]);
    assert_eq!(steps[2]["source"], "card");
    assert_eq!((&steps[3]["source"], &steps[3]["runs"]), (&"found".into(), &"down".into()));
    assert!(steps[3]["points_px"].as_array().unwrap().len() > 10);
    assert!(steps[6]["html"].as_str().unwrap().contains("<h1>"));
    // What cannot be asked is told on the same way.
    let told = page.post(&format!("/photographs/{id}/finding"), "application/x-ndjson", "tolerance=wide");
    let last: Value = serde_json::from_str(told.text().lines().last().unwrap()).unwrap();
    assert!(last["step"] == "trouble" && last["status"] == 400 && last["help"].as_str().unwrap().len() > 10, "{last}");
}

#[test]
fn a_form_without_a_script_is_answered_with_the_sheet() {
    let page = Open::with(&[]);
    let (kind, body) =
        form(("back <1>.jpg", &fixture("flat-01.jpg")), &[("place", "centre-back"), ("piece", "grey skirt")]);
    let sent = page.ask("POST", "/photographs", &[("Content-Type", &kind), ("Accept", "text/html")], &body);
    assert_eq!(sent.status, 303, "{}", sent.text());
    let address = sent.header("location").unwrap().to_owned();
    let sheet = page.get(&address).text();
    assert!(
        sheet.contains("OFF") && sheet.contains("back &lt;1&gt;.jpg") && sheet.contains("at the centre back"),
        "{sheet}"
    );
    // The seam is given, off the true one: the sheet changes.
    let again = page.post(
        &format!("{address}/finding"),
        "text/html",
        "place=centre-back&piece=grey+skirt&seam=300%2C40+300%2C900",
    );
    assert_eq!(again.status, 303, "{}", again.text());
    assert_ne!(page.get(&address).text(), sheet);
    let front = page.get("/").text();
    assert!(front.contains("<h2>grey skirt</h2>") && front.contains(&address));
    let removed = page.post(&format!("{address}/remove"), "text/html", "x=");
    assert_eq!((removed.status, removed.header("location")), (303, Some("/")));
    assert!(!page.get("/").text().contains(&address));
}

#[test]
fn two_seams_stand_side_by_side() {
    let page = Open::with(&[]);
    let [one, other] = ["turn-00.jpg", "flat-01.jpg"].map(|name| {
        let id = page.send(name, &fixture(name));
        assert_eq!(page.post(&format!("/photographs/{id}/finding"), "application/json", "place=hem").status, 200);
        id
    });
    let both = page.get(&format!("/compare?of={one}&of={other}")).text();
    assert!(both.contains("turn-00.jpg") && both.contains("flat-01.jpg") && both.matches("Worst jump").count() == 2);
    page.get(&format!("/compare?of={one}")).is_trouble(400);
    page.get(&format!("/compare?of={one}&of=AAAAAAAAAAAA")).is_trouble(404);
}

#[test]
fn two_at_once_are_both_answered() {
    let page = Open::with(&[]);
    let ids = ["turn-00.jpg", "flat-01.jpg"].map(|name| page.send(name, &fixture(name)));
    std::thread::scope(|scope| {
        let asked = ids.map(|id| {
            let page = &page;
            scope.spawn(move || page.post(&format!("/photographs/{id}/finding"), "application/json", "place=hem"))
        });
        for answer in asked {
            let answer = answer.join().unwrap();
            assert!(answer.status == 200 && answer.json()["verdict"]["result"].is_string(), "{}", answer.text());
        }
    });
}

#[test]
fn a_refusal_is_an_answer_with_its_cure() {
    let page = Open::with(&[]);
    let id = page.send("plain-02.jpg", &fixture("plain-02.jpg"));
    let refused = page.post(&format!("/photographs/{id}/finding"), "application/json", "place=hem");
    assert_eq!(refused.status, 200);
    let told = refused.json();
    assert!(told["refused"]["help"].as_str().unwrap().len() > 10 && told["photo"]["width_px"].is_number(), "{told}");
    let sheet = page.get(&format!("/photographs/{id}")).text();
    assert!(sheet.contains("REFUSED"));
    page.get(&format!("/photographs/{id}/picture")).is_trouble(404);
    assert_eq!(page.get(&format!("/photographs/{id}/report")).status, 200);
}

#[test]
fn a_named_folder_keeps_the_photographs_until_they_are_removed() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("seams");
    let keep = ["--keep", folder.to_str().unwrap()];
    let listed = || std::fs::read_dir(&folder).unwrap().count();
    let page = Open::with(&keep);
    let id = page.send("flat-01.jpg", &fixture("flat-01.jpg"));
    let asked = page.post(&format!("/photographs/{id}/finding"), "application/json", "piece=coat&place=collar");
    assert_eq!(asked.status, 200);
    drop(page);
    assert_eq!(listed(), 2);
    let page = Open::with(&keep);
    let sheet = page.get(&format!("/photographs/{id}")).text();
    assert!(sheet.contains("Not measured yet") && sheet.contains("value=\"coat\""));
    assert_eq!(page.get(&format!("/photographs/{id}/shown")).status, 200);
    assert_eq!(page.ask("DELETE", &format!("/photographs/{id}"), &[], &[]).status, 204);
    assert_eq!(listed(), 0);
}

#[cfg(unix)]
#[test]
fn ctrl_c_ends_it_and_a_taken_port_is_trouble() {
    let page = Open::with(&[]);
    let port = page.host.rsplit(':').next().unwrap();
    let second = Command::new(env!("CARGO_BIN_EXE_seamstep")).args(["page", "--port", port]).output().unwrap();
    let said = String::from_utf8(second.stderr).unwrap();
    assert!(second.status.code() == Some(2) && said.contains("cannot be opened") && said.contains("--port"), "{said}");
    let (status, said) = page.interrupted();
    assert_eq!(status, Some(0), "{said}");
    assert!(said.contains("closed"), "{said}");
}

#[test]
fn completions_and_the_manual_name_every_command() {
    let said = |arguments: &[&str]| {
        let output = Command::new(env!("CARGO_BIN_EXE_seamstep")).args(arguments).output().unwrap();
        assert_eq!(output.status.code(), Some(0));
        String::from_utf8(output.stdout).unwrap()
    };
    let manual = said(&["man"]);
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let completions = said(&["completions", shell]);
        for word in ["check", "card", "trial", "demo", "page", "completions", "man", "tolerance", "lan"] {
            assert!(completions.contains(word), "{shell}: {word}");
        }
    }
    for command in ["check", "card", "trial", "demo", "page", "completions", "man"] {
        assert!(
            manual.contains(&format!(".TH seamstep-{command} "))
                || manual.contains(&format!(".TH seamstep\\-{command} ")),
            "{command}"
        );
    }
}
