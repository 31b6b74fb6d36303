//! Welding: the groove of every seam, its filler, its tacks, and an order of assembly.

pub mod assembly;
pub mod bonds;
pub mod filler;
pub mod groove;
pub mod practice;
pub mod remarks;
pub mod schedule;
pub mod tacks;
