//! A convex solid: labelled planes and the nominal polygon each leaves.

use crate::error::Result;
use nalgebra::{Isometry3, Point3, Vector3};

/// One planar side of a solid.
#[derive(Debug, Clone, PartialEq)]
pub struct SolidFace {
    /// Its label within the element: `east`, `side1`, …
    pub label: String,
    /// A point of the plane, mm.
    pub point: Point3<f64>,
    /// Unit outward normal.
    pub normal: Vector3<f64>,
    /// The nominal (flat) face, counter-clockwise seen from outside; empty if other planes cut it off whole.
    pub polygon: Vec<Point3<f64>>,
}

/// A convex solid with labelled faces.
#[derive(Debug, Clone, PartialEq)]
pub struct Solid {
    /// The element's name.
    pub name: String,
    /// Its faces, in the order given.
    pub faces: Vec<SolidFace>,
}
