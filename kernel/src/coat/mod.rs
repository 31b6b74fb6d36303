//! Coating the inside by turning: liquid wax is poured into a chamber, which is turned until it has wetted every wall.

mod cover;
pub mod film;
pub mod plan;
pub mod poses;
pub mod rig;

#[cfg(test)]
mod tests;

pub use cover::Spot;
pub use plan::{Alone, Asked, Drain, Dry, Other, Plan, Step, Turn, Wall, plan};
pub use poses::Candidates;
pub use rig::{Load, Rig, Stand};
