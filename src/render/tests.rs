//! The whole renderer against its own truth.

use super::*;
use crate::conventions::Runs;

/// A bold two-colour print without texture and crease: its edges can be placed to a small part of a pixel.
fn bars() -> SeamScene {
    let mut cloth = Cloth::printed_bars(24.0);
    cloth.texture = 0.0;
    SeamScene { crease: Crease { depth: 0.0, width_mm: 0.3 }, ..SeamScene::new(cloth) }
}

fn photograph(seam: SeamScene, camera: Camera) -> Rendered {
    render(&Scene { seam, camera, seed: 5 }).unwrap()
}

/// Linear green light at a point of the picture, bilinear.
fn light_at(photo: &RgbImage, p: PxPoint) -> f64 {
    let (x, y) = (p.x.floor(), p.y.floor());
    let (f, g) = (p.x - x, p.y - y);
    let at = |dx: u32, dy: u32| f64::from(crate::light::linear(photo.get_pixel(x as u32 + dx, y as u32 + dy).0[1]));
    (at(0, 0) * (1.0 - f) + at(1, 0) * f) * (1.0 - g) + (at(0, 1) * (1.0 - f) + at(1, 1) * f) * g
}

/// Places where the light crosses the middle between ink and chalk, from dark to light, along a walk of the picture:
/// the walk's own parameter.
fn edges(photo: &RgbImage, walk: impl Fn(f64) -> PxPoint, from: f64, to: f64, step: f64) -> Vec<f64> {
    let middle = 0.5 * 0.95 * f64::from(crate::light::linear(230) + crate::light::linear(60));
    let lights: Vec<(f64, f64)> = (0..=((to - from) / step) as usize)
        .map(|k| from + k as f64 * step)
        .map(|s| (s, light_at(photo, walk(s)) - middle))
        .collect();
    lights
        .windows(2)
        .filter(|pair| pair[0].1 < 0.0 && pair[1].1 >= 0.0)
        .map(|pair| pair[0].0 + step * pair[0].1 / (pair[0].1 - pair[1].1))
        .collect()
}

/// The offset seen at each pair of edges along lines at ±v of a scene's seam, millimetres, with the edges' middle.
fn seen_offsets(scene: &SeamScene, camera: &Camera, v_mm: f64, half_length_mm: f64) -> Vec<(f64, f64)> {
    let course = Course::new(scene.runs, scene.aside_mm, scene.lean_rad, scene.bow_mm);
    let place = |side: usize, u: f64, v: f64| course.at(u + scene.slope[side] * v, v);
    seen_along(scene, camera, v_mm, half_length_mm, place)
}

/// The same along lines whose place at a side's distance v from the seam, when it meets the seam at u, is `place`.
fn seen_along(
    scene: &SeamScene,
    camera: &Camera,
    v_mm: f64,
    half_length_mm: f64,
    place: impl Fn(usize, f64, f64) -> MmPoint,
) -> Vec<(f64, f64)> {
    let rendered = photograph(scene.clone(), camera.clone());
    let projection = camera.projection();
    // Edges of a side carried to the seam: the mean over 24 walks, a pixel apart.
    let side = |side: usize| -> Vec<f64> {
        let walks = (0..24).map(|k| {
            let v = [-1.0, 1.0][side] * (v_mm + f64::from(k) * camera.mm_per_px);
            let walk = |u: f64| projection.to_px(place(side, u, v));
            edges(&rendered.photo, walk, -half_length_mm, half_length_mm, 0.25 * camera.mm_per_px)
        });
        let walks: Vec<Vec<f64>> = walks.collect();
        (0..walks[0].len()).map(|e| walks.iter().map(|walk| walk[e]).sum::<f64>() / 24.0).collect()
    };
    let (first, second) = (side(0), side(1));
    let mut seen = Vec::new();
    for a in first {
        let partner = second.iter().min_by(|b, c| (*b - a).abs().total_cmp(&(*c - a).abs()));
        if let Some(b) = partner.filter(|b| (*b - a).abs() < 12.0) {
            seen.push(((a + b) / 2.0, b - a));
        }
    }
    seen
}

fn camera() -> Camera {
    Camera { defocus_px: 0.8, ..Camera::new(300, 400, 0.3).noiseless() }
}

#[test]
fn lines_jump_by_the_stated_offset_down_and_across() {
    for runs in [Runs::Down, Runs::Across] {
        for offset in [0.0, 3.2, -2.45] {
            let seam = SeamScene { runs, offset: OffsetProfile::constant(offset), ..bars() };
            let seen = seen_offsets(&seam, &camera(), 4.0, 40.0);
            assert!(seen.len() >= 3, "{runs:?} {offset}: {seen:?}");
            // 0.05 px at 0.3 mm a pixel.
            assert!(seen.iter().all(|(_, d)| (d - offset).abs() < 0.015), "{runs:?} {offset}: {seen:?}");
        }
    }
}

#[test]
fn a_positive_offset_is_lower_on_the_right_and_further_right_above() {
    let seam = SeamScene { offset: OffsetProfile::constant(4.0), ..bars() };
    // One bar of chalk begins at cloth coordinate 0: read where, in raw pixels, without the renderer's geometry.
    let down = photograph(seam.clone(), camera()).photo;
    let edge_y = |x: f64| edges(&down, |s| PxPoint::new(x, s), 180.0, 220.0, 0.5)[0];
    let jump = (edge_y(149.5 + 30.0) - edge_y(149.5 - 30.0)) * 0.3;
    assert!((jump - 4.0).abs() < 0.03, "down: {jump}");

    let across = photograph(SeamScene { runs: Runs::Across, ..seam }, camera()).photo;
    let edge_x = |y: f64| edges(&across, |s| PxPoint::new(s, y), 130.0, 170.0, 0.5)[0];
    let jump = (edge_x(199.5 - 30.0) - edge_x(199.5 + 30.0)) * 0.3;
    assert!((jump - 4.0).abs() < 0.03, "across: {jump}");
}

#[test]
fn slope_lean_bow_tilt_and_lens_leave_the_offset_true() {
    let seam = SeamScene {
        offset: OffsetProfile { constant_mm: 2.0, drift_mm_per_100_mm: 3.0, ..OffsetProfile::default() },
        slope: [0.06, -0.09],
        lean_rad: 0.08,
        bow_mm: 5.0,
        aside_mm: -6.0,
        ..bars()
    };
    let camera = Camera { tilt_rad: 0.3, tilt_towards_rad: 0.9, barrel: 0.02, ..camera() };
    let truth = Lines::new(&seam.offset, seam.repeat_factor, 100.0);
    let seen = seen_offsets(&seam, &camera, 4.0, 45.0);
    assert!(seen.len() >= 3);
    for (u, offset) in seen {
        assert!((offset - truth.offset(u)).abs() < 0.03, "at {u}: {offset}, true {}", truth.offset(u));
    }
}

#[test]
fn the_lines_across_of_turned_cloth_jump_by_the_offset_on_a_bias_cut_and_in_a_chevron() {
    for turn_rad in [[0.7, 0.7], [-0.9, -0.9], [-0.5, 0.5], [0.75, -0.75]] {
        for offset_mm in [0.0, 2.6] {
            let profile = OffsetProfile { drift_mm_per_100_mm: 2.0, ..OffsetProfile::constant(offset_mm) };
            let mut seam = SeamScene { turn_rad, offset: profile.clone(), ..bars() };
            // A finer thread has a finer grid of samples: of a coarse one slanted edges are 0.04 mm uneven.
            seam.cloth.thread_mm = 0.1;
            let course = Course::new(seam.runs, 0.0, 0.0, 0.0);
            let place = |side: usize, u: f64, v: f64| course.at(u + turn_rad[side].tan() * v, v);
            let seen = seen_along(&seam, &camera(), 2.0, 36.0, place);
            assert!(!seen.is_empty(), "{turn_rad:?}");
            // The drift draws the seam out by half of it on one side and in on the other, and so the way that a line has
            // run beside it by the walks' mean v, 5.45 mm.
            let run_mm = turn_rad.map(|turn| 0.01 * 5.45 * turn.tan());
            for (u, d) in seen {
                let expected = profile.at(u) + run_mm[1] - run_mm[0];
                assert!((d - expected).abs() < 0.02, "{turn_rad:?} at {u}: {d}, expected {expected}");
            }
            let truth = photograph(seam, camera()).truth;
            let along_mm = 24.0 / turn_rad[0].cos();
            assert!(truth.repeat_mm.unwrap().iter().all(|mm| (mm - along_mm).abs() < 1e-9));
            assert_eq!(truth.slope, turn_rad.map(f64::tan));
        }
    }
}

#[test]
fn the_lines_along_of_a_bias_cut_jump_by_the_same_offset() {
    // A weft midway between ink and chalk: the edges of the warp's bars are seen where they are.
    let mut seam = bars();
    let warp = std::mem::replace(&mut seam.cloth.weft, vec![Band { width_mm: 0.1, colour: [173; 3] }]);
    seam.cloth = Cloth { weave: Weave::Plain, thread_mm: 0.1, warp, ..seam.cloth };
    (seam.warp_shift_mm, seam.turn_rad) = (0.0, [0.8; 2]);
    seam.offset = OffsetProfile::constant(-3.1);
    let course = Course::new(seam.runs, 0.0, 0.0, 0.0);
    let seen = seen_along(&seam, &camera(), 4.0, 36.0, |_, u, v| course.at(u - v / 0.8_f64.tan(), v));
    assert!(seen.len() >= 2, "{seen:?}");
    assert!(seen.iter().all(|(_, d)| (d + 3.1).abs() < 0.05), "{seen:?}");
}

#[test]
fn straight_grain_runs_through_a_hip_curve_and_jumps_by_the_offset() {
    let offset = OffsetProfile { constant_mm: 1.5, drift_mm_per_100_mm: -2.0, ..OffsetProfile::default() };
    let seam = SeamScene { offset, bow_mm: 14.0, straight_grain: true, ..bars() };
    let course = Course::new(seam.runs, 0.0, 0.0, seam.bow_mm);
    let truth = Lines::new(&seam.offset, seam.repeat_factor, 100.0);
    // A line meets the seam at u and runs level from there.
    let level = |_: usize, u: f64, v: f64| {
        let met = course.at(u, 0.0);
        MmPoint::new(met.x + v, met.y)
    };
    let seen = seen_along(&seam, &camera(), 4.0, 45.0, level);
    assert!(seen.len() >= 3, "{seen:?}");
    for (u, d) in seen {
        assert!((d - truth.offset(u)).abs() < 0.03, "at {u}: {d}, true {}", truth.offset(u));
    }
}

#[test]
fn what_a_messenger_enlarged_stands_where_the_truth_says() {
    let seam = SeamScene { offset: OffsetProfile::constant(4.0), ..bars() };
    let plain = photograph(seam.clone(), camera());
    let messenger = Some(Messenger { enlarged: 2.0, jpeg_quality: 95 });
    let sent = photograph(seam, Camera { messenger, ..camera() });
    assert_eq!(sent.photo.dimensions(), (600, 800));
    assert_eq!(sent.photo, image::load_from_memory(&sent.jpeg).unwrap().into_rgb8());
    assert!((sent.truth.mm_per_px - 0.15).abs() < 1e-9);
    assert!((sent.truth.ends_apart_mm - 120.0).abs() < 1e-3, "{}", sent.truth.ends_apart_mm);
    let edge_y = |photo: &RgbImage, x: f64, from: f64, to: f64| edges(photo, |y| PxPoint::new(x, y), from, to, 0.5)[0];
    let (small, large) = (edge_y(&plain.photo, 200.0, 180.0, 220.0), edge_y(&sent.photo, 400.5, 360.0, 440.0));
    assert!((large - (2.0 * small + 0.5)).abs() < 0.15, "{small} {large}");
    for (a, b) in plain.truth.seam_px.iter().zip(&sent.truth.seam_px) {
        assert!(b.distance(PxPoint::new(2.0 * a.x + 0.5, 2.0 * a.y + 0.5)) < 1e-6);
    }
}

#[test]
fn a_slip_a_step_and_sides_that_differ_are_true_where_the_edges_stand() {
    let seam = SeamScene {
        offset: OffsetProfile {
            constant_mm: 1.0,
            slips: vec![Slip { at_mm: 24.0, amount_mm: 3.0, half_width_mm: 16.0 }],
            steps: vec![Step { at_mm: -12.0, amount_mm: -2.0, over_mm: 8.0 }],
            ..OffsetProfile::default()
        },
        repeat_factor: [0.99, 1.015],
        ..bars()
    };
    let truth = Lines::new(&seam.offset, seam.repeat_factor, 100.0);
    let seen = seen_offsets(&seam, &camera(), 3.0, 55.0);
    assert!(seen.len() >= 4);
    for (u, offset) in seen {
        assert!((offset - truth.offset(u)).abs() < 0.02, "at {u}: {offset}, true {}", truth.offset(u));
    }
}

#[test]
fn the_truth_agrees_with_itself() {
    let seam = SeamScene {
        offset: OffsetProfile { constant_mm: -1.0, drift_mm_per_100_mm: 4.0, ..OffsetProfile::default() },
        repeat_factor: [1.0, 1.02],
        edges: Edges { hem_mm: Some(30.0), ..Edges::default() },
        ..bars()
    };
    let truth = photograph(seam, camera()).truth;
    // Visible: from the picture's upper edge (200 px of 0.3 mm above its middle) to the hem.
    assert!((truth.length_mm - 90.0).abs() < 1e-3, "{}", truth.length_mm);
    let (first, last) = (truth.readings[0], truth.readings[truth.readings.len() - 1]);
    assert_eq!(first.along_mm, 0.0);
    assert!((last.along_mm - 90.0).abs() < 1e-3 && (last.at_px.y - (199.5 + 100.0)).abs() < 1e-3);
    let growth = 0.04 + 0.02 / 1.01;
    assert!((last.offset_mm - (-1.0 + 30.0 * growth)).abs() < 1e-6, "{}", last.offset_mm);
    assert!((truth.mean_offset_mm - (-1.0 - 15.0 * growth)).abs() < 1e-4);
    assert!((truth.largest_offset_mm - (1.0 + 60.0 * growth)).abs() < 1e-4);
    assert!((truth.mm_per_px - 0.3).abs() < 1e-9);
    assert_eq!(truth.repeat_mm, Some([24.0, 24.48]));
    assert!(truth.hundred_mm_px.is_none(), "only 90 mm are visible");
}

#[test]
fn two_points_of_the_seam_are_a_hundred_millimetres_apart() {
    let seam = SeamScene { lean_rad: 0.1, bow_mm: 4.0, ..bars() };
    let level = Camera::new(300, 400, 0.3);
    let [a, b] = photograph(seam, level).truth.hundred_mm_px.unwrap();
    assert!((a.distance(b) * 0.3 - 100.0).abs() < 1e-6);
    assert!(a.y < b.y);
}

#[test]
fn the_card_stands_where_it_is_said_to() {
    let card = Card { face: CardFace::Scale { side_mm: 30.0 }, u_mm: 5.0, v_mm: 20.0, turn_rad: 0.0 };
    let seam = SeamScene { cards: vec![card], ..bars() };
    let Rendered { photo, truth, .. } = photograph(seam, camera());
    let corners = truth.cards_px[0];
    assert!((corners[0].distance(corners[1]) - 100.0).abs() < 1e-6, "30 mm at 0.3 mm a pixel");
    // The finder pattern's dark frame begins at the corner: walk into it from the quiet zone, along its first module.
    let middle = 0.95 * (0.84 + 0.035) / 2.0;
    let row = corners[0].y + 2.0;
    let dark = |x: f64| middle - light_at(&photo, PxPoint::new(x, row));
    let walk: Vec<f64> = (-40..40).map(|k| corners[0].x + f64::from(k) * 0.1).collect();
    let edge = walk.windows(2).find(|w| dark(w[0]) < 0.0 && dark(w[1]) >= 0.0).unwrap();
    assert!((edge[0] + 0.05 - corners[0].x).abs() < 0.12, "{} {}", edge[0], corners[0].x);
}

#[test]
fn the_scale_card_can_be_read() {
    let card = Card { face: CardFace::Scale { side_mm: 32.5 }, u_mm: 0.0, v_mm: 28.0, turn_rad: 0.2 };
    let seam = SeamScene { cards: vec![card], ..SeamScene::new(Cloth::broad_check()) };
    let photo = photograph(seam, Camera { tilt_rad: 0.25, ..Camera::new(480, 400, 0.22) }).photo;
    let grey = image::DynamicImage::ImageRgb8(photo).into_luma8();
    let size = (grey.width() as usize, grey.height() as usize);
    let mut prepared =
        rqrr::PreparedImage::prepare_from_greyscale(size.0, size.1, |x, y| grey.get_pixel(x as u32, y as u32).0[0]);
    let texts: Vec<String> =
        prepared.detect_grids().iter().filter_map(|g| g.decode().ok()).map(|(_, text)| text).collect();
    assert_eq!(texts, ["seamstep:32.5"]);
}

/// A scene with one of everything.
fn crowded(seed: u64) -> Scene {
    let pin = Pin { at_mm: -15.0, turn_rad: 0.2, head: [190, 40, 60], head_on_second: true };
    let seam = SeamScene {
        basting: Some(Basting { colour: [240, 240, 235], stitch_mm: 7.0, gap_mm: 5.0, aside_mm: 0.6 }),
        pins: vec![pin],
        drape_mm: 1.5,
        edges: Edges { hem_mm: Some(25.0), ..Edges::default() },
        cards: vec![Card { face: CardFace::Scale { side_mm: 20.0 }, u_mm: -10.0, v_mm: -20.0, turn_rad: 0.1 }],
        zip: Some(Zip { gap_mm: 7.0, tape: [40, 44, 60], teeth: [190, 180, 150], teeth_mm: 4.0 }),
        ..SeamScene::new(Cloth::broad_check())
    };
    let camera = Camera { defocus_px: 0.6, motion_px: 1.5, sharpening: 0.4, ..Camera::new(160, 200, 0.4) };
    Scene { seam, camera, seed }
}

#[test]
fn the_same_seed_gives_the_same_bytes() {
    let first = render(&crowded(9)).unwrap();
    assert_eq!(first.jpeg, render(&crowded(9)).unwrap().jpeg);
    assert_ne!(first.jpeg, render(&crowded(10)).unwrap().jpeg);
    assert_eq!(first.photo, image::load_from_memory(&first.jpeg).unwrap().into_rgb8());
}

#[test]
fn the_garment_ends_at_its_hem() {
    let seam =
        SeamScene { edges: Edges { hem_mm: Some(20.0), ..Edges::default() }, ..SeamScene::new(Cloth::fine_stripe()) };
    let photo = photograph(seam, camera()).photo;
    let warmth = |y: u32| {
        let row: Vec<_> = (0..photo.width()).map(|x| photo.get_pixel(x, y).0).collect();
        row.iter().map(|p| i64::from(p[0]) - i64::from(p[2])).sum::<i64>() / row.len() as i64
    };
    let hem_px = 200 + (20.0 / 0.3) as u32;
    assert!(warmth(hem_px - 12) < 10, "blue and white cloth: {}", warmth(hem_px - 12));
    assert!(warmth(hem_px + 30) > 40, "wood: {}", warmth(hem_px + 30));
}

#[test]
fn what_cannot_be_is_refused_with_a_reason() {
    let refused = |change: fn(&mut Scene)| {
        let mut scene = crowded(1);
        change(&mut scene);
        render(&scene).err().map(|problem| problem.to_string()).unwrap_or_default()
    };
    assert!(refused(|s| s.camera.width_px = 0).contains("picture"));
    assert!(refused(|s| s.seam.cloth.weft.clear()).contains("bands"));
    assert!(refused(|s| s.camera.tilt_rad = f64::NAN).contains("tilt"));
    assert!(refused(|s| (s.camera.tilt_rad, s.camera.focal_px) = (1.04, 60.0)).contains("horizon"));
    assert!(refused(|s| s.seam.turn_rad = [0.6, 0.5]).contains("turn"));
    assert!(refused(|s| (s.seam.turn_rad, s.seam.slope) = ([0.6; 2], [0.1; 2])).contains("turn"));
    let huge = |s: &mut Scene| s.camera.messenger = Some(Messenger { enlarged: 9.0, jpeg_quality: 80 });
    assert!(refused(huge).contains("messenger"));
    let fold = |s: &mut Scene| s.seam.offset.steps.push(Step { at_mm: 0.0, amount_mm: 9.0, over_mm: 1.0 });
    assert!(refused(fold).contains("change of the offset"));
}

#[test]
fn random_scenes_have_finite_truth_and_whole_pictures() {
    let mut rng = ChaCha8Rng::seed_from_u64(77);
    let mut draw = |low: f64, high: f64| low + (high - low) * f64::from(rng.next_u32()) / f64::from(u32::MAX);
    let mut whole = 0;
    for seed in 0..60 {
        let mut scene = crowded(seed);
        let (seam, camera) = (&mut scene.seam, &mut scene.camera);
        (camera.width_px, camera.height_px) = (draw(1.0, 70.0) as u32, draw(1.0, 70.0) as u32);
        camera.focal_px = 1.5 * f64::from(camera.width_px.max(camera.height_px));
        (camera.mm_per_px, camera.tilt_rad, camera.tilt_towards_rad) =
            (draw(0.02, 4.0), draw(0.0, 0.7), draw(0.0, 6.3));
        (camera.barrel, camera.defocus_px, camera.motion_px) = (draw(-0.1, 0.1), draw(0.0, 30.0), draw(0.0, 30.0));
        (seam.lean_rad, seam.aside_mm) = (draw(-1.0, 1.0), draw(-100.0, 100.0));
        seam.bow_mm = draw(-8.0, 8.0);
        seam.slope = [draw(-1.0, 1.0), draw(-1.0, 1.0)];
        seam.offset = OffsetProfile::constant(draw(-300.0, 300.0));
        let Rendered { photo, truth, .. } = match render(&scene) {
            Ok(rendered) => rendered,
            Err(problem) => {
                assert!(problem.to_string().contains("outside the picture"), "{problem}");
                continue;
            }
        };
        whole += 1;
        assert_eq!(photo.dimensions(), (scene.camera.width_px, scene.camera.height_px));
        assert!((truth.mean_offset_mm - scene.seam.offset.constant_mm).abs() < 1e-9);
        assert!(truth.mm_per_px.is_finite() && truth.length_mm >= 0.0);
        assert!(truth.readings.iter().all(|r| (r.at_px.x + r.at_px.y + r.offset_mm).is_finite()));
    }
    assert!(whole >= 20, "only {whole} scenes were in the picture");
}
