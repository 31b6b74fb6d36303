//! Closure: whatever is asked for, the shell is closed or an error finding says that it is not.

use ribwright_kernel::{Registry, work_out};
use ribwright_tests::sound::{Sound, refused, sound_work};
use ribwright_tests::works::{mix_joints, random_work};
use std::panic::catch_unwind;

const WORKS: u64 = 2000;
/// Split so that the tests of one binary run side by side.
const SHARES: u64 = 4;

/// What is wrong with a work, if anything.
fn outcome(seed: u64) -> Result<Sound, String> {
    let registry = Registry::standard();
    let worked = catch_unwind(|| {
        let mut sculpture = random_work(seed)?;
        let work = work_out(&sculpture, &registry)?;
        // Joints can only be named where faces meet, which is known now.
        let seams: Vec<String> = work.seams.iter().map(|s| s.id.clone()).collect();
        mix_joints(&mut sculpture, &seams, seed);
        if sculpture.pair_joints.is_empty() { Ok(work) } else { work_out(&sculpture, &registry) }
    });
    match worked {
        Err(panic) => {
            let text = panic
                .downcast_ref::<String>()
                .cloned()
                .or_else(|| panic.downcast_ref::<&str>().map(|s| (*s).to_owned()))
                .unwrap_or_default();
            Err(format!("panic: {text}"))
        }
        Ok(Err(error)) => refused(&error),
        Ok(Ok(work)) => sound_work(&work),
    }
}

fn run_share(share: u64) {
    let mut wrong = Vec::new();
    let (mut closed, mut refused, mut error_findings) = (0_u64, 0_u64, Vec::new());
    for seed in (0..WORKS).filter(|seed| seed % SHARES == share) {
        match outcome(seed) {
            Ok(Sound::Closed) => closed += 1,
            Ok(Sound::Refused) => refused += 1,
            Ok(Sound::ErrorFinding) => error_findings.push(seed),
            Err(what) => wrong.push(format!("seed {seed}: {what}")),
        }
    }
    println!("{closed} closed, {refused} refused, with error findings: {error_findings:?}");
    assert!(wrong.is_empty(), "{} works are wrong:\n{}", wrong.len(), wrong.join("\n"));
    // So that refusing everything, or a finding on everything, does not pass.
    let of = WORKS / SHARES;
    assert!(closed * 100 >= of * 90, "only {closed} of {of} closed; {refused} refused; {error_findings:?}");
}

#[test]
fn random_works_first_share_are_closed() {
    run_share(0);
}

#[test]
fn random_works_second_share_are_closed() {
    run_share(1);
}

#[test]
fn random_works_third_share_are_closed() {
    run_share(2);
}

#[test]
fn random_works_fourth_share_are_closed() {
    run_share(3);
}
