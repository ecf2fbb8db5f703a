//! See `bellwire_tests::fuzz_body::octet_stuffing`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| bellwire_tests::fuzz_body::octet_stuffing(data));
