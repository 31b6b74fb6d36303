//! Seams: where two clad faces meet.

use nalgebra::Point3;

/// Where two faces meet, along the real wavy line.
#[derive(Debug, Clone, PartialEq)]
pub struct Seam {
    /// `A/east~A/top`, names in byte order.
    pub id: String,
    /// Face indices (into `Work::faces`), in the order of the names.
    pub between: [usize; 2],
    /// How it is cut: `true` or `mitre`.
    pub joint: String,
    /// Length of the straight edge of the flat solid, mm; 0 where the flat faces do not meet.
    pub nominal_length: f64,
    /// Length along the middle skin, mm, all runs together.
    pub length: f64,
    /// Greatest distance from the nominal edge line, mm.
    pub wobble_peak: f64,
    /// Root mean square of that distance along the seam, mm.
    pub wobble_rms: f64,
    /// Angle between the two face planes inside the body, degrees; above 180 for a reflex seam.
    pub dihedral: f64,
    /// Greatest distance between the seam as computed from its two sides, mm.
    pub mismatch: f64,
    /// Connected runs, each a polyline in space.
    pub runs: Vec<SeamRun>,
}

/// One connected run of a seam.
#[derive(Debug, Clone, PartialEq)]
pub struct SeamRun {
    /// Vertices, mm.
    pub points: Vec<Point3<f64>>,
    /// For each segment the strip of each face that made it (fold-to-fold index; provenance).
    pub strips: Vec<[i64; 2]>,
    /// Whether the last vertex joins the first.
    pub closed: bool,
}
