//! Maquettes: hand-made models, measured with caliper and tape or traced face by face, and turned into elements.
//!
//! Readings of any source come together in one [`Readings`]; what a tracing says of a face is distances between its
//! corners too. [`solve()`] finds the points, or says which readings are missing.

mod convex;
mod flat;
mod net;
mod options;
mod readings;
mod refuse;
mod search;
mod solve;
mod start;

pub use options::{ANGLE, DISTANCE, FLAT, HEIGHT, Options, ROWS};
pub use readings::{Angle, Distance, Face, Height, Readings, Ribs, Source};
pub use refuse::{Refusal, Wanted, Why};
pub use solve::{Checked, MOST_POINTS, MOST_READINGS, Measured, Part, Solved, SolvedPoint, solve};
