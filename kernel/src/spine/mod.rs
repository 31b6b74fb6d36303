//! The spine: a crooked tube up the inside of a stack of hollow elements.
//!
//! Nothing here knows a work: sheet is triangles, openings are polygons.

pub mod gate;
pub mod obstacles;
mod ascent;
mod course;
pub mod path;
pub mod built;
#[cfg(test)]
mod tests;

pub use built::{Built, Crossing};
pub use gate::{Gate, Place};
pub use obstacles::Obstacles;
pub use path::{Blocked, Spine, Task, Verdict, find, way};

/// The stage that asks for a spine, and the place that errors of a spine are told at.
pub const STAGE: &str = "spine";
