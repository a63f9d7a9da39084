//! The outside world's figures: what the tool computes, held against published values and library reference numbers.

#[path = "outside/bounds.rs"]
mod bounds;
#[path = "outside/budget.rs"]
mod budget;
#[path = "outside/circular.rs"]
mod circular;
#[path = "outside/decision.rs"]
mod decision;
#[path = "support/each.rs"]
mod each;
#[path = "outside/homography.rs"]
mod homography;
#[path = "outside/light.rs"]
mod light;
#[path = "outside/orientation.rs"]
mod orientation;
#[path = "outside/paper.rs"]
mod paper;
#[path = "outside/quality.rs"]
mod quality;
#[path = "outside/registration.rs"]
mod registration;
#[path = "outside/repeat.rs"]
mod repeat;
#[path = "outside/sharpness.rs"]
mod sharpness;
#[path = "outside/stripes.rs"]
mod stripes;
#[path = "outside/symbol.rs"]
mod symbol;
#[path = "outside/tilt.rs"]
mod tilt;
#[path = "outside/trade.rs"]
mod trade;
