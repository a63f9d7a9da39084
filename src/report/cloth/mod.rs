//! The flat cloth's faces: [`text`] to read, [`json`] for programs, [`html`] with its [`picture`] and [`chart`] to keep.

mod phrase;

pub mod chart;

pub mod html;

pub mod json;

pub mod picture;

pub mod text;
