#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| crownweir_tests::fuzzed::networks(bytes));
