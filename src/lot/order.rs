//! The order of names as a person has it: `piece 9` before `piece 10`.

use std::cmp::Ordering;

/// The order of two names: numbers in them by their value, everything else letter by letter. Only equal names are equal.
pub fn natural(a: &str, b: &str) -> Ordering {
    let (mut left, mut right) = (a, b);
    loop {
        let (Some(l), Some(r)) = (left.chars().next(), right.chars().next()) else {
            return left.len().cmp(&right.len()).then_with(|| a.cmp(b));
        };
        let order = if l.is_ascii_digit() && r.is_ascii_digit() {
            let [(n, left_rest), (m, right_rest)] = [left, right].map(number);
            (left, right) = (left_rest, right_rest);
            n.len().cmp(&m.len()).then_with(|| n.cmp(m))
        } else {
            (left, right) = (&left[l.len_utf8()..], &right[r.len_utf8()..]);
            l.cmp(&r)
        };
        if order.is_ne() {
            return order;
        }
    }
}

/// The digits at the beginning, without zeros before them, and what follows.
fn number(text: &str) -> (&str, &str) {
    let (digits, rest) = text.split_at(text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len()));
    (digits.trim_start_matches('0'), rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_ordered_by_their_value() {
        let sorted = ["", "a", "a/2", "a/10", "a01", "a1", "a1b", "a2", "a10", "a99999999999999999999999", "b", "é1"];
        for (i, a) in sorted.iter().enumerate() {
            for (j, b) in sorted.iter().enumerate() {
                assert_eq!(natural(a, b), i.cmp(&j), "{a} {b}");
            }
        }
    }
}
