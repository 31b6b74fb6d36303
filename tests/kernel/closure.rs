//! Closure: whatever is asked for, the shell is closed or an error finding says that it is not.

use rayon::prelude::*;
use ribwright_kernel::element::frustum;
use ribwright_kernel::memo::Memo;
use ribwright_kernel::sculpture::{Element, Sculpture};
use ribwright_kernel::settings::{Value, Values};
use ribwright_kernel::{Level, Registry, run_stages, work_out, work_out_with};
use ribwright_tests::case::profile;
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
        // The trim is the same for every joint, and kept for the second.
        let memo = Memo::keeping();
        let work = work_out_with(&sculpture, &registry, &memo)?;
        // Joints can only be named where faces meet, which is known now.
        let seams: Vec<String> = work.seams.iter().map(|s| s.id.clone()).collect();
        mix_joints(&mut sculpture, &seams, seed);
        if sculpture.pair_joints.is_empty() { Ok(work) } else { work_out_with(&sculpture, &registry, &memo) }
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

/// Sheets that are common in shops: pitch, depth, crest and valley, mm.
const COMMON: [[f64; 3]; 6] = [
    [160.0, 40.0, 32.0],
    [200.0, 40.0, 70.0],
    [125.0, 25.0, 40.0],
    [250.0, 50.0, 80.0],
    [100.0, 20.0, 30.0],
    [207.0, 35.0, 60.0],
];

/// One frustum that stands upright, its ribs up the slope and all phases alike: planes of symmetry through every corner,
/// where ribs of both sides meet at the same place.
#[test]
fn plain_frustums_close() {
    let registry = Registry::standard();
    let mut all = Vec::new();
    for sheet in COMMON {
        for bend_radius in [0.0, 3.0] {
            for sides in 3..=7 {
                for [base, top, height] in [
                    [1000.0, 600.0, 1200.0],
                    [900.0, 700.0, 1100.0],
                    [800.0, 800.0, 900.0],
                    [640.0, 480.0, 720.0],
                    [1200.0, 300.0, 600.0],
                ] {
                    for phase in [0.0, 10.0] {
                        all.push((sheet, bend_radius, sides, [base, top, height], phase));
                    }
                }
            }
        }
    }
    let ended: Vec<Option<String>> = all
        .par_iter()
        .map(|&([pitch, depth, flat], bend_radius, sides, [base, top, height], phase)| {
            let rows = [
                ("pitch", pitch),
                ("depth", depth),
                ("crest", flat),
                ("valley", flat),
                ("thickness", 2.0),
                ("bend_radius", bend_radius),
            ];
            let what = format!("{rows:?}, {sides} sides, {base}, {top}, {height}, phase {phase}");
            let sheet = profile("trapezoid", &rows).expect("a profile");
            let map = [("sides", f64::from(sides)), ("base", base), ("top", top), ("height", height)]
                .into_iter()
                .map(|(k, v)| (k.to_owned(), Value::Number(v)))
                .collect();
            let values = Values::check("frustum", frustum::ROW.settings, &map).expect("settings");
            let mut element = Element::new((frustum::ROW.build)("O", &values).expect("a frustum"));
            element.clad(&sheet);
            element.cladding.iter_mut().for_each(|c| c.phase = phase);
            let mut sculpture = Sculpture::new("Plain");
            sculpture.stand(element).expect("stands");
            let work = work_out(&sculpture, &registry).map_err(|e| e.to_string());
            let work = match work {
                Ok(work) => work,
                Err(error) => return Some(format!("{what}: {error}")),
            };
            let output = run_stages(&work, &registry, &["model".to_owned()]).expect("runs");
            let errors = work.findings.iter().chain(&output.findings).filter(|f| f.level == Level::Error);
            let told: Vec<&str> = errors.map(|f| f.code.as_str()).collect();
            let volume = (work.mesh.volume() / work.volume - 1.0).abs();
            let fine = told.is_empty() && work.mesh.is_watertight() && volume < SAME_VOLUME;
            (!fine).then(|| format!("{what}: {told:?}, volumes {volume:e} apart"))
        })
        .collect();
    let wrong: Vec<String> = ended.into_iter().flatten().collect();
    assert!(wrong.is_empty(), "{} of {} are wrong:\n{}", wrong.len(), all.len(), wrong.join("\n"));
}

/// How far the volume of the triangles may be from that of the patches, relative.
const SAME_VOLUME: f64 = 1.0e-9;
