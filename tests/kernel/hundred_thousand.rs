//! A hundred thousand random works through the trim, awkward ones on purpose. Too long for every day:
//!
//! ```text
//! cargo test --release -p ribwright-tests --test kernel -- --ignored --nocapture a_hundred_thousand
//! ```
//!
//! `RIBWRIGHT_WORKS=1000` makes fewer, `RIBWRIGHT_FROM=5000` begins elsewhere. The trim of each is sewn to one shell, that
//! must be closed, every edge on two patches, with a volume that the sum over its patches and that over its triangles agree
//! on. Every twentieth is worked out whole, with its joints, and held to all that `sound` asks for.

use nalgebra::Point3;
use rayon::prelude::*;
use ribwright_kernel::sculpture::Sculpture;
use ribwright_kernel::{ErrorKind, Registry, trim_to_mesh};
use ribwright_tests::adversary;
use ribwright_tests::sound::{Sound, sound_outcome};
use ribwright_tests::works::random_work;
use ribwright_tests::{AGREEMENT, Random, closed_volume};
use std::panic::catch_unwind;
use std::time::Instant;

const WORKS: u64 = 100_000;
/// Of them these are tried every day.
const FIRST: u64 = 400;
/// Of these one is worked out whole.
const WHOLE: u64 = 20;
/// Works that are looked at before a line is printed.
const BLOCK: u64 = 2000;
/// Most bytes a work is made from.
const MOST_BYTES: usize = 240;

/// How the works of a run ended.
#[derive(Debug, Default, Clone)]
struct Count {
    closed: u64,
    whole: u64,
    refused: u64,
    findings: u64,
    broken: Vec<String>,
}

/// The work of a number: of every two, one from the random works of the other tests, one from bytes as the fuzzer has them.
fn made(number: u64) -> Result<ribwright_kernel::Result<Sculpture>, String> {
    if number.is_multiple_of(2) {
        return Ok(random_work(1_000_000 + number));
    }
    let mut random = Random::new(number);
    let count = 20 + random.below(MOST_BYTES - 20);
    #[allow(clippy::cast_possible_truncation, reason = "the low byte")]
    let bytes: Vec<u8> = (0..count).map(|_| random.bits() as u8).collect();
    adversary::work(&bytes)
}

/// What the exact trim comes to.
enum Trimmed {
    Closed,
    Open,
    Nothing,
    Refused,
}

fn trimmed(sculpture: &Sculpture) -> Result<Trimmed, String> {
    let (figures, mesh) = match trim_to_mesh(sculpture) {
        Ok(made) => made,
        Err(error) if error.kind() == ErrorKind::Input => return Ok(Trimmed::Refused),
        Err(error) => return Err(format!("a fault of ours: {error}")),
    };
    if figures.open_edges > 0 {
        return Ok(Trimmed::Open);
    }
    if figures.area == 0.0 && mesh.triangles.is_empty() {
        return Ok(Trimmed::Nothing);
    }
    if !figures.volume.is_finite()
        || figures.volume <= 0.0
        || !figures.area.is_finite()
        || figures.area <= 0.0
    {
        return Err(format!("{figures:?}"));
    }
    let meshed = closed_volume(&mesh)?;
    let (low, high) =
        mesh.points.iter().fold(
            (Point3::from([f64::INFINITY; 3]), Point3::from([f64::NEG_INFINITY; 3])),
            |(low, high), p| (low.inf(p), high.sup(p)),
        );
    // What is thin has less volume than rounding of its corners makes: that is measured against its surface.
    let rounding = 1.0e-9 * (high - low).norm() * figures.area;
    if (meshed - figures.volume).abs() > AGREEMENT * figures.volume + rounding {
        return Err(format!("volume by patches {}, by triangles {meshed}", figures.volume));
    }
    Ok(Trimmed::Closed)
}

fn tried(number: u64, registry: &Registry) -> Result<(bool, Sound), String> {
    let sculpture = match made(number)? {
        Ok(sculpture) => sculpture,
        Err(error) if error.kind() == ErrorKind::Input => return Ok((false, Sound::Refused)),
        Err(error) => return Err(format!("a fault of ours: {error}")),
    };
    let whole = (number / 2).is_multiple_of(WHOLE);
    if whole {
        return sound_outcome(&sculpture, registry).map(|sound| (true, sound));
    }
    match trimmed(&sculpture)? {
        Trimmed::Closed => Ok((false, Sound::Closed)),
        Trimmed::Refused => Ok((false, Sound::Refused)),
        // Left open by rounding it must not stay silently; another joint may close it.
        Trimmed::Open => sound_outcome(&sculpture, registry).map(|sound| (true, sound)),
        // Sheet deeper than the element is thick leaves nothing of it: that must be an error finding.
        Trimmed::Nothing => match sound_outcome(&sculpture, registry)? {
            Sound::Closed => Err("nothing is left of it, and no error finding says so".to_owned()),
            other => Ok((true, other)),
        },
    }
}

fn number_of(variable: &str, usual: u64) -> u64 {
    std::env::var(variable).ok().and_then(|text| text.parse().ok()).unwrap_or(usual)
}

#[test]
#[ignore = "takes minutes to hours"]
fn a_hundred_thousand_random_works_close() {
    close(number_of("RIBWRIGHT_FROM", 0), number_of("RIBWRIGHT_WORKS", WORKS));
}

#[test]
fn the_first_of_them_close() {
    close(0, FIRST);
}

/// Holds so many works from a number on to what is said above.
fn close(from: u64, works: u64) {
    let registry = Registry::standard();
    let start = Instant::now();
    let mut all = Count::default();
    for first in (from..from + works).step_by(usize::try_from(BLOCK).unwrap_or(1)) {
        let block: Vec<_> = (first..(first + BLOCK).min(from + works))
            .into_par_iter()
            .map(|number| {
                let ended = catch_unwind(|| tried(number, &registry));
                (number, ended.unwrap_or_else(|_| Err("panic".to_owned())))
            })
            .collect();
        for (number, ended) in block {
            match ended {
                Ok((whole, Sound::Closed)) => {
                    all.closed += 1;
                    all.whole += u64::from(whole);
                }
                Ok((_, Sound::Refused)) => all.refused += 1,
                Ok((_, Sound::ErrorFinding)) => all.findings += 1,
                Err(broken) => {
                    println!("work {number}: {broken}");
                    all.broken.push(format!("work {number}: {broken}"));
                }
            }
        }
        println!(
            "up to {first}: {} closed ({} of them worked out whole), {} refused, {} with error findings, {} broken, {:.0} s",
            all.closed,
            all.whole,
            all.refused,
            all.findings,
            all.broken.len(),
            start.elapsed().as_secs_f64()
        );
    }
    assert!(all.broken.is_empty(), "{} of {works} are broken:\n{}", all.broken.len(), all.broken.join("\n"));
    // So that refusing everything does not pass.
    assert!(all.closed * 10 >= works * 5, "only {} of {works} closed", all.closed);
}
