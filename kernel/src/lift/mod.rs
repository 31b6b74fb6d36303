//! Lifting and delivery: where to take hold of a piece so that it hangs as wanted, what the slings carry, and
//! whether it passes the vehicle, the doorway and the ceiling.
//!
//! All of it is preliminary: a competent lifting person plans the lift, a licensed engineer checks the eyes and
//! the shell round them, and the local code decides. Eyes, their welds and the sheet they pull at are not checked.
//!
//! Units: mm, kg, N, degrees where a name says so. z is up.

mod hang;
mod outline;
mod points;
pub mod slings;
mod tilt;
mod transport;

pub use hang::{Carrying, FLATTEST, Hang, Leg, hang, two_hitches};
pub use outline::{outline, solids};
pub use points::{Choice, Grip, choose};
pub use tilt::{TiltUp, peak_of_tilt, tilt_up};
pub use transport::{OrientedBox, Passage, all_boxes, boxes, least_box};

#[cfg(test)]
mod tests;
