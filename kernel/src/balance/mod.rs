//! Balance: what stands on what, how far the load is from tipping at every level, and how far an element may lean.

pub mod lean;
pub mod levels;
pub mod load;
pub mod options;
pub mod sketch;
pub mod support;

pub use levels::{Balance, Equ, Level, Pivot};
pub use load::own_mass;
pub use options::{Factors, OPTION_ROWS, Options, STAGE};
pub use sketch::{Room, Sketch};
pub use support::Support;
