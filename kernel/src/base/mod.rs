//! The base of a work: the plate it stands on, the skirt round its foot, its anchors and what the ground carries.
//!
//! All of it is preliminary: a licensed engineer and the local code decide on plate, anchors and foundation.
//!
//! Units: mm, N, N/mm², kg. The ground is z = 0, the top of the base plate; z is up. First moments of a force are
//! force × place, N·mm, along x and y.

pub mod anchors;
pub mod bearing;
mod built;
pub mod concrete;
mod footprint;
mod plate;
mod side_action;
pub mod skirt;

pub use anchors::AnchorGroup;
pub use built::Built;
pub use footprint::{Footprint, STANDS, footprint};
pub(crate) use plate::least_rectangle;
pub use plate::{BasePlate, PlateShape, base_plate};
pub use side_action::SideAction;

#[cfg(test)]
mod tests;
