//! Step 4: the layout, in millimetres from the page's top left corner, y downward.

use super::ruler::{RULER_MM, Tick, inch_ticks, metric_ticks};
use super::symbol::{MODULES, QUIET_MODULES, dark_runs};
use super::wording;
use super::{CardOptions, MM_PER_INCH, OnPage, PageRect};
use crate::problem::Problem;
use crate::units::MmPoint;

/// White border of the page, left, right and below.
const MARGIN_MM: f64 = 18.0;
/// Left edge of the notes beside the card and the rulers.
const NOTES_X_MM: f64 = 133.0;
/// Where the card begins.
const CARD_TOP_MM: f64 = 44.0;
/// From the quiet zone to the cutting line.
const CUT_MM: f64 = 3.0;
/// From the quiet zone's lower edge to the cutting line: room for the side's measure.
const MEASURE_MM: f64 = 10.0;
/// The notes beside the card need at least this much height.
const NOTES_HEIGHT_MM: f64 = 48.0;
/// White between the card, the rulers and the steps.
const GAP_MM: f64 = 11.0;
/// From the ruler section's top to the end of the rulers.
const RULERS_HEIGHT_MM: f64 = 38.0;
/// From the metric ruler's top to the inch ruler's top.
const RULER_STEP_MM: f64 = 15.0;

/// Width of a figure in Helvetica, as a share of the type size: 556/1000 (Adobe's font metrics, from memory).
const FIGURE_WIDTH: f64 = 0.556;

/// A size and weight of type.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Type {
    pub size_mm: f64,
    pub bold: bool,
    /// From one baseline to the next.
    leading_mm: f64,
}

const TITLE: Type = Type { size_mm: 8.5, bold: true, leading_mm: 8.5 };
const HEADING: Type = Type { size_mm: 4.4, bold: true, leading_mm: 6.6 };
const BODY: Type = Type { size_mm: 3.9, bold: false, leading_mm: 5.3 };
const NOTE: Type = Type { size_mm: 3.6, bold: false, leading_mm: 4.9 };
const FIGURE: Type = Type { size_mm: 3.0, bold: false, leading_mm: 3.0 };
const MEASURE: Type = Type { size_mm: 4.2, bold: true, leading_mm: 4.2 };

/// Something drawn on the page, black unless it says otherwise.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Mark {
    /// Solid rectangles, to be painted as one path so that no seam shows where they touch.
    Solid(Vec<PageRect>),
    /// Straight lines of one width with square ends, in a grey from 0 (black) to 1 (white).
    Lines { ends: Vec<[MmPoint; 2]>, width_mm: f64, grey: f32 },
    /// Words from the start of their baseline.
    Words { at: MmPoint, style: Type, text: String },
}

/// A laid out page: what is drawn, and where the measured things stand.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Page {
    pub title: String,
    pub places: OnPage,
    pub marks: Vec<Mark>,
}

/// The page for checked options.
///
/// # Errors
/// What [`dark_runs`] refuses.
pub(super) fn lay_out(options: &CardOptions) -> Result<Page, Problem> {
    let places = places(options);
    let mut page = Page { title: format!("{}, {} mm", wording::TITLE, options.side_mm), places, marks: Vec::new() };
    page.words(MARGIN_MM, 26.0, TITLE, wording::TITLE);
    page.words(MARGIN_MM, 34.0, BODY, wording::PURPOSE);
    page.draw_card(options)?;
    page.draw_rulers();
    page.draw_steps();
    Ok(page)
}

fn places(options: &CardOptions) -> OnPage {
    let [width_mm, height_mm] = options.paper.size_mm();
    let side_mm = f64::from(options.side_mm);
    let quiet_mm = side_mm * f64::from(QUIET_MODULES) / f64::from(MODULES);
    let border_mm = quiet_mm + CUT_MM;
    let card = PageRect {
        x_mm: MARGIN_MM,
        y_mm: CARD_TOP_MM,
        width_mm: side_mm + 2.0 * border_mm,
        height_mm: side_mm + border_mm + quiet_mm + MEASURE_MM,
    };
    let ruler_y_mm = CARD_TOP_MM + card.height_mm.max(NOTES_HEIGHT_MM) + GAP_MM + HEADING.leading_mm + 2.0;
    OnPage {
        page: PageRect { x_mm: 0.0, y_mm: 0.0, width_mm, height_mm },
        card,
        symbol: PageRect {
            x_mm: card.x_mm + border_mm,
            y_mm: card.y_mm + border_mm,
            width_mm: side_mm,
            height_mm: side_mm,
        },
        ruler: PageRect { x_mm: MARGIN_MM, y_mm: ruler_y_mm, width_mm: RULER_MM, height_mm: 6.5 },
    }
}

impl Page {
    fn words(&mut self, x_mm: f64, baseline_mm: f64, style: Type, text: impl Into<String>) {
        self.marks.push(Mark::Words { at: MmPoint::new(x_mm, baseline_mm), style, text: text.into() });
    }

    /// Lines of words under each other; the baseline that the next line would have.
    fn paragraph(&mut self, x_mm: f64, first_baseline_mm: f64, style: Type, lines: &[&str]) -> f64 {
        let mut baseline_mm = first_baseline_mm;
        for line in lines {
            self.words(x_mm, baseline_mm, style, *line);
            baseline_mm += style.leading_mm;
        }
        baseline_mm
    }

    fn draw_card(&mut self, options: &CardOptions) -> Result<(), Problem> {
        let OnPage { card, symbol, .. } = self.places;
        let module_mm = symbol.width_mm / f64::from(MODULES);
        let solid = dark_runs(&options.symbol_text())?
            .into_iter()
            .map(|run| PageRect {
                x_mm: symbol.x_mm + module_mm * f64::from(run.column),
                y_mm: symbol.y_mm + module_mm * f64::from(run.row),
                width_mm: module_mm * f64::from(run.length),
                height_mm: module_mm,
            })
            .collect();
        self.marks.push(Mark::Solid(solid));

        let [right_mm, bottom_mm] = [card.x_mm + card.width_mm, card.y_mm + card.height_mm];
        let corners = [
            MmPoint::new(card.x_mm, card.y_mm),
            MmPoint::new(right_mm, card.y_mm),
            MmPoint::new(right_mm, bottom_mm),
            MmPoint::new(card.x_mm, bottom_mm),
        ];
        let ends = (0..4).map(|at| [corners[at], corners[(at + 1) % 4]]).collect();
        self.marks.push(Mark::Lines { ends, width_mm: 0.15, grey: 0.45 });

        let [left_mm, right_mm] = [symbol.x_mm, symbol.x_mm + symbol.width_mm];
        let line_mm = bottom_mm - MEASURE_MM + 1.5;
        let across = [MmPoint::new(left_mm, line_mm), MmPoint::new(right_mm, line_mm)];
        let tick = |x_mm| [MmPoint::new(x_mm, line_mm - 1.0), MmPoint::new(x_mm, line_mm + 1.0)];
        self.marks.push(Mark::Lines { ends: vec![across, tick(left_mm), tick(right_mm)], width_mm: 0.15, grey: 0.0 });
        self.words(left_mm, line_mm + 5.5, MEASURE, format!("{} mm", options.side_mm));

        self.words(NOTES_X_MM, card.y_mm + HEADING.size_mm, HEADING, wording::CHOICE_HEADING);
        let first_mm = card.y_mm + HEADING.size_mm + HEADING.leading_mm;
        self.paragraph(NOTES_X_MM, first_mm, NOTE, &wording::CHOICE);
        Ok(())
    }

    fn draw_rulers(&mut self) {
        let top_mm = self.places.ruler.y_mm;
        let heading_mm = top_mm - HEADING.leading_mm + 2.0;
        self.words(MARGIN_MM, heading_mm, HEADING, wording::RULER_HEADING);
        self.draw_ruler(top_mm, &metric_ticks(), RULER_MM, "cm");
        self.draw_ruler(top_mm + RULER_STEP_MM, &inch_ticks(), 4.0 * MM_PER_INCH, "in");
        self.paragraph(NOTES_X_MM, heading_mm, NOTE, &wording::RULER);
    }

    fn draw_ruler(&mut self, top_mm: f64, ticks: &[Tick], length_mm: f64, unit: &str) {
        let x_mm = MARGIN_MM;
        let edge = [MmPoint::new(x_mm, top_mm), MmPoint::new(x_mm + length_mm, top_mm)];
        let hung = ticks.iter().map(|tick| {
            let at_mm = x_mm + tick.along_mm;
            [MmPoint::new(at_mm, top_mm), MmPoint::new(at_mm, top_mm + tick.length_mm)]
        });
        let ends = std::iter::once(edge).chain(hung).collect();
        self.marks.push(Mark::Lines { ends, width_mm: 0.15, grey: 0.0 });

        let baseline_mm = top_mm + 10.0;
        for (tick, figure) in ticks.iter().filter_map(|tick| Some((tick, tick.figure?))) {
            let text = figure.to_string();
            let width_mm = FIGURE_WIDTH * FIGURE.size_mm * text.len() as f64;
            self.words(x_mm + tick.along_mm - width_mm / 2.0, baseline_mm, FIGURE, text);
        }
        self.words(x_mm + length_mm + 3.5, baseline_mm, FIGURE, unit);
    }

    fn draw_steps(&mut self) {
        let top_mm = self.places.ruler.y_mm - HEADING.leading_mm - 2.0 + RULERS_HEIGHT_MM + GAP_MM;
        let mut baseline_mm = top_mm + HEADING.size_mm;
        self.words(MARGIN_MM, baseline_mm, HEADING, wording::STEPS_HEADING);
        baseline_mm += HEADING.leading_mm;
        for (number, lines) in (1..).zip(wording::STEPS) {
            self.words(MARGIN_MM, baseline_mm, BODY, format!("{number}"));
            baseline_mm = self.paragraph(MARGIN_MM + 7.0, baseline_mm, BODY, lines) + 0.8;
        }
        self.words(MARGIN_MM, baseline_mm + 3.0, HEADING, wording::CAUTION_HEADING);
        self.paragraph(MARGIN_MM, baseline_mm + 3.0 + HEADING.leading_mm, BODY, &wording::CAUTION);
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Paper, SIDES_MM};
    use super::*;
    use ab_glyph::{Font, FontRef};

    fn every_page() -> impl Iterator<Item = (CardOptions, Page)> {
        [Paper::A4, Paper::Letter].into_iter().flat_map(|paper| {
            SIDES_MM.map(move |side_mm| {
                let options = CardOptions { side_mm, paper };
                (options, lay_out(&options).expect("laid out"))
            })
        })
    }

    /// The boxes of all words, set in a face wider than Helvetica: what an SVG viewer without Helvetica may do.
    fn word_boxes(page: &Page) -> Vec<(PageRect, &str)> {
        let regular = FontRef::try_from_slice(dejavu::sans::regular()).expect("a font");
        let bold = FontRef::try_from_slice(dejavu::sans::bold()).expect("a font");
        let boxed = |mark: &'_ Mark| match mark {
            Mark::Words { at, style, text } => {
                let font = if style.bold { &bold } else { &regular };
                let em = f64::from(font.units_per_em().expect("an outline font"));
                let advance: f64 =
                    text.chars().map(|c| f64::from(font.h_advance_unscaled(font.glyph_id(c)))).sum::<f64>();
                Some(PageRect {
                    x_mm: at.x,
                    y_mm: at.y - 0.76 * style.size_mm,
                    width_mm: advance / em * style.size_mm,
                    height_mm: style.size_mm,
                })
            }
            _ => None,
        };
        page.marks
            .iter()
            .filter_map(|mark| match mark {
                Mark::Words { text, .. } => Some((boxed(mark)?, text.as_str())),
                _ => None,
            })
            .collect()
    }

    fn overlap(a: &PageRect, b: &PageRect) -> bool {
        a.x_mm < b.x_mm + b.width_mm
            && b.x_mm < a.x_mm + a.width_mm
            && a.y_mm < b.y_mm + b.height_mm
            && b.y_mm < a.y_mm + a.height_mm
    }

    #[test]
    fn the_cutting_line_stands_well_outside_the_quiet_zone() {
        for (options, page) in every_page() {
            let OnPage { card, symbol, .. } = page.places;
            let side_mm = f64::from(options.side_mm);
            assert_eq!([symbol.width_mm, symbol.height_mm], [side_mm; 2]);
            // Four light modules (ISO/IEC 18004, from memory) of the 25 that version 2 has (read).
            let needed_mm = side_mm * 4.0 / 25.0 + 2.9;
            for border_mm in [
                symbol.x_mm - card.x_mm,
                symbol.y_mm - card.y_mm,
                card.x_mm + card.width_mm - symbol.x_mm - side_mm,
                card.y_mm + card.height_mm - symbol.y_mm - side_mm,
            ] {
                assert!(border_mm > needed_mm, "{border_mm} mm at a side of {side_mm} mm");
            }
        }
    }

    #[test]
    fn nothing_overlaps_and_all_fits_on_every_page() {
        for (options, page) in every_page() {
            let OnPage { page: sheet, card, ruler, .. } = page.places;
            let boxes = word_boxes(&page);
            for (at, (one, text)) in boxes.iter().enumerate() {
                let [right_mm, bottom_mm] = [one.x_mm + one.width_mm, one.y_mm + one.height_mm];
                assert!(right_mm < sheet.width_mm - 10.0, "{text}: ends at {right_mm} mm, {options:?}");
                assert!(bottom_mm < sheet.height_mm - 12.0, "{text}: ends at {bottom_mm} mm, {options:?}");
                let on_card = overlap(one, &card);
                assert_eq!(on_card, *text == format!("{} mm", options.side_mm), "{text}, {options:?}");
                assert!(!overlap(one, &ruler), "{text} lies on the ruler, {options:?}");
                for (other, words) in &boxes[at + 1..] {
                    assert!(!overlap(one, other), "\"{text}\" and \"{words}\" overlap, {options:?}");
                }
            }
        }
    }
}
