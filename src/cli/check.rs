//! `seamstep check`: one photograph, one answer.

use super::arguments::Check;
use super::speak;
use crate::ask::{Answer, Ask};
use crate::finding::Finding;
use crate::photo::Photo;
use crate::problem::{Problem, Refusal};
use crate::record::Standing;
use crate::report;
use crate::seam::SeamRequest;
use std::path::{Path, PathBuf};

/// Checks one photograph; the exit status of the contract.
pub fn run(check: &Check) -> Result<u8, Problem> {
    is_page(check.report.as_deref())?;
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
    keep_apart(&[
        ("the photograph", Some(&check.photo)),
        ("--picture", check.picture.as_ref()),
        ("--chart", check.chart.as_ref()),
        ("--report", check.report.as_ref()),
    ])?;
    match ask(check).answer(&check.photo)? {
        Answer::Found { photo, finding } => answered(check, &photo, &finding),
        Answer::Refused { size_px, refusal } => refused(check, size_px, &refusal),
    }
}

fn is_svg(file: &Path) -> bool {
    file.extension().is_some_and(|e| e.eq_ignore_ascii_case("svg"))
}

/// A page's name must end as a page's does.
pub fn is_page(report: Option<&Path>) -> Result<(), Problem> {
    match report {
        Some(file)
            if !file.extension().is_some_and(|e| e.eq_ignore_ascii_case("html") || e.eq_ignore_ascii_case("htm")) =>
        {
            Err(Problem::usage(
                format!("--report: {} does not end in .html", file.display()),
                "for example: --report back.html",
            ))
        }
        _ => Ok(()),
    }
}

/// The photograph and what is written, each with its name, must all be different files.
pub fn keep_apart(named: &[(&str, Option<&PathBuf>)]) -> Result<(), Problem> {
    // A file that is not there yet is known by its folder and its name.
    let known = |file: &Path| {
        let folder = file.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
        file.canonicalize().or_else(|_| folder.canonicalize().map(|f| f.join(file.file_name().unwrap_or_default())))
    };
    let files: Vec<_> = named.iter().filter_map(|(name, file)| Some((name, known(file.as_ref()?).ok()?))).collect();
    for (k, (name, file)) in files.iter().enumerate() {
        if let Some((other, _)) = files[..k].iter().find(|(_, before)| before == file) {
            return Err(Problem::usage(
                format!("{name} would be written over {other}: both are {}", file.display()),
                "give another name; the photograph is never written to",
            ));
        }
    }
    Ok(())
}

fn ask(check: &Check) -> Ask {
    Ask {
        scale: check.scale.request(),
        seam: SeamRequest {
            points_px: check.seam.clone().map_or_else(Vec::new, |points| points.0),
            runs: check.along.map(Into::into),
        },
        ..check.judged.ask()
    }
}

fn answered(check: &Check, photo: &Photo, finding: &Finding) -> Result<u8, Problem> {
    if let Some(file) = &check.picture {
        let bytes = report::encode_picture(&report::picture::annotate(&photo.pixels, finding), file)?;
        write(file, &bytes)?;
    }
    if let Some(file) = &check.chart {
        let bytes = match is_svg(file) {
            true => report::chart::all_svg(finding)?.into_bytes(),
            false => report::encode_picture(&report::chart::all_pixels(finding)?, file)?,
        };
        write(file, &bytes)?;
    }
    if let Some(file) = &check.report {
        write(file, report::html::page(&photo.pixels, finding)?.as_bytes())?;
    }
    if check.json {
        speak::result(&json(&report::json::finding(finding)))?;
    } else {
        speak::result(&report::text::finding(finding, check.explain))?;
    }
    Ok(Standing::from(finding.verdict.result).exit_status())
}

fn refused(check: &Check, size_px: Option<[u32; 2]>, refusal: &Refusal) -> Result<u8, Problem> {
    let file = check.photo.display().to_string();
    for (what, file) in [("picture", &check.picture), ("chart", &check.chart)] {
        if let Some(file) = file {
            speak::talk(&format!("No {what} was written to {}: there is nothing to draw.\n", file.display()))?;
        }
    }
    if let Some(page) = &check.report {
        write(page, report::html::refusal(&file, refusal).as_bytes())?;
    }
    if check.json {
        speak::result(&json(&report::json::refusal(&file, size_px, refusal)))?;
    } else {
        speak::result(&report::text::refusal(&file, refusal))?;
    }
    Ok(Standing::Refused.exit_status())
}

fn write(file: &Path, bytes: &[u8]) -> Result<(), Problem> {
    report::write_whole(file, bytes)?;
    speak::talk(&format!("Wrote {}.\n", file.display()))
}

fn json(value: &serde_json::Value) -> String {
    format!("{value:#}\n")
}
