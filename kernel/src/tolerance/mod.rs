//! Tolerances of the workshop from published standards, in mm.
//!
//! Preliminary figures for planning: the standard itself, the contract and the shop decide.

pub mod iso_13920;
pub mod iso_9013;
