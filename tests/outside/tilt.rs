//! The view of a tilted plane against a reference library's camera.

use seamstep::scale::homography;
use seamstep::scale::tilt::view::View;

/// Corners of a rectangle of 400 by 300 seen from 600 away by a camera of focal length 740 px that is tilted by 18° towards
/// 40° (right is 0, down is 90), in pixels about the principal point, and the horizon through the vanishing points of its
/// sides. Computed with OpenCV 5.0.0 (Rodrigues, projectPoints) and NumPy 2.4.6 (cross products).
const CORNERS: [[f64; 2]; 4] = [
    [-269.811_982_520_314_4, -201.178_769_996_103_43],
    [237.105_530_532_386_6, -181.883_650_992_379_16],
    [208.338_562_095_698_53, 155.342_602_925_404_78],
    [-251.393_564_016_535_66, 192.844_001_388_944_15],
];
const HORIZON: [f64; 2] = [0.000_336_355_307_782_600_1, 0.000_282_235_614_704_900_6];

#[test]
fn a_tilted_rectangle_is_straightened() {
    let view = View::new(HORIZON, 740.0).expect("a view");
    assert!((view.tilt_rad().to_degrees() - 18.0).abs() < 1e-6);
    let flat = CORNERS.map(|corner| homography::apply(&view.px_to_plane, corner));
    let side = |a: usize, b: usize| [flat[b][0] - flat[a][0], flat[b][1] - flat[a][1]];
    let length = |s: [f64; 2]| s[0].hypot(s[1]);
    let (top, right, bottom, left) = (side(0, 1), side(1, 2), side(3, 2), side(0, 3));
    assert!((length(top) / length(right) - 4.0 / 3.0).abs() < 1e-6, "{flat:?}");
    assert!((length(top) - length(bottom)).abs() < 1e-6 && (length(left) - length(right)).abs() < 1e-6);
    assert!((top[0] * right[0] + top[1] * right[1]).abs() < 1e-6 * length(top) * length(right));
}
