//! Breaking a sentence into lines that fit, whatever "fit" means: characters in text, pixels in a picture.

/// `text` in lines for which `fits` is true; a single word that does not fit is cut.
///
/// A line has at least one character, so a `fits` that is never true still ends.
pub fn wrap(text: &str, fits: impl Fn(&str) -> bool) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
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
    fn a_word_that_is_too_long_is_cut() {
        assert_eq!(wrap("a 1234567 b", |line| line.len() <= 3), ["a", "123", "456", "7 b"]);
        assert_eq!(wrap("ab", |_| false), ["a", "b"]);
        assert!(wrap("  ", |_| true).is_empty());
    }
}
