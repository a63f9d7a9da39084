//! A card on the cloth: the printed scale card, another code, or a ready picture of a card.

use super::chance;
use super::colour::{Linear, linear, scaled};
use super::seam::Course;
use super::sheet::{Thing, Touch};
use crate::problem::Problem;
use crate::scale::printed;
use crate::units::MmPoint;
use image::RgbImage;
use qrcode::types::QrError;
use qrcode::{Color, EcLevel, QrCode};

/// A card that lies flat on the cloth.
#[derive(Clone, Debug)]
pub struct Card {
    /// What is on it.
    pub face: CardFace,
    /// Place of its middle along the seam, u, millimetres.
    pub u_mm: f64,
    /// Place of its middle across the seam, v, millimetres.
    pub v_mm: f64,
    /// How far it is turned clockwise from standing upright in the level picture.
    pub turn_rad: f64,
}

/// What a card shows.
#[derive(Clone, Debug)]
pub enum CardFace {
    /// The scale card: a QR symbol (ISO/IEC 18004, level M) whose text is `seamstep:SIDE`, SIDE its width in
    /// millimetres without the quiet zone.
    Scale {
        /// Width of the symbol without its quiet zone, millimetres.
        side_mm: f64,
    },
    /// The scale card's symbol as `seamstep card` prints it.
    Printed {
        /// The side it says, whole millimetres out of [`crate::scale::printed::SIDES_MM`].
        side_mm: u32,
        /// The scale it was printed at: 1, or what a printer's "fit to page" made of it.
        printed_at: f64,
    },
    /// A QR symbol with any other text: a decoy.
    Code {
        /// The text.
        text: String,
        /// Width of the symbol without its quiet zone, millimetres.
        side_mm: f64,
    },
    /// A ready picture of a card, such as the printable card at a known resolution.
    Picture {
        /// The picture, sRGB.
        pixels: RgbImage,
        /// Its printed width, millimetres.
        width_mm: f64,
    },
}

/// Quiet zone of a QR symbol, modules (ISO/IEC 18004:2015, 6.3.8: 4X).
const QUIET_MODULES: usize = 4;
/// Paper beyond the quiet zone, millimetres.
const MARGIN_MM: f64 = 2.0;
/// Share of the light that printing paper and ink send back.
const PAPER: f32 = 0.84;
const INK: f32 = 0.035;

/// A card in its place: a grid of printed fields in paper.
pub(super) struct LaidCard {
    middle: MmPoint,
    right: MmPoint,
    columns: usize,
    rows: usize,
    field_mm: f64,
    fields: Vec<Linear>,
    /// Whether the fields are pixels of a picture, to be interpolated.
    smooth: bool,
    margin_mm: f64,
    /// Fields of the border that do not belong to the reported corners.
    quiet: usize,
    /// Samples to a pixel's side.
    samples: usize,
}

impl LaidCard {
    /// The card on the cloth, seen at about `px_mm` to a pixel.
    ///
    /// # Errors
    /// [`Problem::Usage`] where the text does not fit a QR symbol, or the card has no size.
    pub(super) fn new(card: &Card, course: &Course, px_mm: f64) -> Result<Self, Problem> {
        let middle = course.at(card.u_mm, card.v_mm);
        let right = MmPoint::new(card.turn_rad.cos(), card.turn_rad.sin());
        match &card.face {
            CardFace::Scale { side_mm } => Self::code(&format!("seamstep:{side_mm}"), *side_mm, middle, right),
            CardFace::Printed { side_mm, printed_at } => {
                let dark = printed::symbol(&printed::text(*side_mm)).map_err(unfit)?;
                Self::symbol(&dark, printed::MODULES, f64::from(*side_mm) * printed_at, middle, right)
            }
            CardFace::Code { text, side_mm } => Self::code(text, *side_mm, middle, right),
            CardFace::Picture { pixels, width_mm } => {
                let (columns, rows) = (pixels.width() as usize, pixels.height() as usize);
                let field_mm = sized(*width_mm, columns * rows > 0)? / columns as f64;
                let fields = pixels.pixels().map(|p| p.0.map(|c| PAPER * crate::light::linear(c))).collect();
                let samples = ((2.0 * px_mm / field_mm).ceil() as usize).clamp(4, 24);
                let (smooth, margin_mm, quiet) = (true, 0.0, 0);
                Ok(Self { middle, right, columns, rows, field_mm, fields, smooth, margin_mm, quiet, samples })
            }
        }
    }

    fn code(text: &str, side_mm: f64, middle: MmPoint, right: MmPoint) -> Result<Self, Problem> {
        let code = QrCode::with_error_correction_level(text, EcLevel::M).map_err(unfit)?;
        let dark: Vec<bool> = code.to_colors().into_iter().map(|colour| colour == Color::Dark).collect();
        Self::symbol(&dark, code.width(), side_mm, middle, right)
    }

    fn symbol(dark: &[bool], modules: usize, side_mm: f64, middle: MmPoint, right: MmPoint) -> Result<Self, Problem> {
        let quiet = QUIET_MODULES;
        let columns = modules + 2 * quiet;
        let field_mm = sized(side_mm, true)? / modules as f64;
        let mut fields = vec![linear([255; 3]).map(|x| PAPER * x); columns * columns];
        for k in (0..dark.len()).filter(|&k| dark[k]) {
            fields[(k / modules + quiet) * columns + k % modules + quiet] = [INK; 3];
        }
        let (smooth, margin_mm) = (false, MARGIN_MM);
        Ok(Self { middle, right, columns, rows: columns, field_mm, fields, smooth, margin_mm, quiet, samples: 4 })
    }

    /// Corners of the symbol without its quiet zone (of a ready picture: of the picture), from the card's own top left
    /// clockwise.
    pub(super) fn corners(&self) -> [MmPoint; 4] {
        let quiet = self.quiet as f64 * self.field_mm;
        self.rectangle(self.width_mm() / 2.0 - quiet, self.height_mm() / 2.0 - quiet)
    }

    fn width_mm(&self) -> f64 {
        self.columns as f64 * self.field_mm
    }

    fn height_mm(&self) -> f64 {
        self.rows as f64 * self.field_mm
    }

    fn rectangle(&self, half_width: f64, half_height: f64) -> [MmPoint; 4] {
        [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)].map(|(a, b)| {
            let (x, y) = (a * half_width, b * half_height);
            MmPoint::new(
                self.middle.x + x * self.right.x - y * self.right.y,
                self.middle.y + x * self.right.y + y * self.right.x,
            )
        })
    }

    /// Place on the card from its middle, millimetres to its own right and down.
    fn place(&self, p: MmPoint) -> (f64, f64) {
        let (x, y) = (p.x - self.middle.x, p.y - self.middle.y);
        (x * self.right.x + y * self.right.y, y * self.right.x - x * self.right.y)
    }

    /// What is printed at a place of the card.
    ///
    /// Two fields meet in a ramp `ramp_mm` wide, the step from sample to sample: so an edge keeps its place whatever
    /// the samples' phase. In a picture they meet over a whole field, which is bilinear interpolation.
    fn print(&self, x: f64, y: f64, ramp_mm: f64) -> Linear {
        let (a, b) = (x / self.field_mm + self.columns as f64 / 2.0, y / self.field_mm + self.rows as f64 / 2.0);
        let field = |i: f64, j: f64| {
            let column = (i.max(0.0) as usize).min(self.columns - 1);
            self.fields[(j.max(0.0) as usize).min(self.rows - 1) * self.columns + column]
        };
        let ramp = if self.smooth { 1.0 } else { (ramp_mm / self.field_mm).min(1.0) };
        let (i, j) = ((a - 0.5).floor(), (b - 0.5).floor());
        let share = |x: f64| ((x - 0.5) / ramp + 0.5).clamp(0.0, 1.0) as f32;
        let (f, g) = (share(a - 0.5 - i), share(b - 0.5 - j));
        let corners = [field(i, j), field(i + 1.0, j), field(i, j + 1.0), field(i + 1.0, j + 1.0)];
        [0, 1, 2].map(|c| {
            let top = corners[0][c] + f * (corners[1][c] - corners[0][c]);
            let bottom = corners[2][c] + f * (corners[3][c] - corners[2][c]);
            top + g * (bottom - top)
        })
    }
}

fn unfit(error: QrError) -> Problem {
    Problem::usage(format!("the card's text does not fit a QR symbol: {error}"), "give a shorter text")
}

/// A printed width that can be.
fn sized(width_mm: f64, filled: bool) -> Result<f64, Problem> {
    if filled && (0.5..=2000.0).contains(&width_mm) {
        return Ok(width_mm);
    }
    Err(Problem::usage("a card in this scene has no size", "give a width of 0.5 to 2000 mm"))
}

impl Thing for LaidCard {
    fn outline(&self) -> Vec<MmPoint> {
        let margin = self.margin_mm + 4.0;
        self.rectangle(self.width_mm() / 2.0 + margin, self.height_mm() / 2.0 + margin).to_vec()
    }

    fn touch(&self, p: MmPoint, px_mm: f32) -> Touch {
        let (half_width, half_height) =
            (self.width_mm() / 2.0 + self.margin_mm, self.height_mm() / 2.0 + self.margin_mm);
        let (sx, sy) = self.place(MmPoint::new(p.x - 0.45, p.y - 0.65));
        let beyond = (sx.abs() - half_width).max(0.0).hypot((sy.abs() - half_height).max(0.0));
        let gain = 1.0 - 0.4 * (-(beyond / 0.8).powi(2)).exp() as f32;
        let (x, y) = self.place(p);
        let px = f64::from(px_mm);
        if x.abs() > half_width + 1.5 * px || y.abs() > half_height + 1.5 * px {
            return Touch { gain, cover: 0.0, light: [0.0; 3] };
        }
        // A tent of samples two pixels wide: the lens's own blur.
        let n = self.samples;
        let step = 2.0 * px / n as f64;
        let (mut cover, mut light) = (0.0_f32, [0.0_f32; 3]);
        for a in 0..n {
            let fa = (2 * a + 1) as f64 / n as f64 - 1.0;
            for b in 0..n {
                let fb = (2 * b + 1) as f64 / n as f64 - 1.0;
                let (x, y) = (x + fa * px, y + fb * px);
                let inside = |room: f64| (room / step + 0.5).clamp(0.0, 1.0);
                let paper = inside(half_width - x.abs()) * inside(half_height - y.abs());
                if paper > 0.0 {
                    let weight = (paper * (1.0 - fa.abs()) * (1.0 - fb.abs())) as f32;
                    cover += weight;
                    let print = self.print(x, y, step);
                    (0..3).for_each(|c| light[c] += weight * print[c]);
                }
            }
        }
        let whole = (n * n) as f32 / 4.0;
        let grain = 1.0 + 0.012 * chance::over(x as f32 * 2.0, y as f32 * 2.0, 0x0CA4D);
        Touch { gain, cover: cover / whole, light: scaled(light, grain / cover.max(1e-6)) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conventions::Runs;

    fn laid(turn_rad: f64) -> LaidCard {
        let card = Card { face: CardFace::Scale { side_mm: 30.0 }, u_mm: 10.0, v_mm: 25.0, turn_rad };
        LaidCard::new(&card, &Course::new(Runs::Down, 0.0, 0.0, 0.0), 0.2).unwrap()
    }

    #[test]
    fn the_symbol_has_its_stated_width_and_place() {
        let corners = laid(0.3).corners();
        for k in 0..4 {
            assert!((corners[k].distance(corners[(k + 1) % 4]) - 30.0).abs() < 1e-9);
        }
        let upright = laid(0.0).corners();
        assert!(upright[0].distance(MmPoint::new(10.0, -5.0)) < 1e-9, "{:?}", upright[0]);
        assert!(upright[2].distance(MmPoint::new(40.0, 25.0)) < 1e-9);
    }

    #[test]
    fn ink_begins_at_the_corner_of_the_symbol_and_paper_surrounds_it() {
        let card = laid(0.0);
        let at = |x: f64, y: f64| card.touch(MmPoint::new(x, y), 0.05);
        assert!(at(10.2, -4.8).light[0] < 0.1, "the finder pattern");
        assert!(at(9.8, -5.2).light[0] > 0.7, "the quiet zone");
        assert_eq!(at(45.0, 10.0).cover, 1.0);
        assert_eq!(at(49.0, 10.0).cover, 0.0);
    }

    #[test]
    fn a_ready_picture_is_laid_at_its_width() {
        let pixels = RgbImage::from_fn(40, 20, |x, _| image::Rgb(if x < 20 { [0; 3] } else { [255; 3] }));
        let face = CardFace::Picture { pixels, width_mm: 80.0 };
        let card = Card { face, u_mm: 0.0, v_mm: 0.0, turn_rad: 0.0 };
        let laid = LaidCard::new(&card, &Course::new(Runs::Down, 0.0, 0.0, 0.0), 0.2).unwrap();
        assert!(laid.corners()[2].distance(MmPoint::new(40.0, 20.0)) < 1e-9);
        assert!(laid.touch(MmPoint::new(-30.0, 5.0), 0.2).light[1] < 0.01);
        assert!(laid.touch(MmPoint::new(30.0, 5.0), 0.2).light[1] > 0.8);
    }

    #[test]
    fn what_cannot_be_printed_is_refused() {
        let course = Course::new(Runs::Down, 0.0, 0.0, 0.0);
        let card = |face| Card { face, u_mm: 0.0, v_mm: 0.0, turn_rad: 0.0 };
        let long = card(CardFace::Code { text: "x".repeat(5000), side_mm: 30.0 });
        assert!(LaidCard::new(&long, &course, 0.2).is_err());
        assert!(LaidCard::new(&card(CardFace::Scale { side_mm: f64::NAN }), &course, 0.2).is_err());
    }
}
