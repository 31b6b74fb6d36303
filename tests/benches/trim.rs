//! Times of the trim on one thread, as JSON: the reference bodies, and towers of 8 and 64 like elements.
//!
//! `cargo bench -p ribwright-tests --bench trim` prints one object; seconds are medians. `bodies` is the trim:
//! all sheets cut against each other and sewn to one shell. `whole` and `towers` are all of `work_out`: the
//! trim of the flat solid as well, every element by itself, seams, parts and mesh.

use nalgebra::{Rotation3, Vector3};
use ribwright_kernel::sculpture::Sculpture;
use ribwright_kernel::{Registry, trim_exactly, work_out};
use ribwright_tests::{Case, references};
use serde_json::{Map, Value, json};
use std::hint::black_box;
use std::time::Instant;

/// Runs per figure; the median of so many settles to a few per cent.
const RUNS: usize = 9;
/// The same for what takes many times as long.
const RUNS_OF_A_WORK: usize = 5;
/// How deep each element of a tower stands in the one below, mm.
const SINK: f64 = 130.0;

fn main() {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap_or_else(|e| panic!("{e}"));
    let report = pool.install(|| {
        let (mut bodies, mut whole) = (Map::new(), Map::new());
        for (name, body) in references() {
            let sculpture = sculpture(&body.case, "true");
            let trim = || trim_exactly(black_box(&sculpture)).unwrap_or_else(|e| panic!("{e}")).volume;
            bodies.insert(name.clone(), json!(median_seconds(trim, RUNS)));
            whole.insert(name, json!(work_seconds(&sculpture)));
        }
        let single = references()
            .into_iter()
            .find(|(name, _)| name.starts_with("single"))
            .unwrap_or_else(|| panic!("a single reference body is there"));
        let mut towers = Map::new();
        for joint in ["true", "auto"] {
            let times: Vec<f64> = [8, 64]
                .map(|count| work_seconds(&sculpture(&tower(&single.1.case, count), joint)))
                .into();
            towers.insert(joint.to_owned(), json!({ "8": times[0], "64": times[1] }));
        }
        json!({ "bodies": Value::Object(bodies), "whole": Value::Object(whole), "towers": Value::Object(towers) })
    });
    println!("{report:#}");
}

fn sculpture(case: &Case, joint: &str) -> Sculpture {
    case.sculpture(joint).unwrap_or_else(|e| panic!("{e}"))
}

/// Time of all of `work_out`.
fn work_seconds(sculpture: &Sculpture) -> f64 {
    let registry = Registry::standard();
    let run = || work_out(black_box(sculpture), &registry).unwrap_or_else(|e| panic!("{e}")).volume;
    median_seconds(run, RUNS_OF_A_WORK)
}

/// Median time of something that finds a volume.
fn median_seconds(find_volume: impl Fn() -> f64, runs: usize) -> f64 {
    let mut times: Vec<f64> = (0..runs)
        .map(|_| {
            let start = Instant::now();
            let volume = black_box(find_volume());
            assert!(volume > 0.0, "nothing was worked out");
            start.elapsed().as_secs_f64()
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

/// So many like elements, one on the other.
fn tower(single: &Case, count: u32) -> Case {
    let height_of = |label: &str| {
        let face = single.elements[0].faces.iter().find(|f| f.name == label);
        face.map_or_else(|| panic!("the reference body has no face {label}"), |f| f.point[2])
    };
    let step = height_of("top") - height_of("bottom") - SINK;
    let mut tower = single.clone();
    tower.elements.clear();
    for k in 0..count {
        let lifted = single.moved(&Rotation3::identity(), Vector3::z() * (step * f64::from(k)));
        let mut element = lifted.elements[0].clone();
        element.name = format!("E{k:02}");
        tower.elements.push(element);
    }
    tower
}
