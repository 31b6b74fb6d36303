//! Joint kinds: how the cut between two faces is chosen.

pub mod auto;
pub mod exact;
mod joined;
pub mod lap;
pub mod mitre;

pub use joined::Joined;

use crate::registry::named_row;
use crate::settings::{Setting, Values};

/// How a seam is cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Cut {
    /// Both sheets end on the exact intersection of the two corrugated surfaces.
    Exact,
    /// Both sheets end on the bisecting plane; closure strips fill between them.
    Bisector,
}

/// How the thick sheets of a seam go together, once its cut is chosen.
#[derive(Debug, Clone, PartialEq)]
pub enum Fit {
    /// Both end where the skins that are to meet touch.
    Touch,
    /// One runs past the other, which stops against it.
    Lap {
        /// How far beyond the other's outside, mm.
        past: f64,
        /// The face that runs past; none is the first by name.
        over: Option<String>,
    },
}

/// For kinds whose sheets end where their skins touch.
pub fn touch(_settings: &Values) -> Fit {
    Fit::Touch
}

/// What a joint kind may look at: the seam as an exact cut would leave it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeamFacts {
    /// Connected pieces of the two faces along this seam, the greater of both.
    pub pieces: usize,
    /// Peak departure from the straight nominal edge, mm.
    pub wobble: f64,
    /// Greatest wobble accepted, mm.
    pub wobble_limit: f64,
}

/// A registry row: one kind of joint.
#[derive(Clone, Copy)]
pub struct JointKind {
    /// The word for it.
    pub name: &'static str,
    /// One line on what it is for.
    pub summary: &'static str,
    /// Further settings of its map, beside `kind`, `meet` and `wobble_limit`.
    pub settings: &'static [Setting],
    /// Chooses the cut from the facts of the exact seam.
    pub choose: fn(&SeamFacts) -> Cut,
    /// How thick sheets end at it, from its own settings.
    pub fit: fn(&Values) -> Fit,
}

named_row!(JointKind);
