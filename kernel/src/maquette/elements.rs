//! Elements of solved points: faces made flat by moving the corners as little as can be, then convex solids.
//!
//! Corners x move to where all conditions g(x) = 0 hold (flat faces; plumb, level or parallel ones where asked for)
//! and Σ |x − x₀|² is least: Gauss–Newton with Lagrange multipliers, the multipliers by pseudoinverse, since two
//! elements may ask the same of shared corners. Where three faces meet, a corner is then where their planes meet.

use super::flat::{Flat, at, middle};
use super::readings::{Readings, Ribs};
use super::solve::Solved;
use crate::element::Solid;
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use nalgebra::{DMatrix, DVector, Point3, Vector3};

/// Conditions hold if no corner is off by more than this share of the size.
const MET: f64 = 1.0e-12;
/// Steps to meet them: hand-made faces need some five.
const STEPS: usize = 60;
/// Conditions that share of the strongest adds nothing to the others.
const IMPLIED: f64 = 1.0e-10;
/// A corner this far out of a face, as a share of the size, is a dent. Corners are good to a little less.
const DENTED: f64 = 1.0e-9;
/// A corner of a solid is a point where they are nearer than this share of the size.
const CORNER: f64 = 1.0e-6;

/// An element made of solved points, mm on the maquette.
#[derive(Debug, Clone, PartialEq)]
pub struct MadeElement {
    /// The solid; faces in the order of the readings.
    pub solid: Solid,
    /// Its points, by index.
    pub points: Vec<usize>,
    /// For each face its corners, by index of point.
    pub corners: Vec<Vec<usize>>,
    /// For each face a point on a crest and the direction of the ribs, where they were drawn.
    pub ribs: Vec<Option<[Vector3<f64>; 2]>>,
}

/// Points with flat faces, and the elements they make.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// Where each point is now, mm on the maquette.
    pub points: Vec<Point3<f64>>,
    /// The elements, in the order of their first faces.
    pub elements: Vec<MadeElement>,
    /// What there is to say of them.
    pub findings: Vec<Finding>,
}

/// Moves solved points into flat faces and makes the elements; `flat` is the standard deviation of a corner from
/// the plane of its face, mm.
///
/// # Errors
/// Faces that leave an element open, or one that is not convex.
pub fn shape(readings: &Readings, solved: &Solved, flat: f64) -> Result<Shape> {
    let x = DVector::from_iterator(
        3 * solved.points.len(),
        solved.points.iter().flat_map(|p| [p.at.x, p.at.y, p.at.z]),
    );
    let mut shape = shape_with(readings, &x, &[], flat)?;
    let worst = |p: usize| (shape.points[p] - solved.points[p].at).norm();
    let all = || 0..solved.points.len();
    if let Some(p) = all().max_by(|&a, &b| worst(a).total_cmp(&worst(b))).filter(|&p| worst(p) > 0.0) {
        let often = |p: usize| worst(p) > FAR * (flat + solved.points[p].axes[0]);
        let level = if all().any(often) { Level::Warning } else { Level::Note };
        let found = Finding::new(
            level,
            "flattened",
            solved.points[p].name.clone(),
            format!(
                "to make all faces flat the corners move, this one most: by {:.2} mm on the maquette",
                worst(p)
            ),
            if level == Level::Note {
                "nothing needs to be done"
            } else {
                "look whether its faces are flat on the maquette, and measure its distances again"
            },
        );
        shape.findings.push(found);
    }
    Ok(shape)
}

/// Corners that move by more than this many deviations are worth a look.
const FAR: f64 = 3.0;

/// The faces of the readings as conditions.
pub(super) fn faces(readings: &Readings) -> Vec<Flat> {
    readings.faces.iter().filter(|f| f.corners.len() >= 3).map(|f| Flat::one(&f.corners)).collect()
}

/// As [`shape`], with more conditions.
pub(super) fn shape_with(readings: &Readings, x: &DVector<f64>, more: &[Flat], flat: f64) -> Result<Shape> {
    let mut conditions = faces(readings);
    conditions.extend(more.iter().cloned());
    let x = met(x, &conditions)?;
    let points: Vec<Point3<f64>> = (0..x.len() / 3).map(|p| Point3::from(at(&x, p))).collect();
    let mut findings = Vec::new();
    let mut names: Vec<&str> = Vec::new();
    for face in &readings.faces {
        if !names.contains(&face.element.as_str()) {
            names.push(&face.element);
        }
    }
    let elements = names
        .iter()
        .map(|name| element(readings, &x, name, flat, &mut findings))
        .collect::<Result<Vec<_>>>()?;
    Ok(Shape { points, elements, findings })
}

/// The nearest points to x that meet all conditions.
pub(super) fn met(start: &DVector<f64>, conditions: &[Flat]) -> Result<DVector<f64>> {
    let all: Vec<usize> = (0..start.len() / 3).collect();
    let foot = middle(start, &all);
    let size = all.iter().map(|&p| (at(start, p) - foot).norm()).fold(0.0, f64::max);
    let mut x = start.clone();
    for _ in 0..STEPS {
        let rows: Vec<_> = conditions.iter().flat_map(|c| c.rows(&x)).collect();
        if rows.is_empty() {
            return Ok(x);
        }
        let mut a = DMatrix::<f64>::zeros(rows.len(), x.len());
        let mut off = DVector::<f64>::zeros(rows.len());
        for (k, row) in rows.iter().enumerate() {
            off[k] = row.off;
            for &(i, share) in &row.terms {
                a[(k, i)] += share;
            }
        }
        let back = start - &x;
        let eigen = (&a * a.transpose()).symmetric_eigen();
        let most = eigen.eigenvalues.amax();
        let right = -&off - &a * &back;
        let mut multipliers = DVector::<f64>::zeros(rows.len());
        for k in (0..rows.len()).filter(|&k| eigen.eigenvalues[k] > IMPLIED * most) {
            let axis = eigen.eigenvectors.column(k);
            multipliers.axpy(axis.dot(&right) / eigen.eigenvalues[k], &axis, 1.0);
        }
        let step = back + a.transpose() * multipliers;
        x += &step;
        if off.amax() <= MET * size && step.amax() <= MET * size * 1.0e3 {
            return Ok(x);
        }
    }
    let off = conditions.iter().flat_map(|c| c.rows(&x)).map(|r| r.off.abs()).fold(0.0, f64::max);
    if off <= CORNER * size {
        return Ok(x);
    }
    Err(Error::input(format!("the faces cannot all be made flat as asked: {off:.2} mm are left"))
        .remedy("check which corners each face has, and ask for less at a time"))
}

fn element(
    readings: &Readings,
    x: &DVector<f64>,
    name: &str,
    flat: f64,
    findings: &mut Vec<Finding>,
) -> Result<MadeElement> {
    let of: Vec<_> = readings.faces.iter().filter(|f| f.element == name).collect();
    let mut points: Vec<usize> = of.iter().flat_map(|f| f.corners.iter().copied()).collect();
    points.sort_unstable();
    points.dedup();
    let inside = middle(x, &points);
    let size = points.iter().map(|&p| (at(x, p) - inside).norm()).fold(0.0, f64::max);
    let mut planes = Vec::with_capacity(of.len());
    let mut ribs = Vec::with_capacity(of.len());
    for face in &of {
        if face.corners.len() < 3 {
            return Err(Error::input(format!("the face {name}/{} has fewer than three corners", face.label))
                .remedy("name all its corners"));
        }
        let foot = middle(x, &face.corners);
        let normal = Flat::one(&face.corners).normal(x);
        let normal = if normal.dot(&(foot - inside)) < 0.0 { -normal } else { normal };
        let mut worst: Option<(f64, usize)> = None;
        for &p in points.iter().filter(|p| !face.corners.contains(p)) {
            let height = normal.dot(&(at(x, p) - foot));
            if height > DENTED * size && worst.is_none_or(|(h, _)| height > h) {
                worst = Some((height, p));
            }
        }
        if let Some((height, p)) = worst {
            let place = format!("{name}/{}", face.label);
            let point = &readings.points[p];
            if height > LEAST_DENT * size + FAR * flat {
                return Err(Error::input(format!(
                    "the element {name} is not convex: {point} lies {height:.1} mm outside of its face {}",
                    face.label
                ))
                .remedy("part the form into convex elements, or check the corners of this face")
                .at(place));
            }
            findings.push(Finding::new(
                Level::Warning,
                "dented",
                place,
                format!("{point} lies {height:.2} mm outside of this face; it is cut off"),
                "measure the corner again, or make the two faces one",
            ));
        }
        ribs.push(face.ribs.map(|r| drawn(x, &face.corners, &normal, &r)));
        planes.push((face.label.clone(), Point3::from(foot), normal));
    }
    let solid = Solid::from_planes(name, planes).map_err(|e| {
        let remedy = e.remedy_text().unwrap_or("check its faces").to_owned();
        e.remedy(format!("{remedy}; every face of the element needs its row, with all its corners"))
    })?;
    for &p in &points {
        let near = solid.vertices().map(|v| (v.coords - at(x, p)).norm()).fold(f64::INFINITY, f64::min);
        let dented = findings.iter().any(|f| f.code == "dented");
        if near > CORNER * size && !dented {
            findings.push(Finding::new(
                Level::Warning,
                "no-corner",
                readings.points[p].clone(),
                format!("it is no corner of {name}: the nearest is {near:.2} mm away"),
                "name it in each face it belongs to: a corner lies in three faces at least",
            ));
        }
    }
    let corners = of.iter().map(|f| f.corners.clone()).collect();
    Ok(MadeElement { solid, points, corners, ribs })
}

/// A dent of this share of the size, and of some deviations, may come from the readings.
const LEAST_DENT: f64 = 0.005;

/// A point on a crest and the direction of the ribs in space.
fn drawn(x: &DVector<f64>, corners: &[usize], normal: &Vector3<f64>, ribs: &Ribs) -> [Vector3<f64>; 2] {
    let origin = at(x, corners[0]);
    let along = at(x, corners[1]) - origin;
    let u = (along - normal * normal.dot(&along)).try_normalize(0.0).unwrap_or_else(Vector3::x);
    let v = normal.cross(&u);
    [origin + u * ribs.through[0] + v * ribs.through[1], u * ribs.along[0] + v * ribs.along[1]]
}
