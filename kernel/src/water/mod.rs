//! Water on a standing work: where it stands outside, how ribs fall, where it gathers inside, and what rust takes.

pub mod corrosion;
pub mod fall;
pub mod standing;

#[cfg(test)]
mod tests;

pub use fall::{Fall, Turn, fall};
pub use standing::{Hollow, Outdoors, Tilt};
