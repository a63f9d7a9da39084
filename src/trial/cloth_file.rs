//! A cloth in words: from the few figures of the command line, or from a description in JSON.
//!
//! ```json
//! { "weave": "twill", "thread_mm": 0.4, "texture": 1,
//!   "weft": [ { "width_mm": 20, "colour": "#cec1a8" }, { "width_mm": 6, "colour": "#343c54" } ],
//!   "warp": [ { "width_mm": 0.4, "colour": "#cec1a8" } ] }
//! ```
//!
//! `weft` is one repeat of what is met along the seam (the lines that cross it), `warp` one repeat of what is met across
//! it; left out, it is a plain ground of the weft's first colour. `weave` is `plain`, `twill` or `printed`, `texture` 0
//! to 2 (1, a natural yarn, when left out).

use crate::problem::Problem;
use crate::render::{Band, Cloth, Srgb, Weave};
use serde::Deserialize;

/// The default repeat, millimetres.
pub const USUAL_REPEAT_MM: f64 = 20.0;
/// The default distance from thread to thread, millimetres.
const USUAL_THREAD_MM: f64 = 0.35;
/// The default colours: the ground first, then the lines in turn.
pub const USUAL_COLOURS: [Srgb; 4] = [[206, 193, 168], [52, 60, 84], [164, 84, 58], [112, 120, 82]];

/// The lines of a cloth as they are told on the command line.
#[derive(Clone, Debug, Default)]
pub struct Lines {
    /// One repeat, millimetres; `None`: [`USUAL_REPEAT_MM`].
    pub repeat_mm: Option<f64>,
    /// Widths of the lines in one repeat, spread evenly over it, millimetres; empty: one, a quarter of the repeat wide.
    pub widths_mm: Vec<f64>,
    /// The ground's colour, then the lines' in turn; what is missing is taken from [`USUAL_COLOURS`].
    pub colours: Vec<Srgb>,
    /// Whether the same lines run along the seam too.
    pub checked: bool,
}

impl Lines {
    /// A cloth with these lines, in twill.
    ///
    /// # Errors
    /// [`Problem::Usage`] where they cannot be: no repeat, or lines that leave no ground between them.
    pub fn cloth(&self) -> Result<Cloth, Problem> {
        let repeat_mm = self.repeat_mm.unwrap_or(USUAL_REPEAT_MM);
        if !(1.0..=400.0).contains(&repeat_mm) {
            return Err(Problem::usage(
                format!("--repeat: {repeat_mm} mm cannot be tried"),
                "give 1 to 400 mm, measured over ten repeats of the flat cloth",
            ));
        }
        let widths_mm = if self.widths_mm.is_empty() { vec![repeat_mm / 4.0] } else { self.widths_mm.clone() };
        if let Some(width) = widths_mm.iter().find(|width| !(0.05..=400.0).contains(*width)) {
            return Err(Problem::usage(
                format!("--line: {width} mm cannot be the width of a line"),
                "give 0.05 mm or more",
            ));
        }
        let ground_mm = (repeat_mm - widths_mm.iter().sum::<f64>()) / widths_mm.len() as f64;
        if ground_mm < 0.05 {
            return Err(Problem::usage(
                format!(
                    "--line: lines of {} mm in all leave no ground between them in a repeat of {repeat_mm} mm",
                    widths_mm.iter().sum::<f64>()
                ),
                "give narrower lines or a longer --repeat; for bands that touch, describe the cloth with --cloth",
            ));
        }
        let colour =
            |k: usize| *self.colours.get(k).unwrap_or(&USUAL_COLOURS[if k == 0 { 0 } else { 1 + (k - 1) % 3 }]);
        // With colours given for some lines, the others take their turn among these.
        let line_colour = |k: usize| match self.colours.len() {
            0 | 1 => colour(k + 1),
            told => self.colours[1 + k % (told - 1)],
        };
        let weft: Vec<Band> = (widths_mm.iter().enumerate())
            .flat_map(|(k, &width_mm)| {
                [Band { width_mm: ground_mm, colour: colour(0) }, Band { width_mm, colour: line_colour(k) }]
            })
            .collect();
        let warp = if self.checked { weft.clone() } else { ground(colour(0), USUAL_THREAD_MM) };
        Ok(Cloth { weave: Weave::Twill, thread_mm: USUAL_THREAD_MM, weft, warp, texture: 1.0 })
    }
}

fn ground(colour: Srgb, thread_mm: f64) -> Vec<Band> {
    vec![Band { width_mm: thread_mm, colour }]
}

/// The description as it stands in the file.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Description {
    weave: Weave,
    thread_mm: f64,
    texture: Option<f64>,
    weft: Vec<BandRow>,
    warp: Option<Vec<BandRow>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BandRow {
    width_mm: f64,
    colour: String,
}

/// Reads a cloth from its description; `name` says which in a message.
///
/// Whether such a cloth can be rendered is seen when it is tried.
///
/// # Errors
/// [`Problem::Usage`] where the text is no such description, with the line and column.
pub fn read(text: &str, name: &str) -> Result<Cloth, Problem> {
    let no = |what: String| {
        Problem::usage(
            format!("--cloth: {name} does not describe a cloth: {what}"),
            r##"for example {"weave": "twill", "thread_mm": 0.4, "weft": [{"width_mm": 15, "colour": "#cec1a8"}, {"width_mm": 5, "colour": "#343c54"}]}"##,
        )
    };
    let described: Description = serde_json::from_str(text).map_err(|e| no(e.to_string()))?;
    let bands = |rows: Vec<BandRow>| {
        rows.into_iter()
            .map(|row| Ok(Band { width_mm: row.width_mm, colour: colour(&row.colour).map_err(&no)? }))
            .collect::<Result<Vec<Band>, Problem>>()
    };
    let weft = bands(described.weft)?;
    let Some(first) = weft.first() else { return Err(no("weft holds no band".into())) };
    let warp = match described.warp {
        Some(rows) => bands(rows)?,
        None => ground(first.colour, described.thread_mm),
    };
    Ok(Cloth {
        weave: described.weave,
        thread_mm: described.thread_mm,
        weft,
        warp,
        texture: described.texture.unwrap_or(1.0),
    })
}

/// `#rrggbb`.
///
/// # Errors
/// What is wrong and how to write one.
pub fn colour(text: &str) -> Result<Srgb, String> {
    let digits = text.trim().strip_prefix('#').filter(|d| d.len() == 6 && d.bytes().all(|b| b.is_ascii_hexdigit()));
    let number = digits.and_then(|digits| u32::from_str_radix(digits, 16).ok());
    let number = number.ok_or_else(|| format!("'{text}' is not a colour; write it as #rrggbb, for example #343c54"))?;
    let [_, r, g, b] = number.to_be_bytes();
    Ok([r, g, b])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_spread_over_the_repeat() {
        let lines = Lines { repeat_mm: Some(30.0), widths_mm: vec![4.0, 2.0], ..Lines::default() };
        let cloth = lines.cloth().unwrap();
        assert_eq!(cloth.weft.iter().map(|b| b.width_mm).collect::<Vec<_>>(), [12.0, 4.0, 12.0, 2.0]);
        assert_eq!(cloth.weft.iter().map(|b| b.colour).collect::<Vec<_>>()[1], USUAL_COLOURS[1]);
        assert_eq!(cloth.warp.len(), 1);
        assert_eq!(Lines { checked: true, ..lines }.cloth().unwrap().warp, cloth.weft);
        assert_eq!(Lines::default().cloth().unwrap().repeat_mm(), Some(USUAL_REPEAT_MM));
    }

    #[test]
    fn lines_that_cannot_be_are_refused() {
        for repeat_mm in [0.0, -3.0, f64::NAN, f64::INFINITY, 1e9] {
            assert!(Lines { repeat_mm: Some(repeat_mm), ..Lines::default() }.cloth().is_err(), "{repeat_mm}");
        }
        for widths_mm in [vec![20.0], vec![10.0, 10.0], vec![-1.0], vec![f64::NAN], vec![0.0]] {
            assert!(Lines { widths_mm: widths_mm.clone(), ..Lines::default() }.cloth().is_err(), "{widths_mm:?}");
        }
    }

    #[test]
    fn a_description_is_read_and_a_wrong_one_is_explained() {
        let text = r##"{"weave": "plain", "thread_mm": 0.25,
            "weft": [{"width_mm": 3, "colour": "#e8e6de"}, {"width_mm": 2, "colour": "#587ab2"}]}"##;
        let cloth = read(text, "a.json").unwrap();
        assert_eq!((cloth.weave, cloth.repeat_mm(), cloth.texture), (Weave::Plain, Some(5.0), 1.0));
        assert_eq!(cloth.warp, [Band { width_mm: 0.25, colour: [232, 230, 222] }]);
        for (wrong, word) in [
            ("", "line 1"),
            ("[1, 2]", "line 1"),
            (&text.replace("plain", "knit"), "knit"),
            (&text.replace("#587ab2", "blue"), "#rrggbb"),
            (&text.replace("thread_mm", "thread"), "thread"),
            (r#"{"weave": "plain", "thread_mm": 1, "weft": []}"#, "no band"),
        ] {
            let said = read(wrong, "a.json").unwrap_err().to_string();
            assert!(said.contains("a.json") && said.contains(word), "{said}");
        }
    }

    #[test]
    fn what_a_description_holds_is_told_on_one_line() {
        let whole = r##"{"weave": "plain", "thread_mm": 0.25, "weft": [{"width_mm": 3, "colour": "#e8e6de"}]}"##;
        for from in ["weave", "plain", "colour", "#e8e6de"] {
            let wrong = whole.replace(from, r"one\ntwo\u001b[2J");
            let said = read(&wrong, "a.json").unwrap_err().to_string();
            assert!(said.contains(r"one\ntwo\u{1b}[2J") && !said.contains(char::is_control), "{said}");
        }
    }

    #[test]
    fn colours_are_six_hexadecimal_digits() {
        assert_eq!(colour("#0a10FF"), Ok([10, 16, 255]));
        for wrong in ["", "#", "0a10ff", "#0a10f", "#0a10ff0", "#0a10fg", "#+a10ff", "#äöü"] {
            assert!(colour(wrong).is_err(), "{wrong}");
        }
    }
}
