//! See `bellwire_tests::fuzz_body::leaf`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| bellwire_tests::fuzz_body::leaf(data));
