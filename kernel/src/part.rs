//! Parts: the pieces to cut, still lying on their face.

use crate::profile::Profile;
use crate::survey::Wander;
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

impl Frame {
    /// Where a point lies as seen square to the face: along and across the ribs from the origin, mm.
    pub fn plan(&self, p: &Point3<f64>) -> [f64; 2] {
        let r = p - self.origin;
        [r.dot(&self.u), r.dot(&self.v)]
    }
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
        /// Where a surveyed sheet departs from its nominal shape. Outlines are those on the nominal sheet: t is
        /// where a point would lie if the sheet were true.
        wander: Option<Arc<Wander>>,
    },
    /// A closure strip of flat sheet; outlines are (x, y) in the frame's plane.
    Closure {
        /// Thickness, mm.
        thickness: f64,
    },
}

/// A mark at the edge of a part that meets its twin on another part when both are in place.
#[derive(Debug, Clone, PartialEq)]
pub struct MatchMark {
    /// Index into `Work::seams`.
    pub seam: usize,
    /// The same number on both parts; numbers start at 1 in every seam.
    pub number: u32,
    /// The part that bears its twin (its id).
    pub other: String,
    /// Where it leaves the edge, in the coordinates of the outlines, mm.
    pub at: [f64; 2],
    /// Unit direction into the part, in the same coordinates.
    pub into: [f64; 2],
    /// Where that point comes to lie in the finished work, mm.
    pub place: Point3<f64>,
}

/// How a part is to be marked, and what lies across its edges.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Marking {
    /// Length of a match mark's tick, mm; 0 draws none.
    pub tick: f64,
    /// Height of numbers and of the neighbours' names, mm; 0 writes none.
    pub text: f64,
    /// Least distance of any writing from every cut, mm.
    pub clearance: f64,
    /// Names of the neighbours: faces, or seams for closure strips.
    pub neighbours: Vec<String>,
    /// For each outline and vertex the neighbour (index into `neighbours`) across its edge to the next vertex.
    pub across: Vec<Vec<Option<usize>>>,
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
    /// Marks that find their twin on the part across a seam, in no order that matters.
    pub marks: Vec<MatchMark>,
    /// How it is to be marked.
    pub marking: Marking,
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

    /// Where a point of the outline's plane comes to lie on the skin `offset` outside the middle one
    /// (inside is negative), mm. A closure strip's other face lies at `-thickness` and its front at 0.
    pub fn position(&self, at: [f64; 2], offset: f64) -> Point3<f64> {
        let f = &self.frame;
        match &self.kind {
            PartKind::Sheet { profile, phase, lift, wander } => {
                let q = at[1] - phase;
                let [t, h] = profile.on_skin(q, offset);
                let [aside, up] = wander.as_ref().map_or([0.0; 2], |w| w.moved(at[0], q));
                f.origin + f.u * at[0] + f.v * (t + phase + aside) + f.n * (h + lift + up)
            }
            PartKind::Closure { .. } => f.origin + f.u * at[0] + f.v * at[1] + f.n * offset,
        }
    }

    /// Where a point of the outline's plane lies as seen square to the face: itself, save on a surveyed sheet, where
    /// it lies where the sheet wanders to.
    pub fn seen_square(&self, at: [f64; 2]) -> [f64; 2] {
        match &self.kind {
            PartKind::Sheet { phase, wander: Some(wander), .. } => {
                [at[0], at[1] + wander.moved(at[0], at[1] - phase)[0]]
            }
            _ => at,
        }
    }

    /// Corners of all its outlines.
    pub fn corners(&self) -> usize {
        self.outlines.iter().map(Vec::len).sum()
    }

    /// Thickness of its sheet, mm.
    pub fn thickness(&self) -> f64 {
        match &self.kind {
            PartKind::Sheet { profile, .. } => profile.thickness(),
            PartKind::Closure { thickness } => *thickness,
        }
    }
}
