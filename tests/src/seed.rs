//! The one place from which random tests take their seed.
//!
//! By default a seed follows from the name of the test, so a run on a clean clone repeats. `BELLWIRE_SEED` overrides it: a decimal or
//! hexadecimal (`0x…`) number for a replay, or `random` for a fresh one. A test that fails while its [`Seed`] is alive prints the
//! number and the command that replays it.

use std::{
    collections::hash_map::RandomState,
    hash::{BuildHasher, Hasher},
};

/// Generator of random numbers whose stream is the same on every platform and in every version.
pub type Rng = rand_chacha::ChaCha8Rng;

/// The environment variable that overrides every seed.
pub const VARIABLE: &str = "BELLWIRE_SEED";

/// The seed of one test. Keep it alive until the end of the test: dropped by a panic, it says how to replay.
#[derive(Debug)]
pub struct Seed {
    name: String,
    value: u64,
}

/// The seed of the test called `name` (its function's name).
///
/// # Panics
/// If `BELLWIRE_SEED` is set and is neither a number nor `random`.
#[must_use]
pub fn seed(name: &str) -> Seed {
    let value = match std::env::var(VARIABLE) {
        Err(_) => of_name(name),
        Ok(text) if text == "random" => RandomState::new().build_hasher().finish(),
        Ok(text) => parse(&text)
            .unwrap_or_else(|| panic!("{VARIABLE}={text:?}: give a number (decimal or 0x…) or `random`")),
    };
    Seed { name: name.to_owned(), value }
}

impl Seed {
    /// The number itself.
    #[must_use]
    pub const fn value(&self) -> u64 {
        self.value
    }

    /// A generator that starts at this seed.
    #[must_use]
    pub fn rng(&self) -> Rng {
        self.part(0)
    }

    /// An independent generator for part number `part` of the test, so that parts can be replayed alone.
    #[must_use]
    pub fn part(&self, part: u64) -> Rng {
        use rand_chacha::rand_core::SeedableRng;
        let mut rng = Rng::seed_from_u64(self.value);
        rng.set_stream(part);
        rng
    }

    /// A runner of properties with `cases` cases that starts at this seed.
    #[must_use]
    pub fn runner(&self, cases: u32) -> proptest::test_runner::TestRunner {
        use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
        let mut octets = [0; 32];
        for (cell, octet) in octets.iter_mut().zip(self.value.to_le_bytes().into_iter().cycle()) {
            *cell = octet;
        }
        let config = Config { cases, failure_persistence: None, ..Config::default() };
        TestRunner::new_with_rng(config, TestRng::from_seed(RngAlgorithm::ChaCha, &octets))
    }
}

impl Drop for Seed {
    fn drop(&mut self) {
        if std::thread::panicking() {
            eprintln!("{}", replay(&self.name, self.value));
        }
    }
}

fn replay(name: &str, value: u64) -> String {
    format!("seed {value:#018x}; to replay: {VARIABLE}={value:#018x} cargo test --workspace {name}")
}

/// FNV-1a, 64 bits: the same on every platform.
fn of_name(name: &str) -> u64 {
    name.bytes().fold(0xCBF2_9CE4_8422_2325, |hash, octet| {
        (hash ^ u64::from(octet)).wrapping_mul(0x0000_0100_0000_01B3)
    })
}

fn parse(text: &str) -> Option<u64> {
    match text.strip_prefix("0x") {
        Some(hex) => u64::from_str_radix(hex, 16).ok(),
        None => text.parse().ok(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_seed_follows_from_the_name_and_reads_back_from_its_own_message() {
        // FNV-1a of "foobar", 64 bits: 0x85944171F73967E8 (draft-eastlake-fnv, test vectors).
        assert_eq!(of_name("foobar"), 0x8594_4171_F739_67E8);
        let text = replay("some_test", 0xAB);
        let value = text.split('=').nth(1).and_then(|rest| rest.split(' ').next()).unwrap();
        assert_eq!(parse(value), Some(0xAB));
        assert_eq!(parse("171"), Some(0xAB));
        assert_eq!(parse("0b11"), None);
    }

    #[test]
    fn parts_differ_and_repeat() {
        use rand_chacha::rand_core::RngCore;
        let seed = Seed { name: String::new(), value: 7 };
        assert_eq!(seed.part(1).next_u64(), seed.part(1).next_u64());
        assert_ne!(seed.part(1).next_u64(), seed.part(2).next_u64());
    }
}
