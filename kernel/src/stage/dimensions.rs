//! The dimensions stage: what to check with a tape while the work goes together, with ISO 13920 tolerances.

use super::{Stage, any};
use crate::error::Result;
use crate::joint::Joined;
use crate::output::Output;
use crate::part::Part;
use crate::registry::Registry;
use crate::seam::Seam;
use crate::settings::{Setting, SettingKind};
use crate::table::{Cell, Column, Table};
use crate::tolerance::iso_13920;
use crate::work::Work;
use nalgebra::{Point3, Vector3};

/// The registry row.
pub const ROW: Stage = Stage {
    name: "dimensions",
    summary: "what to measure while elements and the work go together, with tolerances by ISO 13920",
    settings: &[
        Setting {
            name: "iso_13920",
            summary: "class of ISO 13920 for lengths and angles",
            unit: "",
            kind: SettingKind::Choice { default: Some("B"), of: &iso_13920::CLASSES },
        },
        Setting {
            name: "iso_13920_straightness",
            summary: "class of ISO 13920 for straightness and flatness",
            unit: "",
            kind: SettingKind::Choice { default: Some("F"), of: &iso_13920::STRAIGHTNESS_CLASSES },
        },
    ],
    check: any,
    run,
};

/// Angles nearer to a straight one than this are no corner to measure, degrees.
const STRAIGHT: f64 = 1.0;

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    let values = super::values(work, &ROW)?;
    let class = values.text("iso_13920").unwrap_or_default();
    let straightness = values.text("iso_13920_straightness").unwrap_or_default();
    let mut rows = Vec::new();
    let mut length = |of: &str, what: &str, size: f64| {
        rows.push(row(of, what, (size, 1), "mm", (iso_13920::linear(class, size).ok(), 0), class));
    };
    for (of, points) in boxes(work) {
        let Some([low, high]) = ends(&points) else { continue };
        for (axis, what) in ["length along x", "width along y", "height"].into_iter().enumerate() {
            length(of, what, high[axis] - low[axis]);
        }
    }
    for seam in work.seams.iter().filter(|s| s.nominal_length > 0.0 && s.joint != Joined::Open) {
        length(&seam.id, "nominal edge", seam.nominal_length);
    }
    for seam in work.seams.iter().filter(|s| (s.dihedral - 180.0).abs() > STRAIGHT && s.joint != Joined::Open)
    {
        let Some(leg) = shorter_leg(work, seam) else { continue };
        let tolerance = iso_13920::angular(class, leg).ok();
        let minutes = (tolerance.map(|t| t.minutes), 0);
        rows.push(row(&seam.id, "angle between the faces, inside", (seam.dihedral, 2), "°", minutes, class));
    }
    for face in &work.faces {
        let parts = || work.parts.iter().filter(|p| p.face == face.id);
        let Some([low, high]) = ends_on_face(parts()) else { continue };
        let longer = (high[0] - low[0]).max(high[1] - low[1]);
        let tolerance = (iso_13920::straightness(straightness, longer).ok(), 1);
        rows.push(row(&face.id, "flatness over its longer side", (longer, 1), "mm", tolerance, straightness));
    }
    output.tables.push(Table {
        name: ROW.name.to_owned(),
        title: "Dimensions to check while it goes together (± by ISO 13920; angles in minutes of arc)"
            .to_owned(),
        columns: ["of", "what", "size", "unit", "tolerance ±", "class"]
            .map(|name| Column { name: name.to_owned() })
            .to_vec(),
        rows,
    });
    Ok(())
}

fn row(
    of: &str,
    what: &str,
    size: (f64, usize),
    unit: &str,
    tolerance: (Option<f64>, usize),
    class: &str,
) -> Vec<Cell> {
    vec![
        Cell::Text(of.to_owned()),
        Cell::Text(what.to_owned()),
        Cell::Number(size.0, size.1),
        Cell::Text(unit.to_owned()),
        tolerance.0.map_or(Cell::Empty, |t| Cell::Number(t, tolerance.1)),
        Cell::Text(class.to_owned()),
    ]
}

/// The whole work and each element, with the places of their parts' corners on both skins, mm.
fn boxes(work: &Work) -> Vec<(&str, Vec<Point3<f64>>)> {
    let corners = |part: &Part| -> Vec<Point3<f64>> {
        let half = part.thickness() / 2.0;
        part.outlines.iter().flatten().flat_map(|p| [-half, half].map(|o| part.position(*p, o))).collect()
    };
    let mut found = vec![(work.sculpture.name.as_str(), work.parts.iter().flat_map(corners).collect())];
    if work.sculpture.elements.len() > 1 {
        for (e, element) in work.sculpture.elements.iter().enumerate() {
            let own = |part: &&Part| work.faces.iter().any(|f| f.element == e && f.id == part.face);
            found.push((
                element.solid.name.as_str(),
                work.parts.iter().filter(own).flat_map(corners).collect(),
            ));
        }
    }
    found
}

fn ends(points: &[Point3<f64>]) -> Option<[Point3<f64>; 2]> {
    let first = *points.first()?;
    Some(points.iter().fold([first, first], |[low, high], p| [low.inf(p), high.sup(p)]))
}

/// Least and greatest coordinates of parts in their face's plane, mm.
fn ends_on_face<'a>(parts: impl Iterator<Item = &'a Part>) -> Option<[[f64; 2]; 2]> {
    let real = |part: &'a Part| part.outlines.iter().flatten().map(|p| part.seen_square(*p));
    parts.flat_map(real).fold(None, |ends, p| {
        let [low, high] = ends.unwrap_or([p, p]);
        Some([[low[0].min(p[0]), low[1].min(p[1])], [high[0].max(p[0]), high[1].max(p[1])]])
    })
}

/// How far the two faces of a seam reach from it, the lesser of the two, mm.
fn shorter_leg(work: &Work, seam: &Seam) -> Option<f64> {
    let [m, n] = seam.between.map(|f| work.faces[f].frame.n);
    let along = m.cross(&n).try_normalize(f64::EPSILON)?;
    let through = *seam.runs.first()?.points.first()?;
    let leg = |f: usize| {
        let parts = work.parts.iter().filter(|p| p.face == work.faces[f].id);
        let away = |p: Point3<f64>| {
            let d: Vector3<f64> = p - through;
            (d - along * d.dot(&along)).norm()
        };
        parts.flat_map(|p| p.outlines.iter().flatten().map(|q| away(p.position(*q, 0.0)))).fold(0.0, f64::max)
    };
    let leg = leg(seam.between[0]).min(leg(seam.between[1]));
    (leg > 0.0).then_some(leg)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::slab;
    use crate::profile::{Piece, Profile};
    use crate::sculpture::{Element, Sculpture};
    use crate::settings::{Value, Values};
    use std::collections::BTreeMap;
    use std::sync::Arc;

    /// A flat-clad block of 500 × 400 × 1200 mm over the middle skin, sheet 2 mm thick.
    #[test]
    fn a_block_is_measured_over_its_skins_with_the_tolerances_of_the_tables() {
        let flat = Profile::from_pieces("flat", vec![Piece::Flat { length: 100.0 }], 2.0, 0.0).expect("flat");
        let size = Value::List([500.0, 400.0, 1200.0].map(Value::Number).to_vec());
        let given = BTreeMap::from([("size".to_owned(), size)]);
        let values = Values::check("slab", slab::ROW.settings, &given).expect("allowed");
        let solid = (slab::ROW.build)("A", &values).expect("a block");
        let mut element = Element::new(solid);
        element.clad(&Arc::new(flat));
        let mut sculpture = Sculpture::new("Block");
        sculpture.add(element).expect("added");
        let registry = Registry::standard();
        let work = crate::work_out(&sculpture, &registry).expect("worked out");
        let mut output = Output::default();
        run(&work, &registry, &mut output).expect("run");
        let rows = &output.tables[0].rows;
        let find = |of: &str, what: &str| {
            let text = |c: &Cell, s: &str| matches!(c, Cell::Text(t) if t == s);
            rows.iter()
                .find(|r| text(&r[0], of) && text(&r[1], what))
                .unwrap_or_else(|| panic!("{of}, {what}"))
        };
        let number = |cell: &Cell| match cell {
            Cell::Number(x, _) => *x,
            other => panic!("{other:?} is no number"),
        };
        // Cut square and meeting inside, two sheets stand a thickness over the middle skins in between.
        let height = find("Block", "height");
        assert!((number(&height[2]) - 1200.0).abs() <= 2.0 + 1e-9, "{height:?}");
        // Class B: ±4 mm from 1000 to 2000 mm (table 1).
        assert_eq!(number(&height[4]), 4.0);
        // The shorter leg is 400 to 500 mm long: ±30 minutes for class B from 400 to 1000 mm (table 2).
        let angle = find("A/east~A/top", "angle between the faces, inside");
        assert!((number(&angle[2]) - 90.0).abs() < 1e-9, "{angle:?}");
        assert_eq!(number(&angle[4]), 30.0);
        // Class F: 4.5 mm from 1000 to 2000 mm (table 3).
        assert_eq!(number(&find("A/east", "flatness over its longer side")[4]), 4.5);
    }
}
