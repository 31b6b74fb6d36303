//! Solids from named planes: the intersection of their half-spaces.
//!
//! Method: each plane starts as a square larger than the solid and is clipped by all others (Sutherland and
//! Hodgman, "Reentrant polygon clipping", 1974). A first pass with a huge square finds where the solid is
//! and how large; a second one about its middle is exact to rounding at that size, so that a solid 10 km
//! away is as good as one at the origin. Corners of different faces are then welded. Units: mm.
//! Cost O(planes²) for the faces and O(planes³) at most for the proof that the solid is bounded.

use super::solid::{Solid, SolidFace};
use crate::error::{Error, Result};
use crate::settings::LARGEST_NUMBER;
use nalgebra::{Point3, Vector3};
use std::collections::BTreeSet;

/// Corners nearer than this share of the solid's size are one corner. Clipping is good to about 1e-14 of
/// the size; a larger share would swallow real edges, a smaller one would leave hairline gaps.
const WELD: f64 = 1.0e-9;

/// Directions nearer than this (radians) are parallel.
const PARALLEL: f64 = 1.0e-9;

/// How far from a plane, as a share of the square, a corner still counts as lying on it when clipping.
const ON_PLANE: f64 = 1.0e-13;

/// Volume, as a share of the cube of the size, below which nothing is left between the planes.
const NOTHING: f64 = 1.0e-10;

/// Longest name or label; file names are made of them.
const LONGEST_LABEL: usize = 60;

/// A plane about a local origin: n·x ≤ reach.
#[derive(Clone, Copy)]
struct Half {
    normal: Vector3<f64>,
    reach: f64,
}

impl Solid {
    /// The convex solid of all points behind the given planes, each with its label, a point and the
    /// outward normal (of any length).
    ///
    /// A plane that cuts nothing is kept with an empty polygon.
    ///
    /// # Errors
    /// Fewer than four planes; a bad or repeated label; a number that is not usable; a normal of no length;
    /// two faces of one plane; planes that leave the solid open in some direction or leave nothing.
    pub fn from_planes(name: &str, faces: Vec<(String, Point3<f64>, Vector3<f64>)>) -> Result<Self> {
        check_label("element name", name)?;
        build(name, faces).map_err(|e| e.at(name))
    }
}

/// Checks a name that becomes part of ids like `A/east` and of file names.
///
/// # Errors
/// Empty, too long, blank at an end, or with `/`, `~`, `\` or control characters.
pub fn check_label(what: &str, label: &str) -> Result<()> {
    let bad = |c: char| c == '/' || c == '~' || c == '\\' || c.is_control();
    let fault = if label.is_empty() {
        "is empty".to_owned()
    } else if label.chars().count() > LONGEST_LABEL {
        format!("is longer than {LONGEST_LABEL} characters")
    } else if label.trim() != label {
        "begins or ends with a blank".to_owned()
    } else if let Some(c) = label.chars().find(|c| bad(*c)) {
        format!("holds the character {c:?}")
    } else {
        return Ok(());
    };
    Err(Error::input(format!("the {what} {label:?} {fault}"))
        .remedy(r"use 1 to 60 characters without / ~ \ or line breaks"))
}

fn build(name: &str, faces: Vec<(String, Point3<f64>, Vector3<f64>)>) -> Result<Solid> {
    if faces.len() < 4 {
        return Err(Error::input(format!("{} planes cannot enclose a solid", faces.len()))
            .remedy("give at least 4 planes"));
    }
    let mut labels = BTreeSet::new();
    let mut solid_faces = Vec::with_capacity(faces.len());
    for (label, point, normal) in faces {
        check_label("face label", &label)?;
        if !labels.insert(label.clone()) {
            return Err(Error::input(format!("two faces are called {label:?}"))
                .remedy("give every face of an element its own label"));
        }
        let normal = unit_normal(&point, &normal).map_err(|e| e.at(label.as_str()))?;
        solid_faces.push(SolidFace { label, point, normal, polygon: Vec::new() });
    }
    check_coincident(&solid_faces)?;
    check_bounded(&solid_faces)?;
    let polygons = clip_all(&solid_faces)?;
    for (face, polygon) in solid_faces.iter_mut().zip(polygons) {
        face.polygon = polygon;
    }
    Ok(Solid { name: name.to_owned(), faces: solid_faces })
}

fn unit_normal(point: &Point3<f64>, normal: &Vector3<f64>) -> Result<Vector3<f64>> {
    let usable = |x: &f64| x.is_finite() && x.abs() <= LARGEST_NUMBER;
    if !point.iter().all(usable) {
        return Err(Error::input(format!("the point [{}, {}, {}] is not usable", point.x, point.y, point.z))
            .remedy("give three finite numbers within a thousand kilometres"));
    }
    let largest = normal.amax();
    if !normal.iter().all(usable) || largest == 0.0 {
        return Err(Error::input(format!(
            "the normal [{}, {}, {}] gives no direction",
            normal.x, normal.y, normal.z
        ))
        .remedy("give three finite numbers, not all 0, pointing outward"));
    }
    // Dividing by the largest first keeps very short normals from vanishing when squared.
    Ok((normal / largest).normalize())
}

fn check_coincident(faces: &[SolidFace]) -> Result<()> {
    let middle = middle_of(faces.iter().map(|f| f.point));
    let size = faces.iter().map(|f| (f.point - middle).norm()).fold(0.0, f64::max);
    for (i, a) in faces.iter().enumerate() {
        for b in &faces[i + 1..] {
            if a.normal.dot(&b.normal) < 0.0 || a.normal.cross(&b.normal).norm() > PARALLEL {
                continue;
            }
            if a.normal.dot(&(b.point - a.point)).abs() <= WELD * size {
                return Err(Error::input(format!(
                    "faces {:?} and {:?} lie in the same plane",
                    a.label, b.label
                ))
                .remedy("leave one of them out, or move or turn it"));
            }
        }
    }
    Ok(())
}

/// The solid is bounded unless some direction d has n·d ≤ 0 for all normals. If there is such a direction
/// there is one along the line two of the planes share, or across all normals if those are all parallel.
fn check_bounded(faces: &[SolidFace]) -> Result<()> {
    let open = |d: &Vector3<f64>| faces.iter().all(|f| f.normal.dot(d) <= PARALLEL);
    let mut spread = false;
    for (i, a) in faces.iter().enumerate() {
        for b in &faces[i + 1..] {
            let line = a.normal.cross(&b.normal);
            if line.norm() <= PARALLEL {
                continue;
            }
            spread = true;
            let line = line.normalize();
            if let Some(d) = [line, -line].iter().find(|d| open(d)) {
                return Err(runs_off(d));
            }
        }
    }
    if spread { Ok(()) } else { Err(runs_off(&basis(&faces[0].normal).0)) }
}

fn runs_off(d: &Vector3<f64>) -> Error {
    // A tiny component is shown as 0, not −0.
    let [x, y, z] = [d.x, d.y, d.z].map(|c| (c * 1000.0).round() / 1000.0 + 0.0);
    Error::input(format!("the planes leave the element open: it runs off along [{x}, {y}, {z}]"))
        .remedy("add a plane that closes it there, or check that every normal points outward")
}

fn clip_all(faces: &[SolidFace]) -> Result<Vec<Vec<Point3<f64>>>> {
    let nothing = || {
        Error::input("the planes leave nothing between them")
            .remedy("check that every normal points outward and that opposite faces do not cross")
    };
    let first = middle_of(faces.iter().map(|f| f.point));
    let huge = 4.0 * LARGEST_NUMBER;
    let rough: Vec<Point3<f64>> =
        clip_about(faces, first, huge).into_iter().flatten().map(|v| first + v).collect();
    if rough.is_empty() {
        return Err(nothing());
    }
    let (low, high) = rough.iter().fold((rough[0], rough[0]), |(l, h), p| (l.inf(p), h.sup(p)));
    let size = (high - low).norm();
    if size > LARGEST_NUMBER {
        let far = rough.iter().map(|p| p - first).max_by(|a, b| a.norm().total_cmp(&b.norm()));
        return Err(runs_off(&far.map_or_else(Vector3::z, |v| v.normalize())));
    }
    if size <= huge * ON_PLANE {
        // The rough pass cannot tell a solid this small from nothing; the points given say where to look.
        let reach = faces.iter().map(|f| (f.point - first).norm()).fold(0.0, f64::max);
        return clip_fine(faces, first, reach).ok_or_else(nothing);
    }
    clip_fine(faces, nalgebra::center(&low, &high), size).ok_or_else(nothing)
}

/// Clips about a middle near the solid and welds; none if nothing is left.
fn clip_fine(faces: &[SolidFace], middle: Point3<f64>, size: f64) -> Option<Vec<Vec<Point3<f64>>>> {
    let mut polygons = clip_about(faces, middle, 4.0 * size);
    let size = polygons.iter().flatten().map(Vector3::norm).fold(0.0, f64::max);
    weld(&mut polygons, size * WELD);
    let volume: f64 =
        polygons.iter().flat_map(|p| p.windows(2).skip(1).map(|w| p[0].dot(&w[0].cross(&w[1])) / 6.0)).sum();
    let sides = polygons.iter().filter(|p| !p.is_empty()).count();
    if sides < 4 || volume <= NOTHING * size.powi(3) {
        return None;
    }
    Some(polygons.into_iter().map(|p| p.into_iter().map(|v| middle + v).collect()).collect())
}

fn clip_about(faces: &[SolidFace], middle: Point3<f64>, square: f64) -> Vec<Vec<Vector3<f64>>> {
    let halves: Vec<Half> =
        faces.iter().map(|f| Half { normal: f.normal, reach: f.normal.dot(&(f.point - middle)) }).collect();
    let clip_one = |i: usize| {
        let Half { normal, reach } = halves[i];
        let (u, v) = basis(&normal);
        let corners = [(1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0)];
        let mut polygon: Vec<Vector3<f64>> =
            corners.iter().map(|(a, b)| normal * reach + (u * *a + v * *b) * square).collect();
        for (j, half) in halves.iter().enumerate() {
            if j != i && !polygon.is_empty() {
                polygon = clip(&polygon, half, square * ON_PLANE);
            }
        }
        polygon
    };
    (0..halves.len()).map(clip_one).collect()
}

fn clip(polygon: &[Vector3<f64>], half: &Half, on_plane: f64) -> Vec<Vector3<f64>> {
    let over: Vec<f64> = polygon.iter().map(|p| half.normal.dot(p) - half.reach).collect();
    let mut kept = Vec::with_capacity(polygon.len() + 1);
    for (k, p) in polygon.iter().enumerate() {
        let next = (k + 1) % polygon.len();
        let (here, there) = (over[k], over[next]);
        if here <= on_plane {
            kept.push(*p);
        }
        if (here < -on_plane && there > on_plane) || (here > on_plane && there < -on_plane) {
            kept.push(p + (polygon[next] - p) * (here / (here - there)));
        }
    }
    if kept.len() < 3 { Vec::new() } else { kept }
}

/// Makes corners within `reach` of each other one, puts corners that lie on another face's edge into it, and
/// drops faces that are left without area.
fn weld(polygons: &mut [Vec<Vector3<f64>>], reach: f64) {
    let mut corners: Vec<Vector3<f64>> = Vec::new();
    for polygon in polygons.iter_mut() {
        for vertex in polygon.iter_mut() {
            match corners.iter().find(|c| (*c - *vertex).norm() <= reach) {
                Some(corner) => *vertex = *corner,
                None => corners.push(*vertex),
            }
        }
        polygon.dedup();
        while polygon.len() > 1 && polygon.first() == polygon.last() {
            polygon.pop();
        }
        // Opposite edges nearer than the weld: a face seen edge-on.
        let perimeter: f64 = edges_of(polygon).map(|(a, b)| (b - a).norm()).sum();
        let area: Vector3<f64> = edges_of(polygon).map(|(a, b)| a.cross(&b)).sum();
        if polygon.len() < 3 || area.norm() <= perimeter * reach {
            polygon.clear();
        }
    }
    for polygon in polygons.iter_mut() {
        let mut full = Vec::with_capacity(polygon.len());
        for (a, b) in edges_of(polygon) {
            full.push(a);
            let along = b - a;
            let mut between: Vec<(f64, Vector3<f64>)> = corners
                .iter()
                .filter(|c| **c != a && **c != b)
                .map(|c| ((c - a).dot(&along) / along.norm_squared(), *c))
                .filter(|(s, c)| *s > 0.0 && *s < 1.0 && (a + along * *s - c).norm() <= reach)
                .collect();
            between.sort_by(|x, y| x.0.total_cmp(&y.0));
            full.extend(between.into_iter().map(|(_, c)| c).filter(|c| !polygon.contains(c)));
        }
        *polygon = full;
    }
}

fn edges_of(polygon: &[Vector3<f64>]) -> impl Iterator<Item = (Vector3<f64>, Vector3<f64>)> + '_ {
    (0..polygon.len()).map(|k| (polygon[k], polygon[(k + 1) % polygon.len()]))
}

/// Two unit vectors that make a right-handed frame with `n` as third.
fn basis(n: &Vector3<f64>) -> (Vector3<f64>, Vector3<f64>) {
    // The axis farthest from n, so that the product is never short.
    let axis = [Vector3::x(), Vector3::y(), Vector3::z()][n.iamin()];
    let u = axis.cross(n).normalize();
    (u, n.cross(&u))
}

fn middle_of(points: impl Iterator<Item = Point3<f64>> + Clone) -> Point3<f64> {
    let first = points.clone().next().unwrap_or_else(Point3::origin);
    let (sum, count) = points.fold((Vector3::zeros(), 0.0), |(s, n), p| (s + (p - first), n + 1.0));
    first + sum / f64::max(count, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_planes_are_refused() {
        let face = |l: &str, n| (l.to_owned(), Point3::origin(), n);
        let faces = vec![face("a", Vector3::x()), face("b", Vector3::y()), face("c", Vector3::z())];
        assert!(Solid::from_planes("A", faces).unwrap_err().to_string().contains("at least 4"));
    }
}
