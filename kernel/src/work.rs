//! A work, worked out: the immutable model that every stage reads.

use crate::finding::Finding;
use crate::lay::OnSheets;
use crate::mesh::Mesh;
use crate::part::{Frame, Part};
use crate::profile::Profile;
use crate::sculpture::Sculpture;
use crate::seam::Seam;
use crate::survey::Wander;
use nalgebra::Point3;
use std::sync::Arc;

/// One clad face with its figures.
#[derive(Debug, Clone, PartialEq)]
pub struct FaceReport {
    /// `A/east`.
    pub id: String,
    /// Index of its element.
    pub element: usize,
    /// Area of the flat face that shows, mm².
    pub nominal_area: f64,
    /// Area of the corrugated face that shows, mm².
    pub area: f64,
    /// Areas of its connected pieces, largest first, mm².
    pub pieces: Vec<f64>,
    /// The sheet.
    pub profile: Arc<Profile>,
    /// Its frame (origin where t = 0 before the phase).
    pub frame: Frame,
    /// A crest's centre line lies at this t, mm.
    pub phase: f64,
    /// How far the middle of the profile lies outside the face's plane, mm.
    pub lift: f64,
    /// Where a surveyed sheet departs from its nominal shape.
    pub wander: Option<Arc<Wander>>,
}

/// An edge of the finished shell, for pictures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShellEdge {
    /// Its ends, mm.
    pub ends: [Point3<f64>; 2],
    /// Names index (into `Mesh::names`) on its two sides; equal for a fold within one face.
    pub sides: [u32; 2],
    /// Unit normals of the two flat pieces that meet in it.
    pub normals: [nalgebra::Vector3<f64>; 2],
}

/// A work, worked out.
#[derive(Debug, Clone)]
pub struct Work {
    /// What was asked for, with phases as found by searches.
    pub sculpture: Sculpture,
    /// Faces in order of elements.
    pub faces: Vec<FaceReport>,
    /// Enclosed volume of each element by itself, mm³.
    pub element_volumes: Vec<f64>,
    /// Seams, by id.
    pub seams: Vec<Seam>,
    /// Parts, by id.
    pub parts: Vec<Part>,
    /// The closed shell as triangles.
    pub mesh: Mesh,
    /// Edges of it without a partner, as [`Mesh::unmatched_edges`] gives them: none where it is watertight.
    pub unmatched: Vec<[u32; 2]>,
    /// Its edges.
    pub edges: Vec<ShellEdge>,
    /// Volume the shell encloses, mm³.
    pub volume: f64,
    /// Area of the middle skin, mm².
    pub area: f64,
    /// Area of the faces left open, mm²: the model closes them with a plane, and the volume counts up to it.
    pub open_area: f64,
    /// Their centroid, mm, if there are any.
    pub open_centroid: Option<Point3<f64>>,
    /// Centroid of the middle skin as a shell of even thickness, mm.
    pub centroid: Point3<f64>,
    /// Mass of all parts, kg.
    pub mass: f64,
    /// Centre of mass of all parts, mm.
    pub centre_of_mass: Point3<f64>,
    /// What there is to say, worst first.
    pub findings: Vec<Finding>,
    /// The sheets it is cut for, where these were surveyed.
    pub on_sheets: Option<OnSheets>,
    /// Parts as they were before drains and vents were cut in them, by index; empty where none are cut.
    pub before_drains: Vec<(usize, Part)>,
}
