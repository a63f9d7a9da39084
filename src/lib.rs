//! Do the lines of striped or checked cloth run through the seam? Measured from a phone photograph.
//!
//! The walk, one room a step; a room imports only rooms before it:
//!
//! [`photo`] → [`scale`] → [`seam`] → [`strip`] → [`lines`] → [`offset`] → [`verdict`] → [`remedy`] → [`report`]

pub mod conventions;
pub mod problem;
pub mod units;

pub mod photo;

pub mod scale;

pub mod seam;

pub mod strip;

pub mod lines;

pub mod offset;

pub mod verdict;

pub mod remedy;

pub mod finding;

pub mod report;
