//! `seamstep check`: one photograph, one answer.

use super::arguments::Check;
use super::{apart, speak};
use crate::ask::{Answer, AnswerToAll, Ask, Refused};
use crate::finding::{Finding, PhotoFacts};
use crate::photo::Photo;
use crate::problem::Problem;
use crate::record::Standing;
use crate::report;
use crate::seam::SeamRequest;
use std::path::Path;

/// Checks one photograph; the exit status of the contract.
pub fn run(check: &Check) -> Result<u8, Problem> {
    if let Some(file) = &check.report {
        apart::page(file)?;
    }
    if let Some(file) = &check.picture {
        report::picture_format(file)?;
    }
    if let Some(file) = check.chart.as_ref().filter(|file| !is_svg(file)) {
        report::picture_format(file).map_err(|_| {
            Problem::usage(
                format!("--chart: cannot tell which kind of chart {} should be", file.display()),
                "end the name in .svg, .png or .jpg",
            )
        })?;
    }
    let written = [
        ("--picture", check.picture.as_deref()),
        ("--chart", check.chart.as_deref()),
        ("--report", check.report.as_deref()),
    ];
    apart::keep([("the photograph", check.photo.as_path())].into_iter(), &written)?;
    if check.all {
        return all(check);
    }
    match ask(check).answer(&check.photo)? {
        Answer::Found { photo, finding } => answered(check, &photo, &finding),
        Answer::Refused(answer) => refused(check, &answer),
    }
}

fn is_svg(file: &Path) -> bool {
    file.extension().is_some_and(|e| e.eq_ignore_ascii_case("svg"))
}

fn ask(check: &Check) -> Ask {
    Ask {
        scale: check.scale.request(),
        seam: SeamRequest {
            points_px: check.seam.clone().map_or_else(Vec::new, |points| points.0),
            runs: check.along.map(Into::into),
            insist: check.insist,
        },
        ..check.judged.ask()
    }
}

fn all(check: &Check) -> Result<u8, Problem> {
    let (photo, seams) = match ask(check).answer_all(&check.photo)? {
        AnswerToAll::Looked { photo, seams } => (photo, report::all::worst_first(seams)),
        AnswerToAll::Refused(answer) => return refused(check, &answer),
    };
    if let Some(file) = &check.picture {
        apart::write(file, &report::encode_picture(&report::all::picture::all(&photo.pixels, &seams), file)?)?;
    }
    let facts = PhotoFacts::of(&photo);
    match check.json {
        true => speak::result(&json(&report::all::json::all(&facts, &seams)))?,
        false => speak::result(&report::all::text::all(&seams))?,
    }
    Ok(report::all::overall(&seams).exit_status())
}

fn answered(check: &Check, photo: &Photo, finding: &Finding) -> Result<u8, Problem> {
    if let Some(file) = &check.picture {
        let bytes = report::encode_picture(&report::picture::annotate(&photo.pixels, finding), file)?;
        apart::write(file, &bytes)?;
    }
    if let Some(file) = &check.chart {
        let bytes = match is_svg(file) {
            true => report::chart::all_svg(finding)?.into_bytes(),
            false => report::encode_picture(&report::chart::all_pixels(finding)?, file)?,
        };
        apart::write(file, &bytes)?;
    }
    if let Some(file) = &check.report {
        apart::write(file, report::html::page(&photo.pixels, finding)?.as_bytes())?;
    }
    if check.json {
        speak::result(&json(&report::json::finding(finding)))?;
    } else {
        speak::result(&report::text::finding(finding, check.explain))?;
    }
    Ok(Standing::from(finding.verdict.result).exit_status())
}

fn refused(check: &Check, answer: &Refused) -> Result<u8, Problem> {
    let file = check.photo.display().to_string();
    for (what, file) in [("picture", &check.picture), ("chart", &check.chart)] {
        if let Some(file) = file {
            speak::talk(&format!("No {what} was written to {}: there is nothing to draw.\n", file.display()))?;
        }
    }
    if let Some(page) = &check.report {
        apart::write(page, report::html::refusal(&file, &answer.refusal).as_bytes())?;
    }
    if check.json {
        speak::result(&json(&report::json::refusal(&file, answer)))?;
    } else {
        speak::result(&report::text::refusal(&file, &answer.refusal))?;
    }
    Ok(Standing::Refused.exit_status())
}

fn json(value: &serde_json::Value) -> String {
    format!("{value:#}\n")
}
