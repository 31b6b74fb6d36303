//! Fall along ribs: water on a face that looks up runs along its valleys, so what counts is how steep the ribs run.
//!
//! On a face sloping by θ, ribs that make the angle α with its steepest line fall by sin φ = sin θ cos α.

use crate::part::Frame;

/// A face looks up when its outward normal rises by more than this: steeper than 89 degrees is a wall.
const LOOKS_UP: f64 = 0.017_5;
/// Changes smaller than this are rounding, radians.
const NO_CHANGE: f64 = 1.0e-9;

/// How the ribs of a face fall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fall {
    /// Slope of the face itself against the horizontal, radians.
    pub slope: f64,
    /// Slope of the ribs, radians, 0 or more.
    pub along: f64,
    /// What makes it enough; none if it is.
    pub remedy: Option<Turn>,
}

/// The smallest change that gives ribs their fall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Turn {
    /// The ribs turned in their face, radians, nearer to its steepest line.
    Ribs(f64),
    /// The face is too flat itself: it is tipped further by this, radians, and the ribs run down its steepest line.
    Face(f64),
}

/// The fall of a face that looks up; none for walls and what looks down. `least` is the slope asked for, radians.
pub fn fall(frame: &Frame, least: f64) -> Option<Fall> {
    if frame.n.z < LOOKS_UP {
        return None;
    }
    let steepest = frame.n.x.hypot(frame.n.y);
    let slope = steepest.atan2(frame.n.z);
    let along = frame.u.z.abs().min(1.0).asin();
    let remedy = if along >= least - NO_CHANGE {
        None
    } else if slope < least - NO_CHANGE {
        Some(Turn::Face(least - slope))
    } else {
        let now = (along.sin() / steepest).clamp(0.0, 1.0).acos();
        let then = (least.sin() / steepest).clamp(0.0, 1.0).acos();
        Some(Turn::Ribs(now - then))
    };
    Some(Fall { slope, along, remedy })
}
