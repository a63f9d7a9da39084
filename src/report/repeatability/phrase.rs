//! The sentences that text and page share.

use crate::digits::plain;
use crate::repeatability::anova::{Components, LEVEL, POOLED_FROM};
use crate::repeatability::{Answer, GOOD_PERCENT, POOR_PERCENT, Part, Study};

/// Decimals that show two figures of a length in millimetres.
fn places(value: f64) -> i32 {
    if value > 0.0 { (1.0 - value.log10().floor()).clamp(0.0, 4.0) as i32 } else { 0 }
}

/// A length in millimetres, two figures of it.
pub fn mm(value: f64) -> String {
    format!("{} mm", plain(value, places(value)))
}

fn percent(value: f64) -> String {
    format!("{} %", plain(value, if value < 10.0 { 1 } else { 0 }))
}

/// The answer in a few words.
pub fn headline(study: &Study) -> &'static str {
    match study.answer() {
        Some(Answer::Good) => "GOOD ENOUGH",
        Some(Answer::Fair) => "FAIR",
        Some(Answer::Poor) => "NOT GOOD ENOUGH",
        None => "CANNOT TELL",
    }
}

/// The answer in a sentence.
pub fn answer(study: &Study) -> String {
    let tolerance = format!("{} mm", plain(study.tolerance_mm, 3));
    let (Some(answer), Some([_, low, high])) = (study.answer(), study.percent_of_tolerance()) else {
        return "no seam was photographed twice by the same person, so nothing tells how far photographs differ. Photograph \
                each seam two or three times, and lift the camera between."
            .into();
    };
    let bounds = |percent: f64| match percent {
        p if p <= GOOD_PERCENT => Answer::Good,
        p if p <= POOR_PERCENT => Answer::Fair,
        _ => Answer::Poor,
    };
    let said = match answer {
        Answer::Good => format!("this way of photographing is good enough to judge {tolerance}."),
        Answer::Fair => format!(
            "this way of photographing tells what is plainly inside or outside {tolerance}, and not what is near it."
        ),
        Answer::Poor => format!("this way of photographing is not good enough to judge {tolerance}."),
    };
    match bounds(low) == answer && bounds(high) == answer {
        true => said,
        false => format!("{said} With so few photographs this is not sure: more of them would tell."),
    }
}

/// How far the measurement spreads, against the tolerance.
pub fn spread(study: &Study) -> Option<String> {
    let components = study.components.as_ref()?;
    let [share, low, high] = study.percent_of_tolerance()?;
    Some(format!(
        "The measurement spreads over {} (six standard deviations): {} of the {} mm from −{} to +{} mm ({} to {} at {} %).",
        mm(6.0 * components.gauge.value),
        percent(share),
        plain(2.0 * study.tolerance_mm, 3),
        plain(study.tolerance_mm, 3),
        plain(study.tolerance_mm, 3),
        percent(low),
        percent(high),
        plain(100.0 * LEVEL, 0)
    ))
}

/// Where the variation comes from: a name and a standard deviation each.
pub fn parts(components: &Components) -> Vec<(&'static str, String)> {
    let between = |[low, high]: [f64; 2]| format!(" ({} to {})", plain(low, places(low)), plain(high, places(high)));
    let mut rows = vec![(
        "the same person again",
        mm(components.repeatability.value) + &between(components.repeatability.interval),
    )];
    if let Some(people) = components.reproducibility {
        rows.push(("from person to person", mm(people)));
        rows.push(("both: the measurement", mm(components.gauge.value) + &between(components.gauge.interval)));
    }
    if let Some(parts) = components.parts {
        rows.push(("from seam to seam", mm(parts)));
    }
    rows
}

/// What else follows: classes, the chance that people differ, and whether the told uncertainty is honest.
pub fn remarks(study: &Study) -> Vec<String> {
    let Some(components) = &study.components else { return Vec::new() };
    let mut said = Vec::new();
    if let (Some(share), Some(classes)) = (study.percent_of_variation(), study.classes()) {
        said.push(format!(
            "Of all that varies here the measurement is {}; it tells {} of these seams apart.",
            percent(share),
            match classes.floor() {
                c if c < 2.0 => "no classes".to_owned(),
                c => format!("{} classes", plain(c, 0)),
            }
        ));
    }
    let chance = components.rows.iter().find(|row| row.source == "people").and_then(|row| row.p);
    if let Some(chance) = chance {
        said.push(if chance < 0.05 {
            format!("People differ by more than chance would make them ({} in a thousand).", plain(1000.0 * chance, 0))
        } else {
            format!("That people differ may be chance ({}).", percent(100.0 * chance))
        });
    }
    let (told, [low, high]) = (study.told_mm(), components.gauge.interval);
    let scatter = format!(
        "With each photograph a standard uncertainty of {} was told (root mean square), and photographs of one seam \
         scatter by {}",
        mm(told),
        mm(components.gauge.value)
    );
    said.push(match told {
        t if t < low => format!("{scatter}: more than was told. Find out what changes between them."),
        t if t > high => {
            format!("{scatter}: less, for what all of them share, the card and the cloth, does not scatter.")
        }
        _ => format!("{scatter}: as was told."),
    });
    said
}

/// What was compared, and what was not.
pub fn compared(study: &Study) -> Vec<String> {
    let many = |n: usize, one: &str, more: &str| format!("{n} {}", if n == 1 { one } else { more });
    let used = study.readings.len() - study.left_out;
    let mut said = vec![format!(
        "{} of {} by {}.",
        many(used, "photograph", "photographs"),
        many(study.parts.len(), "seam", "seams"),
        many(study.people.len(), "person", "people")
    )];
    if study.left_out > 0 {
        said.push(format!(
            "{} left out, so that everybody compared has as many of every seam.",
            many(study.left_out, "photograph was", "photographs were")
        ));
    }
    if study.unmeasured > 0 {
        said.push(format!(
            "{} not measured in millimetres.",
            many(study.unmeasured, "photograph was", "photographs were")
        ));
    }
    if let Some(components) = study.components.as_ref().filter(|c| c.reproducibility.is_some()) {
        said.push(match components.pooled {
            true => format!(
                "Whether people differ from seam to seam could be chance (over {}), and is counted with the repeats.",
                percent(100.0 * POOLED_FROM)
            ),
            false => "People differ from seam to seam, and that is counted as theirs.".into(),
        });
    }
    said
}

/// How to read it.
pub fn reading() -> [String; 3] {
    [
        "What is compared is the mean jump of each seam: photograph it, lift the camera, photograph it again, in the light \
         and the way you mean to work."
            .into(),
        format!(
            "Common practice (a measurement systems handbook, from memory): up to {} of the tolerance is good, over {} is \
             not good enough.",
            percent(GOOD_PERCENT),
            percent(POOR_PERCENT)
        ),
        "Two or three people, five seams or more, two or three photographs each tell enough. The buyer's or maker's own rule \
         goes before this one."
            .into(),
    ]
}

/// A seam's name, short.
pub fn seam(part: &Part) -> String {
    let place = part.place.map(|place| place.word());
    match (&part.piece, place) {
        (Some(piece), Some(place)) => format!("{piece}, {place}"),
        (Some(piece), None) => piece.clone(),
        (None, Some(place)) => place.to_owned(),
        (None, None) => "a seam without a name".into(),
    }
}
