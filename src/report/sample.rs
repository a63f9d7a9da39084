//! Findings made by hand for the tests of this room: 0.16 mm to a pixel, nine lines, one slip.

use crate::budget::{Budget, Row};
use crate::conventions::Runs;
use crate::digits::Unit;
use crate::finding::{Finding, PhotoFacts};
use crate::lines::relief::Slope;
use crate::lines::repeat::Spectrum;
use crate::lines::{Lines, SideLines};
use crate::offset::profiles::Profiles;
use crate::offset::{LineOffset, Offset, RUN_SPACING_MM, Reading, sources};
use crate::problem::Note;
use crate::remedy::custom::Rules;
use crate::remedy::{self, Evidence, Stage};
use crate::scale::lens::Lens;
use crate::scale::{Plane, ScaleSource};
use crate::seam::path::Path;
use crate::seam::{Seam, SeamSource};
use crate::signal::alignment::Alignment;
use crate::units::{MmPoint, PxPoint};
use crate::verdict::{Judgement, Place, Stretch, ToleranceSource, Verdict};
use nalgebra::Matrix3;

/// What a sample is made of; lengths in millimetres unless the name says otherwise.
#[derive(Clone)]
pub(super) struct Recipe {
    pub width_px: u32,
    pub height_px: u32,
    pub runs: Runs,
    pub source: ScaleSource,
    pub mm_per_px: f64,
    /// Where the seam starts and ends in the picture.
    pub ends_px: [PxPoint; 2],
    pub repeat_mm: f64,
    /// Where the first line meets the seam.
    pub first_mm: f64,
    pub lines: usize,
    pub base_mm: f64,
    /// Height, middle and width of the slip.
    pub slip_mm: [f64; 3],
    pub slopes: [f64; 2],
    pub tolerance_mm: f64,
}

/// A seam down a picture of 1200 × 900 pixels: 9 lines every 15 mm, a slip of 3 mm in the middle.
pub(super) fn down() -> Recipe {
    Recipe {
        width_px: 1200,
        height_px: 900,
        runs: Runs::Down,
        source: ScaleSource::Card,
        mm_per_px: 0.16,
        ends_px: [PxPoint::new(590.0, 10.0), PxPoint::new(610.0, 890.0)],
        repeat_mm: 15.0,
        first_mm: 10.0,
        lines: 9,
        base_mm: 0.4,
        slip_mm: [3.0, 70.0, 12.0],
        slopes: [0.0, 0.02],
        tolerance_mm: 1.5,
    }
}

/// The same seam across the picture.
pub(super) fn across() -> Recipe {
    Recipe {
        width_px: 1200,
        height_px: 700,
        runs: Runs::Across,
        ends_px: [PxPoint::new(10.0, 360.0), PxPoint::new(1190.0, 340.0)],
        ..down()
    }
}

/// The same photograph without a scale.
pub(super) fn unscaled() -> Recipe {
    Recipe { source: ScaleSource::None, mm_per_px: 1.0, repeat_mm: 94.0, ..down() }
}

/// Every kind of finding that a face must be able to tell.
pub(super) fn every_kind() -> Vec<(&'static str, Finding)> {
    vec![
        ("down", down().finding()),
        ("across", across().finding()),
        ("unscaled", unscaled().finding()),
        ("matched", Recipe { base_mm: 0.0, slip_mm: [0.3, 70.0, 12.0], ..down() }.finding()),
        ("unsure", Recipe { base_mm: 1.45, slip_mm: [0.0, 70.0, 12.0], ..across() }.finding()),
        ("none", Recipe { lines: 0, ..down() }.finding()),
        ("many", Recipe { lines: 60, repeat_mm: 2.3, first_mm: 2.0, ..down() }.finding()),
        ("edge", Recipe { ends_px: [PxPoint::new(3.0, 5.0), PxPoint::new(-4.0, 890.0)], ..down() }.finding()),
    ]
}

fn wave(k: f64, period: f64) -> f64 {
    0.3 * (k * std::f64::consts::TAU / period).cos()
}

impl Recipe {
    fn offset_mm(&self, along_mm: f64) -> f64 {
        let [height, middle, width] = self.slip_mm;
        self.base_mm + height * (-((along_mm - middle) / width).powi(2)).exp()
    }

    fn plane(&self) -> Plane {
        let k = self.mm_per_px;
        Plane {
            source: self.source,
            mm_to_px: Matrix3::new(1.0 / k, 0.0, 0.0, 0.0, 1.0 / k, 0.0, 0.0, 0.0, 1.0),
            px_to_mm: Matrix3::new(k, 0.0, 0.0, 0.0, k, 0.0, 0.0, 0.0, 1.0),
            mm_per_px: k,
            relative_uncertainty: 0.002,
            tilt_rad: (self.source == ScaleSource::Card).then_some(0.1),
            cards_px: Vec::new(),
            lens: Lens::default(),
            by_card: None,
            contradiction: None,
            notes: Vec::new(),
        }
    }

    /// The finding of this recipe, judged with U = 0.21 mm.
    pub fn finding(&self) -> Finding {
        let plane = self.plane();
        let metric = plane.is_metric();
        let [start, end] = self.ends_px.map(|p| plane.to_mm(p));
        let length_mm = start.distance(end);
        let count = 200;
        let points = (0..=count)
            .map(|k| f64::from(k) / f64::from(count))
            .map(|f| MmPoint::new(start.x + f * (end.x - start.x), start.y + f * (end.y - start.y)))
            .collect();
        let seam = Seam {
            source: SeamSource::Found,
            runs: self.runs,
            path: Path { points, step_mm: length_mm / f64::from(count) },
            confidence: 0.93,
            u_across_mm: 0.2,
            gap_mm: None,
            drawn: None,
            others: Vec::new(),
            notes: Vec::new(),
        };
        // Without a scale every length of the offset is told in repeats of the cloth.
        let unit = if metric { 1.0 } else { self.repeat_mm };
        let expanded = 0.21 / if metric { 1.0 } else { 15.0 };
        let told =
            |along_mm: f64| if metric { self.offset_mm(along_mm) } else { self.offset_mm(along_mm * 0.16) / 15.0 };
        let judge = |offset: f64| match offset.abs() {
            _ if !metric => Judgement::Unsure,
            size if size + expanded <= self.tolerance_mm => Judgement::Matched,
            size if size - expanded > self.tolerance_mm => Judgement::Off,
            _ => Judgement::Unsure,
        };
        let readings: Vec<Reading> = (0..=40)
            .map(|k| f64::from(k) / 40.0 * length_mm)
            .map(|along_mm| Reading {
                along_mm: along_mm / unit,
                at_px: plane.to_px(seam.at(along_mm, 0.0)),
                offset_mm: told(along_mm),
                expanded_uncertainty_mm: expanded,
                chief_source: sources::THREADS,
            })
            .collect();
        let colours = [[168, 74, 42], [28, 40, 92], [236, 228, 206]];
        let first = if metric { self.first_mm } else { self.first_mm / 0.16 };
        let lines: Vec<LineOffset> = (0..self.lines)
            .map(|k| (k, first + k as f64 * self.repeat_mm))
            .map(|(k, along_mm)| LineOffset {
                number: k + 1,
                along_mm: along_mm / unit,
                width_mm: 2.0 / unit,
                runs_mm: [0, 1].map(|side| {
                    let across = if side == 0 { -RUN_SPACING_MM } else { RUN_SPACING_MM };
                    std::array::from_fn(|k| self.slopes[side] * k as f64 * across / unit)
                }),
                colour: colours[k % 3],
                name: ["rust", "navy", "cream"][k % 3].into(),
                offset_mm: told(along_mm),
                expanded_uncertainty_mm: expanded,
            })
            .collect();
        let worst = *readings.iter().max_by(|a, b| a.offset_mm.abs().total_cmp(&b.offset_mm.abs())).unwrap();
        let off: Vec<&Reading> = readings.iter().filter(|r| judge(r.offset_mm) == Judgement::Off).collect();
        let stretches: Vec<Stretch> = match (off.first(), off.last()) {
            (Some(a), Some(b)) => vec![Stretch { from_mm: a.along_mm, to_mm: b.along_mm, worst_mm: worst.offset_mm }],
            _ => vec![],
        };
        let result = match judge(worst.offset_mm) {
            Judgement::Off if stretches.is_empty() => Judgement::Unsure,
            judged => judged,
        };
        let side = |side, slope| SideLines {
            side,
            repeat_mm: Some(self.repeat_mm),
            repeat_uncertainty_mm: Some(0.02),
            slope,
            runs: Slope::even(slope),
            contrast: 0.41,
            chance_noise: 1e-9,
            spectrum: Spectrum {
                step_per_mm: 0.004,
                share: (0..250).map(|k| wave(f64::from(k), 16.0).max(0.0)).collect(),
            },
            profiles: Vec::new(),
        };
        let [first_side, second_side] = self.runs.sides();
        let states = lines.iter().map(|line| judge(line.offset_mm)).collect();
        let both = Lines {
            sides: [side(first_side, self.slopes[0]), side(second_side, self.slopes[1])],
            step_mm: 0.16,
            samples: 0,
            alignment: Alignment::default(),
            notes: Vec::new(),
        };
        let offset = Offset {
            mean_mm: readings.iter().map(|r| r.offset_mm).sum::<f64>() / readings.len() as f64,
            expanded_uncertainty_mm: expanded / 2.0,
            worst_mm: worst.offset_mm,
            worst_at_mm: worst.along_mm,
            drift_mm_per_100_mm: Some(-0.031),
            modulo_mm: Some(if metric { self.repeat_mm } else { 1.0 }),
            unit_mm: unit,
            readings,
            lines,
            others: Vec::new(),
            unrelated: 0.0,
            profiles: Profiles {
                step_mm: length_mm / 200.0 / unit,
                channel: 1,
                apart: [0.0, 4.0]
                    .map(|by| (0..=200).map(|k| (k != 60).then_some(wave(f64::from(k) + by, 20.0))).collect()),
                laid: [0.0, 0.3].map(|by| (0..=200).map(|k| Some(wave(f64::from(k) + by, 20.0))).collect()),
            },
            budget: Budget {
                rows: vec![
                    Row { source: "fit of the lines", u_mm: expanded / 5.0, freedom: 80.0 },
                    Row { source: "scale", u_mm: expanded / 900.0, freedom: f64::INFINITY },
                ],
            },
        };
        let verdict = Verdict {
            result,
            code: None,
            if_here: None,
            place: Place::CentreBack,
            tolerance_mm: self.tolerance_mm,
            tolerance_source: ToleranceSource::CommonPractice,
            tolerance_file: None,
            unit: Unit::Millimetre,
            reason: "the reading furthest from zero decides, its uncertainty included".into(),
            cure: (result == Judgement::Unsure)
                .then(|| "photograph again from closer, with the card in the frame".into()),
            stretches,
            lines: states,
            notes: Vec::new(),
        };
        let stage = Stage::Basted;
        let evidence = Evidence { plane: &plane, seam: &seam, lines: &both, offset: &offset, verdict: &verdict };
        let mut remedy = remedy::work_out(evidence, stage, &Rules::default());
        remedy.why = "one stretch explains all of it & nothing else is out".into();
        Finding {
            photo: PhotoFacts { file: "back seam <1>.jpg".into(), width_px: self.width_px, height_px: self.height_px },
            lines: both,
            offset,
            excluded_share: [0.04, 0.113],
            verdict,
            remedy,
            stage,
            notes: vec![Note::new("pins", "Pins lie over two lines; those pixels were left out.")],
            plane,
            seam,
        }
    }
}
