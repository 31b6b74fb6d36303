//! What tests of standing works share: a ribbed sheet, settings of stages, and looking up what stages said.

use crate::case::profile;
use ribwright_kernel::element::slab;
use ribwright_kernel::profile::Profile;
use ribwright_kernel::sculpture::{Element, Sculpture};
use ribwright_kernel::settings::{Value, Values};
use ribwright_kernel::table::{Cell, Table};
use ribwright_kernel::{Finding, Output, Registry, Work, run_stages, work_out};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A trapezoid of 200 × 40 in sheet of 2 mm.
pub fn rib() -> Arc<Profile> {
    let rows = [
        ("pitch", 200.0),
        ("depth", 40.0),
        ("crest", 70.0),
        ("valley", 70.0),
        ("thickness", 2.0),
        ("bend_radius", 6.0),
    ];
    profile("trapezoid", &rows).expect("a profile")
}

/// Flat sheet.
pub fn flat(thickness: f64) -> Arc<Profile> {
    profile("flat", &[("thickness", thickness)]).expect("a profile")
}

/// A slab, clad all round.
pub fn block(name: &str, size: [f64; 3], sheet: &Arc<Profile>) -> Element {
    let size = Value::List(size.iter().map(|x| Value::Number(*x)).collect());
    let map = BTreeMap::from([("size".to_owned(), size)]);
    let values = Values::check("slab", slab::ROW.settings, &map).expect("settings");
    let mut element = Element::new((slab::ROW.build)(name, &values).expect("a slab"));
    element.clad(sheet);
    element
}

/// Settings of a stage beside those it has.
pub fn set(s: &mut Sculpture, stage: &str, settings: &[(&str, Value)]) {
    let all = s.stages.entry(stage.to_owned()).or_default();
    all.extend(settings.iter().map(|(k, v)| ((*k).to_owned(), v.clone())));
}

/// The work of a sculpture.
pub fn worked(s: &Sculpture) -> Work {
    work_out(s, &Registry::standard()).expect("a work")
}

/// What these stages make of it; all of them if none is named.
pub fn stages(work: &Work, only: &[&str]) -> Output {
    let only: Vec<String> = only.iter().map(|s| (*s).to_owned()).collect();
    run_stages(work, &Registry::standard(), &only).expect("stages")
}

/// The first finding of a code.
pub fn found<'a>(output: &'a Output, code: &str) -> Option<&'a Finding> {
    output.findings.iter().find(|f| f.code == code)
}

/// A table by its name.
pub fn table<'a>(output: &'a Output, name: &str) -> &'a Table {
    output.tables.iter().find(|t| t.name == name).unwrap_or_else(|| panic!("no table {name}"))
}

/// A number of a table.
pub fn figure(table: &Table, row: usize, column: &str) -> f64 {
    let k = table.columns.iter().position(|c| c.name == column).unwrap_or_else(|| panic!("no {column}"));
    match table.rows[row][k] {
        Cell::Number(x, _) => x,
        ref other => panic!("{column} holds {other:?}"),
    }
}
