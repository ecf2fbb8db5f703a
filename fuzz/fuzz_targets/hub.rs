//! See `bellwire_tests::fuzz_body::hub`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| bellwire_tests::fuzz_body::hub(data));
