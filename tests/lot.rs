//! `seamstep lot` and `seamstep tally`: killed and resumed, spread and joined, and what they owe on the command line.

#[path = "lot/asked.rs"]
mod asked;
#[path = "lot/delivery.rs"]
mod delivery;
#[path = "lot/killed.rs"]
mod killed;
#[path = "lot/recipes.rs"]
mod recipes;
// What other commands' tests use of it is not used here.
#[allow(dead_code)]
#[path = "cli/run.rs"]
mod run;
#[path = "lot/spread.rs"]
mod spread;
