//! Room 9: [`Finding`](crate::finding::Finding) → what a person or a program reads.
//!
//! Four faces of one finding: [`json`] for programs, [`text`] for the ear, [`picture`] drawn on the photograph itself,
//! and [`html`], one page that holds the picture, the [`chart`] and everything else; [`all`] shows every seam of a photograph. No face measures or judges: they
//! round ([`digits`](crate::digits)), name ([`colour words`](crate::colour::word), [`phrase`]) and draw. The flat [`cloth`], a whole
//! [`garment`], pieces to [`compare`], a [`lot`], a [`trial`] and a study of the measurement's [`repeatability`] have faces of
//! their own. [`write_whole`] puts any of them into a file, whole or not at all.

pub mod look;

mod wrap;

pub mod phrase;

pub mod json;

pub mod text;

pub mod picture;

pub mod chart;

pub mod html;

pub mod all;

pub mod trial;

pub mod cloth;

pub mod garment;

pub mod compare;

pub mod lot;

pub mod repeatability;

mod save;

#[cfg(test)]
mod sample;

pub use save::{JPEG_QUALITY, PictureFormat, encode_picture, jpeg, picture_format, write_new, write_whole};
