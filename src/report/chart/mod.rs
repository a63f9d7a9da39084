//! Charts of one finding: the offset along the seam, the two sides' profiles before and after they are laid on one
//! another, and the spectrum along the seam.
//!
//! The lettering is embedded. Curves that must be told apart differ in their dashes, states in their signs, so that a
//! chart can be read in grey. An SVG carries the light scheme's colours, which the style sheet restyles by night.

mod offset;

mod profiles;

mod spectrum;

use super::look::{self, Colour};
use crate::finding::Finding;
use crate::problem::Problem;
use image::RgbImage;
use plotters::chart::MeshStyle;
use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use std::fmt::Display;
use std::sync::LazyLock;

/// Width and height of a chart's own frame, in units of the SVG.
pub const SIZE: [u32; 2] = [760, 360];
/// Pixels of a chart in pixels to a unit of the SVG.
const FINE: u32 = 2;

/// Words and axes.
pub(crate) const INK: RGBColor = ink(look::INK);
/// Lines of the grid.
const GRID: RGBColor = ink(look::RULE);
/// What is measured.
pub(crate) const CURVE: RGBColor = ink(look::MATCHED);
/// The tolerance, and what is off.
pub(crate) const LIMIT: RGBColor = ink(look::OFF);

const fn ink([r, g, b]: Colour) -> RGBColor {
    RGBColor(r, g, b)
}

/// Whether the charts' lettering can be had.
static FONT: LazyLock<bool> =
    LazyLock::new(|| plotters::style::register_font("sans-serif", FontStyle::Normal, dejavu::sans::regular()).is_ok());

/// Which chart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chart {
    /// The offset along the seam, with its uncertainty, the tolerance and the lines.
    Offset,
    /// The two sides' profiles along the seam, as they lie and laid on one another.
    Profiles,
    /// How strongly the lines return along the seam, by how often, the repeat marked.
    Spectrum,
}

/// The charts in the order in which they are shown.
pub const CHARTS: [Chart; 3] = [Chart::Offset, Chart::Profiles, Chart::Spectrum];

pub(crate) type Area<DB> = DrawingArea<DB, Shift>;
pub(crate) type Drawn = Result<(), Box<dyn std::error::Error>>;

impl Chart {
    /// What it shows, in a few words.
    pub fn title(self) -> &'static str {
        match self {
            Chart::Offset => "The offset along the seam",
            Chart::Profiles => "The two sides' lines, as they lie and laid on one another",
            Chart::Spectrum => "How often the lines return",
        }
    }

    /// How to read it.
    pub fn reading(self, finding: &Finding) -> String {
        match self {
            Chart::Offset => offset::reading(finding),
            Chart::Profiles => profiles::reading(finding),
            Chart::Spectrum => spectrum::reading(finding),
        }
    }

    /// Whether the finding has what it shows.
    fn is_there(self, finding: &Finding) -> bool {
        match self {
            Chart::Offset => !finding.offset.readings.is_empty(),
            Chart::Profiles => finding.offset.profiles.apart.iter().any(|side| side.len() > 1),
            Chart::Spectrum => finding.lines.sides.iter().any(|side| side.spectrum.share.len() > 2),
        }
    }

    fn draw<DB: DrawingBackend>(self, area: &Area<DB>, finding: &Finding, fine: u32) -> Drawn
    where
        DB::ErrorType: 'static,
    {
        match self {
            Chart::Offset => offset::draw(area, finding, fine),
            Chart::Profiles => profiles::draw(area, finding, fine),
            Chart::Spectrum => spectrum::draw(area, finding, fine),
        }
    }
}

/// One chart as an `<svg>` element; `None` where there is nothing to draw.
///
/// # Errors
/// [`Problem::Io`] where the drawing itself fails.
pub fn svg(finding: &Finding, chart: Chart) -> Result<Option<String>, Problem> {
    if !chart.is_there(finding) {
        return Ok(None);
    }
    let mut svg = String::new();
    let area = lettered(SVGBackend::with_string(&mut svg, (SIZE[0], SIZE[1])))?;
    chart.draw(&area, finding, 1).and_then(|()| Ok(area.present()?)).map_err(|error| failed(&error))?;
    drop(area);
    Ok(Some(svg))
}

/// Every chart that there is, one below the other on paper, as an SVG file.
///
/// # Errors
/// As [`svg`].
pub fn all_svg(finding: &Finding) -> Result<String, Problem> {
    let charts = there(finding);
    let mut svg = String::new();
    let area = lettered(SVGBackend::with_string(&mut svg, (SIZE[0], SIZE[1] * charts.len() as u32)))?;
    all(&area, finding, &charts, 1).map_err(|error| failed(&error))?;
    drop(area);
    Ok(svg)
}

/// The same in pixels, two to a unit of the SVG.
///
/// # Errors
/// As [`svg`].
pub fn all_pixels(finding: &Finding) -> Result<RgbImage, Problem> {
    let charts = there(finding);
    let [width, height] = [SIZE[0] * FINE, SIZE[1] * FINE * charts.len() as u32];
    let mut pixels = vec![255; (3 * width * height) as usize];
    let area = lettered(BitMapBackend::with_buffer(&mut pixels, (width, height)))?;
    all(&area, finding, &charts, FINE).map_err(|error| failed(&error))?;
    drop(area);
    RgbImage::from_raw(width, height, pixels).ok_or_else(|| failed(&"its size is wrong"))
}

fn there(finding: &Finding) -> Vec<Chart> {
    CHARTS.into_iter().filter(|chart| chart.is_there(finding)).collect()
}

fn all<DB: DrawingBackend>(area: &Area<DB>, finding: &Finding, charts: &[Chart], fine: u32) -> Drawn
where
    DB::ErrorType: 'static,
{
    area.fill(&ink(look::PAPER))?;
    for (part, chart) in area.split_evenly((charts.len().max(1), 1)).iter().zip(charts) {
        let part =
            part.margin(8 * fine, 0, 0, 0).titled(chart.title(), ("sans-serif", 17 * fine).into_font().color(&INK))?;
        chart.draw(&part, finding, fine)?;
    }
    Ok(area.present()?)
}

/// A chart of its own size, units of the SVG, as an `<svg>` element.
///
/// # Errors
/// [`Problem::Io`] where the drawing itself fails.
pub(crate) fn drawn(size: [u32; 2], draw: impl FnOnce(&Area<SVGBackend<'_>>) -> Drawn) -> Result<String, Problem> {
    let mut svg = String::new();
    let area = lettered(SVGBackend::with_string(&mut svg, (size[0], size[1])))?;
    area.fill(&ink(look::PAPER)).map_err(|error| failed(&error))?;
    draw(&area).and_then(|()| Ok(area.present()?)).map_err(|error| failed(&error))?;
    drop(area);
    Ok(svg)
}

fn lettered<DB: DrawingBackend>(backend: DB) -> Result<Area<DB>, Problem> {
    match *FONT {
        true => Ok(backend.into_drawing_area()),
        false => Err(failed(&"its font cannot be read")),
    }
}

fn failed(what: &dyn Display) -> Problem {
    Problem::io(
        format!("the chart could not be drawn: {what}"),
        "the numbers are sound: run again without its chart or report",
    )
}

/// The lettering of every chart.
pub(crate) fn words(fine: u32) -> TextStyle<'static> {
    ("sans-serif", 14 * fine).into_font().color(&INK)
}

/// The axes of a chart as all charts have them: to be named, numbered and drawn.
pub(crate) fn axes<'a, 'b, DB: DrawingBackend>(
    chart: &'b mut ChartContext<'a, DB, Cartesian2d<RangedCoordf64, RangedCoordf64>>,
    fine: u32,
) -> MeshStyle<'a, 'b, RangedCoordf64, RangedCoordf64, DB> {
    let mut mesh = chart.configure_mesh();
    mesh.disable_x_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(GRID.stroke_width(fine))
        .axis_style(INK.stroke_width(fine))
        .label_style(words(fine))
        .axis_desc_style(words(fine));
    mesh
}

/// A plain hyphen as the minus that the other faces use.
pub(crate) fn minus(number: &str) -> String {
    let zero = number.trim_start_matches('-').chars().all(|c| c == '0' || c == '.');
    if zero { number.trim_start_matches('-').to_owned() } else { number.replace('-', "−") }
}

/// The parts of a profile that are seen, each a line of (place, value); thinned to what can be seen of it.
fn seen(values: &[Option<f64>], step: f64) -> Vec<Vec<(f64, f64)>> {
    let every = values.len().div_ceil(2 * SIZE[0] as usize).max(1);
    let places = values.iter().enumerate().step_by(every).map(|(k, value)| value.map(|v| (k as f64 * step, v)));
    let places: Vec<Option<(f64, f64)>> = places.collect();
    places
        .split(Option::is_none)
        .filter(|part| part.len() > 1)
        .map(|part| part.iter().flatten().copied().collect())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    #[test]
    fn every_kind_of_finding_has_its_charts_as_svg_and_in_pixels() {
        for (kind, finding) in sample::every_kind() {
            for chart in CHARTS {
                let text = svg(&finding, chart).unwrap().unwrap_or_else(|| panic!("{kind}: no {chart:?}"));
                assert!(text.starts_with("<svg") && text.trim_end().ends_with("</svg>"), "{kind} {chart:?}");
                assert!(text.len() < 200_000, "{kind} {chart:?}: {}", text.len());
                assert!(!chart.reading(&finding).is_empty());
            }
            let whole = all_svg(&finding).unwrap();
            assert!(
                CHARTS.iter().all(
                    |chart| whole.contains(&chart.title().replace('\'', "&apos;")) || whole.contains(chart.title())
                )
            );
            let pixels = all_pixels(&finding).unwrap();
            assert_eq!(pixels.dimensions(), (2 * SIZE[0], 6 * SIZE[1]), "{kind}");
            let dark = pixels.pixels().filter(|p| p.0 == look::INK).count();
            assert!(dark > 4000, "{kind}: {dark}");
        }
    }

    #[test]
    fn what_is_not_seen_breaks_the_curve() {
        let values = [Some(1.0), Some(2.0), None, Some(3.0), Some(4.0), None, Some(9.0)];
        assert_eq!(seen(&values, 0.5), [vec![(0.0, 1.0), (0.5, 2.0)], vec![(1.5, 3.0), (2.0, 4.0)]]);
        let long = vec![Some(0.0); 50_000];
        assert!(seen(&long, 0.1)[0].len() <= 2 * SIZE[0] as usize);
    }

    #[test]
    fn nothing_to_draw_is_no_chart_and_no_number_is_a_problem() {
        let mut finding = sample::down().finding();
        finding.offset.readings[3].offset_mm = f64::INFINITY;
        assert!(svg(&finding, Chart::Offset).is_err() && all_pixels(&finding).is_err());
        finding.offset.readings.clear();
        finding.offset.profiles = Default::default();
        finding.lines.sides.iter_mut().for_each(|side| side.spectrum = Default::default());
        assert!(CHARTS.iter().all(|&chart| svg(&finding, chart).unwrap().is_none()));
    }
}
