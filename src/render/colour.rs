//! Colours of the scene: 8-bit sRGB outside, linear light inside.

use crate::light;

/// An sRGB colour, 8 bits a channel.
pub type Srgb = [u8; 3];

/// Linear light, 0 to 1 for what the sensor can hold; red, green, blue.
pub(super) type Linear = [f32; 3];

/// A colour as linear light.
pub(super) fn linear(colour: Srgb) -> Linear {
    colour.map(light::linear)
}

/// A colour of linear light, each channel multiplied.
pub(super) fn scaled(colour: Linear, gain: f32) -> Linear {
    colour.map(|x| x * gain)
}

/// The encoding of linear light to 8-bit sRGB, tabulated over the square root of the light.
pub(super) struct Encoder {
    table: Vec<u8>,
}

/// Steps of the table: fine enough that a step is a small part of one 8-bit level.
const STEPS: usize = 8192;

impl Encoder {
    /// The table.
    pub(super) fn new() -> Self {
        let table = (0..=STEPS)
            .map(|k| {
                let x = (k as f64 / STEPS as f64).powi(2);
                (light::encode(x) * 255.0).round() as u8
            })
            .collect();
        Self { table }
    }

    /// Linear light as an 8-bit sRGB channel; what is above 1 is blown, what is below 0 is black.
    pub(super) fn encode(&self, light: f32) -> u8 {
        self.table[(light.clamp(0.0, 1.0).sqrt() * STEPS as f32 + 0.5) as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_level_survives_there_and_back() {
        let encoder = Encoder::new();
        for level in 0..=255 {
            assert_eq!(encoder.encode(light::linear(level)), level);
        }
    }
}
