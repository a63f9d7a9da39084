//! Plane homographies against OpenCV 5.0.0 and scikit-image 0.26.0.

use nalgebra::Matrix3;
use seamstep::scale::homography::{apply, from_pairs, jacobian};

type Pairs = ([[f64; 2]; 4], [[f64; 2]; 4]);

/// An ID-1 card's corners in a photograph of our own, pixels, and on the card: 85.60 x 53.98 mm (ISO/IEC 7810, read at
/// second hand).
const CARD: Pairs = (
    [[412.3, 318.7], [1633.9, 285.2], [1702.4, 1071.5], [371.8, 1098.9]],
    [[0.0, 0.0], [85.6, 0.0], [85.6, 53.98], [0.0, 53.98]],
);

/// The same card's nine grid points, its photograph's points each moved by up to half a pixel.
const NINE_PX: [[f64; 2]; 9] = [
    [412.6, 318.5],
    [1019.7475, 302.4392],
    [1634.1, 285.3],
    [392.5088, 692.2551],
    [1026.359, 676.6578],
    [1666.6812, 661.6896],
    [372.05, 1099.05],
    [1033.0417, 1085.1795],
    [1702.45, 1071.15],
];
const NINE_MM: [[f64; 2]; 9] = [
    [0.0, 0.0],
    [42.8, 0.0],
    [85.6, 0.0],
    [0.0, 26.99],
    [42.8, 26.99],
    [85.6, 26.99],
    [0.0, 53.98],
    [42.8, 53.98],
    [85.6, 53.98],
];

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

#[test]
fn an_exact_homography_is_recovered() {
    // Computed: the map itself; scikit-image recovers it to 1.6e-13, OpenCV to 5.2e-8.
    let due = Matrix3::new(1.2, 0.1, 30.0, -0.05, 1.1, 20.0, 5e-4, -2e-4, 1.0);
    let from = [[0.0, 0.0], [856.0, 0.0], [856.0, 539.8], [0.0, 539.8]];
    let to = [
        [30.0, 20.0],
        [740.336_134_453_781_6, -15.966_386_554_621_852],
        [841.777_521_893_275_9, 432.547_498_560_649_7],
        [94.143_760_369_490_15, 688.063_315_546_388],
    ];
    let found = from_pairs(&from, &to).expect("a homography");
    assert!((found - due).amax() < 1e-9, "{found}");
    let centre = apply(&found, [428.0, 269.9]);
    assert!(distance(centre, [491.879_450_354_304_25, 254.728_366_752_297_38]) < 1e-9, "{centre:?}");
}

#[test]
fn a_photographed_card_gives_the_libraries_millimetres() {
    let found = from_pairs(&CARD.0, &CARD.1).expect("a homography");
    // scikit-image (computed); OpenCV differs from it by up to 3.6e-6.
    let library = Matrix3::new(
        0.073_977_402_332_820_42,
        0.003_840_149_698_127_698,
        -31.724_738_690_615_16,
        0.002_157_408_774_588_210_4,
        0.078_671_359_971_252_38,
        -25.962_062_060_600_857,
        1.240_727_207_982_323_5e-5,
        0.000_119_068_999_473_292_57,
        1.0,
    );
    assert!((found - library).amax() < 1e-10, "{found}");
    // The millimetres by numpy 2.4.6 (computed), and by OpenCV (computed), which is the coarser.
    let points = [
        ([1000.0, 700.0], [41.013_497_527_295_52, 28.533_095_793_471_75], [41.013_495_8, 28.533_094_7]),
        ([1200.0, 700.0], [54.392_856_438_393_096, 28.861_511_399_373_97], [54.392_854_2, 28.861_510_4]),
        ([1000.0, 900.0], [40.827_124_722_928_54, 41.980_043_291_737_7], [40.827_123_0, 41.980_042_1]),
        ([800.0, 500.0], [27.469_236_162_133_786, 14.118_845_457_863_99], [27.469_235_2, 14.118_844_4]),
    ];
    for (px, numpy_mm, opencv_mm) in points {
        let mm = apply(&found, px);
        assert!(distance(mm, numpy_mm) < 1e-8, "{px:?}: {mm:?}");
        assert!(distance(mm, opencv_mm) < 5e-6, "{px:?}: {mm:?}");
    }
    let span = distance(apply(&found, points[0].0), apply(&found, points[1].0));
    assert!((span - 13.383_389_020_803_596).abs() < 1e-8, "{span}");
    let slope = jacobian(&found, [1000.0, 700.0]);
    let due = nalgebra::Matrix2::new(
        0.067_048_289_424_005_29,
        -0.000_952_116_004_957_709_5,
        0.001_645_796_688_930_15,
        0.068_695_934_336_615_37,
    );
    assert!((slope - due).amax() < 1e-10, "{slope}");
}

#[test]
fn nine_points_that_disagree_give_the_algebraic_fit() {
    let found = from_pairs(&NINE_PX, &NINE_MM).expect("a homography");
    // scikit-image (computed); numpy's own singular value decomposition differs from it by 9.9e-8 (computed).
    let mm = apply(&found, [1000.0, 700.0]);
    assert!(distance(mm, [41.009_034_037_522_6, 28.533_613_010_862_46]) < 1e-7, "{mm:?}");
    let square: f64 = NINE_PX.iter().zip(NINE_MM).map(|(&px, mm)| distance(apply(&found, px), mm).powi(2)).sum();
    let rms = (square / 9.0).sqrt();
    assert!((rms - 0.020_715_956_9).abs() < 1e-8, "{rms}");
    // OpenCV minimises the geometric error and leaves 0.0207052627 mm (computed): no algebraic fit is below it.
    assert!(rms > 0.020_705_262);
}

#[test]
fn far_corners_stay_well_conditioned() {
    // Computed: without normalisation the worst corner is out by 2.9e-8 mm, with it by 1.8e-12.
    let px = [[1e4, 1e4], [10_100.0, 1e4], [10_100.0, 10_080.0], [1e4, 10_080.0]];
    let found = from_pairs(&px, &CARD.1).expect("a homography");
    for (px, mm) in px.into_iter().zip(CARD.1) {
        assert!(distance(apply(&found, px), mm) < 1e-10, "{px:?}");
    }
}
