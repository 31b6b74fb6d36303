//! Profiles: the cross-section of a corrugated sheet.
//!
//! A profile is one pitch of the middle skin, from the middle of a crest to the middle of the next,
//! written as strips: flats, and the chords that stand for bends. Heights are relative to mid-depth
//! (a crest lies at +depth/2, a valley at −depth/2). Every skin has the same strips; only their
//! developed widths differ.

pub mod arc_tangent;
pub mod bend;
pub mod flat;
pub mod outline;
pub mod section;
pub mod sine;
pub mod trapezoid;

use crate::error::Result;
use crate::registry::NamedRow;
use crate::settings::{Setting, Values};
use std::fmt;

/// A registry row: one kind of profile a script can ask for.
#[derive(Clone, Copy)]
pub struct ProfileKind {
    /// The script word.
    pub name: &'static str,
    /// One line on what it is.
    pub summary: &'static str,
    /// The settings its map takes.
    pub settings: &'static [Setting],
    /// Builds the profile from checked settings.
    pub build: fn(&Values) -> Result<Profile>,
}

impl NamedRow for ProfileKind {
    fn name(&self) -> &'static str {
        self.name
    }
    fn summary(&self) -> &'static str {
        self.summary
    }
    fn settings(&self) -> &'static [Setting] {
        self.settings
    }
}

impl fmt::Debug for ProfileKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "ProfileKind({})", self.name)
    }
}

/// A true shape of the middle skin, in order across the sheet, starting at the middle of a crest
/// with a level tangent: flats and arcs, or corners without radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Piece {
    /// A straight run of this length, mm.
    Flat {
        /// Length along the skin, mm.
        length: f64,
    },
    /// An arc or, with radius 0, a sharp corner.
    Bend {
        /// Radius of the middle skin, mm; 0 is a sharp corner.
        radius: f64,
        /// Angle turned, radians; positive turns down towards the valley side (convex outward, as at
        /// the two ends of a crest).
        turn: f64,
    },
}

/// One strip of the profile: planar in space, between two fold lines.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strip {
    /// Across the ribs, from the middle of the crest, mm.
    pub t: [f64; 2],
    /// Height over mid-depth at the two folds, mm.
    pub h: [f64; 2],
    /// Developed coordinate along the middle skin (true arcs) at the two folds, mm.
    pub w: [f64; 2],
    /// What the developed width gains per mm of offset towards the outside, at its two folds:
    /// width on skin e = (w[1] − w[0]) + e·gain.
    pub gain: f64,
    /// Which [`Piece`] it belongs to.
    pub piece: usize,
}

/// The cross-section of a corrugated sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    kind: String,
    pitch: f64,
    depth: f64,
    thickness: f64,
    bend_radius: f64,
    pieces: Vec<Piece>,
    strips: Vec<Strip>,
}

/// How far a chord may lie from the true arc of a bend, mm.
pub const CHORD_TOLERANCE: f64 = 0.05;
