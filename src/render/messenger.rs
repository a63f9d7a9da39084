//! A messenger between the camera and whoever looks: a small picture is enlarged again and written as JPEG a second time.

use super::camera::Camera;
use crate::units::PxPoint;
use image::RgbImage;
use image::imageops::{FilterType, resize};

/// What is done to a picture on its way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Messenger {
    /// How many times as wide and as high the picture is made, 1 to 4; no detail comes back.
    pub enlarged: f64,
    /// Quality of the second JPEG, 1 to 100.
    pub jpeg_quality: u8,
}

impl Messenger {
    /// Width and height of the picture that arrives, pixels.
    pub(super) fn size_px(self, camera: &Camera) -> [u32; 2] {
        [camera.width_px, camera.height_px].map(|px| (f64::from(px) * self.enlarged).round() as u32)
    }

    /// How many times as wide and as high it is, once its sides are whole pixels.
    fn factors(self, camera: &Camera) -> [f64; 2] {
        let [width, height] = self.size_px(camera).map(f64::from);
        [width / f64::from(camera.width_px), height / f64::from(camera.height_px)]
    }

    /// The picture enlarged by a cubic filter (Catmull and Rom's), which is smooth.
    pub(super) fn enlarge(self, photo: &RgbImage, camera: &Camera) -> RgbImage {
        let [width, height] = self.size_px(camera);
        resize(photo, width, height, FilterType::CatmullRom)
    }
}

impl Camera {
    /// Where a place of the camera's own picture is in the picture that arrives.
    pub(super) fn arrives(&self, p: PxPoint) -> PxPoint {
        let Some(messenger) = self.messenger else { return p };
        let [across, down] = messenger.factors(self);
        PxPoint::new((p.x + 0.5) * across - 0.5, (p.y + 0.5) * down - 0.5)
    }

    /// How many pixels arrive for one of the camera's, as a length.
    pub(super) fn enlarged(&self) -> f64 {
        self.messenger.map_or(1.0, |messenger| messenger.factors(self).iter().product::<f64>().sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_arrives_where_the_light_does() {
        let messenger = Messenger { enlarged: 2.3, jpeg_quality: 90 };
        let camera = Camera { messenger: Some(messenger), ..Camera::new(40, 30, 0.3) };
        // A soft spot about (17, 11): the mean place of its light moves with the enlargement.
        let photo = RgbImage::from_fn(40, 30, |x, y| {
            let away = (f64::from(x) - 17.0).hypot(f64::from(y) - 11.0);
            image::Rgb([(200.0 * (-0.5 * (away / 2.5).powi(2)).exp()) as u8; 3])
        });
        let large = messenger.enlarge(&photo, &camera);
        assert_eq!(large.dimensions(), (92, 69));
        let sum = |of: fn(u32, u32) -> f64| -> f64 {
            large.enumerate_pixels().map(|(x, y, p)| of(x, y) * f64::from(p.0[0])).sum()
        };
        let whole = sum(|_, _| 1.0);
        let (x, y) = (sum(|x, _| f64::from(x)) / whole, sum(|_, y| f64::from(y)) / whole);
        let place = camera.arrives(PxPoint::new(17.0, 11.0));
        assert!((place.x - x).abs() < 0.1 && (place.y - y).abs() < 0.1, "{place:?} {x} {y}");
        assert!((camera.enlarged() - 2.3).abs() < 1e-9);
    }
}
