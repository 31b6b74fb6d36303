//! Feeds a target from a fuzzer: what breaks a promise ends the process, so that the fuzzer keeps the input.

use std::panic::{catch_unwind, set_hook};
use std::sync::{Mutex, Once};

/// What the last panic said.
static SAID: Mutex<String> = Mutex::new(String::new());

/// Feeds the bytes to a target of `ribwright_tests::adversary`.
pub fn feed(name: &str, bytes: &[u8]) {
    static HOOK: Once = Once::new();
    // The fuzzer's own hook ends the process at any panic, those too that are caught at once: readers of broken files.
    HOOK.call_once(|| {
        set_hook(Box::new(|panic| {
            if let Ok(mut said) = SAID.lock() {
                *said = panic.to_string();
            }
        }));
    });
    match catch_unwind(|| (ribwright_tests::adversary::target(name).feed)(bytes)) {
        Ok(Ok(_)) => {}
        Ok(Err(broken)) => end(&broken),
        Err(_) => end(&SAID.lock().map(|said| said.clone()).unwrap_or_default()),
    }
}

fn end(broken: &str) -> ! {
    eprintln!("BROKEN: {broken}");
    std::process::abort();
}
