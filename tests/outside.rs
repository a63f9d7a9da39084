//! The outside world's figures: what the tool computes, held against published values and library reference numbers.

#[path = "outside/circular.rs"]
mod circular;
#[path = "outside/paper.rs"]
mod paper;
