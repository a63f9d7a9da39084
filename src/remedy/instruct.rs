//! The work in words that a person can follow at the table, without a ruler in hand.

use super::choose::Choice;
use super::cure::Cure;
use super::{Action, Stage};
use crate::conventions::{Direction, Runs};
use crate::digits::{self, Unit};
use crate::offset::{LineOffset, Offset};

/// Shifts below this are not worth an instruction of their own, millimetres.
const LEAST_SHIFT_MM: f64 = 0.1;
/// A width is named when the shift is this near to the fraction of it, relatively.
const LIKE_A_WIDTH: f64 = 0.18;

/// What to do for this choice.
pub fn words(choice: &Choice, stage: Stage, runs: Runs, offset: &Offset, unit: Unit) -> String {
    let cure = &choice.cure;
    match (choice.action, choice.worth) {
        (Action::RecutOrAccept, _) => recut(cure, runs, offset, unit),
        (_, true) => work(cure, stage, runs, offset, unit),
        (_, false) => {
            let work = work(cure, stage, runs, offset, unit);
            let (first, rest) = work.split_at(1);
            format!("Leave it. If you want it better all the same: {}{rest}", first.to_lowercase())
        }
    }
}

fn work(cure: &Cure, stage: Stage, runs: Runs, offset: &Offset, unit: Unit) -> String {
    let lines = touched(cure, offset);
    let open = match stage {
        Stage::Finished => "Open the lining and unpick",
        Stage::Basted | Stage::Sewn => "Unpick",
    };
    let what = match cure.action {
        Action::RepinStretch => stretch(cure, lines, offset, runs, unit),
        _ => "the whole seam".to_owned(),
    };
    let mut said = vec![format!("{open} {what}.")];
    let moves = cure.moves(runs);
    let shift_mm = cure.shift_mm.abs();
    if shift_mm >= LEAST_SHIFT_MM {
        let at = if cure.action == Action::Ease { " at the middle of the seam" } else { "" };
        let like = like_a_width(shift_mm, lines).map_or(String::new(), |like| format!(" ({like})"));
        let by = digits::length(shift_mm, unit);
        said.push(format!("Move the {} {} {by}{like}{at}.", moves.side.noun(), moves.direction.word()));
    }
    if let Some(longer) = cure.longer(runs).filter(|_| cure.action == Action::Ease) {
        said.push(format!(
            "Ease the {}, which is longer by {} %, evenly into the other from end to end, line on line.",
            longer.noun(),
            digits::plain((100.0 * cure.ease.abs()).max(0.1), 1)
        ));
    }
    said.push(match commonest(lines) {
        Some(name) => format!("Pin on the {name} lines first, pins across the seam."),
        None => "Pin across the seam.".to_owned(),
    });
    if cure.action == Action::RepinWhole && shift_mm >= LEAST_SHIFT_MM {
        said.push(format!(
            "At both ends the edge of the {} will stand {} {}: trim it level.",
            moves.side.noun(),
            digits::length(shift_mm, unit),
            match moves.direction {
                Direction::Up => "higher",
                Direction::Down => "lower",
                Direction::Left => "further left",
                Direction::Right => "further right",
            }
        ));
    }
    said.join(" ")
}

/// Unpicking will not do: what will.
fn recut(cure: &Cure, runs: Runs, offset: &Offset, unit: Unit) -> String {
    let mut said = vec![
        "Unpicking will not cure this: the two sides do not carry the same spacing of lines along the seam.".to_owned(),
        "Cut one side again with its lines on those of the other, or accept it.".to_owned(),
    ];
    // Where the cure that leaves least makes the lines meet.
    let left = |l: &LineOffset| (l.offset_mm - cure.taken_at(l.along_mm)).abs();
    let best = offset.lines_judged().iter().min_by(|a, b| left(a).total_cmp(&left(b)));
    if let Some(line) = best.filter(|_| cure.action != Action::Leave) {
        let moves = cure.moves(runs);
        said.push(format!(
            "To accept it, match at {}, {}: the {} goes {} {} from where it is, and the error is spread, {} at most.",
            called(line, &offset.lines),
            counted(runs),
            moves.side.noun(),
            digits::length(cure.taken_at(line.along_mm), unit),
            if cure.taken_at(line.along_mm) * cure.shift_mm >= 0.0 {
                moves.direction.word()
            } else {
                back(moves.direction)
            },
            digits::length(cure.leaves_mm, unit),
        ));
    }
    said.join(" ")
}

fn back(direction: Direction) -> &'static str {
    match direction {
        Direction::Up => "down",
        Direction::Down => "up",
        Direction::Left => "right",
        Direction::Right => "left",
    }
}

/// The lines from the last one before the work to the first one after it.
fn touched<'a>(cure: &Cure, offset: &'a Offset) -> &'a [LineOffset] {
    let lines = &offset.lines;
    let begin = lines.partition_point(|l| l.along_mm < cure.from_mm).saturating_sub(1);
    let end = (lines.partition_point(|l| l.along_mm <= cure.to_mm) + 1).min(lines.len());
    &lines[begin.min(end)..end]
}

/// `from the second blue line to the fifth (lines 4 to 10), counted from the top of the picture`.
fn stretch(cure: &Cure, lines: &[LineOffset], offset: &Offset, runs: Runs, unit: Unit) -> String {
    let (Some(first), Some(last)) = (lines.first(), lines.last()) else {
        return format!(
            "from {} to {} {} along the seam",
            digits::place(cure.from_mm, unit),
            digits::place(cure.to_mm, unit),
            unit.places()
        );
    };
    if first.number == last.number {
        return format!("around {} (line {}), {}", called(first, &offset.lines), first.number, counted(runs));
    }
    let to = match first.name == last.name {
        true => format!("the {}", ordinal(place_of(last, &offset.lines))),
        false => called(last, &offset.lines),
    };
    format!(
        "from {} to {to} (lines {} to {}), {}",
        called(first, &offset.lines),
        first.number,
        last.number,
        counted(runs)
    )
}

fn counted(runs: Runs) -> &'static str {
    match runs {
        Runs::Down => "counted from the top of the picture",
        Runs::Across => "counted from the left of the picture",
    }
}

/// Which of the lines of its name it is, from 1.
fn place_of(line: &LineOffset, all: &[LineOffset]) -> usize {
    all.iter().filter(|l| l.name == line.name && l.number <= line.number).count()
}

/// `the second blue line`, or `the blue line` where there is one.
fn called(line: &LineOffset, all: &[LineOffset]) -> String {
    match all.iter().filter(|l| l.name == line.name).count() {
        1 => format!("the {} line", line.name),
        _ => format!("the {} {} line", ordinal(place_of(line, all)), line.name),
    }
}

fn ordinal(number: usize) -> String {
    const WORDS: [&str; 12] = [
        "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
        "twelfth",
    ];
    let ending = match (number % 100, number % 10) {
        (11..=13, _) => "th",
        (_, 1) => "st",
        (_, 2) => "nd",
        (_, 3) => "rd",
        _ => "th",
    };
    number.checked_sub(1).and_then(|k| WORDS.get(k)).map_or(format!("{number}{ending}"), |word| (*word).to_owned())
}

/// The name that most of the lines carry; of equals, the one met first.
fn commonest(lines: &[LineOffset]) -> Option<&str> {
    let count = |name: &str| lines.iter().filter(|l| l.name == name).count();
    lines.iter().rev().max_by_key(|l| count(&l.name)).map(|l| l.name.as_str())
}

/// A length as a fraction of a line's width, the nearest that can be told: `just under half the white line's width`.
fn like_a_width(mm: f64, lines: &[LineOffset]) -> Option<String> {
    const FRACTIONS: [(f64, &str); 8] = [
        (0.25, "a quarter of"),
        (1.0 / 3.0, "a third of"),
        (0.5, "half"),
        (2.0 / 3.0, "two thirds of"),
        (0.75, "three quarters of"),
        (1.0, ""),
        (1.5, "one and a half times"),
        (2.0, "twice"),
    ];
    let name = commonest(lines)?;
    let mut widths: Vec<f64> = lines.iter().filter(|l| l.name == name).map(|l| l.width_mm).collect();
    widths.sort_by(f64::total_cmp);
    let share = mm / widths[widths.len() / 2];
    let (fraction, words) =
        FRACTIONS.into_iter().min_by(|a, b| (share / a.0).ln().abs().total_cmp(&(share / b.0).ln().abs()))?;
    let off = share / fraction - 1.0;
    if off.abs() > LIKE_A_WIDTH {
        return None;
    }
    let near = match off {
        o if o < -0.04 => "just under ",
        o if o > 0.04 => "just over ",
        _ => "about ",
    };
    let space = if words.is_empty() { "" } else { " " };
    Some(format!("{near}{words}{space}the {name} line's width"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(number: usize, name: &str, width_mm: f64) -> LineOffset {
        LineOffset {
            number,
            along_mm: 10.0 * number as f64,
            width_mm,
            runs_mm: Default::default(),
            colour: [0; 3],
            name: name.into(),
            offset_mm: 0.0,
            expanded_uncertainty_mm: 0.1,
        }
    }

    #[test]
    fn a_shift_is_told_by_a_lines_width() {
        let lines = [line(1, "white", 5.0), line(2, "blue", 2.0), line(3, "white", 5.0)];
        assert_eq!(like_a_width(2.45, &lines).unwrap(), "about half the white line's width");
        assert_eq!(like_a_width(2.3, &lines).unwrap(), "just under half the white line's width");
        assert_eq!(like_a_width(5.0, &lines).unwrap(), "about the white line's width");
        assert_eq!(like_a_width(7.9, &lines).unwrap(), "just over one and a half times the white line's width");
        assert_eq!(like_a_width(0.4, &lines), None);
        assert_eq!(like_a_width(30.0, &lines), None);
        assert_eq!(like_a_width(2.0, &[]), None);
    }

    #[test]
    fn lines_are_counted_within_their_colour() {
        let lines = [line(1, "white", 5.0), line(2, "blue", 2.0), line(3, "white", 5.0), line(4, "rust", 1.0)];
        assert_eq!(called(&lines[2], &lines), "the second white line");
        assert_eq!(called(&lines[3], &lines), "the rust line");
        for (number, word) in [(1, "first"), (12, "twelfth"), (13, "13th"), (21, "21st"), (112, "112th"), (23, "23rd")]
        {
            assert_eq!(ordinal(number), word);
        }
    }
}
