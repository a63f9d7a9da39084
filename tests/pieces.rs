//! Whole pieces on the command line: one on a sheet, two side by side, the rendered ones, and seams photographed again and again.
#![allow(missing_docs)]

#[path = "pieces/compare.rs"]
mod compare;
#[path = "pieces/garment.rs"]
mod garment;
#[path = "pieces/repeatability.rs"]
mod repeatability;
#[path = "cli/run.rs"]
#[expect(dead_code, reason = "only some of what a run owes is looked at here")]
mod run;
#[path = "pieces/waistcoat.rs"]
mod waistcoat;
