//! See `bellwire_tests::fuzz_body::cobs`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| bellwire_tests::fuzz_body::cobs(data));
