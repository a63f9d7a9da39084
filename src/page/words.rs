//! The rooms' sentences as the page says them: without the options of a command line that is not there.
//!
//! The rooms name an option either before a colon at the beginning or in round brackets, so that a sentence is whole
//! without it.

/// What a bracket that is for the command line begins with.
const BRACKETS: [&str; 3] = ["(--", "(seamstep ", "(X1,"];

/// `text` without options: `--length: too short` is "too short", `mark it (--seam)` is "mark it".
pub fn plain(text: &str) -> String {
    let text = match text.strip_prefix("--").and_then(|rest| rest.split_once(": ")) {
        Some((option, rest)) if !option.contains(' ') => rest,
        _ => text,
    };
    let mut plain = String::new();
    let mut rest = text;
    while let Some(at) = BRACKETS.iter().filter_map(|bracket| rest.find(bracket)).min() {
        let Some(end) = rest[at..].find(')') else { break };
        plain.push_str(rest[..at].trim_end());
        rest = &rest[at + end + 1..];
    }
    plain + rest
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::problem::Problem;
    use crate::scale::marks::check_length;
    use crate::verdict::Demand;

    #[test]
    fn options_are_left_out_and_the_rest_stays() {
        for (said, told) in [
            ("--length: 0 mm is no length", "0 mm is no length"),
            ("mark where it is (--seam \"X,Y X,Y\"), or not", "mark where it is, or not"),
            ("print one (seamstep card) and give them (--length, --repeat).", "print one and give them."),
            ("a jump (2 mm) stays (as it is", "a jump (2 mm) stays (as it is"),
            ("point 1 of the seam (--seam), (3, 4), lies", "point 1 of the seam, (3, 4), lies"),
            ("(--seam", "(--seam"),
        ] {
            assert_eq!(plain(said), told);
        }
    }

    #[test]
    fn what_the_rooms_say_is_whole_without_options() {
        let negative = Demand { tolerance_mm: Some(-1.0), ..Demand::default() }.check().unwrap_err();
        let short = check_length("--rectangle", 0.0).unwrap_err();
        for problem in [negative, short] {
            let Problem::Usage { message, help } = problem else { panic!() };
            for told in [plain(&message), plain(&help)] {
                assert!(!told.contains("--") && told.len() > 15, "{told}");
            }
        }
    }
}
