//! The flat cloth measured on photographs whose truth is known: repeat, widths, skew, bow, balance, each held to its U.
#![allow(missing_docs)]

#[path = "support/cloths.rs"]
mod cloths;

#[path = "support/each.rs"]
mod each;

use cloths::{ClothScene, cloth, is_balanced, photograph, shown, threads_apart};
use each::each;
use image::imageops;
use seamstep::cloth::balance::Told;
use seamstep::cloth::family::Family;
use seamstep::cloth::{ClothRequest, FlatCloth, Selvedge, measure};
use seamstep::conventions::Runs;
use seamstep::photo::{self, Limits, Photo};
use seamstep::problem::{Problem, RefusalCode};
use seamstep::render::{Band, Camera, Card, CardFace, Cloth, Crease, Scene, SeamScene, Weave};
use seamstep::scale::ScaleRequest;
use seamstep::units::PxPoint;

/// What came of one figure over many cloths.
#[derive(Default)]
struct Figure {
    errors: Vec<f64>,
    inside: usize,
    expanded: Vec<f64>,
}

impl Figure {
    fn told(&mut self, error: f64, expanded: f64) {
        self.errors.push(error.abs());
        self.expanded.push(expanded);
        self.inside += usize::from(error.abs() <= expanded);
    }

    fn at(values: &[f64], share: f64) -> f64 {
        let mut values = values.to_vec();
        values.sort_by(f64::total_cmp);
        values.get(((values.len() as f64 * share).ceil() as usize).max(1) - 1).copied().unwrap_or(f64::NAN)
    }

    fn share(&self) -> f64 {
        self.inside as f64 / self.errors.len().max(1) as f64
    }

    fn line(&self, name: &str) -> String {
        format!(
            "{name:<18} n {:>3}  median {:.4}  90 % {:.4}  worst {:.4}  inside U {:.3}  median U {:.4}",
            self.errors.len(),
            Self::at(&self.errors, 0.5),
            Self::at(&self.errors, 0.9),
            Self::at(&self.errors, 1.0),
            self.share(),
            Self::at(&self.expanded, 0.5)
        )
    }
}

/// What came of many cloths. Balance: by truth (yes, no, nearly) and by what was told (yes, no, cannot tell).
#[derive(Default)]
struct Survey {
    lengthwise: Figure,
    crosswise: Figure,
    widths: Figure,
    skew: Figure,
    bow: Figure,
    refused: usize,
    missed: usize,
    repeats_wrong: usize,
    sequences: [usize; 2],
    balance: [[usize; 3]; 3],
}

fn true_repeat(threads: &[(u32, usize)], thread_mm: f64) -> Option<f64> {
    (threads.len() > 1).then(|| threads.iter().map(|t| f64::from(t.0)).sum::<f64>() * thread_mm)
}

impl Survey {
    fn family(
        &mut self,
        flat: &FlatCloth,
        family: Option<&Family>,
        threads: &[(u32, usize)],
        thread_mm: f64,
        lengthwise: bool,
    ) {
        let Some(truth) = true_repeat(threads, thread_mm) else {
            self.missed += usize::from(family.is_some());
            return;
        };
        let Some((family, (repeat, expanded))) = family.and_then(|f| Some((f, flat.repeat_mm(f)?))) else {
            self.missed += 1;
            return;
        };
        if (repeat / truth - 1.0).abs() > 0.03 {
            self.repeats_wrong += 1;
            return;
        }
        let figure = if lengthwise { &mut self.lengthwise } else { &mut self.crosswise };
        figure.told(repeat - truth, expanded);
        let whole = family.bands.len() == threads.len();
        self.sequences[usize::from(whole)] += 1;
        if whole {
            // The same sequence from another beginning: the rotation that fits best.
            let widths: Vec<f64> = threads.iter().map(|t| f64::from(t.0) * thread_mm).collect();
            let n = widths.len();
            let apart = |shift: usize| -> f64 {
                (0..n).map(|k| (family.bands[k].width_mm - widths[(k + shift) % n]).abs()).sum()
            };
            let shift = (0..n).min_by(|&a, &b| apart(a).total_cmp(&apart(b))).unwrap();
            for (k, band) in family.bands.iter().enumerate() {
                self.widths.told(band.width_mm - widths[(k + shift) % n], flat.expanded_width_mm(family, band));
            }
        }
        let told = family.balance.map_or(Told::CannotTell, |balance| balance.same);
        let told = [Told::Yes, Told::No, Told::CannotTell].iter().position(|t| *t == told).unwrap();
        // A few threads out of place are within what threads do.
        let near = threads_apart(threads) as f64 * thread_mm < 2.4;
        self.balance[if is_balanced(threads) { 0 } else { 1 + usize::from(near) }][told] += 1;
    }

    fn take(&mut self, made: &ClothScene, flat: &FlatCloth) {
        self.family(flat, flat.lengthwise.as_ref(), &made.weft, made.thread_mm, true);
        self.family(flat, flat.crosswise.as_ref(), &made.warp, made.thread_mm, false);
        let seam = &made.scene.seam;
        if let Some((skew, _)) = flat.skew {
            // v grows to the right of a seam that runs down, and u downward: a slope above 0 has its right end lower.
            self.skew.told(skew.percent - 100.0 * seam.skew, skew.expanded_uncertainty_percent);
        }
        if let Some(bow) = flat.bow {
            let truth_mm = -seam.weft_bow_mm * (bow.over_mm / 200.0).powi(2);
            let expanded_mm = bow.expanded_uncertainty_percent / 100.0 * bow.over_mm;
            self.bow.told(bow.distance_mm - truth_mm, expanded_mm);
        }
    }

    fn of(count: u64) -> Self {
        let all = each(count, |number| {
            let made = cloth(number);
            let flat = measure(&photograph(&made.scene), &ClothRequest::default());
            (made, flat)
        });
        let mut survey = Self::default();
        for (made, flat) in &all {
            match flat {
                Ok(flat) => survey.take(made, flat),
                Err(_) => survey.refused += 1,
            }
        }
        survey
    }

    #[expect(clippy::print_stdout, reason = "the table is the test's result")]
    fn print(&self) {
        println!(
            "{} refused, {} families missed or invented, {} repeats wrong, {} sequences wrong and {} right",
            self.refused, self.missed, self.repeats_wrong, self.sequences[0], self.sequences[1]
        );
        println!("balance, by truth (yes, no, nearly) and told (yes, no, cannot tell): {:?}", self.balance);
        for (figure, name) in [
            (&self.lengthwise, "lengthwise, mm"),
            (&self.crosswise, "crosswise, mm"),
            (&self.widths, "widths, mm"),
            (&self.skew, "skew, %"),
            (&self.bow, "bow, mm"),
        ] {
            println!("{}", figure.line(name));
        }
    }
}

#[test]
fn chance_cloths_lie_within_their_uncertainties() {
    let survey = Survey::of(42);
    survey.print();
    assert!(survey.refused == 0 && survey.missed <= 3 && survey.repeats_wrong == 0);
    assert!(survey.sequences[1] >= 70 && survey.sequences[0] <= 3, "{:?}", survey.sequences);
    // What is told of the balance is right; nearly balanced cloth may be called either.
    let [yes, no, _] = survey.balance;
    assert!(yes[1] == 0 && no[0] == 0 && yes[0] >= 20 && no[1] >= 35, "{:?}", survey.balance);
    for (figure, least) in [
        (&survey.lengthwise, 0.95),
        (&survey.crosswise, 0.95),
        (&survey.widths, 0.95),
        (&survey.skew, 0.93),
        (&survey.bow, 0.9),
    ] {
        assert!(figure.share() >= least, "{}", figure.line("inside"));
    }
    // Not by being huge: half of the errors are smaller than these.
    assert!(Figure::at(&survey.lengthwise.errors, 0.5) < 0.01 && Figure::at(&survey.widths.errors, 0.5) < 0.01);
    assert!(Figure::at(&survey.skew.errors, 0.5) < 0.04 && Figure::at(&survey.bow.errors, 0.5) < 0.02);
}

/// A cloth photographed from straight above, the card on it; no seam is seen.
fn plainly(woven: Cloth, mm_per_px: f64) -> Scene {
    let card = Card { face: CardFace::Scale { side_mm: 30.0 }, u_mm: -50.0, v_mm: 30.0, turn_rad: 0.05 };
    let seam = SeamScene {
        warp_shift_mm: 0.0,
        crease: Crease { depth: 0.0, width_mm: 0.28 },
        cards: vec![card],
        ..SeamScene::new(woven)
    };
    Scene { seam, camera: Camera::new(760, 960, mm_per_px), seed: 5 }
}

fn flat(scene: &Scene) -> FlatCloth {
    measure(&photograph(scene), &ClothRequest::default()).unwrap()
}

fn lengthwise(flat: &FlatCloth) -> (f64, f64) {
    flat.repeat_mm(flat.lengthwise.as_ref().unwrap()).unwrap()
}

#[test]
fn fine_stripes_tonal_stripes_and_lines_of_equal_lightness_are_measured() {
    for (woven, mm_per_px, repeat_mm, bands) in [
        (Cloth::fine_stripe(), 0.2, 5.0, 2),
        (Cloth::tonal_stripe(), 0.2, 14.0, 2),
        (Cloth::equal_lightness_lines(), 0.2, 32.0, 4),
    ] {
        let flat = flat(&plainly(woven, mm_per_px));
        let (found, expanded) = lengthwise(&flat);
        assert!((found - repeat_mm).abs() <= expanded && expanded < 0.012 * repeat_mm, "{found} ± {expanded}");
        let family = flat.lengthwise.as_ref().unwrap();
        assert_eq!(family.bands.len(), bands, "{:?}", family.bands);
        assert_eq!(family.balance.unwrap().same, Told::Yes, "{:?}", family.balance);
        assert!(flat.crosswise.is_none() && flat.is_complete());
        // Without lines along the warp the selvedge is not known.
        assert!(flat.skew.is_none() && flat.notes.iter().any(|note| note.code == "no-skew"));
        assert!(flat.laying.both_ways_up == Told::Yes && flat.laying.left_and_right == Told::Yes);
    }
}

#[test]
fn a_big_tartan_of_fewer_than_two_repeats_is_measured_and_says_so() {
    let flat = flat(&plainly(Cloth::broad_check().with_repeat(130.0), 0.24));
    for family in [&flat.lengthwise, &flat.crosswise].into_iter().flatten() {
        let (found, expanded) = flat.repeat_mm(family).unwrap();
        assert!((found - 130.0).abs() <= expanded, "{found} ± {expanded}");
    }
    assert!(flat.notes.iter().any(|note| note.code == "few-repeats"));
    let family = flat.lengthwise.as_ref().unwrap();
    assert_ne!(family.balance.unwrap().same, Told::Yes, "clay is not moss");
    assert_eq!(family.bands.len(), 6, "{:?}", family.bands);
}

/// Half a sett: threads and colours from the middle of one pivot to the middle of the other.
const HALF_SETT: [(u32, [u8; 3]); 6] = [
    (60, [176, 40, 58]),
    (12, [226, 222, 210]),
    (34, [40, 76, 62]),
    (6, [214, 176, 60]),
    (33, [44, 56, 96]),
    (40, [168, 92, 104]),
];
const SETT_THREAD_MM: f64 = 0.4;

#[test]
fn a_mirrored_sett_that_leans_and_is_seen_hardly_once_is_told_in_order() {
    let back = HALF_SETT.iter().skip(1).rev().skip(1);
    let sett: Vec<Band> = (HALF_SETT.iter().chain(back))
        .map(|&(threads, colour)| Band { width_mm: f64::from(threads) * SETT_THREAD_MM, colour })
        .collect();
    let sett_mm: f64 = sett.iter().map(|band| band.width_mm).sum();
    assert!((sett_mm - 108.0).abs() < 1e-9);
    let woven =
        Cloth { weave: Weave::Twill, thread_mm: SETT_THREAD_MM, weft: sett.clone(), warp: sett.clone(), texture: 1.0 };
    for lean_deg in [5.0f64, -5.0, 8.0, -8.0] {
        let mut scene = plainly(woven.clone(), 0.156);
        scene.seam.cards.clear();
        scene.camera.width_px = 760;
        scene.camera.height_px = 760;
        // The lines along the warp lean, those across stay level.
        scene.seam.lean_rad = lean_deg.to_radians();
        scene.seam.skew = -lean_deg.to_radians().tan();
        let ends_px = [PxPoint::new(100.0, 300.0), PxPoint::new(600.0, 300.0)];
        let scale = ScaleRequest::Length { ends_px, length_mm: 500.0 * 0.156 };
        let flat = measure(&photograph(&scene), &ClothRequest { scale, ..ClothRequest::default() }).unwrap();
        assert!(flat.plain == [false; 2] && !flat.is_complete());
        assert_eq!(flat.laying.left_and_right, Told::CannotTell);
        for family in [&flat.lengthwise, &flat.crosswise].into_iter().map(|family| family.as_ref().unwrap()) {
            assert!(family.repeat_mm.is_none(), "{lean_deg}: {:?} of {sett_mm} mm", family.repeat_mm);
            // Seven bands or more of the sett, from some place of it on.
            let bands = &family.bands;
            assert!(bands.len() >= 7, "{lean_deg}: {bands:?}");
            let apart = |from: usize| -> f64 {
                let pairs = bands.iter().enumerate().map(|(k, band)| (band, &sett[(from + k) % sett.len()]));
                pairs
                    .map(|(band, woven)| (band.width_mm - woven.width_mm).abs() - flat.expanded_width_mm(family, band))
                    .fold(f64::MIN, f64::max)
            };
            let best = (0..sett.len()).map(apart).fold(f64::MAX, f64::min);
            assert!(best <= 0.0, "{lean_deg}: {best} {:?}", bands.iter().map(|b| b.width_mm).collect::<Vec<_>>());
        }
    }
}

#[test]
fn lines_that_lean_in_a_photograph_of_a_real_tartan_are_recognised() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/real/tartan.jpg");
    let photo = photo::read(file.as_ref(), &Limits::default()).unwrap();
    let scale = ScaleRequest::Length { ends_px: [PxPoint::new(0.0, 0.0), PxPoint::new(0.0, 500.0)], length_mm: 50.0 };
    let flat = measure(&photo, &ClothRequest { scale, ..ClothRequest::default() }).unwrap();
    let along = flat.crosswise.as_ref().expect("lines along the warp");
    // By eye on an enlargement, at the middle of the picture: 5 to 6 degrees, their upper ends to the right.
    let ([x, y], _) = seamstep::cloth::distortion::direction_of(&along.run);
    let lean_deg = (-x / y).atan().to_degrees();
    assert!((3.0..8.0).contains(&lean_deg), "{lean_deg}");
    assert_ne!(flat.laying.left_and_right, Told::Yes);
    assert!(flat.repeat_mm(along).is_none(), "the sett is seen hardly once");
}

#[test]
fn what_is_not_recognised_is_not_said_to_be_absent() {
    // Stripes one way on a piece too small to say that nothing crosses them, and on one that is large enough.
    let scene = plainly(Cloth::fine_stripe(), 0.2);
    let photo = photograph(&scene);
    let small = Some([PxPoint::new(120.0, 100.0), PxPoint::new(420.0, 400.0)]);
    let piece = measure(&photo, &ClothRequest { patch_px: small, ..ClothRequest::default() }).unwrap();
    assert!(piece.crosswise.is_none() && piece.plain == [false; 2] && !piece.is_complete());
    assert_eq!(piece.laying.left_and_right, Told::CannotTell);
    assert!(piece.notes.iter().any(|note| note.code == "lines-not-recognised"));
    let whole = measure(&photo, &ClothRequest::default()).unwrap();
    assert_eq!((whole.plain, whole.laying.left_and_right), ([false, true], Told::Yes));
    assert!(whole.notes.iter().all(|note| note.code != "lines-not-recognised"));
}

#[test]
fn lines_along_only_cost_nothing_and_plain_cloth_is_refused() {
    let photo = photograph(&plainly(Cloth::lines_along_only(), 0.2));
    let flat = measure(&photo, &ClothRequest { pieces_mm: vec![300.0, 200.0], ..ClothRequest::default() }).unwrap();
    assert!(flat.lengthwise.is_none() && flat.bow.is_none());
    let (repeat, expanded) = flat.repeat_mm(flat.crosswise.as_ref().unwrap()).unwrap();
    assert!((repeat - 34.0 * 0.35).abs() <= expanded, "{repeat} ± {expanded}");
    let cutting = flat.cutting.unwrap();
    assert_eq!((cutting.extra_mm, cutting.total_mm), (0.0, 500.0));
    let plain = measure(&photograph(&plainly(Cloth::plain_cloth(), 0.2)), &ClothRequest::default());
    assert!(matches!(plain, Err(Problem::Refused(refusal)) if refusal.code == RefusalCode::NoLines));
}

#[test]
fn photographs_that_show_no_even_lines_are_refused() {
    let fixture = |name: &str| {
        let file = format!("{}/fixtures/{name}", env!("CARGO_MANIFEST_DIR"));
        let photo = photo::read(file.as_ref(), &Limits::default()).unwrap();
        measure(&photo, &ClothRequest::default()).map(|flat| (flat.lengthwise.is_some(), flat.crosswise.is_some()))
    };
    let code = |name: &str| match fixture(name) {
        Err(Problem::Refused(refusal)) => refusal.code,
        other => panic!("{name}: {other:?}"),
    };
    assert_eq!(code("plain-02.jpg"), RefusalCode::NoLines);
    assert_eq!(code("blur-00.jpg"), RefusalCode::Blurred);
    assert_eq!(fixture("along-00.jpg").unwrap(), (false, true));
}

#[test]
fn without_a_scale_nothing_is_in_millimetres_and_skew_is_not_told() {
    let mut scene = shown();
    scene.seam.cards.clear();
    // Tilted, and no card to tell how: repeats that do not lie on one another are not told band by band.
    let tilted = flat(&scene);
    let family = tilted.lengthwise.as_ref().unwrap();
    assert!(family.bands.is_empty() && family.balance.unwrap().same == Told::CannotTell);
    assert!(tilted.notes.iter().any(|note| note.code == "uneven"));
    scene.camera.tilt_rad = 0.0;
    let photo = photograph(&scene);
    let request = ClothRequest { pieces_mm: vec![620.0], ..ClothRequest::default() };
    let flat = measure(&photo, &request).unwrap();
    let family = flat.lengthwise.as_ref().unwrap();
    assert!(flat.repeat_mm(family).is_none() && flat.skew.is_none() && flat.cutting.is_none() && !flat.is_complete());
    // The widths are the cloth's as parts of its repeat: the ink bar is 22 of 92 threads.
    let (repeat_mm, _) = family.repeat_mm.unwrap();
    let bar = &family.bands[family.notch.unwrap()];
    let share = bar.width_mm / repeat_mm;
    assert!((share - 22.0 / 92.0).abs() <= flat.expanded_width_mm(family, bar) / repeat_mm, "{share}");
    for code in ["no-scale", "no-skew", "no-cutting"] {
        assert!(flat.notes.iter().any(|note| note.code == code), "{code}");
    }
    // A tape gives the millimetres, not the skew: a tilted camera would look the same.
    let ends_px = [PxPoint::new(300.0, 200.0), PxPoint::new(300.0, 800.0)];
    let scale = ScaleRequest::Length { ends_px, length_mm: 115.0 };
    let flat = measure(&photo, &ClothRequest { scale, ..request.clone() }).unwrap();
    assert!(flat.repeat_mm(flat.lengthwise.as_ref().unwrap()).is_some() && flat.skew.is_none());
    let scale = ScaleRequest::Repeat { repeat_mm: 36.8 };
    assert!(matches!(measure(&photo, &ClothRequest { scale, ..request }), Err(Problem::Usage { .. })));
}

#[test]
fn the_shown_cloth_is_told_as_it_was_woven_and_the_same_with_the_picture_turned() {
    let photo = photograph(&shown());
    let turned = Photo::new(photo.name.clone(), imageops::rotate270(&photo.pixels));
    let down = measure(&photo, &ClothRequest::default()).unwrap();
    let across = measure(&turned, &ClothRequest { warp: Runs::Across, ..ClothRequest::default() }).unwrap();
    for flat in [&down, &across] {
        let (skew, told_by) = flat.skew.unwrap();
        assert!((skew.percent - 2.1).abs() <= skew.expanded_uncertainty_percent, "{skew:?}");
        assert_eq!(told_by, Selvedge::FromLines);
        let bow = flat.bow.unwrap();
        let truth_mm = 1.1 * (bow.over_mm / 200.0).powi(2);
        assert!(
            (bow.distance_mm - truth_mm).abs() <= bow.expanded_uncertainty_percent / 100.0 * bow.over_mm,
            "{bow:?}"
        );
        for family in [&flat.lengthwise, &flat.crosswise].into_iter().flatten() {
            let (repeat, expanded) = flat.repeat_mm(family).unwrap();
            assert!((repeat - 36.8).abs() <= expanded);
            let widths: Vec<f64> = family.bands.iter().map(|band| band.width_mm).collect();
            // Forty-two threads of oat, then clay, oat, ink, oat, moss, or the other way round; 0.4 mm each.
            let woven = [16.8, 1.6, 4.0, 8.8, 4.0, 1.6];
            for (band, woven) in family.bands.iter().zip(woven) {
                assert!((band.width_mm - woven).abs() <= flat.expanded_width_mm(family, band), "{widths:?}");
            }
            let names: Vec<&str> = family.bands.iter().map(|band| band.name.as_str()).collect();
            assert!(names[1] != names[5] && names[0] == names[2] && names[0] == names[4], "{names:?}");
            assert_eq!(family.balance.unwrap().same, Told::No, "clay is not moss");
            assert_eq!(family.notch, Some(3), "the ink bar");
        }
        assert!(flat.laying.both_ways_up == Told::No && flat.laying.left_and_right == Told::No);
    }
}

#[test]
fn skew_is_told_against_a_selvedge_that_is_given() {
    let photo = photograph(&shown());
    // The scene leans by −0.03: its warp runs along (0.03, 1) on the plane, which a level middle of the picture keeps.
    let own = measure(&photo, &ClothRequest::default()).unwrap();
    let frame = own.lengthwise.as_ref().unwrap().run.frame;
    let ends = [-60.0, 60.0].map(|u| own.plane.to_px(frame.at(u, 20.0)));
    for selvedge_px in [ends, [ends[1], ends[0]]] {
        let flat =
            measure(&photo, &ClothRequest { selvedge_px: Some(selvedge_px), ..ClothRequest::default() }).unwrap();
        let (skew, told_by) = flat.skew.unwrap();
        assert_eq!(told_by, Selvedge::Given);
        assert!((skew.percent - 2.1).abs() <= skew.expanded_uncertainty_percent, "{skew:?}");
    }
    let level = Some([PxPoint::new(10.0, 500.0), PxPoint::new(700.0, 500.0)]);
    let wrong = measure(&photo, &ClothRequest { selvedge_px: level, ..ClothRequest::default() });
    assert!(matches!(wrong, Err(Problem::Usage { .. })));
}

/// The cloth that the README measures: written into `reports/cloth` with `-- --ignored`.
#[test]
#[ignore = "writes reports/cloth"]
fn the_readmes_cloth_is_photographed_again() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/reports/cloth");
    std::fs::create_dir_all(folder).unwrap();
    let rendered = seamstep::render::render(&shown()).unwrap();
    std::fs::write(format!("{folder}/broad-check.jpg"), rendered.jpeg).unwrap();
}
