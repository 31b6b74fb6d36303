//! The large example, a commission from survey and maquette to the sheets it is cut from, by its numbers.
//!
//! Figures are our own of the day it was written; each is held by other checks of this project (areas and masses
//! against a mesh library, margins against closed forms). They change with the example, and not otherwise.

use ribwright_kernel::table::Cell;
use ribwright_kernel::{Output, Registry, work_out};
use ribwright_scripts::run_file;
use std::collections::BTreeSet;
use std::path::Path;

/// Height, mass and margin may move by this much, mm, kg and mm, before the example counts as another one: what a
/// fiftieth of a rib, a drain and the error of a survey do.
const HEIGHT: f64 = 1.0;
const MASS: f64 = 0.5;
const MARGIN: f64 = 2.0;

#[test]
fn the_commission_lies_on_the_sheets_of_its_yard() {
    let registry = Registry::standard();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scripts/examples/commission.rhai");
    let sculpture = run_file(&path, &registry).unwrap_or_else(|e| panic!("{}", e.render(false)));
    assert_eq!(sculpture.elements.len(), 7);
    let mut pitches: Vec<f64> = sculpture
        .elements
        .iter()
        .flat_map(|e| e.cladding.iter().filter_map(|c| c.profile.as_ref().map(|p| p.pitch())))
        .collect();
    pitches.sort_by(f64::total_cmp);
    pitches.dedup();
    assert_eq!(pitches, [160.0, 250.0]);
    let stock = sculpture.laying.as_ref().map_or(0, |l| l.stock.len());
    assert_eq!(stock, 30, "sheets in the yard");

    let work = work_out(&sculpture, &registry).unwrap_or_else(|e| panic!("{e}"));
    let on = work.on_sheets.as_ref().expect("laid on surveyed sheets");
    assert!(on.layout.unplaced.is_empty(), "every part has a sheet: {:?}", on.layout.unplaced);
    assert_eq!((work.parts.len(), on.layout.placements.len()), (65, 65), "parts, and those that are laid");
    let used: BTreeSet<usize> = on.layout.placements.iter().map(|p| p.sheet).collect();
    assert_eq!(used.len(), 14, "sheets cut into");

    let mass: f64 = work.parts.iter().map(|p| p.mass).sum();
    assert!((mass - 319.4).abs() < MASS, "{mass} kg");
    let top = sculpture.elements.iter().map(|e| e.solid.bounding_box()[1].z).fold(0.0, f64::max);
    assert!((top - 5337.2).abs() < HEIGHT, "nominal height {top} mm");

    // By rigid bodies, without what other stages add.
    let mut output = Output::default();
    for stage in registry.stages.iter().filter(|s| ["mass", "balance"].contains(&s.name)) {
        (stage.run)(&work, &registry, &mut output).unwrap_or_else(|e| panic!("{}: {e}", stage.name));
    }
    let table = output.tables.iter().find(|t| t.name == "balance").expect("a table of margins");
    let column =
        table.columns.iter().position(|c| c.name.starts_with("margin")).expect("a column of margins");
    let margins: Vec<f64> = table
        .rows
        .iter()
        .filter_map(|row| match row[column] {
            Cell::Number(x, _) => Some(x),
            _ => None,
        })
        .collect();
    assert_eq!(margins.len(), 7, "the ground and six joints");
    let least = margins.iter().copied().fold(f64::INFINITY, f64::min);
    assert!((least - 99.0).abs() < MARGIN, "the least margin is {least} mm");
}
