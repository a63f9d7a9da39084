//! A printer without paper: the card's SVG drawn as a picture, by code that shares nothing with its writer.

use image::RgbImage;
use resvg::tiny_skia::{Color, Pixmap, Transform};
use resvg::usvg;
use seamstep::card::PageRect;

/// The part `window` of a printed SVG page at a true `px_per_mm`, on white; its words are left out.
///
/// The picture has `window`'s size times `px_per_mm`, rounded up; its top left pixel's outer corner is `window`'s.
pub fn print_svg(svg: &str, px_per_mm: f64, window: PageRect) -> RgbImage {
    let tree = usvg::Tree::from_str(svg, &usvg::Options::default()).expect("a valid SVG");
    let mut paper = sheet(px_per_mm, window);
    // The renderer's unit is the CSS pixel: 96 to the inch (CSS Values and Units, from memory).
    resvg::render(&tree, placed(px_per_mm * 25.4 / 96.0, px_per_mm, window), &mut paper.as_mut());
    rgb(&paper)
}

/// White paper of the size of `window`.
pub fn sheet(px_per_mm: f64, window: PageRect) -> Pixmap {
    let [width_px, height_px] = [window.width_mm, window.height_mm].map(|mm| (mm * px_per_mm).ceil() as u32);
    let mut paper = Pixmap::new(width_px, height_px).expect("a picture of some size");
    paper.fill(Color::WHITE);
    paper
}

/// From a file's units to the pixels of `window`.
pub fn placed(px_per_unit: f64, px_per_mm: f64, window: PageRect) -> Transform {
    let [x_px, y_px] = [window.x_mm, window.y_mm].map(|mm| (-mm * px_per_mm) as f32);
    Transform::from_row(px_per_unit as f32, 0.0, 0.0, px_per_unit as f32, x_px, y_px)
}

/// The paper as a picture.
pub fn rgb(paper: &Pixmap) -> RgbImage {
    let bytes = paper.data().chunks_exact(4).flat_map(|pixel| pixel[..3].to_vec()).collect();
    RgbImage::from_raw(paper.width(), paper.height(), bytes).expect("three bytes a pixel")
}
