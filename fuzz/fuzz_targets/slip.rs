//! See `bellwire_tests::fuzz_body::slip`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| bellwire_tests::fuzz_body::slip(data));
