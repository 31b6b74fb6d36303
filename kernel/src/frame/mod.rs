//! Frames in space: straight members, rigid bodies, supports; deflections, reactions, stresses and frequencies.
//!
//! A preliminary check: small deflections, straight members of one section, perfect joints, elastic steel, no
//! second-order effects, no local buckling, no fatigue, no welds. Have a licensed engineer check it by the local code.
//!
//! Units: mm, N, MPa, kg, radians; frequencies in Hz. Six freedoms per node: three movements, three turns.

pub mod model;
mod beam;
mod assemble;
pub mod statics;
pub mod modes;
pub mod stress;

#[cfg(test)]
mod tests;
#[cfg(test)]
mod random_tests;
#[cfg(test)]
mod span_tests;

pub use model::{Bar, Body, Link, Load, Member, Model, Node, Span, Support};
pub use modes::{Mode, modes};
pub use statics::{Deflected, Solver, solve};
