//! The uncertainty budget against the GUM's worked example and Student's distribution.

use seamstep::budget::{Budget, Row, students_t};

fn budget(rows: &[(f64, f64)]) -> Budget {
    Budget { rows: rows.iter().map(|&(u_mm, freedom)| Row { source: "published", u_mm, freedom }).collect() }
}

/// A millionth of a millimetre.
const NM: f64 = 1e-6;

/// Calibration of the end gauge's difference from the standard: repeated observations, random and systematic effects of
/// the comparator, each with its degrees of freedom. JCGM 100:2008, H.1.3.2 (inputs read in the library GTC's example GUM_H1).
fn difference() -> Budget {
    budget(&[(5.8 * NM, 24.0), (3.9 * NM, 5.0), (6.7 * NM, 8.0)])
}

/// The four sources of the end gauge that count at first order, from the unrounded inputs of JCGM 100:2008, H.1.
fn end_gauge() -> Budget {
    let standard_mm = 50.000_623;
    let difference = difference();
    // δα ±1e-6 per degree at a mean temperature 0.1 degrees off, and δθ ±0.05 degrees at 11.5e-6: both rectangular.
    let expansion = standard_mm * 0.1 * 1e-6 / 3f64.sqrt();
    let temperature = standard_mm * 11.5e-6 * 0.05 / 3f64.sqrt();
    budget(&[
        (25.0 * NM, 18.0),
        (difference.combined_mm(), difference.effective_freedom()),
        (expansion, 50.0),
        (temperature, 2.0),
    ])
}

#[test]
fn the_end_gauge_has_the_guides_uncertainty() {
    // Published in JCGM 100:2008, H.1: u(d) = 9.7 nm with 25.6 degrees of freedom, u_c = 32 nm, 16 effective degrees (read
    // in the tests of the library suncal); t 2.92, U 93 nm (H.1.6, from memory). At full precision by uncertainties 3.2.3
    // and scipy 1.17.1 (computed): 9.681942, 25.447251; 31.663879, 16.751856, 2.920782, 92.483276.
    let difference = difference();
    assert!((difference.combined_mm() / NM - 9.7).abs() < 0.05);
    assert!((difference.combined_mm() / NM - 9.681_941_953_967_707).abs() < 1e-9);
    // The published 25.6 comes of rounded steps.
    assert!((difference.effective_freedom() - 25.6).abs() < 0.2);
    assert!((difference.effective_freedom() - 25.447_250_777_362_726).abs() < 1e-9);

    let gauge = end_gauge();
    for (row, due_nm) in gauge.rows.iter().zip([25.0, 9.681_941_954, 2.886_787_315, 16.599_027_061]) {
        // To a millionth: the gauge is 215 nm longer than the standard that the temperature stretches.
        assert!((row.u_mm / NM - due_nm).abs() < 1e-6 * due_nm, "{row:?}, due {due_nm}");
    }
    let (u_nm, freedom) = (gauge.combined_mm() / NM, gauge.effective_freedom());
    assert!((u_nm - 32.0).abs() < 0.5 && (u_nm - 31.663_879_111).abs() < 1e-6, "{u_nm}");
    assert!((16.0..17.0).contains(&freedom) && (freedom - 16.751_855_738).abs() < 1e-5, "{freedom}");
    let t = students_t(0.99, freedom.floor());
    assert!((t - 2.92).abs() < 0.005 && (t - 2.920_781_622).abs() < 1e-8, "{t}");
    assert!((t * u_nm - 93.0).abs() < 1.0 && (t * u_nm - 92.483_276_212).abs() < 1e-5, "{}", t * u_nm);
    // The guide rounds u_c first: 2.92 x 32 nm.
    assert_eq!((t * u_nm.round()).round(), 93.0);
    // At the tool's own level of 95.45 %: scipy's t for 16 (computed).
    assert!((gauge.coverage_factor() - 2.168_942_995_677).abs() < 1e-8, "{}", gauge.coverage_factor());
    assert!((gauge.expanded_mm() / NM - 2.168_942_995_677 * 31.663_879_111).abs() < 1e-5);
}

#[test]
fn second_order_terms_are_rows_like_others() {
    // JCGM 100:2008, H.1.7: 11.7 nm and 1.7 nm take u_c to 34 nm (published, from memory); 11.726186, 1.666687,
    // 33.806545 (numpy 2.4.6, computed).
    let standard_mm = 50.000_623;
    let u_theta = 0.2f64.hypot(0.5 / 2f64.sqrt());
    let second = [standard_mm * 1e-6 / 3f64.sqrt() * u_theta, standard_mm * 2e-6 * 0.05 / 3.0];
    assert!((second[0] / NM - 11.7).abs() < 0.05 && (second[1] / NM - 1.7).abs() < 0.05, "{second:?}");
    let mut gauge = end_gauge();
    gauge.rows.extend(second.map(|u_mm| Row { source: "second order", u_mm, freedom: f64::INFINITY }));
    let u_nm = gauge.combined_mm() / NM;
    assert!((u_nm - 34.0).abs() < 0.5 && (u_nm - 33.806_545_430).abs() < 1e-6, "{u_nm}");
}

#[test]
fn a_type_b_row_adds_freedom_as_welch_and_satterthwaite_have_it() {
    // u 0.57 with 9 degrees and 0.25 with infinitely many: 12.8 (read in the tests of the library suncal);
    // 12.795649 (numpy 2.4.6, computed).
    let freedom = budget(&[(0.57, 9.0), (0.25, f64::INFINITY)]).effective_freedom();
    assert!((freedom - 12.8).abs() < 0.05 && (freedom - 12.795_649_034_137_076).abs() < 1e-9, "{freedom}");
}

#[test]
fn four_equal_sources_double_the_uncertainty_whatever_their_shape() {
    // JCGM 101:2008, tables 2 and 3 (read in the tests of the library suncal): four standard normal, and four rectangular
    // inputs of half-width √3, sum to u = 2.0; the interval that holds 95 % is ±3.92 for normal ones.
    let four = budget(&[(1.0, f64::INFINITY); 4]);
    assert_eq!(four.combined_mm(), 2.0);
    assert!((students_t(0.95, four.effective_freedom()) * four.combined_mm() - 3.92).abs() < 0.005);
    // The tool's own 95.45 % stand a little wider.
    assert_eq!(four.expanded_mm(), 4.0);
}

#[test]
fn students_t_is_the_guides_table() {
    // JCGM 100:2008, table G.2, by scipy 1.17.1 (computed).
    let levels = [0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973];
    let table = [
        (1.0, [1.837_409_429, 6.313_751_515, 12.706_204_736, 13.967_811_488, 63.656_741_163, 235.783_687_158]),
        (2.0, [1.321_315_462, 2.919_985_580, 4.302_652_730, 4.526_550_760, 9.924_843_201, 19.206_015_888]),
        (5.0, [1.110_533_394, 2.015_048_373, 2.570_581_836, 2.648_654_254, 4.032_142_984, 5.506_984_967]),
        (10.0, [1.052_586_481, 1.812_461_123, 2.228_138_852, 2.283_681_613, 3.169_272_673, 3.956_889_990]),
        (16.0, [1.032_264_919, 1.745_883_676, 2.119_905_299, 2.168_942_996, 2.920_781_622, 3.544_091_856]),
        (20.0, [1.025_655_635, 1.724_718_243, 2.085_963_447, 2.133_028_362, 2.845_339_710, 3.422_118_567]),
        (50.0, [1.010_122_654, 1.675_905_025, 2.008_559_112, 2.051_250_782, 2.677_793_271, 3.157_121_316]),
    ];
    for (freedom, row) in table {
        for (level, due) in levels.into_iter().zip(row) {
            let t = students_t(level, freedom);
            assert!((t / due - 1.0).abs() < 1e-8, "{level}, {freedom}: {t}, due {due}");
        }
    }
}
