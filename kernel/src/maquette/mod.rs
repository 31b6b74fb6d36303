//! Maquettes: hand-made models, measured with caliper and tape or traced face by face, and turned into elements.
//!
//! Readings of any source come together in one [`Readings`]; what a tracing says of a face is distances between its
//! corners too.

mod readings;

pub use readings::{Angle, Distance, Face, Height, Readings, Ribs, Source};
