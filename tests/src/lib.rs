//! Oracles, fuzz bodies and harness shared by the tests of all Bellwire crates.

pub mod seed;
pub mod tool;

pub use seed::{Seed, seed};
