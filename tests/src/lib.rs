//! Oracles, fuzz bodies and harness shared by the tests of all Bellwire crates.

pub mod conversation;
pub mod emulated;
pub mod fuzz_body;
pub mod line;
pub mod machine;
pub mod naive;
pub mod rule;
pub mod seed;
pub mod session;
pub mod slips;
pub mod tool;
pub mod vector;

pub use seed::{Seed, seed};
