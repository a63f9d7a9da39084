//! The bare decoding of a photograph by the `image` crate, as a whole process: what `check` is held against.
//! `decode PHOTOGRAPH` prints its width and height.
#![allow(missing_docs, clippy::print_stdout)]

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let file = std::env::args_os().nth(1).ok_or("usage: decode PHOTOGRAPH")?;
    let mut reader = image::ImageReader::open(file)?.with_guessed_format()?;
    reader.no_limits();
    let pixels = reader.decode()?.into_rgb8();
    println!("{} {}", pixels.width(), pixels.height());
    Ok(())
}
