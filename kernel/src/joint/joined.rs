//! How a seam came out, whichever kind of joint was asked for.

use super::{Cut, exact, lap, mitre};
use std::fmt;

/// How the two sides of a seam are joined. Kinds of joint are open to other crates and each chooses a [`Cut`] and a
/// [`super::Fit`]; what comes of these is one of the following.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Joined {
    /// Both sheets end on the exact intersection.
    Exact,
    /// Both end on the bisecting plane, with closure strips between them.
    Mitre,
    /// One runs past the other.
    Lap,
    /// Two pieces of one face, butted.
    Splice,
    /// One of the faces is left open.
    Open,
}

impl Joined {
    /// The word in tables and files; where a kind of joint asks for just this, that kind's name.
    pub fn word(self) -> &'static str {
        match self {
            Self::Exact => exact::ROW.name,
            Self::Mitre => mitre::ROW.name,
            Self::Lap => lap::ROW.name,
            Self::Splice => "splice",
            Self::Open => "open",
        }
    }

    /// The cut of a seam whose edges are set against each other with nothing to spare; none of laps, splices and
    /// open faces.
    pub fn tight(self) -> Option<Cut> {
        match self {
            Self::Exact => Some(Cut::Exact),
            Self::Mitre => Some(Cut::Bisector),
            Self::Lap | Self::Splice | Self::Open => None,
        }
    }
}

impl From<Cut> for Joined {
    fn from(cut: Cut) -> Self {
        match cut {
            Cut::Exact => Self::Exact,
            Cut::Bisector => Self::Mitre,
        }
    }
}

impl fmt::Display for Joined {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}
