//! How well it measures: writes `reports/accuracy.md` and its charts. One command makes them all, the same bytes each time:
//! `cargo test --release --test accuracy -- --ignored`.

#[path = "support/each.rs"]
mod each;
// The doubts of single estimates are not told here, their scatter is.
#[allow(dead_code)]
#[path = "outside/stripes.rs"]
mod stripes;

use each::each;
use seamstep::conventions::wrap;
use seamstep::inspect::{Question, inspect};
use seamstep::photo::{self, Limits};
use seamstep::problem::Problem;
use seamstep::render::{Cloth, TrueReading, offset_at};
use seamstep::report::trial::chart;
use seamstep::scale::ScaleRequest;
use seamstep::seam::SeamRequest;
use seamstep::trial::figures::{Errors, Figures};
use seamstep::trial::{Conditions, Trial, TrialRequest};
use seamstep::units::PxPoint;
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use stripes::{Chance, Stripes, estimate};

const ROOT: &str = env!("CARGO_MANIFEST_DIR");
/// Seams of each sweep.
const SEAMS: usize = 16;
/// Millimetres to a pixel of the sweeps that vary something else.
const MM_PER_PX: f64 = 0.2;
/// Trials of each case against the bound.
const TRIALS: u64 = 100;

#[test]
#[ignore = "takes minutes and writes reports/accuracy.md"]
fn the_report_of_accuracy_is_written() {
    let mut page = String::from(
        "# How well it measures\n\nEvery figure here was worked out by `cargo test --release --test accuracy -- --ignored`, \
         which writes this page and its charts; the seeds are fixed. An error is what was measured less what was true, in \
         millimetres. \"Inside\" is the share of errors no larger than the expanded uncertainty (k = 2) told with them: \
         about 95 % would be right. All photographs are rendered; real cloth may be worse.\n\n",
    );
    let folder = Path::new(ROOT).join("reports/accuracy");
    fs::create_dir_all(&folder).expect("a folder");
    page += &fixtures();
    for sweep in sweeps() {
        page += &swept(&sweep, &folder);
    }
    page += &coverage_by_cloth();
    page += &against_the_bound();
    page += &libraries();
    fs::write(Path::new(ROOT).join("reports/accuracy.md"), page).expect("written");
}

/// A table of Markdown.
fn table(head: &[&str], rows: &[Vec<String>]) -> String {
    let line = |cells: Vec<String>| format!("| {} |\n", cells.join(" | "));
    let head_line = line(head.iter().map(|cell| (*cell).to_owned()).collect());
    let rule = format!("|{}\n", "---|".repeat(head.len()));
    format!("{head_line}{rule}{}\n", rows.iter().map(|row| line(row.clone())).collect::<String>())
}

fn mm(value: f64) -> String {
    format!("{value:.3}")
}

const ERROR_HEAD: [&str; 6] = ["mean: median", "9 of 10", "inside", "readings: median", "9 of 10", "inside"];

/// Cells for the errors of the mean and of the readings.
fn error_cells(mean: Option<Errors>, readings: Option<Errors>) -> Vec<String> {
    let cells = |errors: Option<Errors>| match errors {
        Some(e) => [mm(e.median_mm), mm(e.ninetieth_mm), format!("{:.0} %", 100.0 * e.covered_share)],
        None => ["–", "–", "–"].map(str::to_owned),
    };
    [cells(mean), cells(readings)].concat()
}

/// Error and expanded uncertainty of the mean, and of each reading; a refusal's code.
type Checked = Result<((f64, f64), Vec<(f64, f64)>), String>;

fn check(name: &str, truth: &Value, drawn: bool) -> Checked {
    let bytes = fs::read(format!("{ROOT}/fixtures/{name}.jpg")).expect("a fixture");
    let pixels = photo::decode::decode(&bytes, &Limits::default()).expect("a picture");
    let photo = photo::Photo::new(name, pixels);
    let point = |p: &Value| PxPoint::new(p[0].as_f64().expect("x"), p[1].as_f64().expect("y"));
    let scale = if truth["tag"] == "tape" {
        let ends = truth["length_px"].as_array().expect("two ends");
        ScaleRequest::Length { ends_px: [point(&ends[0]), point(&ends[1])], length_mm: 100.0 }
    } else if truth["card_mm"].as_f64().unwrap_or_default() == 0.0 {
        ScaleRequest::Repeat { repeat_mm: truth["fabric_repeat_mm"].as_f64().expect("a repeat") }
    } else {
        ScaleRequest::Auto
    };
    let seam_px = truth["seam_px"].as_array().map_or_else(Vec::new, |all| all.iter().map(point).collect());
    let points_px = if drawn { seam_px } else { Vec::new() };
    let question = Question { scale, seam: SeamRequest { points_px, ..SeamRequest::default() }, ..Question::default() };
    let finding = inspect(&photo, &question).map_err(|problem| match problem {
        Problem::Refused(refusal) => refusal.code.word().to_owned(),
        other => panic!("{name}: {other}"),
    })?;
    let rows = truth["profile"].as_array().expect("a profile");
    let number = |row: &Value, k: usize| row[k].as_f64().expect("a number");
    let true_readings: Vec<TrueReading> = (rows.iter())
        .map(|row| TrueReading {
            along_mm: number(row, 0),
            at_px: PxPoint::new(number(row, 1), number(row, 2)),
            offset_mm: number(row, 3),
        })
        .collect();
    let repeat_mm = truth["repeat_mm"][0].as_f64().expect("a repeat");
    let offset = &finding.offset;
    let readings = (offset.between_lines().iter())
        .map(|r| {
            let true_mm = offset_at(&true_readings, r.at_px).expect("a profile");
            (wrap(r.offset_mm - true_mm, repeat_mm), r.expanded_uncertainty_mm)
        })
        .collect();
    let true_mean_mm = truth["offset_mean_mm"].as_f64().expect("a mean");
    let mean = (wrap(offset.mean_mm - true_mean_mm, repeat_mm), offset.expanded_uncertainty_mm);
    Ok((mean, readings))
}

/// Errors by family on the fixtures, which were rendered by code that shares nothing with this project.
fn fixtures() -> String {
    let text = fs::read_to_string(format!("{ROOT}/fixtures/truth.json")).expect("the truth");
    let truth: BTreeMap<String, Value> = serde_json::from_str(&text).expect("JSON");
    let answerable: Vec<(&String, &Value)> = truth.iter().filter(|(_, t)| t["offset_mean_mm"].is_number()).collect();
    let mut said = format!(
        "## By family, on independent photographs\n\n{} photographs of `fixtures/` that can be answered, rendered by code \
         that shares nothing with this project. One photograph or a few a family: read a row as an example, the last rows \
         as the figure.\n\n",
        answerable.len()
    );
    for (drawn, heading) in [(false, "With the seam looked for:"), (true, "With the true seam given:")] {
        let answers = each(answerable.len() as u64, |k| {
            let (name, truth) = answerable[k as usize];
            (truth["tag"].as_str().expect("a family").to_owned(), check(name, truth, drawn))
        });
        let mut families: BTreeMap<&str, Vec<&Checked>> = BTreeMap::new();
        answers.iter().for_each(|(tag, answer)| families.entry(tag).or_default().push(answer));
        let row = |name: &str, all: &[&Checked]| {
            let measured: Vec<_> = all.iter().filter_map(|answer| answer.as_ref().ok()).collect();
            let means: Vec<(f64, f64)> = measured.iter().map(|m| m.0).collect();
            let readings: Vec<(f64, f64)> = measured.iter().flat_map(|m| m.1.clone()).collect();
            let count = format!("{}/{}", measured.len(), all.len());
            [vec![name.to_owned(), count], error_cells(Errors::of(&means), Errors::of(&readings))].concat()
        };
        let mut rows: Vec<Vec<String>> = families.iter().map(|(tag, all)| row(tag, all)).collect();
        rows.push(row("**all**", &answers.iter().map(|(_, answer)| answer).collect::<Vec<_>>()));
        said += &format!("{heading}\n\n{}", table(&[&["family", "measured"][..], &ERROR_HEAD].concat(), &rows));
    }
    let refusable: Vec<(&String, &Value)> = truth.iter().filter(|(_, t)| t["refuse"] == true).collect();
    let refused: Vec<String> = (refusable.iter())
        .map(|(name, truth)| match check(name, truth, false) {
            Err(code) => format!("{name}: {code}"),
            Ok(_) => format!("{name}: measured, wrongly"),
        })
        .collect();
    said + &format!("Photographs that must be refused: {}.\n\n", refused.join(", "))
}

/// Something varied in a trial.
struct Sweep {
    name: &'static str,
    heading: &'static str,
    axis: &'static str,
    values: &'static [f64],
    vary: fn(&mut TrialRequest, f64),
}

fn sweeps() -> [Sweep; 4] {
    [
        Sweep {
            name: "distance",
            heading: "By distance",
            axis: "mm to a pixel",
            values: &[0.1, 0.2, 0.3, 0.4],
            vary: |request, value| request.mm_per_px = vec![value],
        },
        Sweep {
            name: "tilt",
            heading: "By the camera's tilt",
            axis: "degrees",
            values: &[0.0, 10.0, 20.0, 30.0],
            vary: |request, value| request.conditions.tilt_rad = value.to_radians(),
        },
        Sweep {
            name: "blur",
            heading: "By blur",
            axis: "defocus (standard deviation), pixels",
            values: &[0.0, 1.0, 2.0, 3.0],
            vary: |request, value| request.conditions.blur_px = value,
        },
        Sweep {
            name: "noise",
            heading: "By noise",
            axis: "shot noise, share of full light",
            values: &[0.0, 0.03, 0.06, 0.12],
            vary: |request, value| request.conditions.noise = value,
        },
    ]
}

/// A trial of the broad check with everything as usual.
fn usual(cloth: Cloth) -> TrialRequest {
    TrialRequest { seams: SEAMS, mm_per_px: vec![MM_PER_PX], seam_drawn: true, seed: 7, ..TrialRequest::new(cloth) }
}

fn tried(request: &TrialRequest) -> Trial {
    seamstep::trial::run(request, |_| ()).expect("a trial")
}

fn figure_row(name: String, figures: &Figures) -> Vec<String> {
    let count = format!("{}/{}", figures.measured, figures.taken);
    [vec![name, count], error_cells(figures.mean, figures.readings)].concat()
}

fn swept(sweep: &Sweep, folder: &Path) -> String {
    let all: Vec<(f64, Figures)> = (sweep.values.iter())
        .map(|&value| {
            let mut request = usual(Cloth::broad_check().with_repeat(20.0));
            (sweep.vary)(&mut request, value);
            (value, tried(&request).distances.remove(0).figures)
        })
        .collect();
    let over: Vec<(f64, &Figures)> = all.iter().map(|(value, figures)| (*value, figures)).collect();
    let svg = chart::figures_svg(sweep.axis, &over, None).expect("a chart");
    fs::write(folder.join(format!("{}.svg", sweep.name)), svg).expect("written");
    let rows: Vec<Vec<String>> = all.iter().map(|(value, figures)| figure_row(value.to_string(), figures)).collect();
    let usual = Conditions::default();
    format!(
        "## {}\n\n{SEAMS} seams of a check with a repeat of 20 mm, the seam marked as a hand draws it, {MM_PER_PX} mm to a \
         pixel, {:.0} degrees of tilt, {} px of defocus, {} of noise, {} mm of drape, {} mm of wander, but for what is \
         varied (`seamstep trial`'s own scenes, seed 7).\n\n{}![errors and uncertainty](accuracy/{}.svg)\n\n",
        sweep.heading,
        usual.tilt_rad.to_degrees(),
        usual.blur_px,
        usual.noise,
        usual.drape_mm,
        usual.wander_mm,
        table(&[&[sweep.axis, "measured"][..], &ERROR_HEAD].concat(), &rows),
        sweep.name
    )
}

/// How many of the errors lie inside their uncertainty, cloth by cloth, the seam looked for.
fn coverage_by_cloth() -> String {
    let cloths = [
        ("broad check", Cloth::broad_check()),
        ("fine stripe", Cloth::fine_stripe()),
        ("tonal stripe", Cloth::tonal_stripe()),
        ("lines of equal lightness", Cloth::equal_lightness_lines()),
        ("printed bars", Cloth::printed_bars(24.0)),
    ];
    let mut all = Vec::new();
    let mut rows: Vec<Vec<String>> = Vec::new();
    for (name, cloth) in cloths {
        let distance = tried(&TrialRequest { seam_drawn: false, ..usual(cloth) }).distances.remove(0);
        rows.push(figure_row(name.to_owned(), &distance.figures));
        all.extend(distance.outcomes);
    }
    let together = Figures::of(&all, 1.5);
    rows.push(figure_row("**all**".into(), &together));
    let inside = |errors: Option<Errors>| {
        errors.map_or_else(|| "none".into(), |e| format!("{:.1} % of {}", 100.0 * e.covered_share, e.count))
    };
    format!(
        "## Coverage\n\n{SEAMS} seams of each cloth, the seam looked for, otherwise as above. Inside their uncertainty lie \
         {} mean offsets and {} readings; readings of one seam err together. {} of {} measured seams were only assumed to be \
         where they were measured, and those may be measured at a wrong place: the largest error of a mean is {} mm.\n\n{}",
        inside(together.mean),
        inside(together.readings),
        together.assumed,
        together.measured,
        together.mean.map_or_else(|| "–".into(), |e| mm(e.worst_mm)),
        table(&[&["cloth", "measured"][..], &ERROR_HEAD].concat(), &rows)
    )
}

/// The joint fit's scatter against the smallest that any unbiased estimate can have.
fn against_the_bound() -> String {
    let stripes = |repeat_px, amplitudes, phases_rad| Stripes { repeat_px, amplitudes, phases_rad };
    let cases: [(&str, Stripes, usize, f64); 3] = [
        ("one wave of 28 px", stripes(28.0, &[45.0], &[0.5]), 280, 4.0),
        ("three waves of 36 px", stripes(36.0, &[55.0, 22.0, 9.0], &[0.2, 0.9, -0.4]), 360, 7.0),
        ("faint wave of 40 px", stripes(40.0, &[8.0], &[0.1]), 400, 4.0),
    ];
    let rows: Vec<Vec<String>> = (cases.iter())
        .map(|(name, stripes, samples, sigma)| {
            let bound_px = stripes.bound_px(*samples, *sigma);
            let errors: Vec<(f64, f64)> = each(TRIALS, |seed| {
                let mut chance = Chance::new(seed);
                let mut side = |displaced_px| stripes.noisy(*samples, displaced_px, *sigma, &mut chance);
                let sides = [side(0.0), side(2.3)];
                let found = estimate(sides, stripes.repeat_px);
                (found.offset_px - 2.3, 2.0 * found.u_px)
            });
            let errors = Errors::of(&errors).expect("trials");
            let scatter_px = errors.spread_mm.expect("many");
            vec![
                (*name).to_owned(),
                format!("{bound_px:.4}"),
                format!("{scatter_px:.4}"),
                format!("{:.2}", scatter_px / bound_px),
                format!("{:+.4}", errors.bias_mm),
                format!("{:.0} %", 100.0 * errors.covered_share),
            ]
        })
        .collect();
    format!(
        "## Against the Cramér-Rao bound\n\n{TRIALS} pairs of noisy profiles a case, displaced by 2.3 px, straight into the \
         first value and the joint fit, without a picture. The bound for two noisy sides of one unknown shape is \
         var ≥ 2σ²/(N·mean(s'²)) (Kay 1993, from memory; `tests/outside/bounds.rs` holds the fit to published cases of it). \
         {TRIALS} trials leave 7 % of doubt in a ratio. Figures in pixels.\n\n{}",
        table(&["stripes", "bound", "scatter", "ratio", "bias", "inside"], &rows)
    )
}

/// What general-purpose libraries reach with the exact geometry given, where that was measured.
fn libraries() -> String {
    let Ok(text) = fs::read_to_string(format!("{ROOT}/tests/libraries/figures.json")) else { return String::new() };
    let figures: Value = serde_json::from_str(&text).expect("tests/libraries/figures.json is JSON");
    let errors = figures["error_of_the_mean"].as_object().expect("errors by library");
    let named: Vec<String> =
        errors.keys().map(|name| format!("{name} {}", figures["versions"][name].as_str().unwrap_or("?"))).collect();
    let mut said = format!(
        "## General-purpose libraries given the exact geometry\n\nThe mean's error on the same photographs of `fixtures/`, each \
         straightened by its own truth; both sides' mean lightness registered along the seam by {} \
         (`tests/libraries/photographs.py`). They know neither slope nor colour, so flare, hue and wandering offsets are beyond \
         them: read it as what a shift alone tells. Compare the table above with the true seam given.\n\n| family |",
        named.join(" and ")
    );
    errors.keys().for_each(|name| said += &format!(" {name}: median | 9 of 10 |"));
    said += &format!("\n|---|{}\n", "---|---|".repeat(errors.len()));
    let row = |label: &str, at: &dyn Fn(&Value) -> Value| {
        let cells = errors.values().map(|library| {
            let figure = |name: &str| at(library)[name].as_f64().map_or("".to_owned(), |x| format!("{x:.3}"));
            format!(" {} | {} |", figure("median_mm"), figure("p90_mm"))
        });
        format!("| {label} |{}\n", cells.collect::<String>())
    };
    let families = errors.values().find_map(|library| library["families"].as_object()).expect("families");
    families.keys().for_each(|family| said += &row(family, &|library| library["families"][family].clone()));
    said + &row("**all**", &|library| library["all"].clone()) + "\n"
}
