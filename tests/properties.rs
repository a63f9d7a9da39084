//! What must hold of verdict and remedy whatever was measured: larger is never better, a mirror mirrors, a turn turns the
//! names, scale is no matter, a tolerance of nothing is never met, and threads change nothing.

#[path = "support/seams.rs"]
#[expect(dead_code, reason = "cloth without a seam has no verdict")]
mod seams;

use image::imageops;
use nalgebra::Matrix3;
use proptest::prelude::*;
use seamstep::budget::{Budget, Row};
use seamstep::conventions::{Direction, Runs, Side};
use seamstep::finding::Finding;
use seamstep::inspect::{Question, inspect};
use seamstep::lines::{Lines, SideLines};
use seamstep::offset::{LineOffset, Offset, Reading, outermost, sources};
use seamstep::photo::Photo;
use seamstep::remedy::custom::Rules;
use seamstep::remedy::{Action, Evidence, Remedy, Stage, work_out};
use seamstep::report::json;
use seamstep::scale::lens::Lens;
use seamstep::scale::{Plane, ScaleRequest, ScaleSource};
use seamstep::seam::path::Path;
use seamstep::seam::{Seam, SeamRequest, SeamSource};
use seamstep::threads;
use seamstep::units::{MmPoint, PxPoint};
use seamstep::verdict::{Demand, Judgement, Verdict, decide};

/// Readings along a seam of 40 steps; all lengths are multiples of `step_mm`.
#[derive(Clone, Debug)]
struct Measured {
    step_mm: f64,
    offsets_mm: Vec<f64>,
    expanded_mm: f64,
    /// The reading in the middle of a stretch that is known so many times less well, and half the stretch's readings.
    dim: (usize, usize, f64),
    tolerance_mm: f64,
}

impl Measured {
    /// Expanded uncertainty of a reading.
    fn expanded_at_mm(&self, reading: usize) -> f64 {
        let (middle, reach, times) = self.dim;
        self.expanded_mm * if reading.abs_diff(middle) <= reach { times } else { 1.0 }
    }

    fn times(&self, factor: f64) -> Self {
        Self {
            step_mm: factor * self.step_mm,
            offsets_mm: self.offsets_mm.iter().map(|o| factor * o).collect(),
            expanded_mm: factor * self.expanded_mm,
            dim: self.dim,
            tolerance_mm: factor * self.tolerance_mm,
        }
    }

    fn offset(&self) -> Offset {
        let readings: Vec<Reading> = self
            .offsets_mm
            .iter()
            .enumerate()
            .map(|(k, &offset_mm)| Reading {
                along_mm: k as f64 * self.step_mm,
                at_px: PxPoint::new(0.0, k as f64),
                offset_mm,
                expanded_uncertainty_mm: self.expanded_at_mm(k),
                chief_source: sources::THREADS,
            })
            .collect();
        let lines = readings.iter().skip(1).step_by(4).enumerate().map(|(k, r)| LineOffset {
            number: k + 1,
            along_mm: r.along_mm,
            width_mm: 0.8 * self.step_mm,
            runs_mm: Default::default(),
            colour: [160, 62, 40],
            name: "rust".into(),
            offset_mm: r.offset_mm,
            expanded_uncertainty_mm: r.expanded_uncertainty_mm,
        });
        let lines: Vec<LineOffset> = lines.collect();
        let judged = outermost::readings(&readings, &lines);
        let worst = judged.iter().max_by(|a, b| a.offset_mm.abs().total_cmp(&b.offset_mm.abs())).unwrap();
        Offset {
            mean_mm: self.offsets_mm.iter().sum::<f64>() / readings.len() as f64,
            expanded_uncertainty_mm: self.expanded_mm,
            worst_mm: worst.offset_mm,
            worst_at_mm: worst.along_mm,
            drift_mm_per_100_mm: None,
            modulo_mm: None,
            budget: Budget {
                rows: vec![Row { source: sources::THREADS, u_mm: 0.5 * self.expanded_mm, freedom: 99.0 }],
            },
            unit_mm: 1.0,
            readings,
            lines,
            profiles: Default::default(),
            others: Vec::new(),
            unrelated: 0.0,
        }
    }

    fn judged(&self) -> (Verdict, Remedy) {
        let plane = Plane {
            source: ScaleSource::Card,
            mm_to_px: Matrix3::identity(),
            px_to_mm: Matrix3::identity(),
            mm_per_px: 1.0,
            relative_uncertainty: 0.001,
            tilt_rad: None,
            cards_px: Vec::new(),
            lens: Lens::default(),
            by_card: None,
            contradiction: None,
            notes: Vec::new(),
        };
        let points = (0..=40).map(|k| MmPoint::new(0.0, f64::from(k) * self.step_mm)).collect();
        let seam = Seam {
            source: SeamSource::Given,
            runs: Runs::Down,
            path: Path { points, step_mm: self.step_mm },
            confidence: 1.0,
            u_across_mm: 0.1,
            gap_mm: None,
            drawn: None,
            others: Vec::new(),
            notes: Vec::new(),
        };
        let side = |side| SideLines {
            side,
            repeat_mm: Some(4.0 * self.step_mm),
            repeat_uncertainty_mm: Some(0.01 * self.step_mm),
            slope: 0.0,
            runs: Default::default(),
            contrast: 0.5,
            chance_noise: 0.0,
            spectrum: Default::default(),
            profiles: Vec::new(),
        };
        let lines = Lines {
            sides: [side(Side::Left), side(Side::Right)],
            step_mm: 0.1 * self.step_mm,
            samples: 400,
            alignment: Default::default(),
            notes: Vec::new(),
        };
        let offset = self.offset();
        let demand = Demand { tolerance_mm: Some(self.tolerance_mm), ..Demand::default() };
        let verdict = decide(&plane, &seam, &offset, &demand);
        let evidence = Evidence { plane: &plane, seam: &seam, lines: &lines, offset: &offset, verdict: &verdict };
        let remedy = work_out(evidence, Stage::Basted, &Rules::default());
        (verdict, remedy)
    }
}

/// A shift, a drift and a slip, with an uncertainty, larger over a stretch, and a tolerance.
fn measured() -> impl Strategy<Value = Measured> {
    let jumps = (-4.0..4.0f64, -0.05..0.05f64, -5.0..5.0f64, 5.0..35.0f64, 2.0..12.0f64);
    (jumps, 0.02..0.6f64, (0..=40usize, 0..12usize, 1.0..8.0f64), 0.3..3.0f64).prop_map(
        |((shift, drift, slip, at, width), expanded_mm, dim, tolerance_mm)| Measured {
            step_mm: 2.5,
            offsets_mm: (0..=40)
                .map(f64::from)
                .map(|k| shift + drift * (k - 20.0) * 2.5 + slip * (-((k - at) / width).powi(2)).exp())
                .collect(),
            expanded_mm,
            dim,
            tolerance_mm,
        },
    )
}

fn rank(judgement: Judgement) -> u8 {
    match judgement {
        Judgement::Matched => 0,
        Judgement::Unsure => 1,
        Judgement::Off => 2,
    }
}

/// The same to a ten-thousandth: where a flat valley has its lowest place is not known better.
fn close(a: Option<f64>, b: Option<f64>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= 1e-4 * (1.0 + a.abs()),
        (a, b) => a.is_none() && b.is_none(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_larger_offset_never_gets_a_better_verdict(m in measured(), factor in 1.0..3.0f64) {
        let larger = Measured { offsets_mm: m.offsets_mm.iter().map(|o| factor * o).collect(), ..m.clone() };
        prop_assert!(rank(larger.judged().0.result) >= rank(m.judged().0.result));
    }

    #[test]
    fn a_tolerance_of_nothing_is_never_met(m in measured()) {
        let (verdict, _) = Measured { tolerance_mm: 0.0, ..m }.judged();
        prop_assert_ne!(verdict.result, Judgement::Matched);
    }

    #[test]
    fn scaling_seam_and_tolerance_together_changes_nothing_else(m in measured(), factor in 0.3..4.0f64) {
        let ((verdict, remedy), (scaled, again)) = (m.judged(), m.times(factor).judged());
        prop_assert_eq!(verdict.result, scaled.result);
        prop_assert_eq!(&verdict.lines, &scaled.lines);
        prop_assert_eq!(verdict.stretches.len(), scaled.stretches.len());
        prop_assert_eq!((remedy.action, remedy.worth_unpicking, remedy.side, remedy.direction, remedy.longer_side),
            (again.action, again.worth_unpicking, again.side, again.direction, again.longer_side));
        for (one, other) in [(remedy.by_mm, again.by_mm), (remedy.from_mm, again.from_mm), (remedy.to_mm, again.to_mm),
            (remedy.expected_worst_mm, again.expected_worst_mm)] {
            prop_assert!(close(one.map(|mm| factor * mm), other), "{:?} {:?}", one, other);
        }
        prop_assert!(close(remedy.ease_percent, again.ease_percent));
    }

    #[test]
    fn a_mirror_names_the_other_side_and_nothing_else(m in measured()) {
        let mirrored = Measured { offsets_mm: m.offsets_mm.iter().map(|o| -o).collect(), ..m.clone() };
        let ((verdict, remedy), (other, again)) = (m.judged(), mirrored.judged());
        prop_assert_eq!(verdict.result, other.result);
        prop_assert_eq!((remedy.action, remedy.worth_unpicking, remedy.direction),
            (again.action, again.worth_unpicking, again.direction));
        for (one, two) in [(remedy.side, again.side), (remedy.longer_side, again.longer_side)] {
            prop_assert_eq!(one.map(|s| s == Side::Left), two.map(|s| s == Side::Right));
        }
        for (one, two) in [(remedy.by_mm, again.by_mm), (remedy.expected_worst_mm, again.expected_worst_mm),
            (remedy.from_mm, again.from_mm), (remedy.to_mm, again.to_mm)] {
            prop_assert!(close(one, two), "{:?} {:?}", one, two);
        }
    }

    #[test]
    fn a_cure_leaves_no_more_than_there_is_and_cutting_again_is_the_last(m in measured()) {
        let (verdict, remedy) = m.judged();
        let leave = remedy.cures[0].leaves_mm;
        prop_assert!(remedy.cures[1..].iter().all(|c| c.leaves_mm <= leave + 1e-9));
        if remedy.worth_unpicking == Some(true) {
            prop_assert!(remedy.expected_worst_mm.unwrap() < leave);
        }
        if verdict.result == Judgement::Off && remedy.action == Action::PhotographAgain {
            prop_assert_eq!((remedy.worth_unpicking, remedy.by_mm), (None, None));
            prop_assert!(remedy.cures[1..].iter().any(|c| c.may_do) && !remedy.instruction.is_empty());
        }
        if remedy.action == Action::RecutOrAccept {
            prop_assert_eq!(verdict.result, Judgement::Off);
            // No shift and ease leave every reading where its uncertainty lets it be within tolerance.
            let offset = m.offset();
            let judged = offset.between_lines();
            for j in -40..=40 {
                let rest = |r: &Reading| r.offset_mm - f64::from(j) * 5e-4 * r.along_mm;
                let low = judged.iter().map(|r| rest(r) - r.expanded_uncertainty_mm).fold(f64::MIN, f64::max);
                let high = judged.iter().map(|r| rest(r) + r.expanded_uncertainty_mm).fold(f64::MAX, f64::min);
                prop_assert!((low - high) / 2.0 > m.tolerance_mm);
            }
        }
    }

    #[test]
    fn what_lies_beyond_the_outermost_lines_decides_nothing(m in measured(), beyond in -9.0..9.0f64) {
        let judged = m.offset().between_lines().iter().map(|r| (r.along_mm / m.step_mm).round() as usize).collect::<Vec<_>>();
        let (first, last) = (judged[0], judged[judged.len() - 1]);
        let mut other = m.clone();
        let outside = |k: usize| k < first || k > last;
        other.offsets_mm.iter_mut().enumerate().filter(|(k, _)| outside(*k)).for_each(|(_, o)| *o = beyond);
        let ((verdict, remedy), (again, as_well)) = (m.judged(), other.judged());
        prop_assert_eq!((verdict.result, &verdict.reason, &verdict.stretches), (again.result, &again.reason, &again.stretches));
        prop_assert_eq!((remedy.action, &remedy.why, remedy.by_mm, remedy.worth_unpicking, remedy.visible_from_m),
            (as_well.action, &as_well.why, as_well.by_mm, as_well.worth_unpicking, as_well.visible_from_m));
        prop_assert_eq!(remedy.faults, as_well.faults);
    }
}

/// A photograph of a chance seam that is off, and where the seam is in it.
fn photograph(number: u64) -> (Photo, Vec<PxPoint>, f64) {
    let mut scene = seams::seam(number);
    scene.seam.cards.clear();
    scene.seam.offset.constant_mm = 2.4;
    scene.camera.tilt_rad = 0.0;
    let (photo, _, rendered) = seams::photograph(&scene);
    let seam_px = &rendered.truth.seam_px;
    let points_px = vec![seam_px[0], seam_px[seam_px.len() / 2], seam_px[seam_px.len() - 1]];
    (photo, points_px, scene.camera.mm_per_px)
}

fn check(photo: &Photo, points_px: Vec<PxPoint>, mm_per_px: f64) -> Option<Finding> {
    let ends_px = [points_px[0], points_px[2]];
    let length_mm = ends_px[0].distance(ends_px[1]) * mm_per_px;
    let question = Question {
        scale: ScaleRequest::Length { ends_px, length_mm },
        seam: SeamRequest { points_px, ..SeamRequest::default() },
        ..Question::default()
    };
    inspect(photo, &question).ok()
}

/// Pairs of findings of a photograph and of the same turned by `turn`, which also turns points of a picture this wide and
/// high.
fn pairs(turn: impl Fn(&Photo) -> Photo, point: impl Fn(PxPoint, [f64; 2]) -> PxPoint) -> Vec<(Finding, Finding)> {
    let pairs: Vec<_> = [8021, 8022, 8024, 8026, 8030, 8031, 8033, 8037]
        .into_iter()
        .filter_map(|number| {
            let (photo, points_px, mm_per_px) = photograph(number);
            let size = [f64::from(photo.width_px()), f64::from(photo.height_px())];
            let turned_px = points_px.iter().map(|&p| point(p, size)).collect();
            Some((check(&photo, points_px, mm_per_px)?, check(&turn(&photo), turned_px, mm_per_px)?))
        })
        .filter(|(one, _)| one.seam.runs == Runs::Down)
        .collect();
    assert!(pairs.len() >= 3, "only {} photographs could be compared", pairs.len());
    pairs
}

/// Both findings say the same, the sign of the offset aside.
fn say_the_same(one: &Finding, two: &Finding, sign: f64) {
    let u_mm = one.offset.expanded_uncertainty_mm;
    let said = format!("{} and {} ± {u_mm}", one.offset.mean_mm, two.offset.mean_mm);
    // Sampling is not quite the same from the other end.
    assert!((one.offset.mean_mm - sign * two.offset.mean_mm).abs() <= 0.3 * u_mm, "{said}");
    assert_eq!(one.verdict.result, two.verdict.result, "{said}");
    assert_eq!(one.remedy.action, two.remedy.action, "{said}");
    let by = [one, two].map(|f| f.remedy.by_mm.unwrap_or_default());
    assert!((by[0] - by[1]).abs() <= u_mm, "{by:?}");
}

#[test]
fn a_mirrored_picture_names_the_other_side_and_the_same_direction() {
    let mirror = |photo: &Photo| Photo::new(photo.name.clone(), imageops::flip_horizontal(&photo.pixels));
    for (one, two) in pairs(mirror, |p, [width, _]| PxPoint::new(width - 1.0 - p.x, p.y)) {
        say_the_same(&one, &two, -1.0);
        let other = one.remedy.side.map(|s| if s == Side::Left { Side::Right } else { Side::Left });
        assert_eq!((other, one.remedy.direction), (two.remedy.side, two.remedy.direction));
    }
}

#[test]
fn a_picture_turned_a_quarter_has_other_names_and_nothing_else() {
    // A quarter anticlockwise: what ran down runs to the right, left is below, right is above, up is left.
    let turn = |photo: &Photo| Photo::new(photo.name.clone(), imageops::rotate270(&photo.pixels));
    for (one, two) in pairs(turn, |p, [width, _]| PxPoint::new(p.y, width - 1.0 - p.x)) {
        assert_eq!(two.seam.runs, Runs::Across);
        say_the_same(&one, &two, 1.0);
        let side = one.remedy.side.map(|s| if s == Side::Left { Side::Below } else { Side::Above });
        let direction = one.remedy.direction.map(|d| if d == Direction::Up { Direction::Left } else { d });
        assert_eq!((side, direction), (two.remedy.side, two.remedy.direction));
    }
}

#[test]
fn an_answer_has_the_same_bytes_on_one_thread_and_on_several() {
    for number in [8021, 8024, 8031] {
        let (photo, scale, _) = seams::photograph(&seams::seam(number));
        let question = Question { scale, ..Question::default() };
        let said = || match inspect(&photo, &question) {
            Ok(finding) => json::finding(&finding).to_string(),
            Err(problem) => problem.to_string(),
        };
        // Whoever is one of several at work does all of it alone.
        let mut alone = Vec::new();
        let told = threads::as_done(
            0..2,
            2,
            |_, _| said(),
            |_, answer| {
                alone.push(answer);
                Ok::<(), ()>(())
            },
        );
        assert!(told.is_ok() && alone.len() == 2);
        assert!(alone.iter().all(|answer| *answer == said()), "{number}");
    }
}
