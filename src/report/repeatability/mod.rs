//! What a study of the measurement itself says: text, JSON, a page with its chart.

pub mod chart;

pub mod html;

pub mod json;

mod phrase;

mod sources;

pub mod text;
