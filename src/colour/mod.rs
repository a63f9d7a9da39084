//! Colours as the eye compares them: 8-bit sRGB → CIELAB → the difference of CIEDE2000.

pub mod word;

use crate::light;

/// A colour in CIELAB, D65 white, 2° observer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lab {
    /// Lightness L*, 0 to 100.
    pub lightness: f64,
    /// a*: green (−) to red (+).
    pub a: f64,
    /// b*: blue (−) to yellow (+).
    pub b: f64,
}

impl Lab {
    /// The CIELAB colour of an 8-bit sRGB colour.
    ///
    /// # Source
    /// Primaries: IEC 61966-2-1:1999. CIELAB: CIE 15, with ε = 216/24389, κ = 24389/27 and the white
    /// that the primaries add up to.
    pub fn from_srgb(rgb: [u8; 3]) -> Self {
        let [r, g, b] = rgb.map(|code| light::decode(f64::from(code) / 255.0));
        let x = (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505;
        let y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
        let z = (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.0890;
        let [fx, fy, fz] =
            [x, y, z].map(|t| if t > 216.0 / 24389.0 { t.cbrt() } else { (24389.0 / 27.0 * t + 16.0) / 116.0 });
        Lab { lightness: 116.0 * fy - 16.0, a: 500.0 * (fx - fy), b: 200.0 * (fy - fz) }
    }

    /// ΔE₀₀, the CIEDE2000 difference to another colour (k_L = k_C = k_H = 1); 0 is the same, about 1 is just seen.
    ///
    /// # Source
    /// G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference formula", Color Research & Application 30(1),
    /// 2005, equations 2 to 22.
    pub fn difference(self, other: Self) -> f64 {
        let mean_chroma = (self.a.hypot(self.b) + other.a.hypot(other.b)) / 2.0;
        let grey = 0.5 * (1.0 - seventh(mean_chroma));
        let (a1, a2) = (self.a * (1.0 + grey), other.a * (1.0 + grey));
        let (c1, c2) = (a1.hypot(self.b), a2.hypot(other.b));
        let (h1, h2) = (hue_deg(a1, self.b), hue_deg(a2, other.b));

        let colourless = c1 * c2 == 0.0;
        let mut turn = h2 - h1;
        if colourless {
            turn = 0.0;
        } else if turn > 180.0 {
            turn -= 360.0;
        } else if turn < -180.0 {
            turn += 360.0;
        }
        let d_lightness = other.lightness - self.lightness;
        let d_chroma = c2 - c1;
        let d_hue = 2.0 * (c1 * c2).sqrt() * (turn / 2.0).to_radians().sin();

        let lightness = (self.lightness + other.lightness) / 2.0;
        let chroma = (c1 + c2) / 2.0;
        let hue = match (h1 + h2, (h1 - h2).abs()) {
            (sum, _) if colourless => sum,
            (sum, apart) if apart <= 180.0 => sum / 2.0,
            (sum, _) if sum < 360.0 => (sum + 360.0) / 2.0,
            (sum, _) => (sum - 360.0) / 2.0,
        };
        let wave = |k: f64, shift_deg: f64| (k * hue + shift_deg).to_radians().cos();
        let t = 1.0 - 0.17 * wave(1.0, -30.0) + 0.24 * wave(2.0, 0.0) + 0.32 * wave(3.0, 6.0) - 0.20 * wave(4.0, -63.0);
        let dip = (lightness - 50.0).powi(2);
        let s_lightness = 1.0 + 0.015 * dip / (20.0 + dip).sqrt();
        let s_chroma = 1.0 + 0.045 * chroma;
        let s_hue = 1.0 + 0.015 * chroma * t;
        let turn_deg = 30.0 * (-((hue - 275.0) / 25.0).powi(2)).exp();
        let rotation = -(2.0 * turn_deg).to_radians().sin() * 2.0 * seventh(chroma);

        let (l, c, h) = (d_lightness / s_lightness, d_chroma / s_chroma, d_hue / s_hue);
        (l * l + c * c + h * h + rotation * c * h).max(0.0).sqrt()
    }
}

/// √(c⁷ / (c⁷ + 25⁷)).
fn seventh(chroma: f64) -> f64 {
    let power = chroma.powi(7);
    (power / (power + 25f64.powi(7))).sqrt()
}

/// Hue angle, degrees in [0, 360); 0 for a colour without hue.
fn hue_deg(a: f64, b: f64) -> f64 {
    if a == 0.0 && b == 0.0 { 0.0 } else { b.atan2(a).to_degrees().rem_euclid(360.0) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_34_published_pairs_come_out_in_both_directions() {
        // Sharma, Wu, Dalal 2005, Table 1, printed to four decimals.
        let rows = include_str!("../../tests/outside/ciede2000_pairs.csv");
        let mut seen = 0;
        for row in rows.lines().skip(1) {
            let v: Vec<f64> = row.split(',').map(|field| field.trim().parse().unwrap()).collect();
            let one = Lab { lightness: v[1], a: v[2], b: v[3] };
            let two = Lab { lightness: v[4], a: v[5], b: v[6] };
            assert!(
                (one.difference(two) - v[7]).abs() < 1e-4,
                "pair {}: {} is not {}",
                v[0],
                one.difference(two),
                v[7]
            );
            assert!((two.difference(one) - v[7]).abs() < 1e-4, "pair {} reversed", v[0]);
            seen += 1;
        }
        assert_eq!(seen, 34);
    }

    #[test]
    fn srgb_primaries_and_greys_land_where_they_are_known_to() {
        // sRGB red in CIELAB, two public colour libraries: (53.2406, 80.0923, 67.2028) and (53.2329, 80.1112, 67.2237).
        let red = Lab::from_srgb([255, 0, 0]);
        assert!((red.lightness - 53.24).abs() < 0.03 && (red.a - 80.1).abs() < 0.03 && (red.b - 67.21).abs() < 0.03);
        let white = Lab::from_srgb([255, 255, 255]);
        assert!((white.lightness - 100.0).abs() < 1e-9 && white.a.abs() < 1e-9 && white.b.abs() < 1e-9);
        assert_eq!(Lab::from_srgb([0, 0, 0]).lightness, 0.0);
    }
}
