//! The command line as a person or a script meets it: the binary itself, its exit status, its two streams and its files.

#[path = "cli/all.rs"]
mod all;
#[path = "cli/arguments.rs"]
mod arguments;
#[path = "cli/card.rs"]
mod card;
#[path = "cli/cloth.rs"]
mod cloth;
#[path = "cli/contract.rs"]
mod contract;
#[path = "cli/demo.rs"]
mod demo;
#[path = "cli/files.rs"]
mod files;
#[path = "cli/fixtures.rs"]
mod fixtures;
#[path = "cli/heic.rs"]
mod heic;
#[path = "cli/limits.rs"]
mod limits;
#[path = "cli/marks.rs"]
mod marks;
#[path = "cli/not_pictures.rs"]
mod not_pictures;
#[path = "cli/orientation.rs"]
mod orientation;
#[path = "cli/outputs.rs"]
mod outputs;
#[path = "cli/pictures.rs"]
mod pictures;
#[path = "cli/run.rs"]
mod run;
#[path = "cli/settings.rs"]
mod settings;
#[path = "cli/streams.rs"]
mod streams;
#[path = "cli/trial.rs"]
mod trial;
#[path = "cli/words.rs"]
mod words;
