//! A convex element in model size: its faces flat, each with up towards the top, and the edges they share.

use super::flat::unit;
use crate::element::Solid;
use crate::error::{Error, Result};
use nalgebra::{Point3, Vector3};

/// One flat face in model size.
#[derive(Debug, Clone)]
pub struct FlatFace {
    /// `A/east`.
    pub id: String,
    /// Index among the faces of its solid.
    pub face: usize,
    /// Corners seen from outside, counter-clockwise, mm; y is up the slope, on a level face north (+y).
    pub polygon: Vec<[f64; 2]>,
    /// For each side, to the next corner, the index of its edge in [`Shape::edges`]. A side has none where two nearly
    /// equal planes leave no neighbour that runs along it; it is glued edge to edge.
    pub edges: Vec<Option<usize>>,
    /// What (0, 0) is in the work, mm in true size.
    pub origin: Point3<f64>,
    /// Where x, y and the viewer lie in the work.
    pub axes: [Vector3<f64>; 3],
}

/// An edge that two faces share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlatEdge {
    /// Its number in the kit, from 1.
    pub number: u32,
    /// The faces (indices into [`Shape::faces`]) and their sides that meet in it.
    pub sides: [(usize, usize); 2],
    /// Angle inside the solid, radians.
    pub dihedral: f64,
    /// Length, mm.
    pub length: f64,
    /// Its ends: indices of corners of the solid.
    pub(super) ends: [usize; 2],
}

/// A convex element in model size.
#[derive(Debug, Clone)]
pub struct Shape {
    /// The element's name.
    pub name: String,
    /// Its faces; those that other planes cut off whole are left out.
    pub faces: Vec<FlatFace>,
    /// Its edges.
    pub edges: Vec<FlatEdge>,
    /// The work is as many times as large.
    pub scale: f64,
    /// Corners in model size, from the first of them.
    pub(super) corners: Vec<Vector3<f64>>,
}

/// Sine of the slope below which a face counts as level.
const LEVEL: f64 = 1.0e-6;

/// Corners nearer than this share of the size may be one corner of two faces.
const NEARLY: f64 = 1.0e-6;

/// Right, up and outward of a face seen from outside.
pub(super) fn axes_of(normal: &Vector3<f64>) -> [Vector3<f64>; 3] {
    let n = normal.normalize();
    let rise = Vector3::z() - n * n.z;
    let up = if rise.norm() < LEVEL { Vector3::y() - n * n.y } else { rise };
    let up = up.normalize();
    [up.cross(&n), up, n]
}

impl Shape {
    /// The element at 1 to `scale`; its edges are numbered from `first`.
    ///
    /// # Errors
    /// A solid without faces.
    pub fn new(solid: &Solid, scale: f64, first: u32) -> Result<Self> {
        let present: Vec<usize> =
            (0..solid.faces.len()).filter(|&i| solid.faces[i].polygon.len() > 2).collect();
        let mut faces: Vec<FlatFace> = present
            .iter()
            .map(|&i| {
                let face = &solid.faces[i];
                let (axes, origin) = (axes_of(&face.normal), face.polygon[0]);
                let flat = |p: &Point3<f64>| [0, 1].map(|k| axes[k].dot(&(p - origin)) / scale);
                FlatFace {
                    id: format!("{}/{}", solid.name, face.label),
                    face: i,
                    polygon: face.polygon.iter().map(flat).collect(),
                    edges: vec![None; face.polygon.len()],
                    origin,
                    axes,
                }
            })
            .collect();
        let mut corners: Vec<Point3<f64>> = Vec::new();
        let mut corner = |p: Point3<f64>| {
            corners.iter().position(|q| *q == p).unwrap_or_else(|| {
                corners.push(p);
                corners.len() - 1
            })
        };
        let mut edges = Vec::new();
        for edge in solid.edges() {
            let [a, b] = edge.ends;
            let find = |face: usize, from: Point3<f64>, to: Point3<f64>| {
                let polygon = &solid.faces[face].polygon;
                let side = (0..polygon.len())
                    .find(|&k| polygon[k] == from && polygon[(k + 1) % polygon.len()] == to)?;
                Some((present.iter().position(|&i| i == face)?, side))
            };
            let (Some(one), Some(other)) = (find(edge.faces[0], a, b), find(edge.faces[1], b, a)) else {
                continue;
            };
            for (face, side) in [one, other] {
                faces[face].edges[side] = Some(edges.len());
            }
            edges.push(FlatEdge {
                number: first + u32::try_from(edges.len()).unwrap_or(u32::MAX),
                sides: [one, other],
                dihedral: edge.dihedral,
                length: (b - a).norm() / scale,
                ends: [corner(a), corner(b)],
            });
        }
        if faces.is_empty() {
            return Err(Error::input("has no faces").at(solid.name.clone()));
        }
        // Planes that are nearly one leave corners that are equal only nearly.
        let size = solid.vertices().map(|p| (p - faces[0].origin).norm()).fold(0.0, f64::max);
        let near = NEARLY * size;
        let open: Vec<(usize, usize)> = faces
            .iter()
            .enumerate()
            .flat_map(|(f, face)| {
                face.edges.iter().enumerate().filter(|(_, e)| e.is_none()).map(move |(k, _)| (f, k))
            })
            .collect();
        let ends = |(f, k): (usize, usize)| {
            let polygon = &solid.faces[present[f]].polygon;
            [polygon[k], polygon[(k + 1) % polygon.len()]]
        };
        for (i, &one) in open.iter().enumerate() {
            let [a, b] = ends(one);
            let fits = |&&(f, k): &&(usize, usize)| {
                let [c, d] = ends((f, k));
                f != one.0 && (a - d).norm() <= near && (b - c).norm() <= near
            };
            let free = |faces: &[FlatFace], (f, k): (usize, usize)| faces[f].edges[k].is_none();
            let other = open[i + 1..].iter().filter(fits).find(|&&o| free(&faces, o)).copied();
            let Some(other) = other.filter(|_| (b - a).norm() > near && free(&faces, one)) else { continue };
            let [n, m] = [one.0, other.0].map(|f| faces[f].axes[2]);
            for (face, side) in [one, other] {
                faces[face].edges[side] = Some(edges.len());
            }
            edges.push(FlatEdge {
                number: first + u32::try_from(edges.len()).unwrap_or(u32::MAX),
                sides: [one, other],
                dihedral: std::f64::consts::PI - n.cross(&m).norm().atan2(n.dot(&m)),
                length: (b - a).norm() / scale,
                ends: [corner(a), corner(b)],
            });
        }
        let corners = corners.iter().map(|p| (p - corners[0]) / scale).collect();
        Ok(Self { name: solid.name.clone(), faces, edges, scale, corners })
    }

    /// Greatest distance of two of its corners, mm.
    pub fn size(&self) -> f64 {
        let all = || self.corners.iter().enumerate();
        all().flat_map(|(i, a)| self.corners[..i].iter().map(move |b| (a - b).norm())).fold(0.0, f64::max)
    }

    /// Area of all its faces, mm².
    pub fn area(&self) -> f64 {
        self.faces.iter().map(|f| crate::drawing::signed_area(&f.polygon)).sum()
    }

    /// Least distance between two parallel planes that hold it, one of them along a face, mm.
    pub(super) fn least_width(&self) -> f64 {
        let reach = |face: &FlatFace| {
            let out = || self.corners.iter().map(|c| face.axes[2].dot(c));
            out().fold(f64::NEG_INFINITY, f64::max) - out().fold(f64::INFINITY, f64::min)
        };
        self.faces.iter().map(reach).fold(f64::INFINITY, f64::min)
    }

    /// The other side of an edge.
    pub(super) fn across(&self, face: usize, side: usize) -> Option<(usize, usize)> {
        let [one, other] = self.edges[self.faces[face].edges[side]?].sides;
        Some(if one == (face, side) { other } else { one })
    }
}

impl FlatFace {
    /// The ends of a side.
    pub(super) fn side(&self, k: usize) -> [[f64; 2]; 2] {
        [self.polygon[k], self.polygon[(k + 1) % self.polygon.len()]]
    }

    /// Angle between a side and the one before it, radians.
    pub(super) fn angle(&self, k: usize) -> f64 {
        let n = self.polygon.len();
        let p = self.polygon[k];
        let after = unit(p, self.polygon[(k + 1) % n]);
        let before = unit(p, self.polygon[(k + n - 1) % n]);
        let cross = after[0] * before[1] - after[1] * before[0];
        cross.atan2(after[0] * before[0] + after[1] * before[1])
    }

    /// Where a place of the face lies in the work, mm in true size.
    pub fn place(&self, p: [f64; 2], scale: f64) -> Point3<f64> {
        self.origin + (self.axes[0] * p[0] + self.axes[1] * p[1]) * scale
    }

    /// A place of the work as seen square to the face.
    pub fn seen(&self, p: &Point3<f64>, scale: f64) -> [f64; 2] {
        [0, 1].map(|k| self.axes[k].dot(&(p - self.origin)) / scale)
    }
}
