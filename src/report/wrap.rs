//! Breaking a sentence into lines that fit, whatever "fit" means: characters in text, pixels in a picture.

/// Words that stay on the line of the number before them.
const UNITS: [&str; 6] = ["mm", "m", "in", "%", "min", "±"];

/// `text` in lines for which `fits` is true; a number keeps its unit, and a single word that does not fit is cut.
///
/// A line has at least one character, so a `fits` that is never true still ends.
pub fn wrap(text: &str, fits: impl Fn(&str) -> bool) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in with_units(text) {
        let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if fits(&longer) {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for letter in word.chars() {
            line.push(letter);
            if !fits(&line) && line.chars().count() > 1 {
                line.pop();
                lines.push(std::mem::replace(&mut line, letter.to_string()));
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// The words of `text`, each number together with the unit that follows it.
fn with_units(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let bare = word.trim_end_matches(['.', ',', ';', ':', ')']);
        let fraction = bare.contains('/') && bare.starts_with(|c: char| c.is_ascii_digit());
        let unit = UNITS.contains(&bare) || fraction;
        let number = |before: &str| before.ends_with(|c: char| c.is_ascii_digit());
        match words.last_mut().filter(|before| before.ends_with('±') || unit && number(before)) {
            Some(before) => *before += &format!(" {word}"),
            None => words.push(word.to_owned()),
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_fit_and_no_word_is_lost() {
        let text = "pin the right side again 3 mm higher from the waist to the notch";
        let lines = wrap(text, |line| line.len() <= 20);
        assert!(lines.iter().all(|line| line.len() <= 20));
        assert_eq!(lines.join(" "), text);
    }

    #[test]
    fn a_number_keeps_its_unit() {
        assert_eq!(wrap("move it 3 mm. Then sew", |line| line.len() <= 9), ["move it", "3 mm.", "Then sew"]);
        assert_eq!(wrap("from 2 5/8 in on", |line| line.len() <= 8), ["from", "2 5/8 in", "on"]);
        assert_eq!(wrap("out by 0.4 ± 0.2 mm", |line| line.chars().count() <= 12), ["out by", "0.4 ± 0.2 mm"]);
    }

    #[test]
    fn a_word_that_is_too_long_is_cut() {
        assert_eq!(wrap("a 1234567 b", |line| line.len() <= 3), ["a", "123", "456", "7 b"]);
        assert_eq!(wrap("ab", |_| false), ["a", "b"]);
        assert!(wrap("  ", |_| true).is_empty());
    }
}
