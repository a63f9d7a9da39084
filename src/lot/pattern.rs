//! What a photograph's name says of it: a pattern of words and fields, `{piece}_{place}_{by}`.
//!
//! A field stands for one letter or more, never a slash; `{}` for anything that is not wanted. `place` must be the word of a
//! place. Where a name can be read in two ways, earlier fields are short. A pattern with slashes reads as many folders of
//! the path. The ending of the name, and of the pattern, does not matter.

use crate::problem::Problem;
use crate::record::Subject;
use crate::verdict::Place;
use crate::written::nearest;
use clap::ValueEnum;
use std::collections::HashSet;
use std::path::Path;

/// The fields that are known.
pub const FIELDS: [&str; 3] = ["piece", "place", "by"];

/// A pattern of names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pattern {
    parts: Vec<Part>,
    /// As it was given.
    text: String,
}

#[derive(Clone, Debug, PartialEq, Eq)]
enum Part {
    /// What must stand there.
    Words(String),
    /// A field of [`FIELDS`].
    Field(&'static str),
    /// Anything.
    Any,
}

/// What a name says: values of [`FIELDS`].
type Said<'a> = Vec<(&'static str, &'a str)>;

impl Pattern {
    /// Reads a pattern.
    ///
    /// # Errors
    /// [`Problem::Usage`] where it names no field, an unknown one, one twice, or two that touch.
    pub fn read(text: &str) -> Result<Self, Problem> {
        let wrong = |what: &str, help: String| Problem::usage(format!("--named {text:?}: {what}"), help);
        let example = || "for example: --named \"{piece}_{place}_{by}\"".to_owned();
        let mut parts: Vec<Part> = Vec::new();
        let mut rest = without_ending(text);
        while !rest.is_empty() {
            let part = if let Some(inside) = rest.strip_prefix('{') {
                let Some((name, after)) = inside.split_once('}') else {
                    return Err(wrong("a { is not closed", example()));
                };
                rest = after;
                match FIELDS.iter().find(|field| **field == name) {
                    Some(field) => Part::Field(field),
                    None if name.is_empty() => Part::Any,
                    None => {
                        let known = format!("the fields are {{{}}} and {{}} for anything", FIELDS.join("}, {"));
                        let help = nearest(name, &FIELDS)
                            .map_or(known.clone(), |near| format!("did you mean {{{near}}}? {known}"));
                        return Err(wrong(&format!("there is no field {{{name}}}"), help));
                    }
                }
            } else {
                let (words, after) = rest.split_at(rest.find('{').unwrap_or(rest.len()));
                rest = after;
                Part::Words(words.to_owned())
            };
            let touches = !matches!(part, Part::Words(_)) && parts.last().is_some_and(|p| !matches!(p, Part::Words(_)));
            if touches {
                return Err(wrong(
                    "two fields touch",
                    "put something between them that stands in the names too".into(),
                ));
            }
            if matches!(part, Part::Field(_)) && parts.contains(&part) {
                return Err(wrong("a field stands twice", example()));
            }
            parts.push(part);
        }
        if !parts.iter().any(|part| matches!(part, Part::Field(_))) {
            return Err(wrong("it names no field", example()));
        }
        Ok(Pattern { parts, text: text.to_owned() })
    }

    /// The pattern as it was given.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Fills in what the photograph's name says and nobody has said yet; `false`, and nothing filled in, where the name does
    /// not fit.
    pub fn fill_in(&self, subject: &mut Subject) -> bool {
        let file = subject.file.clone();
        let name = self.part_of(&file);
        let mut said = Vec::new();
        if !fits(&self.parts, name, 0, &mut said, &mut HashSet::new()) {
            return false;
        }
        for (field, value) in said {
            match field {
                "piece" => drop(subject.piece.get_or_insert_with(|| value.to_owned())),
                "by" => drop(subject.by.get_or_insert_with(|| value.to_owned())),
                _ => subject.place = subject.place.or(place(value)),
            }
        }
        true
    }

    /// As much of the end of the path as the pattern speaks of.
    fn part_of<'a>(&self, file: &'a str) -> &'a str {
        let folders: usize = self
            .parts
            .iter()
            .map(|part| if let Part::Words(words) = part { words.matches('/').count() } else { 0 })
            .sum();
        let name = without_ending(file);
        name.rmatch_indices('/').nth(folders).map_or(name, |(at, _)| &name[at + 1..])
    }
}

/// The name without the ending of its last part.
fn without_ending(name: &str) -> &str {
    let ending = Path::new(name).extension().map_or(0, |ending| ending.len() + 1);
    let plain = &name[name.len() - ending..];
    if plain.contains(['{', '}']) { name } else { &name[..name.len() - ending] }
}

fn place(word: &str) -> Option<Place> {
    Place::from_str(word, true).ok()
}

/// Whether `parts` from the `at`-th on fit all of `name`, and what its fields say then. What was tried in vain once is not
/// tried again, so that the work grows with the name's length, not with the ways to cut it.
fn fits<'a>(parts: &[Part], name: &'a str, at: usize, said: &mut Said<'a>, vain: &mut HashSet<(usize, usize)>) -> bool {
    let Some(part) = parts.get(at) else { return name.is_empty() };
    if vain.contains(&(at, name.len())) {
        return false;
    }
    let fit = match part {
        Part::Words(words) => {
            name.strip_prefix(words.as_str()).is_some_and(|rest| fits(parts, rest, at + 1, said, vain))
        }
        Part::Any | Part::Field(_) => {
            let ends = name.char_indices().map(|(k, c)| (k + c.len_utf8(), c)).take_while(|(_, c)| *c != '/');
            ends.map(|(end, _)| end).any(|end| {
                let (value, rest) = name.split_at(end);
                let known = match part {
                    Part::Field("place") => place(value).is_some(),
                    _ => true,
                };
                let before = said.len();
                if let Part::Field(field) = part {
                    said.push((field, value));
                }
                let fit = known && fits(parts, rest, at + 1, said, vain);
                if !fit {
                    said.truncate(before);
                }
                fit
            })
        }
    };
    if !fit {
        vain.insert((at, name.len()));
    }
    fit
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(pattern: &str, file: &str) -> Option<(Option<String>, Option<Place>, Option<String>)> {
        let mut subject = Subject { file: file.into(), ..Subject::default() };
        let fits = Pattern::read(pattern).unwrap().fill_in(&mut subject);
        fits.then_some((subject.piece, subject.place, subject.by))
    }

    #[test]
    fn a_name_says_piece_place_and_person() {
        let all = |p: &str, place, by: &str| Some((Some(p.to_owned()), Some(place), Some(by.to_owned())));
        assert_eq!(read("{piece}_{place}_{by}.jpg", "lot/12_hem_Ann.JPG"), all("12", Place::Hem, "Ann"));
        assert_eq!(read("{piece}_{place}_{by}", "12_side-seam_Jo_B.webp"), all("12", Place::SideSeam, "Jo_B"));
        // The place decides where the piece ends, though earlier fields are short.
        assert_eq!(read("{piece}-{place}-{by}", "a-12-centre-back-Jo.png"), all("a-12", Place::CentreBack, "Jo"));
        assert_eq!(read("{by}/{piece}/{}_{place}", "x/Jo/7/IMG_1_zip.jpg"), all("7", Place::Zip, "Jo"));
        assert_eq!(read("{piece}_{place}", "7_nowhere.jpg"), None);
        assert_eq!(read("{piece}_{place}", "_zip.jpg"), None);
        assert_eq!(read("IMG {piece}", "IMG é.jpg"), Some((Some("é".into()), None, None)));
    }

    #[test]
    fn what_was_said_before_stays() {
        let mut subject = Subject { file: "7_zip.jpg".into(), piece: Some("8".into()), ..Subject::default() };
        assert!(Pattern::read("{piece}_{place}").unwrap().fill_in(&mut subject));
        assert_eq!((subject.piece.as_deref(), subject.place), (Some("8"), Some(Place::Zip)));
    }

    #[test]
    fn a_long_name_is_not_tried_in_every_way() {
        let pattern = "{}_{}_{}_{}_{}_{}_{}_{}_{piece}-x";
        assert_eq!(read(pattern, &"_".repeat(2000)), None);
    }

    #[test]
    fn a_pattern_that_cannot_be_is_told() {
        for (pattern, what, help) in [
            ("{pice}_{place}", "{pice}", "{piece}"),
            ("{piece}{place}", "touch", "between"),
            ("{piece}{}", "touch", "between"),
            ("{piece}_{piece}", "twice", "--named"),
            ("{piece", "not closed", "--named"),
            ("name.jpg", "no field", "--named"),
            ("", "no field", "--named"),
        ] {
            let problem = Pattern::read(pattern).unwrap_err();
            assert!(problem.to_string().contains(what) && problem.help().contains(help), "{pattern}: {problem}");
        }
    }
}
