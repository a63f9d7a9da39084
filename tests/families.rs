//! What real cloth and real photographs bring, kind by kind: how many seams are answered, how near, and whether the
//! uncertainty and the verdict are right. Chance scenes (`tests/support/kinds.rs`), the seam marked by hand, truth first.
//!
//! `SEAMSTEP_SEAMS` is the number of seams of each kind, `SEAMSTEP_FIRST` the number of the first.

#[path = "support/each.rs"]
mod each;
#[path = "support/kinds.rs"]
mod kinds;
#[path = "support/seams.rs"]
#[expect(dead_code, reason = "cloth without a seam is not measured here")]
mod seams;

use each::each;
use kinds::Kind;
use seamstep::conventions::wrap;
use seamstep::finding::Finding;
use seamstep::inspect::{Question, inspect};
use seamstep::problem::Problem;
use seamstep::render::{Scene, Truth, reading_at};
use seamstep::seam::SeamRequest;
use seamstep::verdict::Judgement;
use std::collections::BTreeMap;

/// The first seam's number, which served no other test, and how many of each kind, where nobody asks for others.
const FIRST: u64 = 20_000;
const SEAMS: u64 = 15;
/// A reading this near to where a step or slip changes the offset is at the jump, millimetres.
const NEAR_MM: f64 = 10.0;
/// An answer a whole repeat away is as true, where the picture shows at least so many repeats.
const REPEATS_SEEN: f64 = 1.3;

/// The figures that a kind keeps at least (shares, per cent) and at most (the last three).
struct Kept {
    kind: Kind,
    answered: f64,
    means_inside: f64,
    readings_inside: f64,
    at_jumps_inside: f64,
    between_lines_inside: f64,
    u_mm: f64,
    error_90_mm: f64,
    wrong_verdicts: f64,
}

/// What is reached today, rounded down (the last three up), over the usual seams.
#[rustfmt::skip]
const REACHED: [Kept; 12] = [
    kept(Kind::Plain,     [100.0, 93.0, 95.0, 90.0, 95.0], [0.07, 0.11, 0.0]),
    kept(Kind::Tartan,    [100.0, 80.0, 84.0, 72.0, 82.0], [0.22, 0.76, 0.0]),
    kept(Kind::Madras,    [100.0, 86.0, 95.0, 82.0, 90.0], [0.17, 0.83, 0.0]),
    kept(Kind::Gingham,   [100.0, 93.0, 91.0, 89.0, 92.0], [0.08, 0.35, 0.0]),
    kept(Kind::Curved,    [100.0, 100.0, 96.0, 97.0, 95.0], [0.11, 0.06, 0.0]),
    kept(Kind::Draped,    [100.0, 86.0, 88.0, 85.0, 90.0], [0.11, 0.45, 0.0]),
    kept(Kind::Lens,      [100.0, 86.0, 91.0, 90.0, 93.0], [0.09, 0.20, 0.0]),
    // Nearly all of them are refused: which family meets which is not to be told.
    kept(Kind::Bias,      [0.0, 0.0, 0.0, 0.0, 0.0], [9.0, 40.0, 0.0]),
    kept(Kind::Chevron,   [93.0, 92.0, 94.0, 87.0, 93.0], [0.60, 0.45, 0.0]),
    kept(Kind::Messenger, [100.0, 93.0, 95.0, 97.0, 94.0], [0.16, 0.29, 0.0]),
    kept(Kind::Shade,     [100.0, 100.0, 95.0, 91.0, 95.0], [0.08, 0.04, 0.0]),
    kept(Kind::Short,     [100.0, 93.0, 96.0, 100.0, 95.0], [0.08, 0.12, 0.0]),
];

/// Shares at least (answered; means, readings, readings at jumps, readings between lines inside U), figures at most
/// (median U, 90th percentile of the means' errors, wrong verdicts).
const fn kept(kind: Kind, least: [f64; 5], most: [f64; 3]) -> Kept {
    let [answered, means_inside, readings_inside, at_jumps_inside, between_lines_inside] = least;
    let [u_mm, error_90_mm, wrong_verdicts] = most;
    Kept {
        kind,
        answered,
        means_inside,
        readings_inside,
        at_jumps_inside,
        between_lines_inside,
        u_mm,
        error_90_mm,
        wrong_verdicts,
    }
}

/// One reading beside its truth.
struct Told {
    error_mm: f64,
    u_mm: f64,
    at_jump: bool,
    between_lines: bool,
}

impl Told {
    fn inside(&self) -> bool {
        self.error_mm.abs() <= self.u_mm
    }
}

/// An answer beside its truth.
struct Answer {
    error_mm: f64,
    u_mm: f64,
    readings: Vec<Told>,
    /// What the verdict said against the truth; `None` where it was not wrong.
    wrong: Option<String>,
}

/// Seam `number` measured; the code of the refusal where there is no answer.
fn measure(kind: Kind, number: u64) -> Result<Answer, String> {
    let scene = kinds::scene(kind, number);
    let (photo, scale, rendered) = seams::photograph(&scene);
    let seam_px = &rendered.truth.seam_px;
    let points_px = vec![seam_px[0], seam_px[seam_px.len() / 2], seam_px[seam_px.len() - 1]];
    let question = Question { scale, seam: SeamRequest { points_px, ..SeamRequest::default() }, ..Question::default() };
    match inspect(&photo, &question) {
        Ok(finding) => Ok(compare(&scene, &rendered.truth, &finding)),
        Err(Problem::Refused(refusal)) => Err(refusal.code.word().to_owned()),
        Err(other) => panic!("{kind:?} {number}: {other}"),
    }
}

fn compare(scene: &Scene, truth: &Truth, finding: &Finding) -> Answer {
    let [repeat_mm, _] = truth.repeat_mm.expect("lines across");
    let recurs = truth.length_mm >= REPEATS_SEEN * repeat_mm;
    let wrapped = |mm: f64| if recurs { wrap(mm, repeat_mm) } else { mm };
    let profile = &scene.seam.offset;
    let steps = profile.steps.iter().map(|step| (step.at_mm, step.over_mm / 2.0));
    let slips = profile.slips.iter().map(|slip| (slip.at_mm, slip.half_width_mm));
    let changes: Vec<(f64, f64)> = steps.chain(slips).collect();
    let offset = &finding.offset;
    let true_at = |at_px| reading_at(&truth.readings, at_px).expect("a truth");
    let readings = offset.readings.iter().map(|reading| {
        let there = true_at(reading.at_px);
        let u_mm = truth.begins_mm + there.along_mm;
        Told {
            error_mm: wrapped(reading.offset_mm - there.offset_mm),
            u_mm: reading.expanded_uncertainty_mm,
            at_jump: changes.iter().any(|(at_mm, half_mm)| (u_mm - at_mm).abs() <= half_mm + NEAR_MM),
            between_lines: offset.lines.iter().all(|l| (reading.along_mm - l.along_mm).abs() > l.width_mm / 2.0),
        }
    });
    Answer {
        error_mm: wrapped(offset.mean_mm - truth.mean_offset_mm),
        u_mm: offset.expanded_uncertainty_mm,
        readings: readings.collect(),
        wrong: wrong_verdict(truth, finding, wrapped(truth.mean_offset_mm) - truth.mean_offset_mm),
    }
}

/// What is wrong with the verdict; `whole_mm` is what the truth is moved by to be told as the answer is.
fn wrong_verdict(truth: &Truth, finding: &Finding, whole_mm: f64) -> Option<String> {
    let judged = finding.offset.between_lines();
    let [from_mm, to_mm] = [&judged[0], &judged[judged.len() - 1]]
        .map(|reading| reading_at(&truth.readings, reading.at_px).expect("a truth").along_mm);
    let seen = truth.readings.iter().filter(|r| (from_mm..=to_mm).contains(&r.along_mm));
    let largest_mm = seen.map(|r| (r.offset_mm + whole_mm).abs()).fold(0.0, f64::max);
    let worst = judged.iter().max_by(|a, b| a.offset_mm.abs().total_cmp(&b.offset_mm.abs()))?;
    let (u_mm, tolerance_mm) = (worst.expanded_uncertainty_mm, finding.verdict.tolerance_mm);
    let wrong = match finding.verdict.result {
        Judgement::Matched => largest_mm > tolerance_mm + u_mm,
        Judgement::Off => largest_mm < tolerance_mm - u_mm,
        Judgement::Unsure => false,
    };
    wrong.then(|| {
        let word = finding.verdict.result.word();
        format!("{word} at {largest_mm:.2} of {tolerance_mm} mm, seen {:.2} ± {u_mm:.2}", worst.offset_mm)
    })
}

/// Nearest rank: the value below or at which this share of the values lies; 0 of none.
fn percentile(values: impl Iterator<Item = f64>, share: f64) -> f64 {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    let rank = (share * values.len() as f64).ceil() as usize;
    values.get(rank.saturating_sub(1)).copied().unwrap_or(0.0)
}

/// Share in per cent; 100 of none.
fn share(of: impl Iterator<Item = bool>) -> f64 {
    let all: Vec<bool> = of.collect();
    if all.is_empty() { 100.0 } else { 100.0 * all.iter().filter(|b| **b).count() as f64 / all.len() as f64 }
}

/// A kind's seams as figures, and as a line of the table with what stands out.
fn figures(kind: Kind, seams: &[(u64, Result<Answer, String>)]) -> (Kept, String) {
    let answers: Vec<(u64, &Answer)> = seams.iter().filter_map(|(n, s)| Some((*n, s.as_ref().ok()?))).collect();
    let readings = || answers.iter().flat_map(|(_, answer)| &answer.readings);
    let error = |rank: f64| percentile(answers.iter().map(|(_, a)| a.error_mm.abs()), rank);
    let kept = kept(
        kind,
        [
            share(seams.iter().map(|(_, s)| s.is_ok())),
            share(answers.iter().map(|(_, a)| a.error_mm.abs() <= a.u_mm)),
            share(readings().map(Told::inside)),
            share(readings().filter(|r| r.at_jump).map(Told::inside)),
            share(readings().filter(|r| r.between_lines).map(Told::inside)),
        ],
        [
            percentile(answers.iter().map(|(_, a)| a.u_mm), 0.5),
            error(0.9),
            100.0 - share(answers.iter().map(|(_, a)| a.wrong.is_none())),
        ],
    );
    let mut refused: BTreeMap<&str, usize> = BTreeMap::new();
    seams.iter().filter_map(|(_, s)| s.as_ref().err()).for_each(|code| *refused.entry(code).or_default() += 1);
    let mut line = format!(
        "{:<10}{:>9.1}{:>8.1}{:>10.1}{:>10.1}{:>9.1}{:>9.3}{:>9.3}{:>8.3}{:>7}   {refused:?}",
        format!("{kind:?}"),
        kept.answered,
        kept.means_inside,
        kept.readings_inside,
        kept.at_jumps_inside,
        kept.between_lines_inside,
        kept.u_mm,
        error(0.5),
        kept.error_90_mm,
        answers.iter().filter(|(_, a)| a.wrong.is_some()).count(),
    );
    let mut outside: Vec<&(u64, &Answer)> = answers.iter().filter(|(_, a)| a.error_mm.abs() > a.u_mm).collect();
    outside.sort_by(|a, b| b.1.error_mm.abs().total_cmp(&a.1.error_mm.abs()));
    for (number, answer) in outside.iter().take(6) {
        line += &format!("\n    {number}: {:.3} mm out, U {:.3}", answer.error_mm, answer.u_mm);
    }
    for (number, answer) in &answers {
        if let Some(wrong) = &answer.wrong {
            line += &format!("\n    {number}: {wrong}");
        }
    }
    (kept, line)
}

/// A whole number from the environment.
fn asked(name: &str, usual: u64) -> u64 {
    let given = std::env::var(name).ok();
    given.map_or(usual, |text| text.parse().unwrap_or_else(|_| panic!("{name}: {text} is no whole number")))
}

#[test]
#[expect(clippy::print_stdout, reason = "the table is for whoever asks for it with --nocapture")]
fn every_kind_keeps_what_it_reached() {
    let (first, count) = (asked("SEAMSTEP_FIRST", FIRST), asked("SEAMSTEP_SEAMS", SEAMS).max(1));
    let kinds = Kind::ALL.len() as u64;
    // Neighbours are of different kinds: what takes long is spread over the cores.
    let all = each(kinds * count, |k| measure(Kind::ALL[(k % kinds) as usize], first + k / kinds));
    println!("seams {first} to {} of every kind; shares in per cent, lengths in mm", first + count - 1);
    println!("kind       answered   means  readings  at jumps  between  med. U  med. |e|  90 %  wrong   refused");
    let mut broken = Vec::new();
    let mut all: Vec<Option<Result<Answer, String>>> = all.into_iter().map(Some).collect();
    for (k, kind) in Kind::ALL.into_iter().enumerate() {
        let own = all.iter_mut().skip(k).step_by(Kind::ALL.len()).map(|seam| seam.take().expect("one seam"));
        let seams: Vec<(u64, Result<Answer, String>)> = (first..).zip(own).collect();
        let (now, line) = figures(kind, &seams);
        println!("{line}");
        let reached = REACHED.iter().find(|kept| kept.kind == kind).expect("every kind");
        let kept = now.answered >= reached.answered
            && now.means_inside >= reached.means_inside
            && now.readings_inside >= reached.readings_inside
            && now.at_jumps_inside >= reached.at_jumps_inside
            && now.between_lines_inside >= reached.between_lines_inside
            && now.u_mm <= reached.u_mm
            && now.error_90_mm <= reached.error_90_mm
            && now.wrong_verdicts <= reached.wrong_verdicts;
        if !kept {
            broken.push(line);
        }
    }
    assert!(broken.is_empty(), "fell below REACHED:\n{}", broken.join("\n"));
}

/// Writes three photographs of every kind into the folder `SEAMSTEP_PICTURES`, to be looked at, with the edge of every
/// repeat where the truth says that it meets the seam: cyan on the first side, magenta on the second.
#[test]
#[ignore = "writes pictures to be looked at"]
fn pictures_of_every_kind() {
    let folder =
        std::path::PathBuf::from(std::env::var("SEAMSTEP_PICTURES").expect("SEAMSTEP_PICTURES names a folder"));
    std::fs::create_dir_all(&folder).expect("a folder");
    let first = asked("SEAMSTEP_FIRST", FIRST);
    each(3 * Kind::ALL.len() as u64, |k| {
        let (kind, number) = (Kind::ALL[(k / 3) as usize], first + k % 3);
        let scene = kinds::scene(kind, number);
        let (_, _, rendered) = seams::photograph(&scene);
        let mut picture = rendered.photo.clone();
        let truth = &rendered.truth;
        let [repeat_mm, _] = truth.repeat_mm.expect("lines across");
        let reach = (truth.length_mm / repeat_mm) as i32 + 2;
        for m_mm in (-reach..=reach).map(|line| f64::from(line) * repeat_mm) {
            for (side, colour) in [(0, [0, 255, 255]), (1, [255, 0, 255])] {
                let u_mm = m_mm + [-0.5, 0.5][side] * scene.seam.offset.at(m_mm);
                let share = (u_mm - truth.begins_mm) / truth.length_mm * (truth.seam_px.len() - 1) as f64;
                let at = share.floor();
                if at < 0.0 || at as usize + 1 >= truth.seam_px.len() {
                    continue;
                }
                let (a, b) = (truth.seam_px[at as usize], truth.seam_px[at as usize + 1]);
                let (dx, dy) = (b.x - a.x, b.y - a.y);
                let (x, y) = (a.x + (share - at) * dx, a.y + (share - at) * dy);
                // From 1 to 9 mm beside the seam; dx, dy is a millimetre along it, and v grows towards (dy, −dx).
                for step in 10..90 {
                    let v = f64::from(step) * 0.1 * [-1.0, 1.0][side];
                    let along = truth.slope[side] * v;
                    let (x, y) = (x + along * dx + v * dy, y + along * dy - v * dx);
                    if x >= 0.0 && y >= 0.0 && x < f64::from(picture.width()) && y < f64::from(picture.height()) {
                        picture.put_pixel(x as u32, y as u32, image::Rgb(colour));
                    }
                }
            }
        }
        rendered.photo.save(folder.join(format!("{kind:?}-{number}.png"))).expect("a picture");
        picture.save(folder.join(format!("{kind:?}-{number}-truth.png"))).expect("a picture");
    });
}
