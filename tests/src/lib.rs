//! Oracles, fuzz bodies and harness shared by the tests of all Bellwire crates.

pub mod conversation;
pub mod emulated;
pub mod fuzz_body;
pub mod line;
pub mod machine;
pub mod naive;
pub mod pair;
pub mod rule;
pub mod seed;
pub mod session;
pub mod slips;
pub mod soak;
pub mod star;
pub mod tool;
pub mod vector;

pub use seed::{Seed, seed};

/// Threads for the long measurements: `BELLWIRE_THREADS`, or one for each processor.
///
/// # Panics
/// If `BELLWIRE_THREADS` is no number.
#[must_use]
pub fn threads() -> usize {
    std::env::var("BELLWIRE_THREADS").map_or_else(
        |_| std::thread::available_parallelism().map_or(1, usize::from),
        |text| text.parse().expect("BELLWIRE_THREADS: a number"),
    )
}
