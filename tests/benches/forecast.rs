//! Time and memory of a gap forecast, as JSON: the five-element example, every clad face on a sheet of its own.
//!
//! `cargo bench -p ribwright-tests --bench forecast` prints one object: seconds of the nominal work, of the
//! forecast with 1,000 and with 10,000 draws, and the greatest memory of the process after each, kB (where the
//! system tells); seconds to try one sheet on one face, and one set of sheets on all. The sheets are invented.

use ribwright_kernel::forecast::{Nominal, Options, forecast, nominal};
use ribwright_kernel::survey::Laid;
use ribwright_kernel::{Registry, work_out};
use ribwright_tests::yard::wandering;
use serde_json::json;
use std::hint::black_box;
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

const SIZE: [f64; 2] = [3000.0, 2400.0];
const STATIONS: [f64; 5] = [50.0, 750.0, 1500.0, 2250.0, 2950.0];

/// Greatest memory the process has had, kB.
fn memory() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

fn main() {
    let registry = Registry::standard();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scripts/examples/five.rhai");
    let mut sculpture =
        ribwright_scripts::run_file(&path, &registry).unwrap_or_else(|e| panic!("{}", e.render(false)));
    let mut sheets = 0;
    for cladding in sculpture.elements.iter_mut().flat_map(|e| &mut e.cladding) {
        let Some(rib) = cladding.profile.clone().filter(|p| !p.is_flat()) else { continue };
        sheets += 1;
        let sheet = Arc::new(wandering(&rib, sheets, SIZE, 100.0, &STATIONS));
        cladding.sheet =
            Some(Laid { sheet, at: [1500.0, 1200.0], turned: sheets.is_multiple_of(3), over: false });
    }
    let work = work_out(&sculpture, &registry).unwrap_or_else(|e| panic!("{e}"));
    let start = Instant::now();
    let drawn = nominal(&work, &registry).unwrap_or_else(|e| panic!("{e}"));
    let solved = start.elapsed().as_secs_f64();
    let run = |draws| {
        let start = Instant::now();
        let options = Options { draws, ..Options::default() };
        let of = forecast(&work, &drawn, &options).unwrap_or_else(|e| panic!("{e}"));
        (start.elapsed().as_secs_f64(), memory(), of)
    };
    let (few, few_memory, _) = run(1_000);
    let (many, many_memory, of) = run(10_000);
    let laid: Vec<Option<Laid>> =
        work.sculpture.elements.iter().flat_map(|e| &e.cladding).map(|c| c.sheet.clone()).collect();
    let places = Nominal::of(&drawn);
    let start = Instant::now();
    let mut tried = 0_u32;
    for face in 0..laid.len() {
        for sheet in laid.iter().flatten() {
            black_box(places.cost(face, sheet));
            tried += 1;
        }
    }
    let cost = start.elapsed().as_secs_f64() / f64::from(tried);
    let start = Instant::now();
    black_box(places.total(&laid));
    let total = start.elapsed().as_secs_f64();
    let ways = || of.seams.iter().flat_map(|s| s.ways.iter().flatten());
    let spots: usize = ways().flat_map(|w| &w.stretches).map(|s| s.spots.len()).sum();
    let report = json!({
        "sheets": sheets,
        "seams": of.seams.len(),
        "places": spots,
        "nominal_s": solved,
        "draws_1000": { "s": few, "peak_kB": few_memory },
        "draws_10000": { "s": many, "peak_kB": many_memory },
        "cost_s": cost,
        "total_s": total,
        "filler_kg": of.totals.filler.map(|e| [e.mean, e.mean_error, e.high]),
        "filler_saved_kg": [of.totals.filler_saved.mean, of.totals.filler_saved.mean_error],
        "hours": of.totals.hours.map(|e| e.mean),
        "alone_mm": of.alone,
        "together_mm": of.together,
    });
    println!("{report}");
}
