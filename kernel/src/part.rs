//! Parts: the pieces to cut, still lying on their face.

use crate::profile::Profile;
use nalgebra::{Point3, Vector3};
use std::sync::Arc;

/// A frame on a face: u along the ribs, v across, n outward; `origin` is the point the phase counts from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Where s = t = 0, mm.
    pub origin: Point3<f64>,
    /// Along the ribs.
    pub u: Vector3<f64>,
    /// Across the ribs, n × u.
    pub v: Vector3<f64>,
    /// Outward.
    pub n: Vector3<f64>,
}

/// What a part is made of.
#[derive(Debug, Clone, PartialEq)]
pub enum PartKind {
    /// A piece of corrugated sheet; outlines are (s, t) on the face frame.
    Sheet {
        /// The cross-section.
        profile: Arc<Profile>,
        /// A crest's centre line lies at this t, mm.
        phase: f64,
        /// Which end of the heights lies on the plane: added to the profile's height, mm.
        lift: f64,
    },
    /// A closure strip of flat sheet; outlines are (x, y) in the frame's plane.
    Closure {
        /// Thickness, mm.
        thickness: f64,
    },
}

/// One piece to cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// `A/east`, `A/east.2` for a second piece, `A/east~A/top` for a closure strip.
    pub id: String,
    /// The face, or the seam for a closure strip.
    pub face: String,
    /// What it is made of.
    pub kind: PartKind,
    /// Where it lies.
    pub frame: Frame,
    /// Closed outlines on the face, mm: outer ones counter-clockwise, holes clockwise. Every crossing of
    /// a fold is a vertex. A sheet part has one outer outline; a closure strip has one per lens.
    pub outlines: Vec<Vec<[f64; 2]>>,
    /// For each outline and vertex the seam (index into `Work::seams`) its edge to the next vertex lies on.
    pub edges: Vec<Vec<Option<usize>>>,
    /// Area on the middle skin, mm².
    pub area: f64,
    /// Length of all outlines on the middle skin, mm.
    pub cut_length: f64,
    /// Mass, kg.
    pub mass: f64,
}

impl Part {
    /// File stem made from the id: letters, digits, dot and dash stay, all else becomes an underscore.
    pub fn stem(&self) -> String {
        let safe = |c: char| if c.is_ascii_alphanumeric() || c == '.' || c == '-' { c } else { '_' };
        self.id.chars().map(safe).collect()
    }

    /// Thickness of its sheet, mm.
    pub fn thickness(&self) -> f64 {
        match &self.kind {
            PartKind::Sheet { profile, .. } => profile.thickness(),
            PartKind::Closure { thickness } => *thickness,
        }
    }
}
