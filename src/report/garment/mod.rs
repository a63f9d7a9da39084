//! A whole piece → one sheet: [`text`], [`json`], and a page ([`html`]) with a picture and a chart of each seam; what they say
//! alike is in [`phrase`].

pub mod phrase;

pub mod text;

pub mod json;

pub mod html;

#[cfg(test)]
mod tests;
