//! Feeds `dxf`; what is held is in `tests/support/adversary`.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| ribwright_fuzz::feed("dxf", bytes));
