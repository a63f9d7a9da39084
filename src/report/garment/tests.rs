//! The faces of a piece, on findings made by hand.

use super::{html, json, phrase, text};
use crate::ask::Answer;
use crate::finding::Finding;
use crate::garment::sheet::Row;
use crate::garment::{Sheet, file};
use crate::problem::{Problem, Refusal, RefusalCode};
use crate::record::{Record, Standing, Subject, Summary};
use crate::report::phrase::first_word;
use crate::report::sample;
use crate::report::text::WIDTH;
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;

/// What came of a seam.
enum Came {
    Measured(Box<Finding>),
    Refused,
    Missing,
}

fn sample_of(kind: &str) -> Came {
    let finding = sample::every_kind().into_iter().find(|(name, _)| *name == kind).map(|(_, finding)| finding);
    Came::Measured(Box::new(finding.unwrap_or_else(|| panic!("no sample {kind}"))))
}

/// A sheet of seams at these places, and what came of each.
fn sheet(seams: Vec<(&str, Came)>) -> Sheet {
    let mut text = "name = \"Coat <1>\"\nstage = \"basted\"\ncloth = \"a check & a stripe\"\n".to_owned();
    for (k, (place, _)) in seams.iter().enumerate() {
        text += &format!("[[seam]]\nname = \"Seam {k} & <all>\"\nplace = \"{place}\"\nphoto = \"{k}.jpg\"\n");
    }
    let garment = file::parse(&text, Path::new("coat.toml")).unwrap();
    let rows = garment.seams.iter().zip(seams).map(|(seam, (_, came))| {
        let subject = Subject { file: seam.photo.display().to_string(), ..Subject::default() };
        let (record, finding) = match came {
            Came::Measured(finding) => {
                let measured = Summary::of(&finding);
                let standing = measured.result.into();
                (Record { subject, standing, measured: Some(measured), instead: None }, Some(finding))
            }
            Came::Refused => {
                let refusal = Refusal::new(RefusalCode::NoLines, "no lines cross <here>", "try --repeat");
                (Record::of(subject, &Ok(Answer::Refused(refusal.into()))), None)
            }
            Came::Missing => (Record::of(subject, &Err(Problem::io("it is not there", "look again"))), None),
        };
        Row { record, finding, setting_up_minutes: 3.0 }
    });
    let rows = rows.collect();
    Sheet::of(garment, rows)
}

fn mixed() -> Sheet {
    sheet(vec![
        ("hem", sample_of("matched")),
        ("waistband", sample_of("down")),
        ("zip", Came::Refused),
        ("centre-back", sample_of("down")),
        ("collar", sample_of("unsure")),
    ])
}

#[test]
fn the_whole_is_told_in_a_sentence_or_three() {
    let overall = |seams: Vec<(&str, Came)>| phrase::overall(&sheet(seams));
    assert_eq!(overall(vec![("hem", sample_of("matched"))]), "Its one seam matches.");
    assert_eq!(
        overall(vec![("hem", sample_of("matched")), ("zip", sample_of("matched")), ("yoke", sample_of("matched"))]),
        "All three seams match."
    );
    assert_eq!(overall(vec![("hem", Came::Refused)]), "Its one seam has a photograph that cannot be judged.");
    assert_eq!(
        overall(vec![("hem", Came::Missing), ("zip", Came::Missing)]),
        "Both seams have photographs that could not be read."
    );
    let whole = mixed();
    let minutes = whole.minutes.unwrap().round();
    assert_eq!(
        phrase::overall(&whole),
        format!(
            "Two of the five seams are off, one has a photograph that cannot be judged, one cannot be told, and one \
             matches. Both are worth redoing, in this order: Seam 3 & <all>, Seam 1 & <all>. That is about {minutes} \
             minutes."
        )
    );
    let mut one = sample::down().finding();
    one.remedy.worth_unpicking = Some(false);
    assert_eq!(
        overall(vec![("hem", Came::Measured(Box::new(one))), ("zip", sample_of("matched"))]),
        "One of the two seams is off, and one matches. It is not worth unpicking."
    );
    assert!(!overall(vec![("hem", sample_of("down"))]).contains("in this order"));
}

#[test]
fn the_text_says_the_worst_first_and_what_closes_what() {
    let text = text::sheet(&mixed());
    assert!(text.lines().all(|line| line.chars().count() <= WIDTH), "{text}");
    assert!(text.starts_with("OFF: Coat <1>, basted, a check & a stripe.\n"), "{text}");
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let at = |what: &str| flat.find(what).unwrap_or_else(|| panic!("no {what:?} in {text}"));
    assert!(at("1. Seam 3 & <all>") < at("2. Seam 1 & <all>"));
    assert!(at("Redo Seam 1 & <all> after this: it covers its end.") < at("2. Seam 1"));
    at("Where Seam 0 & <all> turns up its lower end, open it as far as you must");
    at("setting up counted once");
    at("No lines cross <here>. What to do: Try --repeat.");
    at("What would settle it");
    at("needle");
    let long = sheet(vec![("hem", sample_of("unscaled")), ("zip", Came::Missing)]);
    let text = text::sheet(&long);
    assert!(text.starts_with("TROUBLE: ") && !text.contains("What to redo"), "{text}");
    assert!(text.contains("of a repeat"), "{text}");
}

#[test]
fn the_object_holds_the_known_fields_and_no_other() {
    let keys = |value: &Value| value.as_object().unwrap().keys().cloned().collect::<BTreeSet<String>>();
    let known = |words: &str| words.split_whitespace().map(str::to_owned).collect::<BTreeSet<String>>();
    let object = json::sheet(&mixed());
    assert_eq!(
        keys(&object),
        known("schema version file name stage cloth standing overall minutes redo seams cautions")
    );
    assert_eq!(object["schema"], "seamstep/garment/1");
    assert_eq!((object["standing"].as_str(), object["stage"].as_str()), (Some("off"), Some("basted")));
    for seam in object["seams"].as_array().unwrap() {
        assert_eq!(keys(seam), known("name place photo standing measured cure instruction notes instead"), "{seam}");
        assert_eq!(seam["measured"].is_null(), seam["instead"].is_object(), "{seam}");
    }
    for step in object["redo"].as_array().unwrap() {
        assert_eq!(keys(step), known("seam instruction before opens"));
    }
    let back = &object["redo"][0];
    assert_eq!(
        (back["before"][0]["seam"].as_str(), back["opens"].as_array().unwrap().len()),
        (Some("Seam 1 & <all>"), 3)
    );
    let nothing = json::sheet(&sheet(vec![("hem", Came::Missing)]));
    assert!(nothing["minutes"].is_null() && nothing["redo"].as_array().unwrap().is_empty());
}

#[test]
fn the_page_shows_every_seam_and_escapes_what_others_wrote() {
    let sheet = mixed();
    let pictures = vec![None, Some("data:image/jpeg;base64,AAAA".to_owned()), None, None, None];
    let page = html::page(&sheet, &pictures).unwrap();
    assert!(page.contains("Coat &lt;1&gt;") && !page.contains("<1>") && !page.contains("<all>"));
    assert!(page.contains("No lines cross &lt;here&gt;."));
    // A row of head, one for each seam; a section, and a chart where it was measured.
    assert_eq!(page.matches("<tr").count(), 1 + sheet.rows.len());
    assert_eq!(page.matches("<section class=\"seam\"").count(), sheet.rows.len());
    assert_eq!(page.matches("class=\"chart\"").count(), 4);
    assert_eq!(page.matches("<img").count(), 1);
    for (k, _) in sheet.rows.iter().enumerate() {
        assert_eq!(page.matches(&format!("id=\"seam-{}\"", k + 1)).count(), 1);
        assert_eq!(page.matches(&format!("href=\"#seam-{}\"", k + 1)).count(), 1);
    }
    for link in ["<script", "<link", "https://", "url(", "@import", " style="] {
        assert!(!page.contains(link), "{link}");
    }
    assert!(page.find("What to redo").unwrap() < page.find("the worst first").unwrap());
    assert_eq!(first_word(Standing::Refused), "REFUSED");
}
