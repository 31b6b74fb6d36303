//! Coating the inside by turning: liquid wax is poured into a chamber, which is turned until it has wetted every wall.

pub mod cover;
pub mod film;
pub mod rig;

#[cfg(test)]
mod tests;

pub use cover::{Asked, Candidates, Dry, Plan, Stop, plan};
pub use rig::{Load, Rig, Stand};
