//! What pieces beside each other look like: text, JSON, strips at one scale, a chart and a page.

pub mod chart;

pub mod html;

pub mod json;

mod phrase;

pub mod strips;

pub mod text;
