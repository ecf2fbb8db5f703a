//! Oracles, fuzz bodies and harness shared by the tests of all Bellwire crates.
