//! The mass stage: what everything weighs, where its centre lies and how it resists turning, by element and kind.

mod further;

use super::{Stage, any};
use crate::balance::own_mass;
use crate::error::Result;
use crate::mass::model::KINDS;
use crate::mass::{Body, Kind, MassModel};
use crate::output::Output;
use crate::registry::Registry;
use crate::settings::{Setting, SettingKind};
use crate::table::{Cell, Table, table, text};
use crate::work::Work;

/// The registry row.
pub const ROW: Stage = Stage {
    name: "mass",
    summary: "mass, centre and inertia by element and kind: sheets, weld metal, and what other stages know",
    settings: &[
        Setting {
            name: "coating",
            summary: "wax, paint or zinc on the sheets, both sides together",
            unit: "g/m²",
            kind: SettingKind::Number { default: Some(0.0), min: 0.0, max: 100_000.0 },
        },
        Setting {
            name: "water",
            summary: "water that stands in elements if drains block, by its depth over the lowest corner, corrugation left \
                      aside: #{ A: 300 }; it counts where it tips and never where it holds",
            unit: "mm",
            kind: SettingKind::Settings,
        },
    ],
    check: any,
    run,
};

/// kg·m² of kg·mm².
const PER_M2: f64 = 1.0e-6;

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    gather(work, output)?;
    let table = masses(work, &output.mass);
    output.tables.push(table);
    Ok(())
}

/// Puts the work's own sheets and weld metal into the mass model, unless they are there.
pub(super) fn gather(work: &Work, output: &mut Output) -> Result<()> {
    if !output.mass.parts.iter().any(|c| c.kind == Kind::Sheet) {
        let mut own = own_mass(work)?;
        further::add(work, &mut own)?;
        output.mass.parts.extend(own.parts);
    }
    Ok(())
}

const COLUMNS: [&str; 12] = [
    "element",
    "kind",
    "mass kg",
    "x mm",
    "y mm",
    "z mm",
    "Ixx kg m²",
    "Iyy kg m²",
    "Izz kg m²",
    "Ixy kg m²",
    "Ixz kg m²",
    "Iyz kg m²",
];

fn masses(work: &Work, model: &MassModel) -> Table {
    let mut rows = Vec::new();
    let names = work.sculpture.elements.iter().map(|e| e.solid.name.as_str());
    let places = names.enumerate().map(|(i, n)| (Some(i), n)).chain([(None, "ground")]);
    for (element, name) in places {
        let kinds: Vec<Kind> = KINDS
            .into_iter()
            .filter(|k| model.parts.iter().any(|c| c.element == element && c.kind == *k))
            .collect();
        for kind in &kinds {
            let body = model.body(|c| c.element == element && c.kind == *kind);
            rows.push(row(name, kind.word(), &body));
        }
        if kinds.len() > 1 {
            rows.push(row(name, "together", &model.body(|c| c.element == element)));
        }
    }
    rows.push(row("Together", "", &model.total()));
    table("mass", "Mass, centre and inertia", &COLUMNS, rows)
}

fn row(element: &str, kind: &str, body: &Body) -> Vec<Cell> {
    let mut cells = vec![text(element), if kind.is_empty() { Cell::Empty } else { text(kind) }];
    cells.push(Cell::Number(body.mass, 2));
    cells.extend(body.centre.iter().map(|x| Cell::Number(x + 0.0, 1)));
    let i = &body.inertia;
    let entries = [i[(0, 0)], i[(1, 1)], i[(2, 2)], i[(0, 1)], i[(0, 2)], i[(1, 2)]];
    cells.extend(entries.map(|x| Cell::Number(x * PER_M2 + 0.0, 3)));
    cells
}
