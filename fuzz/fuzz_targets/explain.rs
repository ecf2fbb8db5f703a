//! See `bellwire_tests::fuzz_body::explain`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| bellwire_tests::fuzz_body::explain(data));
