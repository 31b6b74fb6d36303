//! Branches: tubes that end on the spine, each with the template of its saddle.
//!
//! A branch runs from its free end to the nearest point of the spine's axis to where it is aimed, so that the axes cross.
//! It is set on: its inside meets the outside of the spine, the wall is bevelled and welded through.

use super::super::sketch::{refused, stem, table, words};
use super::ROW;
use super::asked::size;
use super::fit::Fitted;
use super::papers::{POINTS, SKIRT};
use crate::error::{Error, Result};
use crate::finding::Level;
use crate::mass::{Kind, Matter, Rod};
use crate::output::{Output, PaperTemplate};
use crate::settings::{Value, Values};
use crate::table::Cell;
use crate::tube::Tube;
use crate::tube::saddle::{Saddle, Seat};
use crate::tube::template::{Wrap, saddle};
use crate::work::Work;
use nalgebra::Point3;
use std::collections::BTreeMap;

/// What a script asks of one branch.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Asked {
    /// Its free end, mm.
    from: Point3<f64>,
    /// Where it is aimed, mm.
    to: Point3<f64>,
}

/// A branch as it is cut.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Branch {
    leg: usize,
    ends: [Point3<f64>; 2],
    /// Angle between its axis, outward, and the spine's upward, radians.
    angle: f64,
    saddle: Saddle,
    /// Length of the centre line, of the crotch line and of the longest line, from its square end, mm.
    lengths: [f64; 3],
}

/// Adds templates, a table and masses; a finding says why there is none of a branch.
///
/// # Errors
/// Settings that are no use; a drawing or a mass that cannot be.
pub(super) fn add(work: &Work, set: &Values, fitted: &Fitted, output: &mut Output) -> Result<()> {
    let asked = read(work)?;
    if asked.is_empty() {
        return Ok(());
    }
    let tube = size(set, "branch_tube")?;
    let density = fitted.built.material.density;
    let mut rows = Vec::new();
    for (name, one) in &asked {
        let id = format!("branch {name}");
        let branch = match place(one, &tube, fitted) {
            Ok(branch) => branch,
            Err(error) => {
                output.findings.push(refused(Level::Error, "spine-branch", &id, &error));
                continue;
            }
        };
        let wrap = Wrap {
            name: format!("spine_branch_{}", stem(name)),
            title: id.to_uppercase(),
            paper: set.number("paper"),
            points: POINTS,
            skirt: SKIRT,
        };
        let mut drawing = saddle(&branch.saddle, &tube, &wrap)?;
        drawing.title = format!(
            "{}, {id}: wrap round the tube, cut line up, 0 to the narrow side of leg {}",
            work.sculpture.name,
            branch.leg + 1
        );
        let [centre, crotch, longest] = branch.lengths;
        rows.push(vec![
            words(&id),
            words(tube.words()),
            words(format!("leg {}", branch.leg + 1)),
            Cell::Number(branch.ends[1].z, 0),
            Cell::Number(branch.angle.to_degrees(), 1),
            Cell::Number(centre, 1),
            Cell::Number(crotch, 1),
            Cell::Number(longest, 1),
        ]);
        output.papers.push(PaperTemplate { id: id.clone(), stem: wrap.name, drawing });
        let mass = tube.mass_per_metre(density) * (crotch + longest) / 2.0 / 1000.0;
        let rod = Rod { ends: branch.ends, mass };
        output.mass.push(Some(fitted.goes_with[branch.leg]), Kind::Spine, id, Matter::Rods(vec![rod]))?;
    }
    let columns = [
        "branch",
        "tube mm",
        "on",
        "at height mm",
        "angle degrees",
        "centre line mm",
        "crotch line mm",
        "longest line mm",
    ];
    let title = "Branches on the spine (angle from its upward axis; lengths from the square end; set on, inside to outside; \
                 preliminary: a licensed engineer decides)";
    output.tables.push(table("spine_branches", title, &columns, rows));
    Ok(())
}

fn place(asked: &Asked, tube: &Tube, fitted: &Fitted) -> Result<Branch> {
    let legs = fitted.legs.iter().enumerate();
    let near = legs.map(|(k, leg)| {
        let [a, b] = leg.ends.map(|e| e.at);
        let run = b - a;
        let share = ((asked.to - a).dot(&run) / run.norm_squared()).clamp(0.0, 1.0);
        let at = a + run * share;
        (k, at, (asked.to - at).norm())
    });
    let (leg, at, away) =
        near.min_by(|a, b| a.2.total_cmp(&b.2)).ok_or_else(|| Error::bug("a spine has legs"))?;
    let header = &fitted.built.tube;
    if away > header.outside() / 2.0 {
        return Err(Error::input(format!("it ends {away:.0} mm beside the axis of the spine"))
            .remedy(format!("end it within the tube: near x {:.0}, y {:.0}, z {:.0}", at.x, at.y, at.z)));
    }
    let out = asked.from - at;
    let centre = out.norm();
    let angle = fitted.legs[leg].direction.angle(&out);
    let saddle = Saddle::of(header, tube, Seat::Inside, angle)?;
    let crotch = centre - saddle.crotch();
    let longest = crotch + saddle.longest().1;
    if crotch <= 0.0 || !crotch.is_finite() {
        return Err(Error::input("its free end lies in the spine").remedy("move its free end further out"));
    }
    // The mitres of the leg must not be cut into.
    let reach = tube.outside() / 2.0 / angle.sin();
    let ends = fitted.legs[leg].ends.map(|e| (e.at - at).norm());
    if let Some(short) = ends.into_iter().find(|d| *d < reach) {
        return Err(Error::input(format!(
            "it meets leg {} within {short:.0} mm of the leg's end, and takes {reach:.0} mm there",
            leg + 1
        ))
        .remedy("let it end further from mitre, foot and top"));
    }
    Ok(Branch { leg, ends: [asked.from, at], angle, saddle, lengths: [centre, crotch, longest] })
}

fn read(work: &Work) -> Result<BTreeMap<String, Asked>> {
    let Some(given) = work.sculpture.stages.get(ROW.name).and_then(|s| s.get("branches")) else {
        return Ok(BTreeMap::new());
    };
    let wrong = |name: &str| {
        Error::input("is no pair of points").at(name).at("branches").at(ROW.name).remedy(
            "write branches: #{ brace: [[x, y, z], [x, y, z]] }, in mm, from its free end to the spine",
        )
    };
    let Value::Map(map) = given else { return Err(wrong("branches")) };
    map.iter()
        .map(|(name, value)| {
            let Value::List(pair) = value else { return Err(wrong(name)) };
            let [from, to] = pair.as_slice() else { return Err(wrong(name)) };
            let point = |v: &Value| -> Result<Point3<f64>> {
                let x = v.numbers(3).map_err(|_| wrong(name))?;
                Ok(Point3::new(x[0], x[1], x[2]))
            };
            Ok((name.clone(), Asked { from: point(from)?, to: point(to)? }))
        })
        .collect()
}
