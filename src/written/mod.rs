//! Points, marks and lengths as people write them: on the command line, in a form's field, and in a TOML file
//! ([`toml_file`]).

pub mod toml_file;

use crate::digits::Unit;
use crate::units::PxPoint;
use serde::Deserialize;

/// Four corners and a size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rectangle {
    /// The corners in the picture, clockwise from the top left.
    pub corners_px: [PxPoint; 4],
    /// Length of the top edge, millimetres.
    pub width_mm: f64,
    /// Length of the left edge, millimetres.
    pub height_mm: f64,
}

/// Two points and their distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Length {
    /// The points in the picture.
    pub ends_px: [PxPoint; 2],
    /// Their distance, millimetres.
    pub length_mm: f64,
}

/// What lengths are told in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "lowercase")]
pub enum Units {
    /// Millimetres
    Mm,
    /// Sixteenths of an inch
    In,
}

impl From<Units> for Unit {
    fn from(units: Units) -> Self {
        match units {
            Units::Mm => Unit::Millimetre,
            Units::In => Unit::Sixteenth,
        }
    }
}

/// `X,Y X,Y …`: two points or more.
///
/// # Errors
/// One sentence that says how to write it.
pub fn points(text: &str) -> Result<Vec<PxPoint>, String> {
    let points = text
        .split_whitespace()
        .map(|pair| match numbers(pair)?[..] {
            [x, y] => Ok(PxPoint::new(x, y)),
            _ => Err(format!("'{pair}' is not a point; write it as X,Y")),
        })
        .collect::<Result<Vec<_>, String>>()?;
    if points.len() < 2 {
        return Err("a seam needs two points or more, for example \"600,20 610,880\"".into());
    }
    Ok(points)
}

/// `X1,Y1,X2,Y2,X3,Y3,X4,Y4,WxH`.
///
/// # Errors
/// One sentence that says how to write it.
pub fn rectangle(text: &str) -> Result<Rectangle, String> {
    let form = "write it as X1,Y1,X2,Y2,X3,Y3,X4,Y4,WIDTHxHEIGHT, for example 10,10,300,12,298,220,8,215,148x105";
    let (corners, size) = text.rsplit_once(',').ok_or(form)?;
    let (width, height) = size.split_once(['x', 'X', '×']).ok_or(form)?;
    let [width_mm, height_mm] = [width, height].map(number);
    match numbers(corners)?[..] {
        [a, b, c, d, e, f, g, h] => Ok(Rectangle {
            corners_px: [PxPoint::new(a, b), PxPoint::new(c, d), PxPoint::new(e, f), PxPoint::new(g, h)],
            width_mm: width_mm?,
            height_mm: height_mm?,
        }),
        _ => Err(form.into()),
    }
}

/// `X1,Y1,X2,Y2,MM`.
///
/// # Errors
/// One sentence that says how to write it.
pub fn length(text: &str) -> Result<Length, String> {
    match numbers(text)?[..] {
        [a, b, c, d, length_mm] => Ok(Length { ends_px: [PxPoint::new(a, b), PxPoint::new(c, d)], length_mm }),
        _ => Err("write it as X1,Y1,X2,Y2,MM, for example 120,60,118,840,100".into()),
    }
}

/// `X,Y X,Y`: two points.
///
/// # Errors
/// One sentence that says how to write it.
pub fn two_points(text: &str) -> Result<[PxPoint; 2], String> {
    let form = "write two points as \"X,Y X,Y\", for example \"30,40 36,900\"";
    match points(text).map_err(|_| form)?[..] {
        [a, b] => Ok([a, b]),
        _ => Err(form.into()),
    }
}

/// Pieces of cloth: a length in millimetres or in inches with their unit, and how many of it: `620`, `24in`, `540x2`.
///
/// # Errors
/// One sentence that says how to write it.
pub fn pieces(text: &str) -> Result<(f64, usize), String> {
    let (length, count) = text.rsplit_once(['x', '×']).unwrap_or((text, "1"));
    match (length_mm(length), count.trim().parse::<usize>()) {
        (Some(length_mm), Ok(count)) if length_mm > 0.0 && count > 0 => Ok((length_mm, count)),
        _ => Err(format!("'{text}' is no piece; write it as 620 (millimetres), 24in, or 540x2 for two of them")),
    }
}

/// A tolerance: millimetres, or inches with their unit.
///
/// # Errors
/// One sentence that says how to write it.
pub fn tolerance(text: &str) -> Result<f64, String> {
    length_mm(text).ok_or_else(|| format!("'{text}' is no length; write it as 1.5 (millimetres) or as 1/16in"))
}

/// A length with its unit, in millimetres: `1.5`, `1.5mm`, `1/16in`, `0.06 in`, `1 1/2in`; `None` where it is none or
/// is not finite.
pub fn length_mm(text: &str) -> Option<f64> {
    let text = text.trim();
    let (number, unit_mm) = match text.strip_suffix("in") {
        Some(inches) => (inches, 25.4),
        None => (text.strip_suffix("mm").unwrap_or(text), 1.0),
    };
    let plain = |part: &str| part.parse::<f64>().ok().filter(|v| v.is_finite());
    let parts: Vec<&str> = number.split_whitespace().collect();
    let fraction = |part: &str| match part.split_once('/') {
        Some((over, under)) => plain(under).filter(|u| *u > 0.0).and_then(|u| Some(plain(over)? / u)),
        None => plain(part),
    };
    let value = match parts[..] {
        [one] => fraction(one)?,
        [whole, part] if part.contains('/') => plain(whole)? + fraction(part)?,
        _ => return None,
    };
    // Inches, and a whole with a fraction, may be finite where their millimetres or their sum is not.
    Some(value * unit_mm).filter(|mm| mm.is_finite())
}

/// The word of `known` that is most like `word`; `None` where none is like it.
pub fn nearest<'a>(word: &str, known: &[&'a str]) -> Option<&'a str> {
    /// The least likeness (Jaro and Winkler's, 0 to 1) of a word that was meant.
    const LEAST: f64 = 0.75;
    let word = word.to_lowercase();
    let likeness = |other: &str| strsim::jaro_winkler(&word, other);
    let best = known.iter().copied().max_by(|a, b| likeness(a).total_cmp(&likeness(b)))?;
    (likeness(best) >= LEAST).then_some(best)
}

fn numbers(text: &str) -> Result<Vec<f64>, String> {
    text.split(',').map(number).collect()
}

fn number(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(format!("'{}' is not a number", text.trim())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_read_in_both_units() {
        for (text, mm) in [
            ("1.5", 1.5),
            (" 1.5 mm ", 1.5),
            ("1/16in", 1.5875),
            ("1/8 in", 3.175),
            ("1 1/2in", 38.1),
            ("0.5in", 12.7),
            ("-2", -2.0),
        ] {
            assert!((length_mm(text).unwrap() - mm).abs() < 1e-12, "{text}");
        }
        for text in ["", "in", "1/0in", "1 2", "a", "1cm", "1//2", "nan", "inf", "1e308 1/2in", "1e308in", "1e308/0.1"]
        {
            assert!(length_mm(text).is_none(), "{text}");
        }
    }

    #[test]
    fn the_nearest_word_is_the_one_that_was_meant() {
        let known = ["place", "photo", "tolerance"];
        assert_eq!(nearest("tolerence", &known), Some("tolerance"));
        assert_eq!(nearest("Plce", &known), Some("place"));
        assert_eq!(nearest("xyz", &known), None);
        assert_eq!(nearest("photo", &[]), None);
    }

    #[test]
    fn marks_are_read() {
        assert_eq!(points("1,2 3.5,-4").unwrap(), [PxPoint::new(1.0, 2.0), PxPoint::new(3.5, -4.0)]);
        assert_eq!(length("1,2,3,4,100").unwrap().length_mm, 100.0);
        let r = rectangle("0,0,10,0,10,5,0,5,148x105").unwrap();
        assert_eq!((r.width_mm, r.height_mm, r.corners_px[2]), (148.0, 105.0, PxPoint::new(10.0, 5.0)));
    }

    #[test]
    fn pieces_are_read_with_their_number() {
        assert_eq!(pieces("620").unwrap(), (620.0, 1));
        assert_eq!(pieces("24in x 3").unwrap(), (609.5999999999999, 3));
        for bad in ["", "x2", "-5", "620x0", "620x-1", "620xx2", "1e999", "1e308in"] {
            assert!(pieces(bad).is_err(), "{bad}");
        }
        assert_eq!(two_points("1,2 3,4").unwrap()[1], PxPoint::new(3.0, 4.0));
        assert!(two_points("1,2 3,4 5,6").is_err() && two_points("1,2").is_err());
    }

    #[test]
    fn a_length_that_is_not_finite_is_refused_and_told() {
        for text in ["1e308 1/2in", "-1e308in", "1e400"] {
            let said = tolerance(text).unwrap_err();
            assert!(said.contains(text) && said.contains("1/16in"), "{said}");
            assert!(pieces(text).unwrap_err().contains(text));
            assert!(rectangle(&format!("0,0,10,0,10,5,0,5,{text}x105")).is_err(), "{text}");
            assert!(length(&format!("1,2,3,4,{text}")).is_err(), "{text}");
        }
    }

    #[test]
    fn what_is_no_mark_says_how_to_write_one() {
        for bad in ["", "1,2", "1,2 x,4", "1,2 3", "1,2,3 4,5,6", "1,nan 2,3", "inf,1 2,3"] {
            assert!(points(bad).is_err(), "{bad}");
        }
        for bad in ["", "1,2,3,4", "0,0,1,0,1,1,0,1,10", "0,0,1,0,1,1,0,1,axb", "0,0,1,0,1,1,0,1,2,3x4"] {
            assert!(rectangle(bad).is_err(), "{bad}");
        }
        for bad in ["", "1,2,3,4", "1,2,3,4,x", "1,2,3,4,5,6"] {
            assert!(length(bad).is_err(), "{bad}");
        }
    }
}
