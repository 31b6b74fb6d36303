//! Liquid at rest in a closed chamber: volumes by level, levels by volume, pools and what is needed to wet a wall.
//!
//! A chamber is a watertight mesh whose triangles face outward, out of the liquid. A pose is told by the direction that
//! is up, in the axes of the chamber; heights are measured along it from the chamber's middle. Units: mm, mm², mm³.

mod cells;
pub mod chamber;
mod twice;
pub mod gauge;
pub mod level;
pub mod pools;

#[cfg(test)]
pub(crate) mod samples;
#[cfg(test)]
mod tests;

pub(crate) use cells::Cells;
pub use chamber::Chamber;
pub use gauge::Gauge;
pub use level::{Below, Posed};
pub use pools::{Pool, Pools, Wetting};
