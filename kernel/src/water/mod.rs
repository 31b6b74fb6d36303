//! Water on a standing work: where it stands outside, how ribs fall, where it gathers inside, and what rust takes.

pub mod corrosion;
pub mod options;
pub mod fall;
pub mod sinks;
pub mod standing;
pub mod fill;
pub mod place;
pub mod drains;
pub mod remedy;
pub mod together;

#[cfg(test)]
mod tests;

pub use fall::{Fall, Turn, fall};
pub use fill::{Filled, filled};
pub use options::{STAGE, WATER_ROWS, Wear};
pub use standing::{Hollow, Outdoors, Tilt};
