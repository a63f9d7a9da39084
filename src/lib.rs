//! Do the lines of striped or checked cloth run through the seam? Measured from a phone photograph.
//!
//! The walk, one room a step; a room imports only rooms before it (a test holds that):
//!
//! | room | from → to |
//! |---|---|
//! | [`photo`] | bytes → [`photo::Photo`] |
//! | [`scale`] | photo → [`scale::Plane`], pixels ↔ millimetres with their uncertainty |
//! | [`seam`] | photo + plane → [`seam::Seam`], the path and the coordinates that hang on it |
//! | [`strip`] | → [`strip::Strips`], the two sides resampled, what is not cloth left out |
//! | [`lines`] | → [`lines::Lines`], repeat, slope and contrast of each side |
//! | [`offset`] | → [`offset::Offset`], how far the lines jump, along the whole seam |
//! | [`verdict`] | → [`verdict::Verdict`], within tolerance or not, or not to be told |
//! | [`remedy`] | → [`remedy::Remedy`], what to unpick and move, and what will be left |
//! | [`report`] | [`finding::Finding`] → text, JSON, picture, page |
//!
//! [`settings`] are the user's own figures, [`written`] reads what people write; [`inspect`] is the corridor that walks them.
//! [`ask`] walks it with a file, [`record`] keeps what came of it in a line, [`manifest`] lists many files. [`card`] prints
//! the scale card, [`render`] makes photographs whose truth is known, [`trial`] measures many of them to tell how well seams
//! like the user's are measured. [`cloth`] measures the flat cloth before it is cut, [`garment`] judges a whole piece,
//! [`compare`] sets pieces side by side, [`lot`] sums up a delivery, judged by [`acceptance`] and [`capability`], and
//! [`repeatability`] asks how good the photographing is. [`demo`] shows the whole on rendered seams, [`page`] is the page on the phone, [`cli`] is the only place that speaks.

pub mod conventions;
pub mod problem;
pub mod units;

pub mod digits;

pub mod budget;
pub mod light;
pub mod signal;
pub mod smooth;
pub mod threads;

pub mod colour;

pub mod photo;

pub mod scale;

pub mod seam;

pub mod strip;

pub mod lines;

pub mod offset;

pub mod verdict;

pub mod remedy;

pub mod written;

pub mod settings;

pub mod finding;

pub mod inspect;

pub mod ask;

pub mod record;

pub mod manifest;

pub mod card;

pub mod render;

pub mod trial;

pub mod cloth;

pub mod garment;

pub mod compare;

pub mod acceptance;

pub mod capability;

pub mod lot;

pub mod repeatability;

pub mod report;

pub mod demo;

pub mod page;

pub mod cli;
