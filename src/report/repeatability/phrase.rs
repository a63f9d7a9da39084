//! The sentences that text and page share.

use crate::digits::plain;
use crate::repeatability::anova::{Components, Deviation, LEVEL, POOLED_FROM};
use crate::repeatability::{Answer, Doubt, GOOD_PERCENT, POOR_PERCENT, Part, Study};

/// Beyond this a number only says: far too much.
const FAR: f64 = 999.0;

/// Two figures of a number.
pub fn figures(value: f64) -> String {
    match value {
        v if v > FAR => format!("over {}", plain(FAR, 0)),
        v if v > 0.0 => plain(v, (1.0 - v.log10().floor()).clamp(0.0, 5.0) as i32),
        _ => plain(value, 0),
    }
}

/// A length in millimetres, two figures of it.
pub fn mm(value: f64) -> String {
    format!("{} mm", figures(value))
}

fn percent(value: f64) -> String {
    format!("{} %", figures(value))
}

/// A chance, 0 to 1.
pub fn chance(value: f64) -> String {
    if value < 0.001 { "under 0.1 %".into() } else { percent(100.0 * value) }
}

fn between([low, high]: [f64; 2]) -> String {
    format!("{} to {}", figures(low), figures(high))
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
    let Some(answer) = study.answer() else {
        if study.components.is_some() {
            return "a tolerance of nothing is more than any way of photographing can judge.".into();
        }
        return "no seam was photographed twice by the same person, so nothing tells how far photographs differ. Photograph \
                each seam two or three times, and lift the camera between."
            .into();
    };
    match answer {
        Answer::Good => format!("this way of photographing is good enough to judge {tolerance}."),
        Answer::Fair => format!(
            "this way of photographing tells what is plainly inside or outside {tolerance}, and not what is near it."
        ),
        Answer::Poor => format!("this way of photographing is not good enough to judge {tolerance}."),
    }
}

/// Why that is not sure; `None` where it is.
pub fn doubt(study: &Study) -> Option<&'static str> {
    study.doubt().map(|doubt| match doubt {
        Doubt::FewPeople => "So few people do not tell for sure how far people differ: more people would.",
        Doubt::FewPhotographs => "With so few photographs this is not sure: more of them would tell.",
    })
}

/// How far the measurement spreads, against the tolerance.
pub fn spread(study: &Study) -> Option<String> {
    let components = study.components.as_ref()?;
    let [share, low, high] = study.percent_of_tolerance()?;
    let tolerance = plain(study.tolerance_mm, 3);
    Some(format!(
        "The measurement spreads over {} (six standard deviations): {} of the {} mm from −{tolerance} to +{tolerance} mm \
         ({} % interval: {} %).",
        mm(6.0 * components.gauge.value),
        percent(share),
        plain(2.0 * study.tolerance_mm, 3),
        plain(100.0 * LEVEL, 0),
        between([low, high])
    ))
}

/// A source of the measurement's scatter, or all of it: its name, its standard deviation in millimetres, and the interval
/// where there is one.
pub type Source = (&'static str, f64, Option<[f64; 2]>);

/// Where the measurement's scatter comes from.
pub fn sources(components: &Components) -> Vec<Source> {
    let of = |name, told: Deviation| (name, told.value, Some(told.interval));
    let mut sources = vec![of("same person again", components.repeatability)];
    if let Some(people) = components.reproducibility {
        sources.push(("person to person", people, None));
        sources.push(of("both together", components.gauge));
    }
    sources
}

/// The same in words, and how far the seams differ: the name, the standard deviation, and the interval.
pub fn parts(components: &Components) -> Vec<(&'static str, String, Option<String>)> {
    let told = |(name, value, interval): Source| (name, mm(value), interval.map(between));
    let seams = components.parts.map(|parts| ("seam to seam", parts, None));
    sources(components).into_iter().chain(seams).map(told).collect()
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
    let by_chance = components.rows.iter().find(|row| row.source == "people").and_then(|row| row.p);
    if let Some(by_chance) = by_chance {
        let told = chance(by_chance);
        said.push(if by_chance < 0.05 {
            format!("People differ: chance alone would seldom bring as much ({told}).")
        } else {
            format!("That people differ may be chance, which would bring as much in {told} of such studies.")
        });
    } else if components.reproducibility.is_none() {
        said.push("One person alone does not tell how far people differ.".into());
    }
    if let Some([times, low, high]) = study.scatter_to_told() {
        let scatter = format!(
            "With each photograph a standard uncertainty of {} was told (root mean square), and photographs of one seam \
             scatter by {}, {} times as much ({})",
            mm(study.told_mm()),
            mm(components.gauge.value),
            figures(times),
            between([low, high])
        );
        said.push(if low > 1.0 {
            format!("{scatter}: more than was told. Find out what changes between them.")
        } else if high < 1.0 {
            format!("{scatter}: less, for what all of them share, the card and the cloth, does not scatter.")
        } else {
            format!("{scatter}: what was told may be right.")
        });
    }
    said
}

/// What was compared, and what was not.
pub fn compared(study: &Study) -> Vec<String> {
    let many = |n: usize, one: &str, more: &str| format!("{n} {}", if n == 1 { one } else { more });
    let used = study.readings.len() - study.left_out;
    let named: Vec<&str> =
        study.people.iter().map(|person| person.as_deref().unwrap_or("somebody not named")).collect();
    let mut said = vec![format!(
        "{} of {} by {} ({}).",
        many(used, "photograph", "photographs"),
        many(study.parts.len(), "seam", "seams"),
        many(study.people.len(), "person", "people"),
        named.join(", ")
    )];
    if study.left_out > 0 {
        let were = many(study.left_out, "photograph was", "photographs were");
        said.push(match study.people.len() {
            1 => format!(
                "{were} left out: other people's, who share no seam that one of them photographed twice. People cannot be \
                 compared."
            ),
            _ => format!("{were} left out: of seams that not all of these people photographed, or by somebody else."),
        });
    }
    if study.again > 0 {
        said.push(format!(
            "{} given more than once, and count once.",
            many(study.again, "photograph was", "photographs were")
        ));
    }
    if study.unmeasured > 0 {
        said.push(format!(
            "{} not measured in millimetres.",
            many(study.unmeasured, "photograph was", "photographs were")
        ));
    }
    if let Some(pooled) = study.components.as_ref().and_then(|c| c.pooled) {
        said.push(match pooled {
            true => format!(
                "That people differ otherwise from seam to seam may be chance (over {}), and is counted with the repeats.",
                chance(POOLED_FROM)
            ),
            false => format!(
                "That people differ otherwise from seam to seam is hardly chance ({} or less), and is counted as theirs.",
                chance(POOLED_FROM)
            ),
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
