//! Closure: whatever is asked for, the shell is closed or an error finding says that it is not.

use ribwright_kernel::{ErrorKind, Level, Registry, Work, work_out};
use ribwright_tests::closed::area_of;
use ribwright_tests::works::{mix_joints, random_work};
use ribwright_tests::{AGREEMENT, closed_volume};
use std::panic::catch_unwind;

const WORKS: u64 = 2000;
/// Split so that the tests of one binary run side by side.
const SHARES: u64 = 4;

#[derive(Debug, PartialEq)]
enum Outcome {
    Closed,
    /// Refused as wrong input, which a few seeds are.
    Refused,
    /// Worked out with an error finding.
    ErrorFinding,
}

/// What is wrong with a work, if anything.
fn outcome(seed: u64) -> Result<Outcome, String> {
    let registry = Registry::standard();
    let worked = catch_unwind(|| {
        let mut sculpture = random_work(seed)?;
        let work = work_out(&sculpture, &registry)?;
        // Joints can only be named where faces meet, which is known now.
        let seams: Vec<String> = work.seams.iter().map(|s| s.id.clone()).collect();
        mix_joints(&mut sculpture, &seams, seed);
        if sculpture.pair_joints.is_empty() { Ok(work) } else { work_out(&sculpture, &registry) }
    });
    let work = match worked {
        Err(panic) => {
            let text = panic
                .downcast_ref::<String>()
                .cloned()
                .or_else(|| panic.downcast_ref::<&str>().map(|s| (*s).to_owned()))
                .unwrap_or_default();
            return Err(format!("panic: {text}"));
        }
        Ok(Err(e)) if e.kind() == ErrorKind::Input => return Ok(Outcome::Refused),
        Ok(Err(e)) => return Err(format!("a fault of ours: {e}")),
        Ok(Ok(work)) => work,
    };
    // An element that touches nothing must not be built so, but its shell is closed all the same.
    if work.findings.iter().any(|f| f.level == Level::Error && f.code != "apart") {
        return Ok(Outcome::ErrorFinding);
    }
    check(&work).map(|()| Outcome::Closed)
}

fn check(work: &Work) -> Result<(), String> {
    let volume = closed_volume(&work.mesh)?;
    if volume.is_nan() || volume <= 0.0 {
        return Err(format!("the mesh encloses {volume} mm³"));
    }
    let close = |what: &str, a: f64, b: f64| {
        if (a - b).abs() <= AGREEMENT * b.abs() { Ok(()) } else { Err(format!("{what}: {a} and {b}")) }
    };
    close("volume by the mesh and in the report", volume, work.volume)?;
    for face in &work.faces {
        // Twice the same by rounding: pieces far below a square millimetre weigh nothing here.
        let meshed = area_of(&work.mesh, &face.id);
        if (meshed - face.area).abs() > AGREEMENT * work.area {
            return Err(format!("{}: area by the mesh {meshed} and in the report {}", face.id, face.area));
        }
        close(&format!("{}: sum of pieces and area", face.id), face.pieces.iter().sum(), face.area)?;
    }
    let corner = work.mesh.points.iter().fold(work.mesh.points[0], |low, p| low.inf(p));
    let size = work.mesh.points.iter().map(|p| (p - corner).norm()).fold(0.0, f64::max);
    for seam in &work.seams {
        let numbers = [seam.length, seam.wobble_peak, seam.wobble_rms, seam.dihedral, seam.nominal_length];
        if numbers.iter().any(|x| !x.is_finite()) {
            return Err(format!("{}: {numbers:?}", seam.id));
        }
        if seam.mismatch > AGREEMENT * size {
            return Err(format!("{}: its sides are {} mm apart", seam.id, seam.mismatch));
        }
    }
    Ok(())
}

fn run_share(share: u64) {
    let mut wrong = Vec::new();
    let (mut closed, mut refused, mut error_findings) = (0_u64, 0_u64, Vec::new());
    for seed in (0..WORKS).filter(|seed| seed % SHARES == share) {
        match outcome(seed) {
            Ok(Outcome::Closed) => closed += 1,
            Ok(Outcome::Refused) => refused += 1,
            Ok(Outcome::ErrorFinding) => error_findings.push(seed),
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
