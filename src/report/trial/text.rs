//! Sentences first, then a table by distance, at most [`WIDTH`](crate::report::text::WIDTH) characters wide.

use crate::digits::plain;
use crate::problem::RefusalCode;
use crate::report::phrase::sentence;
use crate::report::text::Page;
use crate::trial::figures::{Errors, SERVED_SHARE, TOLD_SHARE};
use crate::trial::scenes::phone_distance_mm;
use crate::trial::{Distance, Trial, sweep};

/// The trial as text.
pub fn trial(trial: &Trial) -> String {
    let mut page = Page::default();
    let tolerance_mm = trial.closeness.tolerance_mm;
    page.say("", &counted(trial));
    for distance in &trial.distances {
        page.say("", &told(distance));
    }
    page.say("", &how_close(trial));

    page.head("By distance, errors and uncertainties (k = 2) in mm");
    table(&mut page, trial);

    page.head(&format!("Verdicts at a tolerance of {} mm", plain(tolerance_mm, 3)));
    for distance in &trial.distances {
        page.say("  ", &verdicts(distance));
    }

    page.head("What was tried");
    tried(trial).iter().for_each(|line| page.say("  ", line));

    page.head("How to read it");
    for line in [
        "An error is what was measured less what was sewn. Of the mean: over the whole seam in the picture; of the \
         readings: place by place, from the first to the last line.",
        "Inside: the share of errors that are no larger than the uncertainty told with them; it should be about 95 %.",
        "Told: a jump of this size would be measured larger than its own uncertainty in nineteen of twenty measured \
         photographs; a smaller one may pass for none.",
        "These photographs were rendered. Real cloth stretches and shines in ways that the renderer does not know: take \
         the figures for the best that can be hoped for.",
    ] {
        page.say("  ", line);
    }
    page.text
}

fn counted(trial: &Trial) -> String {
    let taken: usize = trial.distances.iter().map(|d| d.figures.taken).sum();
    let measured: usize = trial.distances.iter().map(|d| d.figures.measured).sum();
    let at = match trial.distances.len() {
        1 => String::new(),
        n => format!(" ({} seams at {n} distances)", trial.request.seams),
    };
    let how = if trial.request.seam_drawn { "their place drawn by hand" } else { "their place looked for" };
    let refused = match taken - measured {
        0 => "none was refused".to_owned(),
        n => format!("{n} {} refused", if n == 1 { "was" } else { "were" }),
    };
    let photographs = if taken == 1 { "photograph" } else { "photographs" };
    let were = if measured == 1 { "was" } else { "were" };
    format!("Of {taken} {photographs} of seams like this{at}, {how}, {measured} {were} measured and {refused}.")
}

fn told(distance: &Distance) -> String {
    let figures = &distance.figures;
    let mut said = format!("At {}:", at(distance));
    match (&figures.mean, &figures.readings) {
        (Some(mean), Some(readings)) => {
            said += &format!(
                " the mean jump was wrong by {} mm in the median, by no more than {} mm in nine of ten, by {} mm at \
                 worst; place by place along the seam by {}, {} and {} mm.",
                mm(mean.median_mm),
                mm(mean.ninetieth_mm),
                mm(mean.worst_mm),
                mm(readings.median_mm),
                mm(readings.ninetieth_mm),
                mm(readings.worst_mm)
            );
            if let Some(told_mm) = figures.smallest_told_mm {
                said += &format!(" The smallest jump that is told from none is {} mm.", mm(told_mm));
            }
        }
        _ => said += " nothing was measured.",
    }
    if figures.assumed > 0 {
        said += &format!(
            " {} of the {} seams measured left no plain trace, and {} place was only assumed: such an answer is \
             \"matched\" only where the jump itself shows the seam, and else asks for --seam.",
            figures.assumed,
            figures.measured,
            if figures.assumed == 1 { "its" } else { "their" }
        );
    }
    if !figures.refused.is_empty() {
        let reasons: Vec<String> =
            figures.refused.iter().map(|(code, count)| format!("{count} {}", reason(*code))).collect();
        said += &format!(" Refused: {}.", reasons.join(", "));
    }
    said
}

/// "0.1 mm to a pixel (a 12-megapixel phone about 30 cm away)".
fn at(distance: &Distance) -> String {
    format!("{} mm to a pixel ({})", plain(distance.mm_per_px, 3), phone(distance.mm_per_px))
}

fn phone(mm_per_px: f64) -> String {
    format!("a 12-megapixel phone about {} cm away", centimetres(mm_per_px))
}

/// The phone's distance in centimetres, rounded to two figures at most.
fn centimetres(mm_per_px: f64) -> String {
    let cm = phone_distance_mm(mm_per_px) / 10.0;
    plain(if cm < 100.0 { cm.round().max(1.0) } else { (cm / 10.0).round() * 10.0 }, 0)
}

/// Why photographs were refused, in a few words.
fn reason(code: RefusalCode) -> String {
    let words = match code {
        RefusalCode::NoCard => "whose card could not be read",
        RefusalCode::NoSeam => "in which no seam was found",
        RefusalCode::NoLines => "without lines across the seam",
        RefusalCode::LinesBothWays => "cut on the bias",
        RefusalCode::LinesAlongOnly => "with lines along the seam only",
        RefusalCode::TooFewLines => "with too few lines",
        RefusalCode::Blurred => "too blurred",
        RefusalCode::SidesDiffer => "whose sides do not show the same lines",
        RefusalCode::TooSmall => "of too few pixels",
        other => return other.word().to_owned(),
    };
    format!("{words} ({})", code.word())
}

fn how_close(trial: &Trial) -> String {
    let closeness = &trial.closeness;
    let tolerance = plain(closeness.tolerance_mm, 3);
    let rule = sweep::rule(closeness.tolerance_mm);
    let answer = match (closeness.at_most_mm_per_px, closeness.too_far_mm_per_px) {
        (Some(at), None) => {
            format!("{} mm to a pixel, the furthest that was tried, is close enough ({})", plain(at, 3), phone(at))
        }
        (Some(at), Some(too_far)) => format!(
            "photograph at {} mm to a pixel or closer ({}); {} is too far",
            plain(at, 3),
            phone(at),
            plain(too_far, 3)
        ),
        (None, _) => {
            "none of the distances that were tried serves; try closer ones, flatter cloth, better light, or a \
                      larger tolerance"
                .into()
        }
    };
    format!("{} The rule: {rule}.", sentence(&format!("for a tolerance of {tolerance} mm: {answer}")))
}

fn table(page: &mut Page, trial: &Trial) {
    page.row("  mm per  phone   meas-    error of the mean    error of readings      told");
    page.row("  pixel   at cm   ured    bias   9 of 10 inside  median  9 of 10 inside   from 0");
    for distance in &trial.distances {
        let f = &distance.figures;
        let share = |e: &Errors| format!("{:.0} %", 100.0 * e.covered_share);
        let none = || "–".to_owned();
        let [bias, ninth, inside] = match &f.mean {
            Some(e) => [crate::digits::signed(e.bias_mm, 3), mm(e.ninetieth_mm), share(e)],
            None => [none(), none(), none()],
        };
        let [median, ninth_r, inside_r] = match &f.readings {
            Some(e) => [mm(e.median_mm), mm(e.ninetieth_mm), share(e)],
            None => [none(), none(), none()],
        };
        page.row(&format!(
            "  {:<6} {:>6} {:>7} {bias:>8} {ninth:>7} {inside:>6} {median:>8} {ninth_r:>7} {inside_r:>6} {:>8}",
            plain(distance.mm_per_px, 3),
            centimetres(distance.mm_per_px),
            format!("{}/{}", f.measured, f.taken),
            f.smallest_told_mm.map_or_else(none, mm),
        ));
    }
    page.row("");
    page.row("  mm per   spread    rms    worst   U of the mean    U of readings   room");
    page.row("  pixel    of the mean's errors    median  9 of 10  median  9 of 10  needed");
    for distance in &trial.distances {
        let f = &distance.figures;
        let show = |value: Option<f64>| value.map_or_else(|| "–".to_owned(), mm);
        let of = |errors: &Option<Errors>, what: fn(&Errors) -> f64| show(errors.as_ref().map(what));
        page.row(&format!(
            "  {:<6} {:>7} {:>7} {:>8} {:>8} {:>8} {:>8} {:>8} {:>7}",
            plain(distance.mm_per_px, 3),
            show(f.mean.as_ref().and_then(|e| e.spread_mm)),
            of(&f.mean, |e| e.rms_mm),
            of(&f.mean, |e| e.worst_mm),
            of(&f.mean, |e| e.median_expanded_mm),
            of(&f.mean, |e| e.ninetieth_expanded_mm),
            of(&f.readings, |e| e.median_expanded_mm),
            of(&f.readings, |e| e.ninetieth_expanded_mm),
            show(f.room_mm),
        ));
    }
    page.say(
        "  ",
        &format!(
            "\"Told\" is for {:.0} of 100 measured photographs. \"Room needed\" is what {:.0} of 100 photographs taken \
             need between the jump and the tolerance to be called matched: error and uncertainty of the worst reading.",
            100.0 * TOLD_SHARE,
            100.0 * SERVED_SHARE
        ),
    );
}

fn verdicts(distance: &Distance) -> String {
    let v = &distance.figures.verdicts;
    format!(
        "At {} mm to a pixel: of {} within tolerance, {} called matched, {} wrongly off, {} unsure; of {} out of it, {} \
         called off, {} wrongly matched, {} unsure.",
        plain(distance.mm_per_px, 3),
        v.within,
        v.within_matched,
        v.within_off,
        v.within - v.within_matched - v.within_off,
        v.out,
        v.out_off,
        v.out_matched,
        v.out - v.out_off - v.out_matched
    )
}

fn tried(trial: &Trial) -> Vec<String> {
    let request = &trial.request;
    let (cloth, c) = (&request.cloth, &request.conditions);
    let lines = match cloth.repeat_mm() {
        Some(repeat_mm) => format!("Cloth with a repeat of {} mm", plain(repeat_mm, 2)),
        None => "Cloth without lines across the seam".into(),
    };
    let pins = match c.pins {
        0 => "no pins".to_owned(),
        1 => "1 pin".into(),
        n => format!("{n} pins"),
    };
    vec![
        format!(
            "{lines}; {} mm of seam in the picture, jumps from −{most} to {most} mm that wander by {} mm along the seam; \
             drape of {} mm, {pins}.",
            plain(c.seam_mm, 1),
            plain(c.wander_mm, 2),
            plain(c.drape_mm, 2),
            most = plain(trial.most_offset_mm, 2),
        ),
        format!(
            "Camera tilted by {} degrees, {} light, {} px of blur beside the lens's own; the printed card of {} mm beside \
             the seam.",
            plain(c.tilt_rad.to_degrees(), 1),
            c.light.word(),
            plain(c.blur_px, 2),
            crate::card::USUAL_SIDE_MM,
        ),
        format!("Seed {}: the same seed gives the same figures.", request.seed),
    ]
}

/// Millimetres with the digits that matter: three decimals below a tenth, two above.
fn mm(value: f64) -> String {
    if value.abs() < 0.1 { format!("{value:.3}") } else { format!("{value:.2}") }
}
