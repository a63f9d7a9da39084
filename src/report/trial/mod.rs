//! A trial's three faces: [`text`] to read, [`json`] for programs, [`chart`] to see.

pub mod chart;

pub mod json;

pub mod text;
