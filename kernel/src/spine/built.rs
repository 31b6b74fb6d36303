//! The spine of a work as it is to be built: its axis, its tube, and what it passes. Units: mm.

use crate::tube::{Material, Tube};
use nalgebra::Point3;

/// Where the spine passes from one element into the next.
#[derive(Debug, Clone, PartialEq)]
pub struct Crossing {
    /// The elements below and above the opening (indices into the sculpture's elements).
    pub between: [usize; 2],
    /// Its name, for people: `A/top`.
    pub name: String,
    /// Where the axis passes it.
    pub at: Point3<f64>,
}

/// A spine.
#[derive(Debug, Clone, PartialEq)]
pub struct Built {
    /// Its axis: the foot on the base, the kinks, the end; legs lie between.
    pub points: Vec<Point3<f64>>,
    /// The tube of all legs.
    pub tube: Tube,
    /// Its grade.
    pub material: Material,
    /// What it passes, from the base up.
    pub crossings: Vec<Crossing>,
    /// Least gap between the tube and sheet or rims that was measured.
    pub clearance: f64,
}

impl Built {
    /// Length along the axis.
    pub fn length(&self) -> f64 {
        self.points.windows(2).map(|p| (p[1] - p[0]).norm()).sum()
    }
}
