//! sRGB and contrast.

use seamstep::light::{decode, encode, linear, luminance, to_srgb8};

/// IEC 61966-2-1:1999 with its threshold 0.04045 (read at second hand); the values by colour-science 0.4.7 (computed).
const DECODED: [(u8, f64); 13] = [
    (0, 0.0),
    (1, 0.000_303_526_983_548_837_5),
    (10, 0.003_035_269_835_488_375),
    (11, 0.003_346_535_763_899_161),
    (50, 0.031_896_033_073_011_53),
    (118, 0.181_164_244_249_860_22),
    (119, 0.184_474_994_500_441),
    (127, 0.212_230_757_414_055_23),
    (128, 0.215_860_500_113_899_26),
    (188, 0.502_886_458_032_568_7),
    (200, 0.577_580_440_429_650_6),
    (254, 0.991_102_097_113_829_8),
    (255, 1.0),
];
/// The same standard's encoding, computed.
const ENCODED: [(f64, f64); 7] = [
    (0.0, 0.0),
    (0.001, 0.012_920_000_000_000_001),
    (0.003_130_8, 0.040_449_936),
    (0.01, 0.099_852_822_734_128_32),
    (0.18, 0.461_356_129_500_441_64),
    (0.5, 0.735_356_983_052_449_5),
    (1.0, 1.0),
];

#[test]
fn srgb_codes_decode_to_the_published_light() {
    for (code, due) in DECODED {
        let exact = decode(f64::from(code) / 255.0);
        assert!((exact - due).abs() < 1e-12, "code {code}: {exact}");
        assert!((f64::from(linear(code)) - due).abs() < 1e-7, "code {code} of the table: {}", linear(code));
    }
}

#[test]
fn light_encodes_to_the_published_srgb() {
    for (light, due) in ENCODED {
        assert!((encode(light) - due).abs() < 1e-12, "{light}: {}", encode(light));
        assert_eq!(to_srgb8([light; 3]), [(due * 255.0).round() as u8; 3]);
    }
}

#[test]
fn contrast_is_taken_on_linear_luminance() {
    // Michelson (1927), (Lmax - Lmin)/(Lmax + Lmin), formula from memory: 0.638484 for sRGB 200 against 100 in linear
    // light; code values would give 0.333333 (computed).
    let [bright, dark] = [200, 100].map(|code| f64::from(luminance([linear(code); 3])));
    let contrast = (bright - dark) / (bright + dark);
    assert!((contrast - 0.638_483_957_6).abs() < 1e-6, "{contrast}");
    // Relative luminance of the red primary, 0.2126 (IEC 61966-2-1; computed with colour-science 0.4.7).
    assert!((luminance([1.0, 0.0, 0.0]) - 0.2126).abs() < 1e-7);
    assert!((luminance([1.0; 3]) - 1.0).abs() < 1e-6);
}
