//! A lot's five faces: [`text`] to read, [`json`] for programs, [`csv`] for spreadsheets, [`html`] to keep, [`chart`] to see.

pub mod phrase;

pub mod text;

pub mod json;

pub mod csv;

pub mod chart;

pub mod html;

#[cfg(test)]
mod sample;
