//! See `bellwire_tests::fuzz_body::link`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| bellwire_tests::fuzz_body::link(data));
