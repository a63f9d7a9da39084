//! The sentences that more than one face says of the flat cloth.

use crate::cloth::balance::Told;
use crate::cloth::cutting::Piece;
use crate::cloth::distortion::Ratio;
use crate::cloth::family::Family;
use crate::cloth::sequence::Band;
use crate::cloth::{FlatCloth, Selvedge};
use crate::conventions::Runs;
use crate::digits::{self, Figures, Unit, plain};
use crate::report::phrase::sentence;

/// Which way a family of lines is met.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Met {
    /// Along the warp: its lines run across the cloth.
    Lengthwise,
    /// Across the cloth: its lines run along the warp.
    Crosswise,
}

/// The families that the cloth has.
pub fn families(cloth: &FlatCloth) -> Vec<(Met, &Family)> {
    let both = [(Met::Lengthwise, &cloth.lengthwise), (Met::Crosswise, &cloth.crosswise)];
    both.into_iter().filter_map(|(met, family)| Some((met, family.as_ref()?))).collect()
}

impl Met {
    /// `along the warp` or `across the cloth`.
    pub fn way(self) -> &'static str {
        match self {
            Met::Lengthwise => "along the warp",
            Met::Crosswise => "across the cloth",
        }
    }

    /// How the lines run that are met this way.
    pub fn runs(self) -> &'static str {
        match self {
            Met::Lengthwise => "across the cloth",
            Met::Crosswise => "along the warp",
        }
    }
}

/// A length of a family with its expanded uncertainty, in the cloth's unit: without a scale as a part of the repeat.
pub fn figures(cloth: &FlatCloth, family: &Family, value_mm: f64, expanded_mm: f64) -> Figures {
    let unit_mm = match (cloth.unit, family.repeat_mm) {
        (Unit::Repeat, Some((repeat_mm, _))) => repeat_mm,
        _ => 1.0,
    };
    digits::figures(value_mm / unit_mm, expanded_mm / unit_mm, cloth.unit)
}

fn told(figures: &Figures, unit: Unit) -> String {
    format!("{} ± {} {}", figures.size, figures.uncertainty, unit.after())
}

/// The first sentence: the repeats.
pub fn headline(cloth: &FlatCloth) -> String {
    let repeat = |met: Met, family: &Family| match cloth.repeat_mm(family) {
        Some((mm, expanded)) => format!("{} {}", told(&figures(cloth, family, mm, expanded), cloth.unit), met.way()),
        _ => format!("not seen whole {}", met.way()),
    };
    if !cloth.plane.is_metric() {
        return "There is no scale, so the repeat is not known in millimetres.".to_owned();
    }
    let all: Vec<String> = families(cloth).into_iter().map(|(met, family)| repeat(met, family)).collect();
    let plain = match (&cloth.lengthwise, &cloth.crosswise, cloth.plain) {
        (None, _, [true, _]) => " No lines run across the cloth.",
        (None, _, _) => " Lines across the cloth were not recognised.",
        (_, None, [_, true]) => " No lines run along the warp.",
        (_, None, _) => " Lines along the warp were not recognised.",
        _ => "",
    };
    format!("The repeat is {}.{plain}", all.join(" and "))
}

/// How pieces may be laid, a sentence each.
pub fn laying(cloth: &FlatCloth) -> Vec<String> {
    let up = match cloth.laying.both_ways_up {
        Told::Yes => {
            "Pieces may be laid both ways up, as far as the lines go: the pattern is the same upside down. A pile or a sheen \
             is not seen here: feel for it before you turn a piece."
        }
        Told::No => "Lay all pieces one way up: the pattern is not the same upside down.",
        Told::CannotTell => {
            "Lay all pieces one way up: whether the pattern is the same upside down cannot be told from this photograph."
        }
    };
    let sides = match (&cloth.crosswise, cloth.laying.left_and_right) {
        (None, Told::Yes) => "Left and right pieces need no matching across: the cloth is even that way.",
        (None, _) => {
            "Whether left and right pieces need matching across cannot be told: lines along the warp were not recognised."
        }
        (_, Told::Yes) => {
            "A left and a right piece that mirror each other show mirrored lines: the pattern across is balanced."
        }
        (_, Told::No) => {
            "A left and a right piece will not mirror each other: the pattern across is not balanced. Its order runs on \
             round the body in one direction."
        }
        (_, Told::CannotTell) => {
            "Whether left and right pieces will mirror each other cannot be told from this photograph."
        }
    };
    vec![up.to_owned(), sides.to_owned()]
}

/// What is told of a family: one repeat of it, or what is seen where that is less.
pub fn heading(met: Met, family: &Family) -> String {
    let what = if family.repeat_mm.is_some() { "One repeat" } else { "As far as is seen" };
    format!("{what} {}", met.way())
}

/// Whether one family is balanced, and about which bands it mirrors.
pub fn balance(family: &Family) -> Option<String> {
    let balance = family.balance?;
    Some(match balance.same {
        Told::Yes => {
            let mirrors: Vec<String> = family.mirrors().iter().map(|number| band_named(family, *number)).collect();
            let about = match mirrors[..] {
                [] => String::new(),
                _ => format!(
                    " It mirrors about the middle of {}: centre front and centre back belong there.",
                    mirrors.join(" and of ")
                ),
            };
            format!("Balanced: read backwards it is the same.{about}")
        }
        Told::No => "Not balanced: read backwards it is another sequence.".to_owned(),
        Told::CannotTell => match balance.by_chance {
            None => "Balanced or not cannot be told: no part of the repeat is seen twice.".to_owned(),
            Some(_) => "Balanced or not cannot be told: the repeats differ among themselves as much.".to_owned(),
        },
    })
}

fn band_named(family: &Family, number: usize) -> String {
    let band = &family.bands[number - 1];
    format!("band {number} ({})", band.name)
}

/// Which line to put on the notches.
pub fn notch(cloth: &FlatCloth, family: &Family) -> Option<String> {
    if family.bands.is_empty() || family.repeat_mm.is_none() {
        return None;
    }
    Some(match family.notch.map(|k| &family.bands[k]) {
        Some(band) => {
            let width = figures(cloth, family, band.width_mm, cloth.expanded_width_mm(family, band));
            format!(
                "Put the notches on the middle of band {} ({}, {} {} wide): it comes once in a repeat, stands out most, and \
                 cannot be taken for another line.",
                band.number,
                band.name,
                width.size,
                cloth.unit.after()
            )
        }
        None => "No line comes only once in a repeat: whatever line the notches are put on, its double looks the same. Mark \
                 the one that is meant with a thread."
            .to_owned(),
    })
}

/// A band as columns: number, name, width ± U, from.
pub fn row(cloth: &FlatCloth, family: &Family, band: &Band) -> [String; 4] {
    let expanded = cloth.expanded_width_mm(family, band);
    let width = figures(cloth, family, band.width_mm, expanded);
    let from = figures(cloth, family, band.from_mm, expanded);
    let ground = if band.is_ground { " (ground)" } else { "" };
    [
        band.number.to_string(),
        format!("{}{ground}", band.name),
        format!("{} ± {}", width.size, width.uncertainty),
        from.size,
    ]
}

fn percent(ratio: &Ratio) -> String {
    let figures = digits::figures(ratio.percent, ratio.expanded_uncertainty_percent, Unit::Millimetre);
    format!("{} ± {} %", figures.size, figures.uncertainty)
}

fn surely_none(ratio: &Ratio) -> bool {
    ratio.percent.abs() <= ratio.expanded_uncertainty_percent
}

/// Skew and bow, a sentence each; and what they are not.
pub fn distortion(cloth: &FlatCloth) -> Vec<String> {
    let mut lines = Vec::new();
    let length = |mm: f64| match cloth.unit {
        Unit::Sixteenth => digits::length(mm, Unit::Sixteenth),
        _ => format!("{} mm", plain(mm.abs(), 1)),
    };
    if let Some((skew, told_by)) = &cloth.skew {
        let against = match told_by {
            Selvedge::Given => "the square to the selvedge as marked",
            Selvedge::FromLines => "the square to the lines along the warp",
        };
        let over = format!("{} over the {} of cloth seen", length(skew.distance_mm), length(skew.over_mm));
        lines.push(if surely_none(skew) {
            format!("Skew: none that can be told, {} against {against}.", percent(skew))
        } else {
            let lower = match (cloth.warp, skew.distance_mm > 0.0) {
                (Runs::Down, true) => "right end lower",
                (Runs::Down, false) => "left end lower",
                (Runs::Across, true) => "upper end further right",
                (Runs::Across, false) => "lower end further right",
            };
            format!(
                "Skew: {}, {lower}, an angle of {}° against {against} ({over}).",
                percent(skew),
                plain(skew.angle_rad().to_degrees().abs(), 2)
            )
        });
    }
    if let Some(bow) = &cloth.bow {
        let metric = cloth.plane.is_metric();
        let over =
            if metric { format!(" ({} over {})", length(bow.distance_mm), length(bow.over_mm)) } else { String::new() };
        lines.push(if surely_none(bow) {
            format!("Bow: none that can be told, {}.", percent(bow))
        } else {
            let hangs = match (cloth.warp, bow.distance_mm > 0.0) {
                (Runs::Down, true) => "the middle hangs lower than the ends",
                (Runs::Down, false) => "the middle stands higher than the ends",
                (Runs::Across, true) => "the middle stands further right than the ends",
                (Runs::Across, false) => "the middle stands further left than the ends",
            };
            format!("Bow: {}, {hangs}{over}.", percent(bow))
        });
    }
    if !lines.is_empty() {
        lines.push(
            "Both are D/W of the lines across, as ASTM D3882 states them, but read off the patch in the picture and not over \
             the whole width between the selvedges: do not hold them against a figure of that standard. One even arc is \
             looked for; a bow that doubles or hooks at a selvedge is not."
                .to_owned(),
        );
    }
    lines
}

/// What the pieces take, in all.
pub fn cost(cloth: &FlatCloth) -> Option<String> {
    let cutting = cloth.cutting.as_ref()?;
    let length = |mm: f64| format!("{} {}", digits::place(mm, cloth.unit), cloth.unit.places());
    let pieces = cutting.pieces.len();
    let noun = if pieces == 1 { "piece" } else { "pieces" };
    Some(match cutting.repeat_mm {
        None => format!(
            "Matching along the warp costs nothing: no line is seen to run across the cloth. The {pieces} {noun} take {}.",
            length(cutting.total_mm)
        ),
        Some(repeat_mm) => format!(
            "{pieces} {noun}, one after the other along the warp, take {} instead of {}: {} more for matching, of which one \
             repeat of {} is for where the first begins.",
            length(cutting.total_mm),
            length(cutting.lengths_mm),
            length(cutting.extra_mm),
            length(repeat_mm)
        ),
    })
}

/// One piece: its length, how many repeats, what it takes.
pub fn piece(cloth: &FlatCloth, piece: &Piece) -> [String; 3] {
    let place = |mm: f64| digits::place(mm, cloth.unit);
    let repeats = if piece.repeats == 0 { "–".to_owned() } else { piece.repeats.to_string() };
    [place(piece.length_mm), repeats, place(piece.takes_mm)]
}

/// Pieces that are so nearly whole repeats that their number is not sure.
pub fn near_whole(cloth: &FlatCloth) -> Vec<String> {
    let pieces = cloth.cutting.iter().flat_map(|cutting| &cutting.pieces);
    let mut told: Vec<String> = pieces
        .filter_map(|piece| {
            let of = format!("The piece of {} {}", digits::place(piece.length_mm, cloth.unit), cloth.unit.places());
            let repeats = |count: u32| format!("{count} {}", if count == 1 { "repeat" } else { "repeats" });
            match (piece.at_least_repeats < piece.repeats, piece.at_most_repeats > piece.repeats) {
                (_, true) => Some(format!(
                    "{of} is almost exactly whole repeats: within the uncertainty of the repeat it may need {}.",
                    repeats(piece.at_most_repeats)
                )),
                (true, false) => Some(format!(
                    "{of} is hardly more than whole repeats: within the uncertainty of the repeat {} may do.",
                    repeats(piece.at_least_repeats)
                )),
                _ => None,
            }
        })
        .collect();
    told.dedup();
    told
}

/// How it was measured.
pub fn method(cloth: &FlatCloth) -> Vec<String> {
    let mut lines = crate::report::phrase::scale(&cloth.plane);
    lines.push(format!(
        "The warp was taken to run {} the picture.",
        match cloth.warp {
            Runs::Down => "down",
            Runs::Across => "across",
        }
    ));
    for (met, family) in families(cloth) {
        let seen = family.repeats_seen().map_or(String::new(), |seen| format!(", {} repeats of them", plain(seen, 1)));
        lines.push(sentence(&format!(
            "lines that run {}: contrast {} %{seen}",
            met.runs(),
            plain(100.0 * family.contrast, 0)
        )));
    }
    lines
}

/// How to read it.
pub fn reading() -> [&'static str; 3] {
    [
        "A repeat along the warp is measured along the lines that run that way, one across the cloth square to them; ± is the \
         expanded uncertainty (k = 2).",
        "Extra cloth: each piece is taken up to whole repeats, so that every piece begins at the same line, and one repeat \
         more is bought. Pieces laid side by side, seam allowances and hems are yours to count in.",
        "The colour of a band is what it looks like where it stands out most; threads of the other way mix with it.",
    ]
}
