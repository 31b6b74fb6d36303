//! Surface: areas of both skins with ribs counted, preparation by blasting, films, and what passes the blaster's door.
//!
//! Units: mm² and mm inside, m², µm, litres and hours where a name says so.

pub mod areas;
pub mod door;
pub mod film;
pub mod grade;

#[cfg(test)]
mod tests;

pub use areas::{Areas, FaceArea, areas};
pub use door::{Door, Fit, fit};
