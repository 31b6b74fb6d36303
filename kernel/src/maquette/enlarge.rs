//! From the maquette to the work: tidied where asked, thickness taken off, enlarged.
//!
//! Order: corners move as little as can be until the faces named are plumb, level or parallel (see
//! [`super::shape`]); faces that change least are dropped where an element may have so many only; faces move inward
//! by the thickness, but for those on which elements lie against one another; then all is enlarged about the origin,
//! and stands on the ground. Elements that stand on others reach into them by a lap.

use super::elements::{MadeElement, Shape, shape_with};
use super::flat::{Flat, Turn};
use super::readings::Readings;
use super::solve::Solved;
use crate::element::{Solid, SolidFace};
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use crate::settings::unknown_name;
use nalgebra::{DVector, Isometry3, Point3};

/// How much larger the work is.
#[derive(Debug, Clone, PartialEq)]
pub enum Size {
    /// So many times.
    Factor(f64),
    /// So that the distance between two points, by name, as solved, becomes so long, mm.
    Length([String; 2], f64),
    /// So that a pitch of corrugation on the maquette becomes that of the sheet, mm each.
    Pitch {
        /// On the maquette.
        model: f64,
        /// Of the sheet.
        real: f64,
    },
}

/// Something to put straight. Faces are named `A/east`.
#[derive(Debug, Clone, PartialEq)]
pub enum Tidy {
    /// Make a face vertical.
    Plumb(String),
    /// Make a face level.
    Level(String),
    /// Make two faces parallel.
    Parallel(String, String),
    /// Leave an element so many faces at most.
    MostSides(String, usize),
}

/// How to enlarge.
#[derive(Debug, Clone, PartialEq)]
pub struct Enlarge {
    /// How much.
    pub size: Size,
    /// How far the design face lies inside of what was measured, mm on the maquette: half the thickness of the card
    /// for its middle, all of it for its inside.
    pub inward: f64,
    /// How far an element reaches into the one it stands on, mm of the work, so that its sheets lap there: faces that
    /// lie on one another exactly leave nothing to cut.
    pub lap: f64,
    /// What to put straight, in order.
    pub tidy: Vec<Tidy>,
}

/// The lap where nothing else is said, mm: one and a half times the depth of a usual rib. Common practice, no source.
pub const LAP: f64 = 60.0;

/// How far something moved for the sake of order.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// What was asked for, in words.
    pub what: String,
    /// Points that moved by more than rounding, with how far, mm on the maquette.
    pub points: Vec<(String, f64)>,
}

/// The work in real size.
#[derive(Debug, Clone, PartialEq)]
pub struct Enlarged {
    /// How many times larger.
    pub scale: f64,
    /// The elements, mm; the lowest corner at z = 0.
    pub elements: Vec<MadeElement>,
    /// What was put straight, and what that moved.
    pub moved: Vec<Moved>,
    /// What there is to say.
    pub findings: Vec<Finding>,
}

/// Largest factor of enlargement, either way.
const LARGEST: f64 = 1.0e4;
/// Points that move by less than this share of a mm have not moved.
const UNMOVED: f64 = 1.0e-6;

/// Tidies and enlarges. `flat` is the standard deviation of a corner from its face, mm.
///
/// # Errors
/// Faces, points or elements that are not there, a size that is not usable, faces that cannot be put as asked.
pub fn enlarge(readings: &Readings, solved: &Solved, flat: f64, how: &Enlarge) -> Result<Enlarged> {
    let scale = factor(solved, &how.size)?;
    let start = DVector::from_iterator(
        3 * solved.points.len(),
        solved.points.iter().flat_map(|p| [p.at.x, p.at.y, p.at.z]),
    );
    let mut findings = Vec::new();
    let mut moved = Vec::new();
    let mut conditions: Vec<Flat> = Vec::new();
    let mut shape = shape_with(readings, &start, &[], flat)?;
    for tidy in &how.tidy {
        let face = |name: &str| corners(readings, name);
        let condition = match tidy {
            Tidy::Plumb(name) => Flat { planes: vec![face(name)?], turn: Turn::Plumb },
            Tidy::Level(name) => Flat { planes: vec![face(name)?], turn: Turn::Level },
            Tidy::Parallel(a, b) => Flat { planes: vec![face(a)?, face(b)?], turn: Turn::Free },
            Tidy::MostSides(..) => continue,
        };
        conditions.push(condition);
        let before = shape.points.clone();
        shape = shape_with(readings, &start, &conditions, flat).map_err(|e| e.at(words(tidy)))?;
        moved.push(moves(readings, words(tidy), &before, &shape));
    }
    let Shape { mut elements, findings: said, .. } = shape;
    findings.extend(said);
    for tidy in &how.tidy {
        if let Tidy::MostSides(name, most) = tidy {
            moved.push(
                fewer(&mut elements, name, *most, readings, &mut findings).map_err(|e| e.at(words(tidy)))?,
            );
        }
    }
    if !(how.inward.is_finite() && how.inward >= 0.0) {
        return Err(Error::input(format!("the faces cannot move inward by {} mm", how.inward))
            .remedy("give the thickness of the card, or half of it, mm on the maquette"));
    }
    if how.inward > 0.0 {
        inward(&mut elements, how.inward, &mut findings)?;
    }
    let low = elements.iter().map(|e| e.solid.lowest_z()).fold(f64::INFINITY, f64::min);
    for element in &mut elements {
        if low.is_finite() {
            element.solid.transform(&Isometry3::translation(0.0, 0.0, -low));
            element.ribs.iter_mut().flatten().for_each(|r| r[0].z -= low);
        }
        element.solid.scale(scale)?;
        element.ribs.iter_mut().flatten().for_each(|r| r[0] *= scale);
    }
    lapped(&mut elements, how.lap, &mut findings)?;
    Ok(Enlarged { scale, elements, moved, findings })
}

fn factor(solved: &Solved, size: &Size) -> Result<f64> {
    let factor = match size {
        Size::Factor(k) => *k,
        Size::Pitch { model, real } => real / model,
        Size::Length([a, b], real) => {
            let point = |name: &String| {
                let names = solved.points.iter().map(|p| p.name.as_str());
                let found = solved.points.iter().find(|p| p.name == *name);
                found.ok_or_else(|| unknown_name("point", name, names).at("length"))
            };
            let (a, b) = (point(a)?, point(b)?);
            if a.part != b.part {
                return Err(Error::input(format!(
                    "{} and {} do not hang together: their distance is not known",
                    a.name, b.name
                ))
                .remedy("name two points of one part, or measure distances between the parts"));
            }
            real / (a.at - b.at).norm()
        }
    };
    if !(factor.is_finite() && factor >= LARGEST.recip() && factor <= LARGEST) {
        return Err(Error::input(format!("the work would be {factor} times as large as the maquette"))
            .remedy(format!("give a scale from {} to {LARGEST}", LARGEST.recip())));
    }
    Ok(factor)
}

fn words(tidy: &Tidy) -> String {
    match tidy {
        Tidy::Plumb(face) => format!("plumb {face}"),
        Tidy::Level(face) => format!("level {face}"),
        Tidy::Parallel(a, b) => format!("parallel {a} and {b}"),
        Tidy::MostSides(element, most) => format!("{element}: at most {most} sides"),
    }
}

fn corners(readings: &Readings, name: &str) -> Result<Vec<usize>> {
    let names: Vec<String> = readings.faces.iter().map(|f| format!("{}/{}", f.element, f.label)).collect();
    match names.iter().position(|n| n == name) {
        Some(k) => Ok(readings.faces[k].corners.clone()),
        None => Err(unknown_name("face", name, names.iter().map(String::as_str))),
    }
}

fn moves(readings: &Readings, what: String, before: &[Point3<f64>], after: &Shape) -> Moved {
    let points = before
        .iter()
        .zip(&after.points)
        .zip(&readings.points)
        .map(|((a, b), name)| (name.clone(), (b - a).norm()))
        .filter(|(_, by)| *by > UNMOVED)
        .collect();
    Moved { what, points }
}

/// An element may grow by this share of its volume for the loss of one face: more makes it another form.
const MOST_GROWTH: f64 = 0.25;

/// Drops the faces of an element whose loss adds the least volume, until so many are left.
fn fewer(
    elements: &mut [MadeElement],
    name: &str,
    most: usize,
    readings: &Readings,
    findings: &mut Vec<Finding>,
) -> Result<Moved> {
    let names: Vec<String> = elements.iter().map(|e| e.solid.name.clone()).collect();
    let Some(element) = elements.iter_mut().find(|e| e.solid.name == name) else {
        return Err(unknown_name("element", name, names.iter().map(String::as_str)));
    };
    if most < 4 {
        return Err(Error::input(format!("{most} faces enclose nothing")).remedy("leave at least 4"));
    }
    let mut points: Vec<(String, f64)> = Vec::new();
    while element.solid.faces.len() > most {
        let before = element.solid.volume();
        let left = |gone: usize| {
            let faces = element.solid.faces.iter().enumerate().filter(|(k, _)| *k != gone);
            let planes = faces.map(|(_, f)| (f.label.clone(), f.point, f.normal)).collect();
            Solid::from_planes(name, planes).ok()
        };
        let best = (0..element.solid.faces.len())
            .filter_map(|k| left(k).map(|solid| (k, solid)))
            .filter(|(_, solid)| solid.volume() <= before * (1.0 + MOST_GROWTH))
            .min_by(|a, b| a.1.volume().total_cmp(&b.1.volume()));
        let Some((gone, solid)) = best else {
            return Err(Error::input(format!(
                "{name} cannot have fewer than {} faces: without any one of them it is open, or grows by more than {:.0} %",
                element.solid.faces.len(),
                100.0 * MOST_GROWTH
            ))
            .remedy("allow more sides"));
        };
        let dropped = element.solid.faces[gone].clone();
        let rise = |p: Point3<f64>| dropped.normal.dot(&(p - dropped.point));
        let height = solid.vertices().map(rise).fold(0.0, f64::max);
        // Each corner of the lost face goes to the nearest corner of the larger solid.
        for &p in &element.corners[gone] {
            let near = |v: &Point3<f64>| {
                dropped.polygon.iter().map(|c| (c - v).norm()).fold(f64::INFINITY, f64::min)
            };
            let far = solid.vertices().filter(|v| rise(*v) > 0.0).map(|v| near(&v)).fold(0.0, f64::max);
            points.push((readings.points[p].clone(), far));
        }
        let share = 100.0 * (solid.volume() / before - 1.0);
        findings.push(Finding::new(
            Level::Note,
            "face-dropped",
            format!("{name}/{}", dropped.label),
            format!(
                "the face is left out: the element grows there by up to {height:.2} mm on the maquette, in all by \
                 {share:.2} % of its volume"
            ),
            "allow more sides to keep it",
        ));
        element.solid = solid;
        element.corners.remove(gone);
        element.ribs.remove(gone);
    }
    Ok(Moved { what: words(&Tidy::MostSides(name.to_owned(), most)), points })
}

/// The corners of all faces of each element.
type Corners = Vec<Vec<Vec<usize>>>;

fn all_corners(elements: &[MadeElement]) -> Corners {
    elements.iter().map(|e| e.corners.clone()).collect()
}

/// The element that lies against a face of element `k`: one of its faces has three of the corners.
fn against(all: &Corners, k: usize, corners: &[usize]) -> Option<usize> {
    let shared = |other: &Vec<usize>| corners.iter().filter(|p| other.contains(p)).count() >= 3;
    (0..all.len()).find(|&i| i != k && all[i].iter().any(shared))
}

/// Moves faces outward along their normals, each by its own amount.
fn moved_out(solid: &Solid, by: impl Fn(usize) -> f64) -> Result<Solid> {
    let moved = |(k, f): (usize, &SolidFace)| (f.label.clone(), f.point + f.normal * by(k), f.normal);
    Solid::from_planes(&solid.name, solid.faces.iter().enumerate().map(moved).collect())
}

/// Faces inward by the thickness, but for those on which two elements lie against one another.
fn inward(elements: &mut [MadeElement], by: f64, findings: &mut Vec<Finding>) -> Result<()> {
    let all = all_corners(elements);
    for (k, element) in elements.iter_mut().enumerate() {
        let held: Vec<bool> = element.corners.iter().map(|c| against(&all, k, c).is_some()).collect();
        for (face, _) in element.solid.faces.iter().zip(&held).filter(|(_, held)| **held) {
            findings.push(Finding::new(
                Level::Note,
                "contact",
                format!("{}/{}", element.solid.name, face.label),
                "another element lies against this face: it stays where it is, the others move inward",
                "nothing needs to be done",
            ));
        }
        let name = element.solid.name.clone();
        element.solid = moved_out(&element.solid, |f| if held[f] { 0.0 } else { -by }).map_err(|e| {
            Error::input(format!("nothing is left of it {by} mm inside of its faces: {}", e.message()))
                .at(name)
                .remedy("give the thickness in mm on the maquette, not of the work")
        })?;
    }
    Ok(())
}

/// Elements that stand on others reach into them: the lower faces of contacts move outward.
fn lapped(elements: &mut [MadeElement], lap: f64, findings: &mut Vec<Finding>) -> Result<()> {
    if !(lap.is_finite() && lap >= 0.0) {
        return Err(
            Error::input(format!("elements cannot lap by {lap} mm")).remedy("give a lap of 0 or more")
        );
    }
    let all = all_corners(elements);
    for (k, element) in elements.iter_mut().enumerate() {
        let stands: Vec<Option<usize>> = element
            .corners
            .iter()
            .zip(&element.solid.faces)
            .map(|(c, f)| against(&all, k, c).filter(|_| f.normal.z < 0.0))
            .collect();
        let Some(face) = stands.iter().position(Option::is_some) else { continue };
        if lap > 0.0 {
            element.solid = moved_out(&element.solid, |f| if stands[f].is_some() { lap } else { 0.0 })?;
        }
        let message = if lap > 0.0 {
            format!("it reaches {lap} mm into the element below, so that its sheets lap there")
        } else {
            "it lies on the element below face to face: their sheets coincide".to_owned()
        };
        let remedy =
            if lap > 0.0 { "set another lap if the ribs are deeper" } else { "set a lap, or stack it" };
        let place = format!("{}/{}", element.solid.name, element.solid.faces[face].label);
        findings.push(Finding::new(Level::Note, "lap", place, message, remedy));
    }
    Ok(())
}

#[cfg(test)]
mod tests;
