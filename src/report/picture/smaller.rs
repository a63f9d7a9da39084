//! A photograph made smaller.

use crate::photo::halved::by_rows;
use image::RgbImage;
use image::imageops::{self, FilterType};

/// A row or column may be left over by halving of a picture that has so many.
const MANY: u32 = 1000;

/// The picture at this size. At less than half its own, the means of two by two pixels come first, as often as that leaves
/// enough of them: they say the same at a fraction of the work.
pub fn resized(photo: &RgbImage, width: u32, height: u32) -> RgbImage {
    let is_ample = |size: u32, asked: u32| asked > 0 && size / 2 >= asked && (size.is_multiple_of(2) || size > MANY);
    let may_halve = |of: &RgbImage| is_ample(of.width(), width) && is_ample(of.height(), height);
    let mut half: Option<RgbImage> = None;
    while may_halve(half.as_ref().unwrap_or(photo)) {
        half = Some(halved(half.as_ref().unwrap_or(photo)));
    }
    imageops::resize(half.as_ref().unwrap_or(photo), width, height, FilterType::Triangle)
}

/// Half the size: each pixel the mean of two by two; what is left over at the right and below is left out.
fn halved(picture: &RgbImage) -> RgbImage {
    let [width, height] = [picture.width(), picture.height()].map(|side| side / 2);
    let (raw, stride) = (picture.as_raw(), 3 * picture.width() as usize);
    let pixels = by_rows(width as usize, height as usize, |y, row: &mut [[u8; 3]]| {
        let (top, low) = (&raw[2 * y * stride..][..stride], &raw[(2 * y + 1) * stride..][..stride]);
        for ((out, a), b) in row.iter_mut().zip(top.chunks_exact(6)).zip(low.chunks_exact(6)) {
            for c in 0..3 {
                let sum: u16 = [a[c], a[c + 3], b[c], b[c + 3]].map(u16::from).iter().sum();
                out[c] = ((sum + 2) / 4) as u8;
            }
        }
    });
    RgbImage::from_raw(width, height, pixels.into_flattened()).expect("as many pixels as its size says")
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn everything_keeps_its_place_and_its_light() {
        let ramp = RgbImage::from_fn(1603, 1201, |x, y| Rgb([(x / 8) as u8, (y / 8) as u8, 77]));
        for (width, height) in [(1603, 1201), (900, 674), (800, 600), (300, 225), (41, 31)] {
            let small = resized(&ramp, width, height);
            assert_eq!(small.dimensions(), (width, height));
            for (x, y) in [(width / 3, height / 2), (width - 3, height - 3)] {
                let [r, g, b] = small.get_pixel(x, y).0;
                let code =
                    |place: u32, size: u32, own: f64| (f64::from(place) + 0.5) / f64::from(size) * own / 8.0 - 0.5;
                // Half a step of the ramp, and the row or column that halving leaves out.
                assert!((f64::from(r) - code(x, width, 1603.0)).abs() < 1.2, "{width}: {r} at {x}");
                assert!((f64::from(g) - code(y, height, 1201.0)).abs() < 1.2 && b == 77, "{height}: {g} at {y}");
            }
        }
        assert_eq!(resized(&ramp, 1, 1).dimensions(), (1, 1));
    }
}
