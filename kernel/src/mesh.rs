//! A triangle mesh of the finished shell, for the writers that need one.

use nalgebra::Point3;

/// A closed triangle mesh; triangles are counter-clockwise seen from outside.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Mesh {
    /// Vertices, mm.
    pub points: Vec<Point3<f64>>,
    /// Vertex indices of each triangle.
    pub triangles: Vec<[u32; 3]>,
    /// For each triangle the index into `names`.
    pub part_of: Vec<u32>,
    /// Names of the faces and closure strips: `A/east`.
    pub names: Vec<String>,
}
